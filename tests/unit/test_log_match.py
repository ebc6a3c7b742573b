"""Entries find their slots, and each transmission counts once."""

from datetime import UTC, datetime, timedelta

import pytest

from solidcopy.logs.entry import Entry, Line
from solidcopy.logs.match import Copy, Matched, Tolerance, match, normal_text
from solidcopy.logs.schedule import Slot

pytestmark = pytest.mark.derived  # each slot's result follows from the entries written beside it

START = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
TOLERANCE = Tolerance(time_s=3.75, frequency_hz=25.0)
SENT = ("CQ Q3XYZ FN42", "Q3XYZ Q1ABC JO01", None, "Q1ABC Q3XYZ -11")
"""Third slot: nothing sent."""


def slots(*, others: tuple[str, ...] = ()) -> list[Slot]:
    return [
        Slot(
            slot=number,
            utc=START + timedelta(seconds=15 * (number - 1)),
            file="slots.wav",
            starts_at_s=15.0 * (number - 1),
            trial=f"1@-19#{number}",
            condition="quiet",
            axis_value=-19.0,
            text=text,
            lowest_tone_hz=1200.0,
            start_after_nominal_s=0.1,
            other_texts=others,
            digest_sha256_float32le="00",
            readings=[],
        )
        for number, text in enumerate(SENT, 1)
    ]


def entry(late_s: float, text: str, audio_hz: float | None = 1200.0) -> Entry:
    return Entry(Line(1, text), START + timedelta(seconds=late_s), text, audio_hz=audio_hz)


def copies(matched: Matched) -> list[Copy]:
    return [result.copy for result in matched.slots]


def test_three_columns() -> None:
    log = [entry(0.0, SENT[0] or ""), entry(15.2, "Q9NIL Q8NIL RR73")]
    matched = match(log, slots(), TOLERANCE)
    assert copies(matched) == [Copy.RIGHT, Copy.WRONG, Copy.NOTHING, Copy.NOTHING]
    assert matched.outside == ()


def test_noise_alone_makes_every_entry_false() -> None:
    matched = match([entry(30.0, "CQ Q3XYZ FN42")], slots(), TOLERANCE)
    assert [len(result.false) for result in matched.slots] == [0, 0, 1, 0]


@pytest.mark.parametrize(
    ("late_s", "slot"),
    [(-3.75, 0), (3.75, 0), (11.25, 1), (18.75, 1), (-3.76, None), (3.76, None), (7.5, None)],
)
def test_tolerance_of_the_clock(late_s: float, slot: int | None) -> None:
    matched = match([entry(late_s, "Q9NIL Q8NIL 73")], slots(), TOLERANCE)
    expected = [int(place == slot) for place in range(4)]
    assert [len(result.false) for result in matched.slots] == expected
    assert len(matched.outside) == (slot is None)


def test_one_transmission_counts_once() -> None:
    again = [entry(0.1 * n, "CQ Q3XYZ FN42", 1200.0 + n) for n in range(3)]
    wrong = [entry(15.0, "Q9NIL Q8NIL 73"), entry(15.0, "Q9NIL  q8nil 73")]
    matched = match([*again, *wrong], slots(), TOLERANCE)
    assert copies(matched)[:2] == [Copy.RIGHT, Copy.WRONG]
    assert [result.n_repeats for result in matched.slots] == [2, 1, 0, 0]
    assert len(matched.slots[1].false) == 1


@pytest.mark.parametrize(
    ("audio_hz", "copy"),
    [
        (None, Copy.RIGHT),
        (1225.0, Copy.RIGHT),
        (1175.0, Copy.RIGHT),
        (1226.0, Copy.WRONG),
        (1400.0, Copy.WRONG),
    ],
)
def test_a_right_text_elsewhere_is_an_image(audio_hz: float | None, copy: Copy) -> None:
    matched = match([entry(0.0, "CQ Q3XYZ FN42", audio_hz)], slots(), TOLERANCE)
    assert copies(matched)[0] is copy


def test_other_stations_are_neither_right_nor_false() -> None:
    matched = match(
        [entry(0.0, "CQ Q7OTH JO22", 700.0)], slots(others=("CQ Q7OTH JO22",)), TOLERANCE
    )
    assert copies(matched)[0] is Copy.NOTHING
    assert matched.slots[0].n_others == 1


def test_the_right_text_of_another_slot_is_false() -> None:
    matched = match([entry(15.0, "CQ Q3XYZ FN42")], slots(), TOLERANCE)
    assert copies(matched)[:2] == [Copy.NOTHING, Copy.WRONG]


def test_a_late_stamp_is_taken_off_if_said() -> None:
    log = [entry(14.6, "CQ Q3XYZ FN42"), entry(29.7, "Q3XYZ Q1ABC JO01")]
    asked = Tolerance(time_s=3.75, frequency_hz=25.0, late_s=14.6)
    assert copies(match(log, slots(), asked))[:2] == [Copy.RIGHT, Copy.RIGHT]


def test_a_wrong_clock_is_measured() -> None:
    log = [
        entry(3600.0, "CQ Q3XYZ FN42"),
        entry(3615.0, "Q3XYZ Q1ABC JO01"),
        entry(3645.4, "Q1ABC Q3XYZ -11"),
        entry(99.0, "Q9NIL Q8NIL 73"),
    ]
    matched = match(log, slots(), TOLERANCE)
    assert (matched.shift_s, matched.n_shifted) == (3600.0, 3)
    assert len(matched.outside) == 4


@pytest.mark.parametrize(
    ("written", "same"),
    [
        ("<Q1ABC/P> Q2DEF 73", "Q1ABC/P Q2DEF 73"),
        (" cq  q3xyz fn42 ", "CQ Q3XYZ FN42"),
        ("Q1ABC Q3XYZ −11", "Q1ABC Q3XYZ -11"),
    ],
)
def test_how_programs_print_the_same_text(written: str, same: str) -> None:
    assert normal_text(written) == normal_text(same)


def test_different_texts_stay_different() -> None:
    assert normal_text("Q1ABC Q3XYZ -11") != normal_text("Q1ABC Q3XYZ R-11")
    assert normal_text("<...> Q3XYZ 73") != normal_text("<Q1ABC/P> Q3XYZ 73")
