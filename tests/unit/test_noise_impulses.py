"""Impulses, trains and beats: thresholds, and trains of known periods told apart."""

import numpy as np
import pytest

from noise_mixtures import mixed
from noise_pulses import HeardFence
from solidcopy.noise.features.figure import Figure
from solidcopy.noise.parts.beats import find_beats, fold
from solidcopy.noise.parts.cells import cut_cells
from solidcopy.noise.parts.cycles import cycle_of, layers_of, share_of_periods
from solidcopy.noise.parts.impulses import find_impulses, measure_rise
from solidcopy.noise.parts.trains import Train, best_train
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
    left = np.sort(np.concatenate(times))
    trains = []
    while (train := best_train(left, 60.0)) is not None:
        trains.append(train)
        left = np.delete(left, train.members)
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
        assert best_train(times, 30.0) is None


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


def crackling_times(generator: np.random.Generator, *, period_s: float, n_behind: int) -> list:
    """Pulses of a train and what comes behind each of them, apart."""
    due_s = 0.3 + period_s * np.arange(int(29.0 / period_s))
    pulses = due_s + 0.003 * generator.standard_normal(due_s.size)
    behind = (pulses[:, None] + generator.exponential(0.1, (pulses.size, n_behind))).ravel()
    return [pulses, behind]


@pytest.mark.derived
@pytest.mark.parametrize("second_s", [None, 1.28])
def test_what_a_train_explains_is_no_train_but_a_near_period_is(second_s: float | None) -> None:
    """Discharges close behind each pulse make any phase there hold one often; a second fence drifts
    through these phases, 10 ms a period."""
    generator = np.random.default_rng(6)
    _, behind = crackling_times(generator, period_s=1.27, n_behind=3)
    if second_s is not None:
        other = 0.25 + second_s * np.arange(23)
        behind = np.concatenate([behind, other + 0.002 * generator.standard_normal(23)])
    behind = np.sort(behind)
    first = Train(Figure(1.27, 1e-4), 0.3, np.arange(22), 22, 0.003, 1e-20)

    def known(due_s: np.ndarray, reach_s: float) -> np.ndarray:
        return share_of_periods(first, behind, due_s, reach_s=reach_s, duration_s=30.0)

    aware = best_train(behind, 30.0, known)
    if second_s is None:
        assert aware is None
    else:
        assert aware is not None
        assert aware.period_s.value == pytest.approx(second_s, abs=1e-3)


@pytest.mark.derived
def test_the_phases_of_a_crackling_fence_are_found_and_no_others() -> None:
    made = mixed([HeardFence(1.27, 12.0, n_discharges=14, discharges_mean_s=0.1)], seed=7)
    cells = cells_of(made.waveform.samples)
    rise = measure_rise(cells, is_asked=np.ones(cells.bins_hz.size, dtype=bool))
    found = find_impulses(cells, rise)
    layers = layers_of(rise.values, cells, cap=rise.threshold)
    is_free = np.ones(rise.values.size, dtype=bool)
    strongest = np.sort(found.times_s[np.argsort(-found.energies)[:22]])
    train = best_train(strongest, 30.0)
    assert train is not None
    cycle = cycle_of(train, layers, cells.centres_s, is_free)
    # Fourteen at a mean of 0.1 s: nearly all within 0.5 s, hardly one within half of 0.1 s not.
    assert 0.1 / 1.27 < cycle.share < 0.55 / 1.27
    assert cycle.heard_at(train.start_s + np.array([0.01, 0.05, 0.1, 1.27])).all()
    assert not cycle.heard_at(train.start_s + np.array([0.7, 0.9, 1.1])).any()
    # A train that is not there is heard at no phase.
    strange = Train(Figure(1.431, 1e-4), 0.3, train.members, 20, 0.003, 1e-20)
    assert cycle_of(strange, layers, cells.centres_s, is_free).share < 0.05
