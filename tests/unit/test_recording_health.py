"""Parts of the health report against naive counts, and sums that must not drift."""

import itertools

import numpy as np
import pytest

from solidcopy.noise.health.flat_tops import FlatTop
from solidcopy.noise.health.levels import LevelSums
from solidcopy.noise.health.repeats import N_PRINT, Repeats, fingerprints
from solidcopy.noise.health.spectrum import MeanSpectrum
from solidcopy.noise.health.stretches import StillStretches

RATE_HZ = 12_000
pytestmark = pytest.mark.derived


def generator(seed: int = 11) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64DXSM(seed))


def blocks(samples, n_block):
    for start in range(0, samples.size, n_block):
        yield start, samples[start : start + n_block]


def test_sums_of_millions_do_not_stop():
    """20 million float32 ones summed in float32 stop at 2**24 (NEEDS 3.1)."""
    sums = LevelSums()
    block = np.tile(np.array([1.5, 0.5], np.float32), 50_000).astype(np.float64)
    for _ in range(200):
        assert sums.add(block)
    levels = sums.levels()
    assert levels.offset == pytest.approx(1.0, abs=1e-12)
    assert levels.power == pytest.approx(0.25, abs=1e-9)
    assert levels.n_over_full_scale == 10_000_000


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e200])
def test_a_block_that_is_no_sound_is_not_summed(value):
    assert not LevelSums().add(np.array([0.0, value, 0.1]))


@pytest.mark.parametrize("n_block", [97, 1_000, 30_000])
def test_clipped_runs_as_counted_one_by_one(n_block):
    samples = np.convolve(generator().standard_normal(30_000), np.ones(8) / 8.0, "same")
    samples = np.clip(samples, -9.0, 0.6)
    top = FlatTop(0.0, RATE_HZ)
    for start, block in blocks(samples, n_block):
        top.add(block, start, float(block.max()))
    runs, at = [], 0
    for is_top, group in itertools.groupby(samples == 0.6):
        length = len(list(group))
        if is_top:
            runs.append((at, length))
        at += length
    clipping = top.clipping()
    assert clipping.n_samples == sum(length for _, length in runs)
    assert clipping.n_runs == len(runs)
    assert clipping.longest_samples == max(length for _, length in runs)
    kept = [runs[0][0]]
    for start, _ in runs:
        if start >= kept[-1] + 600:  # 0.05 s
            kept.append(start)
    assert list(clipping.starts) == kept[:12]


@pytest.mark.parametrize("peak_words", [8, 64, 127, 128, 20_000, 32_767])
@pytest.mark.parametrize("frequency", [0.0017, 0.0411, 0.2071])
def test_a_rounded_sine_is_not_clipped(peak_words, frequency):
    """Rounding makes flat tops of its own; at 8 words they are half of what stands near."""
    step = 1.0 / 32_768
    samples = np.rint(peak_words * np.cos(2.0 * np.pi * frequency * np.arange(50_000))) * step
    top = FlatTop(step, RATE_HZ)
    top.add(samples, 0, float(samples.max()))
    assert top.clipping() is None


@pytest.mark.parametrize("sigmas", [1.0, 2.0, 3.0, 4.0])
def test_clipped_noise_is_told_from_noise(sigmas):
    samples = generator().standard_normal(400_000)
    top = FlatTop(0.0, RATE_HZ)
    top.add(samples, 0, float(samples.max()))
    assert top.clipping() is None
    held = np.minimum(samples, sigmas)
    top = FlatTop(0.0, RATE_HZ)
    top.add(held, 0, sigmas)
    assert top.clipping() is not None
    assert top.clipping().n_samples == np.count_nonzero(samples >= sigmas)


@pytest.mark.parametrize("n_block", [100, 777, 65_536])
def test_still_stretches_whatever_the_blocks(n_block):
    samples = generator().standard_normal(40_000)
    true = [(0, 300, 0.0), (5_000, 5_240, 0.0), (9_990, 12_010, 0.25), (39_000, 40_000, -1.0)]
    for start, end, value in true:
        samples[start:end] = value
    samples[20_000:20_200] = 0.5  # shorter than 20 ms: 240 samples
    still = StillStretches(RATE_HZ)
    for start, block in blocks(samples, n_block):
        still.add(block, start)
    assert [(s.start, s.end, s.value) for s in still.found] == true


