"""Place and level of a disturbance, stated once, and a baseband put at a frequency."""

from dataclasses import dataclass

import numpy as np
import pytest

from solidcopy.errors import CalibrationError, PlanError
from solidcopy.impairments.added.placed import (
    Reach,
    at_frequency,
    frequency_in,
    level_of,
    refuse_level_not_once,
    refuse_place_not_once,
)
from solidcopy.impairments.impairment import Scene

SCENE = Scene(8_000, 8_000, 1500.0, 50.0)
REACH = Reach(below_hz=300.0, above_hz=100.0)


@dataclass
class Asked:
    audio_hz: float | str | None = None
    offset_hz: float | str | None = None
    signal_to_interference_db: float | str | None = None
    interference_to_noise_db: float | str | None = None


@pytest.mark.derived
@pytest.mark.parametrize(
    ("asked", "expected_hz"),
    [
        (Asked(audio_hz=300.0), 300.0),
        (Asked(audio_hz=3900.0), 3900.0),
        (Asked(offset_hz=0.0), 1500.0),
        (Asked(offset_hz=-1200.0), 300.0),
    ],
)
def test_place_is_absolute_or_from_the_lowest_tone(asked, expected_hz):
    assert frequency_in(SCENE, asked, reach=REACH, name="a whistle") == expected_hz


@pytest.mark.parametrize("asked", [Asked(audio_hz=299.0), Asked(offset_hz=2401.0)])
def test_place_that_would_alias_is_an_error(asked):
    with pytest.raises(
        CalibrationError, match=r"a whistle at .* between 300 and 3900 Hz at 8000 s"
    ):
        frequency_in(SCENE, asked, reach=REACH, name="a whistle")


def test_too_wide_for_the_rate_is_an_error():
    with pytest.raises(CalibrationError, match="a whistle 4002 Hz wide is asked; only 4000 Hz"):
        frequency_in(SCENE, Asked(audio_hz=2000.0), reach=Reach.around(2001.0), name="a whistle")


def test_axis_must_be_filled_first():
    with pytest.raises(PlanError, match="audio_hz"):
        frequency_in(SCENE, Asked(audio_hz="axis"), reach=REACH, name="a whistle")
    with pytest.raises(PlanError, match="interference_to_noise_db"):
        level_of(Asked(interference_to_noise_db="axis"))


def test_place_and_level_are_stated_once():
    refuse_place_not_once(Asked(offset_hz=0.0))
    refuse_level_not_once(Asked(interference_to_noise_db=0.0))
    for refuse in (refuse_place_not_once, refuse_level_not_once):
        with pytest.raises(ValueError, match=r"give exactly one of .*, not 0"):
            refuse(Asked())
        with pytest.raises(ValueError, match=r"give exactly one of .*, not 2"):
            refuse(Asked(1.0, 1.0, 1.0, 1.0))


@pytest.mark.derived
def test_reach_about_a_frequency():
    assert REACH.band(1000.0) == (700.0, 1100.0)


@pytest.mark.derived
def test_baseband_is_turned_to_its_frequency():
    """Real part of b exp(j (2 pi f t + phase)), by numpy."""
    draws = np.random.Generator(np.random.PCG64DXSM(2)).standard_normal((2, 5_000))
    baseband = draws[0] + 1j * draws[1]
    turned = baseband * np.exp(1j * (2.0 * np.pi * 987.6 * np.arange(5_000) / 8_000 + 0.7))
    placed = at_frequency(baseband, frequency_hz=987.6, phase_rad=0.7, sample_rate_hz=8_000)
    assert np.abs(placed - turned.real).max() < 1e-9
