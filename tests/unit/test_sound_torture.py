"""Every odd sound file has the right answer: level, length, finding, or one clear sentence."""

import pytest

from torture_faults import ALL
from torture_sounds import Torture
from torture_table import answer, faults


@pytest.mark.authority  # levels: a sine of known peak; files: RIFF by hand, or by libsndfile
@pytest.mark.parametrize("case", ALL, ids=lambda case: case.row)
def test_answer(tmp_path, case: Torture):
    path = tmp_path / f"odd.{case.suffix}"
    given = answer(case, path)
    assert faults(case, given) == []
    assert not given.refusal or given.refusal.startswith(f"{path}: ")


def test_a_wrong_answer_is_seen(tmp_path):
    """The judge itself: the same answers held against another file's truth."""
    path = tmp_path / "odd.wav"
    first, last = ALL[0], ALL[-1]
    assert faults(last, answer(last, path)) == []
    assert faults(first, answer(last, path))
