"""Parts of a trial taken out of it: what is left must be what was there. All derived here."""

import numpy as np
import pytest

from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import WANTED, make_in_parts, muted
from solidcopy.trials.trial import SENT, Trial

NOISE = {"kind": "gaussian-noise", "snr_db": -6.0}
CARRIER = {"kind": "carrier", "offset_hz": 60.0, "interference_to_noise_db": 3.0}
CLICKS = {"kind": "impulses", "rate_per_s": 3.0, "timing": "random"} | {
    "signal_to_interference_db": 0.0
}
FADING = {"kind": "two-path-fading", "preset": "mid-latitude disturbed"}


def making_of(*impairments, mode="ft8", internal_rate_hz=None):
    condition = Condition.model_validate({"name": "a", "impairments": impairments})
    trial = Trial(mode, condition, 12_000, None, Chance(4, SENT, 2, 0.0), internal_rate_hz)
    return make_in_parts(trial)


def samples_without(making, *silent):
    return muted(making, frozenset(silent))[0].samples.astype(np.float64)


@pytest.mark.derived
@pytest.mark.parametrize("mode", ["ft8", "ft4"])
def test_the_whole_is_the_sum_of_each_alone(mode):
    making = making_of(NOISE, CARRIER, CARRIER, CLICKS, FADING, mode=mode)
    whole = making.recording.waveform.samples
    sources = [WANTED, 1, 2, 3, 4]
    alone = [samples_without(making, *(n for n in sources if n != one)) for one in sources]
    # Each is rounded to float32 once: half of 2^-24 of the largest sample.
    assert np.abs(np.sum(alone, axis=0) - whole).max() <= 6 * 2.0**-25
    assert all(np.abs(part).max() > 0.001 for part in alone)


def test_nothing_muted_is_the_recording_bit_for_bit():
    filtered = {"kind": "channel-filter", "low_hz": 300.0, "high_hz": 2200.0}
    control = {"kind": "gain-control", "attack_ms": 5.0, "hang_ms": 200.0, "decay_db_per_s": 30.0}
    lost = {"kind": "lost-buffers", "lost_per_min": 40.0, "gap": "silent"}
    making = making_of(NOISE, CARRIER, filtered, control, lost, internal_rate_hz=48_000)
    assert np.array_equal(muted(making, frozenset())[0].samples, making.recording.waveform.samples)


def test_interference_keeps_its_level_when_the_noise_it_refers_to_is_muted():
    making = making_of(NOISE, CARRIER)
    whole, (carrier, noise) = samples_without(making), making.mix.parts
    assert (carrier.name, noise.name) == ("carrier", "gaussian-noise")
    left = samples_without(making, 1)
    gone = making.mix.gain * noise.disturbance.samples
    assert np.abs(whole - left - gone).max() < 2.0**-24


def test_a_muted_path_leaves_the_signal_as_sent():
    making = making_of(NOISE, FADING, CARRIER)
    straight = making_of(NOISE, CARRIER)
    ours = samples_without(making, 1, 2, 3) / making.mix.gain
    theirs = samples_without(straight, 1, 2) / straight.mix.gain
    assert np.abs(ours - theirs).max() < 1e-6 * np.abs(theirs).max()


def test_without_a_path_the_signal_lies_where_it_was_sent():
    making = making_of(NOISE, {"kind": "frequency-shift", "shift_hz": 20.0})
    _, truth = muted(making, frozenset([2]))
    assert truth.audio_hz == pytest.approx(making.truth.audio_hz - 20.0)
    assert truth == making.sent
    assert muted(making, frozenset([1]))[1] == making.truth


def test_a_muted_block_leaves_the_other_blocks_their_draws():
    first = {"kind": "lost-buffers", "lost_per_min": 40.0, "gap": "silent"}
    second = {"kind": "lost-buffers", "lost_per_min": 20.0, "gap": "silent"}
    making = making_of(NOISE, first, second)
    both = making.recording.waveform.samples == 0.0
    without_first = muted(making, frozenset([2]))[0].samples == 0.0
    without_second = muted(making, frozenset([3]))[0].samples == 0.0
    assert 0 < without_first.sum() < both.sum() > without_second.sum() > 0
    assert np.array_equal(without_first | without_second, both)


def test_all_muted_is_silence():
    making = making_of(NOISE, {"kind": "noise-reduction"})
    assert not samples_without(making, WANTED, 1).any()
