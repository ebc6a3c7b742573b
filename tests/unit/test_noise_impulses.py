"""Impulses, trains and beats: thresholds, and trains of known periods told apart."""

import numpy as np
import pytest

from noise_mixtures import mixed
from solidcopy.noise.parts.beats import find_beats, fold
from solidcopy.noise.parts.cells import cut_cells
from solidcopy.noise.parts.impulses import find_impulses, measure_rise
from solidcopy.noise.parts.trains import part_trains
from solidcopy.signals.power import mean_power


def cells_of(samples: np.ndarray):
    return cut_cells(samples, sample_rate_hz=12_000.0, band_hz=(234.0, 2866.0))


@pytest.mark.derived
def test_cells_hold_the_power_of_white_noise() -> None:
    """Parseval: bins from the first to the last hold their share of white noise."""
    samples = np.random.default_rng(1).standard_normal(240_000)
    cells = cells_of(samples)
    held = cells.bins_hz.size * cells.bin_hz / 6000.0
    assert cells.powers.sum(axis=1).mean() == pytest.approx(held * mean_power(samples), rel=0.01)


@pytest.mark.derived
def test_gaussian_noise_holds_no_impulse() -> None:
    """0.01 impulses a recording are expected: none in thirty, but for one time in four."""
    total = 0
    for seed in range(30):
        cells = cells_of(mixed([], seed=seed, duration_s=10.0).waveform.samples)
        rise = measure_rise(cells, is_asked=np.ones(cells.bins_hz.size, dtype=bool))
        total += find_impulses(cells, rise).times_s.size
    assert total <= 1


@pytest.mark.derived
@pytest.mark.parametrize("periods_s", [(1.2, 1.27), (0.9,), (1.0, 1.5, 2.3)])
def test_trains_are_parted_among_strays(periods_s: tuple[float, ...]) -> None:
    """Standard error of the slope of a line through n even places with scatter s:
    s sqrt(12 / n^3) (textbook)."""
    generator = np.random.default_rng(2)
    times = [generator.uniform(0.0, 60.0, 15)]
    for period_s in periods_s:
        due = generator.uniform(0.0, period_s) + period_s * np.arange(int(60.0 / period_s))
        times.append(due + generator.uniform(-0.008, 0.008, due.size))
    trains, left = part_trains(np.sort(np.concatenate(times)), 60.0)
    found = sorted(train.period_s.value for train in trains)
    assert len(found) == len(periods_s)
    for period_s, value in zip(sorted(periods_s), found, strict=True):
        n_pulses = 60.0 / period_s
        error = 0.016 / np.sqrt(12.0) * np.sqrt(12.0 / n_pulses**3)
        assert abs(value - period_s) < 4.0 * error + 1e-4
    assert left.size < 15 + 6


@pytest.mark.derived
def test_times_without_order_make_no_train() -> None:
    """P_FALSE_TRAIN is 1 in 1000: none in twenty."""
    for seed in range(20):
        generator = np.random.default_rng(100 + seed)
        times = np.sort(generator.uniform(0.0, 30.0, 60))
        trains, left = part_trains(times, 30.0)
        assert not trains
        assert left.size == 60


@pytest.mark.derived
def test_a_fast_rhythm_is_read_and_its_power_folded() -> None:
    made = mixed(
        [
            {
                "kind": "impulses",
                "rate_per_s": 87.0,
                "timing": "periodic",
                "interference_to_noise_db": 0.0,
            }
        ],
        seed=3,
        duration_s=20.0,
    )
    cells = cells_of(made.waveform.samples)
    rise = measure_rise(cells, is_asked=np.ones(cells.bins_hz.size, dtype=bool))
    beats = find_beats(rise.values, hop_s=cells.hop_s, frame_s=cells.frame_s, cap=rise.threshold)
    assert beats[0].rhythm_hz.value == pytest.approx(87.0, abs=0.01)
    profile = fold(
        cells.powers.sum(axis=1, dtype=np.float64), cells.centres_s, beats[0].rhythm_hz.value
    )
    put_in = 0.5 * 10.0 ** (made.levels_dbfs[0] / 10.0)
    assert profile.excess == pytest.approx(put_in, rel=0.08)
