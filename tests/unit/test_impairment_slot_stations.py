"""Neighbours in the same slots: their levels, places and messages."""

import numpy as np
import pytest
from pydantic import ValidationError

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.slot_stations import SlotCrowd, SlotStation
from solidcopy.impairments.impairment import Scene
from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.score import score
from solidcopy.trials.trial import SENT, Trial

SCENE = Scene(12_000, 180_000, 1500.0, 50.0)
NOISE = {"kind": "gaussian-noise", "snr_db": 0.0}


def drawn(impairment, seed=1, scene=SCENE):
    return impairment.synthesise(scene, np.random.Generator(np.random.PCG64DXSM(seed)))


def station(**fields):
    return SlotStation(**{"offset_hz": 100.0, "signal_to_interference_db": 0.0, **fields})


def crowd(**fields):
    return SlotCrowd(**{"signal_to_interference_db": 0.0, **fields})


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("rate", [8_000, 12_000, 48_000])
def test_levels_are_met_in_a_trial(rate, seed):
    condition = Condition.model_validate(
        {
            "name": "c",
            "impairments": [
                NOISE,
                {"kind": "slot-station", "offset_hz": 75.0, "signal_to_interference_db": -20.0},
                {"kind": "slot-crowd", "n_stations": 20, "signal_to_interference_db": -10.0},
                {
                    "kind": "slot-station",
                    "mode": "ft4",
                    "audio_hz": 400.0,
                    "interference_to_noise_db": 5.0,
                },
            ],
        }
    )
    recording, truth = make(Trial("ft8", condition, rate, None, Chance(5, SENT, seed, 0.0)))
    got = {reading.name: reading for reading in recording.readings.levels}
    assert got["slot-station"].got_db == pytest.approx(-20.0, abs=0.05)
    assert got["slot-crowd"].got_db == pytest.approx(-10.0 + got["slot-crowd"].drawn_db, abs=0.1)
    assert len(truth.other_texts) == 1 + 20 + 2  # two slots of 7.5 s


@pytest.mark.derived
def test_share_on_is_the_length_of_the_transmission():
    """FACTS A8: 12.64 of 15 s; FT4 with its ramps 5.04 of each 7.5 s."""
    assert drawn(station(start_spread_s=0.0)).share_on == pytest.approx(12.64 / 15.0, abs=1e-4)
    ft4 = drawn(station(mode="ft4", start_spread_s=0.0))
    assert ft4.share_on == pytest.approx(2.0 * 5.04 / 15.0, abs=1e-4)


def test_slot_shorter_than_the_neighbours_is_one_of_its_halves():
    short = Scene(12_000, 90_000, 1500.0, 83.3)
    shares = {
        round(drawn(station(start_spread_s=0.0), seed, short).share_on, 3) for seed in range(9)
    }
    assert shares == {round(7.0 / 7.5, 3), round((12.64 + 0.5 - 7.5) / 7.5, 3)}


def test_late_slot_clock_hears_the_neighbour_early():
    late = Scene(12_000, 180_000, 1500.0, 50.0, slot_late_s=0.4)
    on_time, early = (
        np.flatnonzero(drawn(station(start_spread_s=0.0), scene=scene).samples)[0]
        for scene in (SCENE, late)
    )
    assert on_time - early == pytest.approx(0.4 * 12_000, abs=3)


@pytest.mark.derived
def test_mean_power_of_a_crowd_is_that_of_its_level_law():
    """Levels even in dB over R: the mean ratio is (1 - 10^(-R/10)) / (R ln 10 / 10)."""
    ratios = [drawn(crowd(n_stations=50), seed).draw.power_ratio for seed in range(20)]
    span = 30.0 * np.log(10.0) / 10.0
    relative = np.sqrt((1 - np.exp(-2 * span)) / (2 * span) / ((1 - np.exp(-span)) / span) ** 2 - 1)
    assert np.mean(ratios) == pytest.approx(1.0, abs=4.5 * relative / np.sqrt(20 * 50))


def test_clear_band_is_kept_clear():
    samples = drawn(crowd(n_stations=50, clear_hz=150.0, level_range_db=0.0)).samples
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(samples.size))) ** 2
    hz = np.fft.rfftfreq(samples.size, 1 / 12_000)
    inside = spectrum[(hz > 1400.0) & (hz < 1650.0)].sum() / spectrum.sum()
    assert units.db_from_ratio(inside) < -50.0
    with pytest.raises(CalibrationError, match="nothing is left"):
        drawn(crowd(low_hz=1400.0, high_hz=1600.0, clear_hz=300.0))


def test_frequencies_that_do_not_exist_are_refused():
    with pytest.raises(CalibrationError, match="may lie between 50 and 5900 Hz"):
        drawn(crowd(high_hz=5950.0))
    with pytest.raises(CalibrationError, match="an ft8 station at 5950 Hz"):
        drawn(station(offset_hz=None, audio_hz=5950.0))
    with pytest.raises(ValidationError, match="must lie below"):
        crowd(low_hz=2700.0)


def test_copying_a_neighbour_is_no_false_decode():
    condition = Condition.model_validate(
        {
            "name": "c",
            "impairments": [
                NOISE,
                {"kind": "slot-station", "offset_hz": 75.0, "signal_to_interference_db": 0.0},
            ],
        }
    )
    recording, truth = make(Trial("ft8", condition, 12_000, None, Chance(5, SENT, 1, 0.0)))
    (other,) = truth.other_texts
    decodes = tuple(Decode(text) for text in (other, truth.message.text, "Q1ABC Q2DEF 73"))
    outcome = score(Reception(decodes, 0.0), truth, recording)
    assert outcome.right.text == truth.message.text
    assert [decode.text for decode in outcome.false] == ["Q1ABC Q2DEF 73"]
