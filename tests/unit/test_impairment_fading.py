"""Fading over two and more paths: published conditions, delays, shared processes, refusals."""

import math

import numpy as np
import pytest
from pydantic import TypeAdapter, ValidationError

from solidcopy.errors import PlanError
from solidcopy.impairments.catalogue import AnyImpairment
from solidcopy.impairments.impairment import Transmission
from solidcopy.impairments.path.fading import TwoPathFading
from solidcopy.impairments.path.fading_gain import Stretch
from solidcopy.impairments.path.multipath import Tap, arrive, tap_gain
from solidcopy.impairments.published.fading_conditions import fading_conditions
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.trial import SENT, Trial
from solidcopy.trials.wanted import _propagated

RATE_HZ = 12_000
ADAPTER = TypeAdapter(AnyImpairment)


def generator(seed):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def transmission(samples, *, begins_s=0.5, process_s=15.0):
    return Transmission(samples, RATE_HZ, begins_s, process_s)


@pytest.mark.authority
def test_published_conditions():
    """ITU-R F.1487 (05/2000), Annex 3, as in FACTS B1 (second-hand)."""
    rows = {name: (row.delay_ms, row.spread_hz) for name, row in fading_conditions().items()}
    assert rows == {
        "low-latitude quiet": (0.5, 0.5),
        "low-latitude moderate": (2.0, 1.5),
        "low-latitude disturbed": (6.0, 10.0),
        "mid-latitude quiet": (0.5, 0.1),
        "mid-latitude moderate": (1.0, 0.5),
        "mid-latitude disturbed": (2.0, 1.0),
        "mid-latitude disturbed near-vertical incidence": (7.0, 1.0),
        "high-latitude quiet": (1.0, 0.5),
        "high-latitude moderate": (3.0, 10.0),
        "high-latitude disturbed": (7.0, 30.0),
    }


def test_preset_is_its_numbers():
    preset = TwoPathFading(preset="mid-latitude disturbed")
    free = TwoPathFading(delay_ms=2.0, spread_hz=1.0)
    assert preset.identity() == free.identity()
    sent = transmission(np.ones(600, dtype=np.complex128))
    first, second = (model.propagate(sent, generator(1)).samples for model in (preset, free))
    assert np.array_equal(first, second)


@pytest.mark.derived
@pytest.mark.parametrize("delay_ms", [2.0, 2.0 + 0.4 / 12.0])
def test_frequency_response_has_notches_one_over_the_delay_apart(delay_ms):
    """Two frozen paths of equal power: |1 + exp(-2 pi i f d)|, zeros at (n + 1/2) / d.

    The steady parts dominate, the fading parts lie 60 dB below.
    """
    taps = [Tap(d, 0.01, steady_share=1.0 - 1e-9) for d in (0.0, delay_ms / 1e3)]
    pulse = np.sinc(0.9 * (np.arange(301) - 150.0)) * np.kaiser(301, 12.0)
    arrival = arrive(transmission(pulse.astype(np.complex128)), taps, generator(3))
    hz = np.arange(-4_800.0, 4_800.0, 2.0)
    turns = np.exp(-2j * np.pi * np.outer(hz, np.arange(arrival.samples.size) / RATE_HZ))
    response = np.abs(turns @ arrival.samples) / np.abs(turns[:, :301] @ pulse)
    is_notch = (response[1:-1] < response[:-2]) & (response[1:-1] < response[2:])
    notches_hz = hz[1:-1][is_notch]
    assert np.diff(notches_hz) == pytest.approx(1e3 / delay_ms, abs=4.0)
    assert response.max() == pytest.approx(math.sqrt(2.0), rel=1e-2)
    assert response[1:-1][is_notch].max() < 0.02


@pytest.mark.derived
def test_fractional_delay_is_exact():
    """A tone comes 25.4 samples later with the phase of that delay."""
    tone = np.exp(2j * np.pi * 1500.0 / RATE_HZ * np.arange(6_000)) * np.hanning(6_000)
    tap = Tap(25.4 / RATE_HZ, 0.01, steady_share=1.0)
    arrival = arrive(transmission(tone), [tap], generator(1))
    moved = np.arange(arrival.samples.size) - 25.4
    window = np.where((moved >= 0) & (moved <= 5_999), np.sin(np.pi * moved / 5_999) ** 2, 0.0)
    expected = np.exp(2j * np.pi * 1500.0 / RATE_HZ * moved) * window
    turn = np.vdot(expected, arrival.samples) / np.vdot(expected, expected)
    assert abs(turn) == pytest.approx(1.0, abs=1e-6)
    assert np.max(np.abs(arrival.samples - turn * expected)) < 1e-6
    assert arrival.delay_s == pytest.approx(25.4 / RATE_HZ)


