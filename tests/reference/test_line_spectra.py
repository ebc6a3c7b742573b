"""Sweeps, hum, combs and drifting humps: frequencies, laws of level, pace, width, drift."""

import math

import numpy as np
import pytest
import scipy.signal

from solidcopy.impairments.added.line_comb import LineComb
from solidcopy.impairments.added.mains_hum import MainsHum
from solidcopy.impairments.added.sweeping_carrier import SweepingCarrier
from solidcopy.impairments.added.switch_mode_hump import SwitchModeHump
from solidcopy.impairments.added.wander import wander_cycles
from solidcopy.impairments.impairment import Scene

RATE_HZ = 12_000
SCENE = Scene(RATE_HZ, 180_000, 1500.0, 50.0)
TIME_S = np.arange(180_000) / RATE_HZ
LEVEL = {"signal_to_interference_db": 0.0}


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def fitted_tones(samples, frequencies_hz):
    """Amplitudes of tones by least squares (numpy.linalg), and the share that they leave over."""
    phase = 2.0 * np.pi * np.multiply.outer(TIME_S[: samples.size], frequencies_hz)
    design = np.concatenate([np.cos(phase), np.sin(phase)], axis=1)
    found = np.linalg.lstsq(design, samples, rcond=None)[0]
    left = samples - design @ found
    return np.hypot(*found.reshape(2, -1)), np.mean(left**2) / np.mean(samples**2)


@pytest.mark.authority
@pytest.mark.parametrize(("from_hz", "to_hz"), [(400.0, 2600.0), (2600.0, 400.0)])
def test_single_sweep_is_the_chirp_of_scipy(from_hz, to_hz):
    """scipy.signal.chirp from the same start, its phase and amplitude fitted."""
    pace = 200.0
    sweep = SweepingCarrier(
        from_hz=from_hz, to_hz=to_hz, sweep_hz_per_s=pace, pattern="single", edge_ms=5.0, **LEVEL
    )
    made = sweep.synthesise(SCENE, generator())
    on = np.flatnonzero(np.abs(made.samples) > 0.0)
    lasting_s = 2200.0 / 200.0
    assert (on[-1] - on[0]) / RATE_HZ == pytest.approx(lasting_s, abs=0.002)
    assert made.share_on == pytest.approx((lasting_s - 2.0 * 0.005 * 5.0 / 8.0) / 15.0, rel=1e-3)
    inside = slice(on[0] + 120, on[-1] - 120)
    instant_hz = np.diff(np.unwrap(np.angle(scipy.signal.hilbert(made.samples)[inside])))
    instant_hz *= RATE_HZ / (2.0 * np.pi)
    middle_s = TIME_S[inside][:-1] - TIME_S[inside][0]
    slope, start_hz = np.polyfit(middle_s[2000:-2000], instant_hz[2000:-2000], 1)
    assert slope == pytest.approx(math.copysign(pace, to_hz - from_hz), rel=1e-3)
    assert start_hz == pytest.approx(from_hz, abs=5.0)
    # The first draw is the start; scipy's chirp of two phases a quarter turn apart is all of it.
    start_s = generator().uniform(0.0, 15.0 - lasting_s)
    design = np.stack(
        [
            scipy.signal.chirp(TIME_S[inside] - start_s, from_hz, lasting_s, to_hz, phi=phi)
            for phi in (0.0, -90.0)
        ],
        axis=1,
    )
    fitted = np.linalg.lstsq(design, made.samples[inside], rcond=None)[0]
    assert np.hypot(*fitted) == pytest.approx(1.0, abs=1e-9)
    assert np.abs(made.samples[inside] - design @ fitted).max() < 1e-8


@pytest.mark.derived
def test_saw_tooth_returns_after_each_round():
    """500 to 2500 Hz at 1000 Hz/s and 1 s of silence: every 3 s, on for two thirds."""
    sweep = SweepingCarrier(
        from_hz=500.0, to_hz=2500.0, sweep_hz_per_s=1000.0, pause_s=1.0, **LEVEL
    )
    made = sweep.synthesise(SCENE, generator())
    assert made.share_on == pytest.approx(2.0 / 3.0, abs=0.003)
    amplitude = np.abs(scipy.signal.hilbert(made.samples))
    assert np.abs(amplitude[: -3 * RATE_HZ] - amplitude[3 * RATE_HZ :]).max() < 0.1
    # A receiver channel of 50 Hz hears it for 50 ms in each round: five passages in the slot.
    channel = scipy.signal.butter(2, (1475.0, 1525.0), "bandpass", fs=RATE_HZ, output="sos")
    heard = np.abs(scipy.signal.hilbert(scipy.signal.sosfilt(channel, made.samples)))
    peaks, _ = scipy.signal.find_peaks(heard, height=0.5 * heard.max(), distance=RATE_HZ)
    assert peaks.size == 5
    assert np.diff(peaks) / RATE_HZ == pytest.approx(3.0, abs=0.01)


