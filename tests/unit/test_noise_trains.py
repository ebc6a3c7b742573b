"""Trains of impulses: told apart, followed, and not seen where there are none."""

import numpy as np
import pytest

from solidcopy.noise.features.following import find_trains


def generator(seed):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def train(draws, period_s, duration_s, *, jitter_s=0.01, p_missing=0.0, step_s=0.0, change=0.0):
    """Times of one train: even jitter, impulses left out, a period that steps or changes."""
    n_due = int(duration_s / period_s) + 2
    intervals_s = period_s * (1.0 + change * np.arange(n_due) * period_s / duration_s)
    intervals_s += step_s * draws.standard_normal(n_due)
    times_s = draws.uniform(0.0, period_s) + np.cumsum(intervals_s)
    times_s += draws.uniform(-jitter_s, jitter_s, n_due)
    times_s = times_s[draws.random(n_due) >= p_missing]
    return times_s[(times_s > 0.0) & (times_s < duration_s)]


def found_in(times, duration_s):
    return find_trains(np.sort(np.concatenate(times)), (0.0, duration_s))


@pytest.mark.derived
def test_random_impulses_show_no_train():
    """Stated: one recording in a thousand. Of 60, two or more would come once in 600 tests."""
    n_found = 0
    for seed in range(60):
        draws = generator(seed)
        n_found += len(found_in([draws.uniform(0.0, 120.0, draws.poisson(120))], 120.0)) > 0
    assert n_found <= 1


@pytest.mark.derived
@pytest.mark.parametrize("duration_s", [20.0, 60.0, 120.0])
def test_two_near_periods(duration_s):
    misses = []
    for seed in range(8):
        draws = generator(seed)
        periods_s = (1.20, 1.27)
        trains = found_in([train(draws, p, duration_s) for p in periods_s], duration_s)
        assert len(trains) == 2
        for period_s in periods_s:
            best = min(trains, key=lambda t, p=period_s: abs(t.period_s.value - p))
            misses.append((best.period_s.value - period_s) / best.period_s.standard_error)
            # Even within ± 10 ms.
            assert best.jitter_s.value == pytest.approx(0.00577, abs=0.0025)
    # 16 misses in units of their errors: a scatter of 1 ± 0.2, and a few per cent for small n.
    assert 0.4 < float(np.sqrt(np.mean(np.square(misses)))) < 1.8


@pytest.mark.derived
def test_four_fences_some_of_whose_multiples_agree():
    """4 x 1.05 = 3 x 1.40: the two share a grid of 0.35 s."""
    periods_s = (1.05, 1.20, 1.27, 1.40)
    for seed in range(4):
        draws = generator(seed)
        trains = found_in([train(draws, p, 120.0) for p in periods_s], 120.0)
        assert sorted(round(t.period_s.value, 2) for t in trains) == list(periods_s)


@pytest.mark.derived
def test_missing_and_foreign_impulses():
    draws = generator(3)
    times = [train(draws, p, 120.0, p_missing=0.4) for p in (1.20, 1.27)]
    trains = found_in([*times, draws.uniform(0.0, 120.0, 60)], 120.0)
    assert len(trains) == 2
    for found in trains:
        # 100 due, 60 % kept: ± 5 %; a foreign impulse fills a gap now and then.
        assert found.share_seen.value == pytest.approx(0.61, abs=0.2)


@pytest.mark.derived
def test_a_period_that_moves_is_followed():
    draws = generator(1)
    times = train(draws, 1.2, 900.0, jitter_s=0.003, change=0.004)
    (found,) = found_in([times], 900.0)
    low_s, high_s = found.period_range_s
    assert low_s == pytest.approx(1.2002, abs=3e-4)
    assert high_s == pytest.approx(1.2046, abs=3e-4)
    assert found.share_seen.value > 0.98


@pytest.mark.derived
def test_a_period_that_steps_at_random_has_a_wider_error():
    draws = generator(2)
    (found,) = found_in([train(draws, 1.2, 120.0, jitter_s=0.001, step_s=0.003)], 120.0)
    assert found.wander < 0.6
    # The mean of 100 intervals of spread 3 ms.
    assert found.period_s.standard_error == pytest.approx(3e-4, rel=0.4)


@pytest.mark.derived
def test_times_count_from_the_beginning_of_the_recording():
    times_s = 0.5 + 0.3 + 1.1 * np.arange(50)
    (found,) = find_trains(times_s, (0.5, 56.0))
    assert found.first_s == pytest.approx(0.8, abs=1e-6)
    assert (found.n_seen, found.n_expected) == (50, 51)