@pytest.mark.derived
def test_paths_fade_independently():
    """2000 independent values: a correlation beyond 4/sqrt(2000) has a chance of 1e-4."""
    draw = generator(11)
    apart = Stretch(1_024, 0, 2_000 * 256, 500.0)
    first, second = (tap_gain(Tap(0.0, 20.0), apart, draw)[::256] for _ in range(2))
    assert abs(np.vdot(first, second)) / 2_000 < 4.0 / math.sqrt(2_000)
    power = np.corrcoef(np.abs(first) ** 2, np.abs(second) ** 2)[0, 1]
    assert abs(power) < 4.0 / math.sqrt(2_000)


@pytest.mark.derived
def test_arrival_is_the_mean_over_the_power():
    taps = [Tap(0.001, 1.0, -2.0, power=3.0), Tap(0.005, 4.0, 6.0, power=1.0)]
    arrival = arrive(transmission(np.ones(200, dtype=np.complex128)), taps, generator(1))
    assert arrival.delay_s == pytest.approx(0.002)
    assert arrival.shift_hz == pytest.approx(0.0)
    assert arrival.widening_hz == pytest.approx((-4.0, 14.0))
    assert arrival.samples.size == 260


def fading_trial(index, *, together, axis_value=-3.0):
    condition = Condition.model_validate(
        {
            "name": "c",
            "sending": {"audio_hz": 1500.0, "start_offset_s": 0.0},
            "impairments": [
                {"kind": "gaussian-noise", "snr_db": axis_value},
                {
                    "kind": "two-path-fading",
                    "preset": "mid-latitude quiet",
                    "trials_together": together,
                },
            ],
        }
    )
    return Trial("ft8", condition, RATE_HZ, None, Chance(7, SENT, index, axis_value), None)


def gain_of(trial, *, begins_s=0.0, duration_s=15.0):
    """What the path of a trial does to a steady 1 from some instant of the slot on."""
    sent = np.ones(round(duration_s * RATE_HZ), dtype=np.complex128)
    return _propagated(sent, trial, begins_s, frozenset()).samples[200 : sent.size]


def test_trials_together_meet_one_continuous_run():
    """Where one slot ends the next goes on; groups and points of the axis have their own."""
    gains = [gain_of(fading_trial(index, together=3)) for index in range(6)]
    # Seen past its end, a trial meets what the next one meets at its beginning.
    for before, after in ((0, 1), (1, 2), (3, 4), (4, 5)):
        beyond = gain_of(fading_trial(before, together=3), begins_s=10.0, duration_s=8.0)
        assert np.array_equal(beyond[5 * RATE_HZ :], gains[after][: beyond.size - 5 * RATE_HZ])
    assert abs(gains[2][-1] - gains[3][0]) > 0.1
    alone = [gain_of(fading_trial(index, together=1)) for index in range(2)]
    assert abs(alone[0][-1] - alone[1][0]) > 0.1
    elsewhere = gain_of(fading_trial(0, together=3, axis_value=-5.0))
    assert not np.allclose(elsewhere, gains[0])


def test_levels_and_truth_under_fading():
    """The SNR refers to the mean over fading; the draws of the trial stand beside it."""
    recording, truth = make(fading_trial(3, together=1))
    assert recording.readings.levels[0].got_db == pytest.approx(-3.0, abs=0.15)
    assert recording.readings.path_gain_db != 0.0
    assert truth.time_offset_s == pytest.approx(0.00025)
    assert truth.audio_hz == 1500.0


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "give a preset, or both"),
        ({"delay_ms": 1.0}, "give a preset, or both"),
        ({"preset": "mid-latitude awful"}, "is no preset"),
        ({"preset": "mid-latitude quiet", "spread_hz": 1.0}, "leave out spread_hz"),
        ({"delay_ms": -1.0, "spread_hz": 1.0}, "delay_ms is -1"),
        ({"delay_ms": 1.0, "spread_hz": 0.0}, "spread_hz is 0"),
        ({"delay_ms": 1.0, "spread_hz": 1.0, "trials_together": 0}, "trials_together"),
    ],
)
def test_refusals(fields, words):
    with pytest.raises(ValidationError, match=words):
        ADAPTER.validate_python({"kind": "two-path-fading", **fields})


@pytest.mark.parametrize(
    "field", ["delay_ms", "spread_hz", "shift_hz", "second_power_db", "rice_factor_db"]
)
def test_numbers_can_be_swept(field):
    fields = {"kind": "two-path-fading", "delay_ms": 1.0, "spread_hz": 1.0, field: "axis"}
    condition = Condition.model_validate(
        {"name": "c", "impairments": [{"kind": "gaussian-noise", "snr_db": 0.0}, fields]}
    )
    assert condition.swept_label() == ("two-path-fading", field)
    (path,) = condition.at(2.0).paths()
    assert getattr(path, field) == 2.0
    with pytest.raises(PlanError, match=field):
        condition.paths()[0].taps()
