"""Stations, sweeps, hum, combs, humps: what is refused, where they lie, what a trial makes."""

import numpy as np
import pytest
from pydantic import TypeAdapter, ValidationError

from report_examples import two_conditions
from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.frequency_modulated import outermost_line
from solidcopy.impairments.added.line_comb import LineComb
from solidcopy.impairments.added.mains_hum import MainsHum
from solidcopy.impairments.added.speech_sideband import SpeechSideband
from solidcopy.impairments.added.sweeping_carrier import SweepingCarrier
from solidcopy.impairments.added.wavetable import one_period, read_period
from solidcopy.impairments.catalogue import AnyImpairment
from solidcopy.impairments.impairment import Scene
from solidcopy.reports.describe import condition_facts
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.trial import SENT, Trial

SCENE = Scene(12_000, 180_000, 1500.0, 50.0)
LEVEL = {"signal_to_interference_db": 0.0}
ADAPTER = TypeAdapter(AnyImpairment)

STATION = {"kind": "amplitude-modulated-station", "audio_hz": 1000.0}
SWUNG = {"kind": "frequency-modulated-carrier", "audio_hz": 1500.0, "deviation_hz": 200.0}
SPEECH = {"kind": "speech-sideband", "audio_hz": 0.0}
SWEEP = {
    "kind": "sweeping-carrier",
    "from_hz": 400.0,
    "to_hz": 2400.0,
    "sweep_hz_per_s": 5000.0,
}
HUM = {"kind": "mains-hum"}
COMB = {"kind": "line-comb", "audio_hz": 400.0, "spacing_hz": 120.0, "n_lines": 15}
HUMP = {"kind": "switch-mode-hump", "audio_hz": 1500.0, "width_hz": 100.0}


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({**STATION, "audio_hz": 100.0}, "carrier .* at 100 Hz is asked; it may lie between 200"),
        ({**STATION, "high_hz": 5950.0}, "a band of 200 to 5950 Hz with skirts of 100 Hz"),
        ({**SWUNG, "audio_hz": 5800.0}, "a frequency-modulated carrier at 5800 Hz is asked"),
        ({**SWUNG, "deviation_hz": 4000.0}, "Hz wide is asked; only 6000 Hz exist"),
        ({**SPEECH, "audio_hz": 4000.0}, "suppressed carrier at 4000 Hz is asked; it may lie"),
        ({**SWEEP, "to_hz": 5950.0}, "a sweep from 400 to 5950 Hz is asked; with edges of 5 ms"),
        ({**SWEEP, "sweep_hz_per_s": 1e6}, "lasts 2 ms; it must last at least two edges"),
        ({**HUM, "highest_hz": 6000.0}, "harmonics up to 6009.6 Hz are asked"),
        ({**COMB, "n_lines": 48}, "the lowest line of a comb at 400 Hz is asked; it may lie"),
        ({**COMB, "n_lines": 60}, "Hz wide is asked; only 6000 Hz exist"),
        ({**HUMP, "audio_hz": 5900.0}, "the centre of a hump at 5900 Hz is asked"),
        ({**HUMP, "drift_hz_per_s": 900.0}, "Hz wide is asked; only 6000 Hz exist"),
    ],
)
def test_what_does_not_fit_the_sampled_band_is_refused(fields, sentence):
    with pytest.raises(CalibrationError, match=sentence):
        ADAPTER.validate_python({**fields, **LEVEL}).synthesise(SCENE, generator())


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({**STATION, "depth_percent": 101.0}, "depth_percent is 101; it may be 0 to 100"),
        ({**STATION, "offset_hz": 1.0}, "exactly one of `audio_hz` or `offset_hz`, not 2"),
        ({**STATION, "high_hz": 350.0}, "passband 200-350 Hz is narrower than 200 Hz"),
        ({**SWUNG, "modulating_hz": 0.0}, "modulating_hz is 0; it may be 1 to 5000"),
        ({**SWUNG, "deviation_hz": -1.0}, "deviation_hz is -1; it may be 0 to 10000"),
        ({**SPEECH, "interference_to_noise_db": 1.0}, "exactly one of `signal_to_interference"),
        ({**SWEEP, "to_hz": 400.0}, "from_hz and to_hz are the same"),
        ({**SWEEP, "pattern": "single", "pause_s": 1.0}, "a single sweep has no pause_s"),
        ({**HUM, "lowest_hz": 60.0, "highest_hz": 90.0}, "no all harmonic of 50 Hz lies between"),
        ({**COMB, "spacing_hz": 0.5}, "spacing_hz is 0.5; it may be 1 to 10000"),
        ({**COMB, "drift_hz_per_s": 2e3}, "drift_hz_per_s is 2000; it may be -1000 to 1000"),
        ({**HUMP, "width_hz": 4.0}, "width_hz is 4; it may be 5 to 3000"),
    ],
)
def test_impossible_numbers_are_refused(fields, sentence):
    with pytest.raises(ValidationError, match=sentence):
        ADAPTER.validate_python({**fields, **LEVEL})