@pytest.mark.derived
def test_sweep_spends_the_same_time_at_every_frequency():
    """Even pace: a flat spectrum between the ends, as far as they are not too close."""
    sweep = SweepingCarrier(from_hz=500.0, to_hz=2500.0, sweep_hz_per_s=8000.0, **LEVEL)
    spectrum = np.mean(
        [
            np.abs(np.fft.rfft(sweep.synthesise(SCENE, generator(seed)).samples)) ** 2
            for seed in range(6)
        ],
        axis=0,
    )
    frequency_hz = np.fft.rfftfreq(SCENE.n_samples, 1 / RATE_HZ)
    shares = [
        spectrum[(frequency_hz >= low) & (frequency_hz < low + 300.0)].sum() / spectrum.sum()
        for low in (700.0, 1000.0, 1300.0, 1600.0, 1900.0)
    ]
    assert shares == pytest.approx([0.15] * 5, rel=0.08)


@pytest.mark.authority
@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize(
    ("harmonics", "step", "first"), [("all", 1, 1), ("odd", 2, 1), ("even", 2, 2)]
)
def test_hum_holds_the_stated_harmonics_and_no_others(mains_hz, harmonics, step, first):
    """50 and 60 Hz are the public mains; behind a full-wave rectifier 100 and 120 Hz and their
    multiples (FACTS D4). The law of level is stated: 9 dB per octave is 40 n^-2.99."""
    hum = MainsHum(
        mains_hz=mains_hz,
        frequency_error_hz=0.11,
        wander_hz=0.0,
        harmonics=harmonics,
        highest_hz=mains_hz * 12.4,
        **LEVEL,
    )
    numbers = np.arange(first, 13, step)
    amplitudes, left = fitted_tones(
        hum.synthesise(SCENE, generator()).samples, numbers * (mains_hz + 0.11)
    )
    assert left < 1e-8
    got_db = 20.0 * np.log10(amplitudes)
    assert got_db == pytest.approx(-9.0 * np.log2(numbers / first), abs=1e-3)


@pytest.mark.derived
def test_buzz_is_a_pulse_twice_per_cycle():
    """n equal aligned harmonics: crest factor sqrt(2 n) and n_pulses = 100 a second."""
    buzz = MainsHum(
        wander_hz=0.0,
        sound="buzz",
        harmonics="even",
        fall_db_per_octave=0.0,
        highest_hz=2500.0,
        **LEVEL,
    )
    samples = buzz.synthesise(Scene(48_000, 96_000, 1500.0, 50.0), generator()).samples
    n_harmonics = 25
    crest = samples.max() / math.sqrt(np.mean(samples**2))
    assert crest == pytest.approx(math.sqrt(2.0 * n_harmonics), rel=0.01)
    pulses, _ = scipy.signal.find_peaks(samples, height=0.8 * samples.max())
    assert pulses.size == pytest.approx(200, abs=1)
    assert np.diff(pulses).mean() == pytest.approx(480.0, abs=0.01)


@pytest.mark.derived
def test_hum_of_random_phases_peaks_less_than_a_buzz():
    def crest(sound):
        hum = MainsHum(sound=sound, fall_db_per_octave=3.0, **LEVEL)
        samples = hum.synthesise(SCENE, generator()).samples
        return np.abs(samples).max() / np.std(samples)

    assert crest("buzz") > 2.0 * crest("hum")


@pytest.mark.derived
def test_wander_is_a_stationary_walk_of_the_stated_spread_and_memory():
    """Its autocorrelation is exp(-t / memory): 300 slots of 15 s, memory 5 s."""
    deviations = np.array(
        [
            np.diff(
                wander_cycles(
                    rms_hz=0.2,
                    memory_s=5.0,
                    n_samples=1500,
                    sample_rate_hz=100.0,
                    generator=generator(seed),
                )
            )
            * 100.0
            for seed in range(300)
        ]
    )
    # A spread of 300 values is known to 4 %; three and a half of that.
    for place in (10, 750, 1480):
        assert deviations[:, place].std() == pytest.approx(0.2, rel=0.15)
    correlation = np.corrcoef(deviations[:, 500], deviations[:, 1000])[0, 1]
    assert correlation == pytest.approx(math.exp(-1.0), abs=0.18)


