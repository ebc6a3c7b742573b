"""Every odd sound file has the right answer: level, length, finding, or one clear sentence."""

import numpy as np
import pytest

from solidcopy import units
from solidcopy.errors import AudioFileError
from solidcopy.noise.health import measure_health
from solidcopy.noise.reading import mono, open_sound
from solidcopy.signals import power
from solidcopy.signals.sound_file.findings import Weight
from torture_faults import ALL
from torture_sounds import Torture

LEVEL_ERROR_DB = 0.01


@pytest.mark.authority  # levels: a sine of known peak; files: RIFF by hand, or by libsndfile
@pytest.mark.parametrize("case", ALL, ids=lambda case: case.row)
def test_answer(tmp_path, case: Torture):
    path = tmp_path / f"odd.{case.suffix}"
    case.make(path)
    if case.is_refused:
        with pytest.raises(AudioFileError) as caught, open_sound(path, **case.answers) as sound:
            measure_health(sound)
        assert case.says in str(caught.value)
        assert str(path) in str(caught.value)
        assert "\n" not in str(caught.value)
        return
    with open_sound(path, **case.answers) as sound:
        health = measure_health(sound)
        question = sound.question and sound.question.option
        assert question == case.question
        if case.n_samples is not None:
            assert sound.n_samples == case.n_samples
        if case.level_dbfs is not None:
            waveform = mono(sound)
            assert waveform.samples.size == sound.n_samples
            samples = waveform.samples - waveform.samples.mean(dtype=np.float64)
            level_dbfs = units.dbfs_from_power(power.mean_power(samples))
            assert level_dbfs == pytest.approx(case.level_dbfs, abs=LEVEL_ERROR_DB)
            if not case.answers:
                channel = health.channels[sound.channel or 0]
                assert channel.levels.power_dbfs == pytest.approx(case.level_dbfs, abs=0.01)
    assert health.verdict == case.verdict
    if case.finding:
        sentences = [f.sentence for f in health.findings if f.kind == case.finding]
        assert sentences, [f.kind for f in health.findings]
        assert any(case.says in sentence for sentence in sentences), sentences
    else:
        assert not health.findings
    if case.verdict != "measuring":
        heavy = [f.kind for f in health.findings if f.weight is not Weight.REMARK]
        assert case.finding in heavy
