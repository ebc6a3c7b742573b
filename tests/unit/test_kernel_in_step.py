"""Times in step: compiled, plain Python and counting in every stretch agree."""

import numpy as np
import pytest

from solidcopy.kernels.in_step import most_in_step


@pytest.mark.derived
@pytest.mark.parametrize("plain", [False, True])
def test_the_count_is_that_of_looking_from_every_time_on(plain: bool) -> None:
    generator = np.random.default_rng(4)
    run = most_in_step.py_func if plain else most_in_step
    times_s = np.sort(generator.uniform(0.0, 20.0, 40))
    periods_s = np.geomspace(0.3, 5.0, 60)
    counted = []
    for period_s in periods_s:
        phases = times_s % period_s
        after = (phases[None, :] - phases[:, None]) % period_s
        # A time is within reach of itself, and so is what comes just a period later.
        counted.append((after <= 0.05).sum(axis=1).max())
    assert np.array_equal(run(times_s, periods_s, 0.05), counted)


@pytest.mark.derived
def test_all_of_a_train_is_in_step_at_its_period() -> None:
    times_s = 0.4 + 1.27 * np.arange(12)
    # At 1.0 s the phases step by 0.27: 0.37 and 0.40 are the only two within 0.05.
    assert list(most_in_step(times_s, np.array([1.27, 1.0]), 0.05)) == [12, 2]
