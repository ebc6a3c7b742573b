import re

import numpy as np
import pytest

from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.messages77.drawing import N_CALLS, draw_text, text_of_numbers

N_DRAWS = 7000
CALL = r"Q\d[A-Z]{1,3}"
KINDS = {
    "general call": rf"CQ {CALL} [A-R]{{2}}\d\d",
    "locator": rf"{CALL} {CALL} (?!RR73)[A-R]{{2}}\d\d",
    "report": rf"{CALL} {CALL} [+-]\d\d",
    "acknowledged report": rf"{CALL} {CALL} R[+-]\d\d",
    "RRR": rf"{CALL} {CALL} RRR",
    "RR73": rf"{CALL} {CALL} RR73",
    "73": rf"{CALL} {CALL} 73",
}


@pytest.fixture(scope="module")
def texts() -> list[str]:
    generator = np.random.default_rng(8)
    return [draw_text(generator) for _ in range(N_DRAWS)]


@pytest.mark.derived
def test_seven_kinds_with_equal_chances(texts: list[str]) -> None:
    # Binomial, n = 7000, p = 1/7: mean 1000, sd 29.3; within 5 sd.
    counts = [
        sum(re.fullmatch(kind, text) is not None for text in texts) for kind in KINDS.values()
    ]
    assert sum(counts) == N_DRAWS
    assert all(abs(count - 1000) < 5 * 29.3 for count in counts)


@pytest.mark.derived
def test_fields_are_uniform(texts: list[str]) -> None:
    # Means of uniform values, within 5 standard errors (n about 13 000 calls, 2000 reports).
    calls = [word for text in texts for word in text.split() if re.fullmatch(CALL, word)]
    assert abs(np.mean([int(call[1]) for call in calls]) - 4.5) < 5 * 2.87 / np.sqrt(len(calls))
    letters = [ord(call[-1]) - ord("A") for call in calls]
    assert abs(np.mean(letters) - 12.5) < 5 * 7.5 / np.sqrt(len(calls))
    # Three-letter suffixes: 26³ of 26 + 26² + 26³.
    share = np.mean([len(call) == 5 for call in calls])
    assert abs(share - 17576 / 18278) < 5 * np.sqrt(0.0384 * 0.9616 / len(calls))
    reports = [int(found[1]) for text in texts if (found := re.search(r"([+-]\d\d)$", text))]
    assert (min(reports), max(reports)) == (-30, 49)
    assert abs(np.mean(reports) - 9.5) < 5 * 23.1 / np.sqrt(len(reports))
    locators = {
        word for text in texts for word in text.split() if re.fullmatch(r"[A-R]{2}\d\d", word)
    }
    assert {locator[0] for locator in locators} == set("ABCDEFGHIJKLMNOPQR")


@pytest.mark.derived
def test_every_call_and_every_locator_but_one_can_be_drawn() -> None:
    # 10 · (26 + 26² + 26³) calls; 180 · 180 locators less RR73.
    calls = {text_of_numbers(0, number, 0, 0, 0).split()[1] for number in range(N_CALLS)}
    assert len(calls) == N_CALLS == 10 * (26 + 26**2 + 26**3)
    locators = {text_of_numbers(0, 0, 0, number, 0)[-4:] for number in range(180 * 180 - 1)}
    assert len(locators) == 180 * 180 - 1
    assert "RR73" not in locators


@pytest.mark.derived
def test_the_second_call_skips_the_first_and_nothing_else() -> None:
    seconds = {text_of_numbers(4, 3, second, 0, 0).split()[1] for second in range(N_CALLS - 1)}
    assert len(seconds) == N_CALLS - 1
    assert text_of_numbers(4, 3, 3, 0, 0).split()[0] not in seconds


class HighestDraws:
    """Stands in for a generator that draws the highest number each time."""

    def integers(self, limits: tuple[int, ...]) -> np.ndarray:
        return np.array(limits) - 1


@pytest.mark.derived
def test_the_highest_draws_stay_inside_every_field() -> None:
    # Last kind, last call, and the last but one, since the last is taken.
    first, second, closing = draw_text(HighestDraws()).split()
    assert (first, second, closing) == ("Q9ZZZ", "Q9YZZ", "73")


def test_the_two_calls_differ(texts: list[str]) -> None:
    assert all(len(set(text.split()[:2])) == 2 for text in texts)


def test_drawn_messages_are_canonical_and_survive() -> None:
    mode, generator = FT8, np.random.default_rng(4)
    for _ in range(1000):
        message = mode.draw_message(generator)
        assert mode.unpack(message.bits()) == message.text
        assert mode.pack(message.text) == message


def test_same_generator_state_same_message() -> None:
    mode = FT8
    assert mode.draw_message(np.random.default_rng(3)) == mode.draw_message(
        np.random.default_rng(3)
    )