@pytest.mark.parametrize("n_block", [5_000, 65_536])
@pytest.mark.parametrize("n_buffer", [256, 480, 1_024, 4_800])
def test_a_buffer_that_came_twice(n_block, n_buffer):
    samples = generator(n_buffer).standard_normal(100_000)
    samples = np.rint(samples * 100.0) / 32_768
    places = (9_000, 41_111, 65_500)
    for place in places:
        samples[place : place + n_buffer] = samples[place - n_buffer : place]
    repeats = Repeats(RATE_HZ)
    for _, block in blocks(samples, n_block):
        repeats.add(block)
    found = {(repeat.start, repeat.lag) for repeat in repeats.found}
    # A sample before or behind may be equal by chance: 1 in 300.
    for place in places:
        assert any(abs(start - place) <= 2 and lag == n_buffer for start, lag in found)
    assert len(found) == len(places)


def test_noise_of_few_words_does_not_repeat_by_chance():
    samples = np.rint(generator().standard_normal(300_000)) / 32_768
    repeats = Repeats(RATE_HZ)
    for _, block in blocks(samples, 65_536):
        repeats.add(block)
    assert repeats.found == ()


def test_fingerprints_follow_the_sound_not_its_place():
    samples = generator().standard_normal(4_000)
    samples[3_000:3_200] = samples[1_234:1_434]
    prints = fingerprints(samples)
    assert prints.size == samples.size - N_PRINT + 1
    assert np.array_equal(prints[3_000:3_185], prints[1_234:1_419])
    assert np.unique(np.delete(prints, slice(3_000, 3_185))).size == prints.size - 185


def test_mean_spectrum_adds_up_and_finds_60_hz():
    place = np.arange(20 * RATE_HZ) / RATE_HZ
    noise = 0.05 * generator().standard_normal(place.size)
    hum = sum(0.02 * np.cos(2.0 * np.pi * hz * place + hz) for hz in (60.0, 120.0, 300.0))
    spectrum = MeanSpectrum(RATE_HZ)
    spectrum.add(noise + hum)
    assert spectrum.bin_powers.sum() == pytest.approx(0.0025 + 3 * 0.0002, rel=0.01)
    found = spectrum.hum()
    assert (found.mains_hz, found.n_lines) == (60.0, 3)
    assert found.power_dbfs == pytest.approx(-29.2, abs=0.1)  # 10 lg (3 · 0.02²)
    quiet = MeanSpectrum(RATE_HZ)
    quiet.add(noise)
    assert quiet.hum() is None


@pytest.mark.parametrize("n_block", [500, 65_536])
@pytest.mark.parametrize("quiet", [0.012, 1.0])
def test_what_is_fainter_than_a_step_is_no_gap(n_block, quiet):
    """Quiet noise of 8-bit words stands still by itself; a buffer of zeros in loud noise does not.

    Where both are in a file, zeros are no evidence.
    """
    step = 1.0 / 128.0
    gain = np.interp(np.arange(60_000), [18_000, 20_000, 32_000, 34_000], [1, quiet, quiet, 1])
    rounded = np.rint(generator().standard_normal(60_000) * 0.1 * gain / step) * step
    rounded[45_000:45_400] = 0.0
    still, as_floats = StillStretches(RATE_HZ, step=step), StillStretches(RATE_HZ)
    for start, block in blocks(rounded, n_block):
        still.add(block, start)
        as_floats.add(block, start)
    n_told = len(as_floats.found)
    assert (n_told > 1) == (quiet < 1.0)
    assert len(still.found) == (0 if quiet < 1.0 else 1)


@pytest.mark.parametrize("n_sigmas", [1.0, 2.0, 2.6])
def test_clipped_noise_of_8_bits_is_seen(n_sigmas):
    step = 1.0 / 128.0
    samples = np.rint(generator().standard_normal(200_000) * 8.0) * step
    top = FlatTop(step, RATE_HZ)
    top.add(samples, 0, float(samples.max()))
    assert top.clipping() is None
    limit = np.rint(8.0 * n_sigmas) * step
    held = np.minimum(samples, limit)
    top = FlatTop(step, RATE_HZ)
    top.add(held, 0, float(held.max()))
    assert top.clipping() is not None
    assert top.clipping().n_samples == np.count_nonzero(samples >= limit)