@pytest.mark.parametrize(
    ("field", "fields"),
    [
        ("depth_percent", STATION),
        ("deviation_hz", SWUNG),
        ("sweep_hz_per_s", SWEEP),
        ("spacing_hz", COMB),
        ("width_hz", HUMP),
        ("drift_hz_per_s", HUMP),
    ],
)
def test_numbers_that_shape_a_disturbance_can_be_swept(field, fields):
    swept = ADAPTER.validate_python({**fields, **LEVEL, field: "axis"})
    condition = Condition.model_validate({"name": "swept", "impairments": [swept.model_dump()]})
    assert condition.swept_label() == (fields["kind"], field)
    assert getattr(condition.at(60.0).impairments[0], field) == 60.0


@pytest.mark.derived
@pytest.mark.parametrize(
    ("fields", "expected_hz"),
    [
        ({**STATION, "depth_percent": 0.0}, 1000.0),
        ({**SWUNG, "deviation_hz": 0.0}, 1500.0),
        ({**COMB, "audio_hz": None, "offset_hz": -612.25, "n_lines": 1}, 887.75),
        ({**HUM, "highest_hz": 99.0, "wander_hz": 0.0, "frequency_error_hz": -0.25}, 49.75),
    ],
)
def test_a_bare_line_lies_where_it_is_asked(fields, expected_hz):
    """Phase advance of the second half of the slot over the first."""
    samples = ADAPTER.validate_python({**fields, **LEVEL}).synthesise(SCENE, generator()).samples
    half = samples.size // 2
    first, second = (np.fft.rfft(part * np.hanning(half)) for part in np.split(samples, 2))
    place = int(np.argmax(np.abs(first)))
    advance = np.angle(second[place] / first[place]) / (2.0 * np.pi)
    cycles = round(place - advance) + advance
    assert cycles * 12_000 / half == pytest.approx(expected_hz, abs=1e-4)


@pytest.mark.derived
def test_offsets_count_from_the_lowest_wanted_tone():
    for fields in (STATION, SWUNG, SPEECH, COMB, HUMP):
        beside = {**fields, "audio_hz": None, "offset_hz": fields["audio_hz"] - 1500.0, **LEVEL}
        placed = ADAPTER.validate_python({**fields, **LEVEL}).synthesise(SCENE, generator())
        relative = ADAPTER.validate_python(beside).synthesise(SCENE, generator())
        assert np.array_equal(placed.samples, relative.samples)


@pytest.mark.derived
def test_pauses_of_speech_are_silent_and_counted():
    station = SpeechSideband(audio_hz=0.0, phrase_s=1.5, pause_s=1.5, **LEVEL)
    made = station.synthesise(SCENE, generator())
    pieces = made.samples.reshape(-1, 1200)  # tenths of a second
    quiet = np.mean(np.square(pieces), axis=1) < 1e-6 * made.reference_power
    assert 0.2 < made.share_on < 0.8
    # A piece is quiet if it is all pause: fewer than the pauses' share, by their ends.
    assert quiet.mean() == pytest.approx(1.0 - made.share_on, abs=0.12)


def test_rare_phrases_never_leave_a_slot_empty():
    station = SpeechSideband(audio_hz=0.0, phrase_s=0.5, pause_s=10.0, **LEVEL)
    shares = [
        station.synthesise(Scene(8_000, 60_000, 1500.0, 50.0), generator(seed)).share_on
        for seed in range(60)
    ]
    assert min(shares) > 0.5 * 0.05 / 7.5  # half of the shortest phrase, 0.1 s less its edges
    assert np.median(shares) < 0.2


def test_speech_without_pauses_is_always_on():
    made = SpeechSideband(audio_hz=0.0, pause_s=0.0, **LEVEL).synthesise(SCENE, generator())
    assert made.share_on == 1.0


@pytest.mark.parametrize("pattern", ["single", "saw-tooth"])
def test_a_slow_sweep_is_caught_in_mid_passage(pattern):
    """40 s for the passage, 15 s for the slot: different places in different slots."""
    sweep = SweepingCarrier(
        from_hz=400.0, to_hz=2400.0, sweep_hz_per_s=50.0, pattern=pattern, **LEVEL
    )
    starts = []
    for seed in range(12):
        made = sweep.synthesise(SCENE, generator(seed))
        assert made.share_on > 0.99
        spectrum = np.abs(np.fft.rfft(made.samples[:12_000]))
        starts.append(int(np.argmax(spectrum)))
    assert np.ptp(starts) > 500


def test_rare_sweeps_still_come_once_in_a_slot():
    sweep = SweepingCarrier(
        from_hz=200.0, to_hz=2900.0, sweep_hz_per_s=100_000.0, pause_s=300.0, **LEVEL
    )
    for seed in range(30):
        made = sweep.synthesise(SCENE, generator(seed))
        assert made.reference_power > 0.0
        energy = made.share_on * 15.0
        assert 0.4 * 0.0208 < energy < 1.01 * 0.0208  # 27 ms less 5/8 of each 5 ms edge