@pytest.mark.derived
def test_mains_wander_moves_the_nth_harmonic_n_times_as_far():
    hum = MainsHum(wander_hz=0.3, fall_db_per_octave=0.0, highest_hz=800.0, **LEVEL)
    samples = hum.synthesise(SCENE, generator()).samples
    turned = {}
    for number in (1, 8):
        low_pass = scipy.signal.firwin(4801, 8.0, fs=RATE_HZ)
        moved = samples * np.exp(-2j * np.pi * 50.0 * number * TIME_S)
        baseband = scipy.signal.oaconvolve(moved, low_pass, mode="valid")
        turned[number] = np.unwrap(np.angle(baseband)) / (2.0 * np.pi)
        turned[number] -= turned[number][0]
    assert np.ptp(turned[1]) > 0.5
    assert np.abs(8.0 * turned[1] - turned[8]).max() < 0.05


@pytest.mark.derived
@pytest.mark.parametrize("phase", ["random", "aligned"])
def test_comb_lies_where_and_as_strong_as_stated(phase):
    comb = LineComb(
        audio_hz=411.3, spacing_hz=57.7, n_lines=20, slope_db_per_line=-0.5, phase=phase, **LEVEL
    )
    amplitudes, left = fitted_tones(
        comb.synthesise(SCENE, generator()).samples[:60_000], 411.3 + 57.7 * np.arange(20)
    )
    assert left < 1e-8
    assert 20.0 * np.log10(amplitudes) == pytest.approx(-0.5 * np.arange(20), abs=1e-3)


@pytest.mark.derived
def test_lines_of_a_comb_drift_together():
    """At mid-slot they are where they are asked, ahead and behind by drift times time."""
    comb = LineComb(audio_hz=600.0, spacing_hz=200.0, n_lines=5, drift_hz_per_s=4.0, **LEVEL)
    samples = comb.synthesise(SCENE, generator()).samples
    for from_middle_s in (-6.0, 0.0, 6.0):
        first = round((7.5 + from_middle_s - 0.5) * RATE_HZ)
        spectrum = np.abs(np.fft.rfft(samples[first : first + RATE_HZ] * np.hanning(RATE_HZ)))
        for line in range(5):
            expected_hz = 600.0 + 200.0 * line + 4.0 * from_middle_s
            near = np.arange(round(expected_hz) - 40, round(expected_hz) + 41)
            got_hz = np.average(near, weights=spectrum[near] ** 2)
            assert got_hz == pytest.approx(expected_hz, abs=0.2)


@pytest.mark.derived
def test_hump_is_6_db_down_at_its_width():
    """Welch's estimate by scipy, 30 slots; a Gaussian bell is 1.5 dB down at half its width."""
    hump = SwitchModeHump(audio_hz=1500.0, width_hz=400.0, **LEVEL)
    density = np.mean(
        [
            scipy.signal.welch(
                hump.synthesise(SCENE, generator(seed)).samples, RATE_HZ, nperseg=1200
            )[1]
            for seed in range(30)
        ],
        axis=0,
    )
    level_db = 10.0 * np.log10(density / density[145:156].mean())
    for distance_hz, down_db in ((100, -1.505), (200, -6.02), (300, -13.55), (400, -24.08)):
        both = level_db[[150 - distance_hz // 10, 150 + distance_hz // 10]]
        # 4500 independent values a bin: 0.1 dB; the window of 10 Hz smooths a little.
        assert both == pytest.approx(down_db, abs=0.5)


@pytest.mark.derived
@pytest.mark.parametrize("drift_hz_per_s", [30.0, -30.0])
def test_hump_drifts_evenly_through_its_centre_at_mid_slot(drift_hz_per_s):
    hump = SwitchModeHump(audio_hz=1500.0, width_hz=60.0, drift_hz_per_s=drift_hz_per_s, **LEVEL)
    centres = np.zeros(15)
    for seed in range(8):
        pieces = hump.synthesise(SCENE, generator(seed)).samples.reshape(15, RATE_HZ)
        power = np.abs(np.fft.rfft(pieces * np.hanning(RATE_HZ), axis=1)) ** 2
        centres += np.sum(power * np.arange(power.shape[1]), axis=1) / power.sum(axis=1) / 8.0
    slope, middle_hz = np.polyfit(np.arange(15) - 7.0, centres, 1)
    # A bell of 60 Hz has a standard deviation of 18 Hz; a second holds some 60 values, 8 slots.
    assert slope == pytest.approx(drift_hz_per_s, abs=0.4)
    assert middle_hz == pytest.approx(1500.0, abs=1.5)
