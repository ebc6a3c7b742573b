"""From what a program wrote to decodes: layouts, patterns, JSON lines, columns, corrections."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from solidcopy.receivers.program.layout import pattern_of_layout, suggested_layout
from solidcopy.receivers.program.reading import MAX_LINE, ReadLine, read_lines, safe_text
from solidcopy.receivers.program.settings import AnyAnswer, Corrections
from solidcopy.receivers.receiver import Decode

pytestmark = pytest.mark.derived

ANSWER: TypeAdapter[Any] = TypeAdapter(AnyAnswer)


def read(text: str, answer: dict[str, Any], **corrections: float) -> list[ReadLine]:
    given = Corrections.model_validate({"snr_reference_hz": 2500.0, **corrections})
    return read_lines(text, ANSWER.validate_python(answer), given)


def decodes(text: str, answer: dict[str, Any], **corrections: float) -> list[Decode]:
    return [line.decode for line in read(text, answer, **corrections) if line.decode is not None]


def test_a_layout_is_a_line_with_names() -> None:
    answer = {"kind": "lines", "layout": 'slot {skip}: "{text}" ({snr_db} dB)  at {audio_hz}'}
    text = 'slot 7: "CQ Q1ABC FN42" (-7.5 dB) at 1500.25\r\nslot 7 of 9\n'
    assert decodes(safe_text(text.encode()), answer) == [
        Decode("CQ Q1ABC FN42", 1500.25, None, -7.5)
    ]


def test_a_layout_takes_what_it_names_literally() -> None:
    answer = {"kind": "lines", "layout": "*{{{text}}}* (x+y)"}
    assert decodes("*{Q1ABC}* (x+y)\n", answer) == [Decode("Q1ABC")]
    assert decodes("{Q1ABC} xy\n", answer) == []


def test_a_pattern_names_its_groups_and_may_leave_figures_out() -> None:
    answer = {"kind": "lines", "pattern": r"(?P<text>Q\w+)(?: at (?P<audio_hz>\d+))?$"}
    assert decodes("heard Q1ABC at 900\nheard Q2DEF\n", answer) == [
        Decode("Q1ABC", 900.0),
        Decode("Q2DEF"),
    ]


def test_json_lines() -> None:
    answer = {"kind": "json-lines", "text": "msg", "audio_hz": "f", "time_offset_s": "t"}
    lines = [
        '{"msg": "CQ  Q1ABC FN42 ", "f": 812.5, "t": "-0.25", "more": [1]}',
        '{"msg": "Q1ABC", "f": null}',
        '{"msg": 7}',
        '{"f": 1}',
        "[1]",
        '{"msg": "half',
        '{"msg": "Q1ABC", "f": true}',
        '{"msg": "Q1ABC", "f": 1e999}',
        "[" * 5000,
        '{"msg": ""}',
    ]
    read_ = read("\n".join(lines), answer)
    assert [line.decode for line in read_[:2]] == [
        Decode("CQ Q1ABC FN42", 812.5, -0.25),
        Decode("Q1ABC"),
    ]
    assert [line.reason for line in read_[2:]] == [
        'has no text "msg"',
        'has no text "msg"',
        "is no JSON object",
        "is not JSON",
        "its audio_hz is no number",
        "its audio_hz is not finite: inf",
        f"longer than {MAX_LINE} characters",
        "its text is empty",
    ]


def test_columns_by_number_and_by_name() -> None:
    by_number = {"kind": "columns", "text": 3, "audio_hz": 1, "snr_db": 2, "delimiter": ";"}
    assert decodes("1500; -3 ;CQ Q1ABC FN42\nx;1;y\n1;2\n", by_number) == [
        Decode("CQ Q1ABC FN42", 1500.0, None, -3.0)
    ]
    by_name = {"kind": "columns", "text": "what", "audio_hz": "where"}
    csv = 'where,what\n1500,"CQ Q1ABC, FN42"\n,Q2DEF\n'
    assert decodes(csv, by_name) == [Decode("CQ Q1ABC, FN42", 1500.0), Decode("Q2DEF")]
    assert {line.reason for line in read("a,b\n1,2\n", by_name)} == {
        "names of the columns",
        'the first line names no column "what"',
    }
    spaces = {"kind": "columns", "text": 3, "audio_hz": 2, "delimiter": "spaces"}
    assert decodes("  7   1500.5   CQ Q1ABC FN42 \n", spaces) == [Decode("CQ Q1ABC FN42", 1500.5)]


def test_corrections_turn_their_figures_into_ours() -> None:
    answer = {"kind": "columns", "text": 4, "audio_hz": 1, "time_offset_s": 2, "snr_db": 3}
    (decode,) = decodes(
        "1.5,250,-10,Q1ABC",
        answer,
        audio_hz_scale=1000.0,
        audio_hz_offset=-21.875,
        time_offset_s_scale=0.001,
        time_offset_s_offset=-0.5,
        snr_db_offset=1.0,
        snr_reference_hz=500.0,
    )
    assert decode.audio_hz == pytest.approx(1478.125)
    assert decode.time_offset_s == pytest.approx(-0.25)
    # The same signal and noise in five times the bandwidth: 10 lg 5 = 6.990 dB less.
    assert decode.snr_db == pytest.approx(-10.0 + 1.0 - 6.9897, abs=1e-4)


@given(st.binary(max_size=3000))
def test_no_bytes_do_harm(raw: bytes) -> None:
    text = safe_text(raw)
    assert all(letter.isprintable() or letter in "\n\t" for letter in text)
    for answer in (
        {"kind": "lines", "layout": "{text} {audio_hz}"},
        {"kind": "json-lines"},
        {"kind": "columns", "text": 2, "snr_db": 1},
        {"kind": "columns", "text": "a"},
        {"kind": "columns", "text": 2, "audio_hz": 1, "delimiter": "spaces"},
    ):
        read_ = read(text, answer)
        assert len(read_) == sum(1 for line in text.split("\n") if line.strip())
        assert all((line.decode is None) == bool(line.reason) for line in read_)


def test_a_layout_is_suggested_from_a_line_with_the_sent_message() -> None:
    line = "{7} 1503.2 CQ Q1ABC FN42 -4 1500.0"
    layout = suggested_layout(line, text="CQ Q1ABC FN42", audio_hz=1500.0)
    assert layout == "{{{skip}}} {audio_hz} {text} {skip} {skip}"
    assert decodes(line, {"kind": "lines", "layout": layout}) == [Decode("CQ Q1ABC FN42", 1503.2)]
    glued = "18:30:15 f=1503.2Hz,q=2 [CQ Q1ABC FN42] (-4dB) rx2"
    layout = suggested_layout(glued, text="CQ Q1ABC FN42", audio_hz=1500.0)
    assert layout == "{skip}:{skip}:{skip} f={audio_hz}Hz,q={skip} [{text}] ({skip}dB) rx2"
    other = "09:00:00 f=700Hz,q=11 [CQ Q2DEF JO01] (12.5dB) rx2"
    assert decodes(other, {"kind": "lines", "layout": layout}) == [Decode("CQ Q2DEF JO01", 700.0)]
    assert suggested_layout("nothing", text="CQ Q1ABC FN42", audio_hz=1500.0) is None


def test_a_long_line_of_words_is_read_in_no_time() -> None:
    pattern = pattern_of_layout("{text} {skip} {skip} {audio_hz} end")
    answer = {"kind": "lines", "pattern": pattern}
    lines = "\n".join(["a " * (MAX_LINE // 2), "1 " * (MAX_LINE // 2), "1" * MAX_LINE])
    assert decodes(lines, answer) == []