def test_buzz_and_hum_meet_the_same_wander():
    """Their lines have the same strength in the same slot; phases alone differ."""
    spectra = [
        np.abs(np.fft.rfft(MainsHum(sound=sound, **LEVEL).synthesise(SCENE, generator()).samples))
        for sound in ("hum", "buzz")
    ]
    near = [slice(50 * 15 * number - 40, 50 * 15 * number + 41) for number in (1, 2, 5)]
    peaks = [[spectrum[lines].max() for lines in near] for spectrum in spectra]
    assert peaks[0] == pytest.approx(peaks[1], rel=0.02)


def test_slope_of_a_long_comb_stays_in_the_numbers():
    comb = LineComb(audio_hz=400.0, spacing_hz=10.0, n_lines=500, slope_db_per_line=20.0, **LEVEL)
    assert comb.amplitudes().max() == 1.0
    assert np.isfinite(comb.synthesise(SCENE, generator()).samples).all()


@pytest.mark.derived
def test_table_of_a_period_is_the_sum_of_its_lines():
    lines = np.zeros(9, dtype=np.complex128)
    lines[[1, 3, 8]] = 1.0, 0.5j, -0.25
    cycles = generator().uniform(-20.0, 20.0, 1000)
    expected = sum(lines[k] * np.exp(2j * np.pi * k * cycles) for k in range(9))
    assert np.abs(read_period(one_period(lines), cycles) - expected).max() < 5e-5


@pytest.mark.derived
def test_outermost_line_leaves_next_to_nothing():
    assert outermost_line(0.0) == 1
    assert outermost_line(0.1) == 1  # 2 J_2(0.1)^2 = 3e-6
    assert outermost_line(1.0) == 3  # 2 J_3(1)^2 = 8e-4, 2 J_4(1)^2 = 1e-5
    assert 50 < outermost_line(50.0) < 60


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        (SWEEP, {"start of a sweep": "400 Hz", "pace of the sweep": "5000 Hz/s"}),
        (HUM, {"mains frequency": "50 Hz", "fall of the harmonics": "9 dB per octave"}),
        (COMB, {"number of lines": "15", "change of level from line to line": "0 dB"}),
    ],
)
def test_reports_name_each_number_with_its_unit(fields, words):
    plan = two_conditions(
        conditions=[
            {
                "name": "one",
                "impairments": [
                    {"kind": "gaussian-noise", "snr_db": "axis"},
                    {**fields, "signal_to_interference_db": 0.0},
                ],
            }
        ]
    )
    said = dict(condition_facts(plan, plan.conditions[0]).parts[2].numbers)
    for name, value in words.items():
        assert said[name] == value


TRIALS = {
    "station": STATION,
    "music": {**STATION, "programme": "music", "depth_percent": 100.0},
    "swung by a tone": SWUNG,
    "swung by noise": {**SWUNG, "modulation": "noise", "deviation_hz": 60.0},
    "speech": SPEECH,
    "inverted speech": {**SPEECH, "audio_hz": 3000.0, "sideband": "lower"},
    "sweep": SWEEP,
    "sounder": {**SWEEP, "sweep_hz_per_s": 1e5, "pattern": "single"},
    "hum": HUM,
    "buzz": {**HUM, "mains_hz": 60.0, "sound": "buzz", "harmonics": "even"},
    "comb": {**COMB, "drift_hz_per_s": 1.0},
    "hump": {**HUMP, "drift_hz_per_s": 4.0, "wander_hz": 3.0},
}


@pytest.mark.parametrize("name", TRIALS)
def test_trials_get_what_they_ask(name):
    """Two seeds at each rate; the readings raise a CalibrationError beyond 0.1 dB and chance."""
    for rate_hz in (8_000, 12_000, 48_000):
        for seed in (0, 1):
            read_trial(name, rate_hz, seed)


@pytest.mark.sweep
@pytest.mark.parametrize("name", TRIALS)
def test_many_trials_get_what_they_ask(name):
    for rate_hz in (8_000, 12_000, 48_000):
        for seed in range(21):
            read_trial(name, rate_hz, seed)


def read_trial(name, rate_hz, seed):
    asked_db = (-25.0, -3.0, 0.0, 14.0)[seed % 4]
    quantity = "signal_to_interference_db" if seed % 2 else "interference_to_noise_db"
    condition = Condition.model_validate(
        {
            "name": "harbour",
            "impairments": [
                {"kind": "gaussian-noise", "snr_db": -12.0},
                {**TRIALS[name], quantity: asked_db},
            ],
        }
    )
    mode = ("ft8", "ft4")[seed % 2]
    recording, _ = make(Trial(mode, condition, rate_hz, None, Chance(5, SENT, seed, asked_db)))
    reading = next(r for r in recording.readings.levels if r.name == TRIALS[name]["kind"])
    assert reading.asked_db == asked_db
    # Chance: the hump's own noise, and the noise below an interference-to-noise ratio.
    chance_db = 4.5 * reading.spread_db
    assert reading.got_db == pytest.approx(asked_db, abs=0.1 + chance_db)
    if name != "hump" and seed % 2:
        assert reading.got_db == pytest.approx(asked_db, abs=0.02)
    assert units.ratio_from_db(reading.while_on_dbfs - reading.mean_dbfs) >= 0.999
