"""Pauses: how much of a transmission a slot may hold."""

import numpy as np
import pytest
from pydantic import ValidationError

from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.added.gate import Gate
from solidcopy.impairments.impairment import Scene


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


@pytest.mark.derived
@pytest.mark.parametrize(
    ("on_s", "off_s", "duration_s"),
    [(1.0, 1.0, 0.7), (2.0, 5.0, 15.0), (20.0, 10.0, 15.0), (3.0, 1.0, 9.0), (1.0, 60.0, 7.5)],
)
def test_spread_of_the_time_on_is_that_of_many_starts(on_s, off_s, duration_s):
    """Time on in a slot, counted on a fine grid from every start."""
    period_s = on_s + off_s
    fine_s = period_s / 40_000
    is_on = np.arange(40_000) * fine_s < on_s
    n_whole, rest = divmod(round(duration_s / fine_s), 40_000)
    before = np.concatenate([[0], np.cumsum(np.tile(is_on, 2))])
    counts = n_whole * is_on.sum() + before[rest : rest + 40_000] - before[:40_000]
    expected = counts.std() / counts.mean()
    spread = Gate(on_s=on_s, off_s=off_s).relative_spread(duration_s)
    assert spread == pytest.approx(expected, rel=2e-3, abs=2e-4)


def test_whole_periods_hold_always_the_same():
    assert Gate(on_s=0.5, off_s=1.0).relative_spread(15.0) == pytest.approx(0.0, abs=1e-7)


@pytest.mark.derived
def test_amplitude_is_on_for_its_time_and_off_for_its_pause():
    scene = Scene(8_000, 160_000, 1500.0, 50.0)
    gate = Gate(on_s=1.25, off_s=2.75)
    amplitude = gate.amplitude(scene, generator())
    crossings = np.flatnonzero(np.diff((amplitude > 0.5).astype(int)))
    lengths_s = np.diff(crossings) / 8_000
    on_s = lengths_s[::2] if amplitude[crossings[0] + 2] > 0.5 else lengths_s[1::2]
    assert on_s == pytest.approx(1.25, abs=2 / 8_000)
    assert lengths_s[:-1] + lengths_s[1:] == pytest.approx(4.0, abs=2 / 8_000)
    assert np.mean(amplitude**2) == pytest.approx(gate.mean_power, rel=1e-4)


@pytest.mark.derived
def test_silent_slot_is_told_by_its_draw():
    """10 s of 70 s on, 4 s long: silent with a chance of 56 / 70."""
    carrier = Carrier(
        audio_hz=900.0, signal_to_interference_db=0.0, gate=Gate(on_s=10.0, off_s=60.0)
    )
    scene = Scene(8_000, 32_000, 1500.0, 50.0)
    made = [carrier.synthesise(scene, generator(seed)) for seed in range(60)]
    ratios = np.array([one.drawn.power_ratio for one in made])
    n_silent = np.count_nonzero(ratios == 0.0)
    assert 38 <= n_silent <= 57  # 48 ± 3 standard deviations of the count
    assert ratios.max() == pytest.approx(7.0, rel=1e-3)  # wholly on: 70 / 10
    assert all(one.share_on > 0.0 and not np.isnan(one.samples).any() for one in made)


def test_start_is_drawn():
    scene = Scene(8_000, 32_000, 1500.0, 50.0)
    gate = Gate(on_s=1.0, off_s=1.0)
    assert not np.array_equal(
        gate.amplitude(scene, generator(1)), gate.amplitude(scene, generator(2))
    )


@pytest.mark.parametrize("fields", [{"on_s": 0.0, "off_s": 1.0}, {"on_s": 1.0}])
def test_impossible_gates_are_refused(fields):
    with pytest.raises(ValidationError):
        Gate(**fields)
