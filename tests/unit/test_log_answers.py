"""An answer typed at the question is the option that the question names."""

import pytest

from solidcopy.cli.log import answered, bandwidth_hz
from solidcopy.errors import LogError
from solidcopy.logs.entry import ReadOptions

pytestmark = pytest.mark.derived


@pytest.mark.parametrize(
    ("option", "answer", "expected"),
    [
        ("--times-in", " Europe/Berlin ", ReadOptions(times_in="Europe/Berlin")),
        ("--dates", "day-first", ReadOptions(dates="day-first")),
        ("--date", "2026-11-25", ReadOptions(date="2026-11-25")),
        ("--columns", "time,text", ReadOptions(columns="time,text")),
        ("--snr-reference-hz", "2500 Hz", ReadOptions(snr_reference_hz=2500.0)),
    ],
)
def test_answers(option: str, answer: str, expected: ReadOptions) -> None:
    assert answered(ReadOptions(), option, answer) == expected


@pytest.mark.parametrize("text", ["", "wide", "0", "-500", "nan", "1e9"])
def test_no_bandwidths(text: str) -> None:
    with pytest.raises(LogError, match="no bandwidth"):
        bandwidth_hz(text)
