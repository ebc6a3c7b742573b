"""Stations: programme spectra, depth of modulation, sidebands, amplitude distributions."""

import math

import numpy as np
import pytest
import scipy.fft
import scipy.signal
import scipy.special
import scipy.stats

from solidcopy.impairments.added.frequency_modulated import FrequencyModulatedCarrier
from solidcopy.impairments.added.modulated_station import DELIVERIES, AmplitudeModulatedStation
from solidcopy.impairments.added.programme import (
    PROGRAMME_RATE_HZ,
    Delivery,
    draw_programme,
    speech_density_db,
)
from solidcopy.impairments.added.speech_sideband import SpeechSideband
from solidcopy.impairments.impairment import Scene

SCENE = Scene(12_000, 180_000, 1500.0, 50.0)
WIDE = {"low_hz": 100.0, "high_hz": 5800.0}
LEVEL = {"signal_to_interference_db": 0.0}


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def envelope(samples):
    """scipy's Hilbert transform, its ends left out."""
    return np.abs(scipy.signal.hilbert(samples))[600:-600]


def voltage_deviation_db(amplitude):
    """FACTS C3: 20 lg of rms over mean envelope."""
    return 20.0 * math.log10(math.sqrt(np.mean(amplitude**2)) / np.mean(amplitude))


@pytest.mark.authority
def test_speech_spectrum_adds_up_to_the_stated_loudness():
    """ITU-T P.50 states -4.7 dBPa at the mouth, which is 89.3 dB above 20 uPa (from memory); the
    third octaves at 100 Hz to 8 kHz reach from 89.1 to 8913 Hz."""
    frequency_hz = np.arange(89.1, 8912.5, 0.5)
    total = 10.0 * np.log10(np.sum(10.0 ** (speech_density_db(frequency_hz) / 10.0)) * 0.5)
    assert total == pytest.approx(94.0 - 4.7, abs=0.05)


@pytest.mark.authority
def test_speech_sideband_has_the_long_term_spectrum_of_p50():
    """Welch's estimate by scipy, 20 slots; the carrier lies at 400 Hz in the audio."""
    station = SpeechSideband(audio_hz=400.0, voice_high_hz=3500.0, **WIDE, **LEVEL)
    density = np.mean(
        [
            scipy.signal.welch(
                station.synthesise(SCENE, generator(seed)).samples, 12_000, nperseg=1200
            )[1]
            for seed in range(20)
        ],
        axis=0,
    )
    frequency_hz = np.fft.rfftfreq(1200, 1 / 12_000)
    voice_hz = np.array([400.0, 500.0, 800.0, 1250.0, 2000.0, 3150.0])
    # Means over a seventh of an octave: five to fifty bins of 10 Hz, 20 slots.
    got_db = [
        10.0 * np.log10(density[np.abs(frequency_hz - 400.0 - f) < 0.06 * f].mean())
        for f in voice_hz
    ]
    difference_db = np.array(got_db) - speech_density_db(voice_hz)
    assert np.ptp(difference_db) < 1.0
    # A steep voice filter; what is left there comes from the window, not from the station.
    outside = (frequency_hz < 600.0) | (frequency_hz > 4000.0)
    assert density[outside].max() < 1e-3 * density.max()


@pytest.mark.authority
def test_speech_amplitudes_are_about_gamma_distributed():
    """The amplitude density of telephone speech is usually taken as a gamma density of shape 1/2
    (from memory, unchecked), whose kurtosis is 35/3; a Laplace density's is 6, a Gaussian's 3."""
    gamma = scipy.stats.gamma(0.5)
    asked = gamma.moment(4) / gamma.moment(2) ** 2
    assert asked == pytest.approx(35.0 / 3.0)
    delivery = SpeechSideband(audio_hz=0.0, **LEVEL).delivery()
    moments = np.array(
        [
            [np.mean(programme.samples**2), np.mean(programme.samples**4)]
            for programme in (speech(delivery, seed) for seed in range(40))
        ]
    ).mean(axis=0)
    # Syllables are few: 40 slots know the fourth moment to some 8 %.
    assert moments[1] / moments[0] ** 2 == pytest.approx(asked, rel=0.25)


def speech(delivery, seed):
    return draw_programme(
        "speech", delivery, highest_hz=4000.0, slot_s=15.0, generator=generator(seed)
    )


@pytest.mark.derived
def test_swelling_multiplies_the_kurtosis_of_gaussian_noise():
    """E e^4 / (E e^2)^2 = exp(4 s^2) for an amplitude exp(s u), u Gaussian, s in nepers."""
    moments = np.array(
        [
            [np.mean(programme.samples**2), np.mean(programme.samples**4)]
            for programme in (speech(Delivery(3.0, 4.0), seed) for seed in range(40))
        ]
    ).mean(axis=0)
    nepers = 3.0 * math.log(10.0) / 20.0
    assert moments[0] == pytest.approx(1.0, abs=0.04)
    assert moments[1] / moments[0] ** 2 == pytest.approx(3.0 * math.exp(4.0 * nepers**2), rel=0.06)


@pytest.mark.authority
def test_syllables_come_about_four_a_second():
    """3 to 4 Hz: maximum of the modulation spectrum of speech (from memory, unchecked)."""

    def modulation_spectrum(swell_db):
        """Of the logarithm of the rectified mean, 60 a second, in bands of 1 Hz, 12 slots."""
        power = np.zeros(320)
        for seed in range(12):
            programme = speech(Delivery(swell_db, 4.0), seed)
            smooth = np.abs(programme.samples).reshape(-1, 200).mean(axis=1)
            power += np.abs(np.fft.rfft(np.log(smooth)))[8:328] ** 2
        return power.reshape(20, 16).sum(axis=1)

    # What unswelling noise shows by itself is taken off; band 0 is 0.5 to 1.5 Hz.
    swelling = modulation_spectrum(4.5) - modulation_spectrum(0.0)
    assert 3 <= 1 + int(np.argmax(swelling)) <= 5
    # The stated shape is a bell over octaves: at 1 and 16 Hz exp(-2), at 2 and 8 Hz exp(-1/2).
    assert swelling[[0, 14]].max() < 0.4 * swelling[2:5].mean()


@pytest.mark.authority
@pytest.mark.parametrize("sideband", ["upper", "lower"])
def test_speech_without_swelling_is_gaussian_noise(sideband):
    """FACTS C3: Vd of Gaussian noise 1.049 dB; its envelope follows Rayleigh's law (scipy)."""
    station = SpeechSideband(
        audio_hz=200.0 if sideband == "upper" else 3000.0,
        sideband=sideband,
        swell_db=0.0,
        pause_s=0.0,
        **LEVEL,
    )
    amplitude = np.concatenate(
        [envelope(station.synthesise(SCENE, generator(seed)).samples) for seed in range(8)]
    )
    assert voltage_deviation_db(amplitude) == pytest.approx(1.049, abs=0.02)
    sigma = math.sqrt(np.mean(amplitude**2) / 2.0)
    for level in (0.5, 1.0, 2.0, 3.0):
        beyond = np.mean(amplitude > level * sigma)
        assert beyond == pytest.approx(scipy.stats.rayleigh.sf(level), rel=0.1)


@pytest.mark.derived
def test_voltage_deviation_of_swelling_speech():
    """Rayleigh times exp(s u): rms / mean grows by exp(s^2 / 2), in dB by 4.343 s^2."""
    station = SpeechSideband(audio_hz=200.0, swell_db=5.0, pause_s=0.0, **LEVEL)
    got = np.mean(
        [
            voltage_deviation_db(envelope(station.synthesise(SCENE, generator(seed)).samples))
            for seed in range(20)
        ]
    )
    nepers = 5.0 * math.log(10.0) / 20.0
    assert got == pytest.approx(1.049 + 4.343 * nepers**2, abs=0.12)


@pytest.mark.derived
def test_the_lower_sideband_is_the_upper_one_inverted():
    common = {"low_hz": 100.0, "high_hz": 4000.0, "swell_db": 0.0, "pause_s": 0.0, **LEVEL}
    spectra = [
        np.abs(np.fft.rfft(station.synthesise(SCENE, generator()).samples)) ** 2
        for station in (
            SpeechSideband(audio_hz=200.0, **common),
            SpeechSideband(audio_hz=3800.0, sideband="lower", **common),
        )
    ]
    # Bins of 1/15 Hz: 200 + f falls onto 3800 - f about 2000 Hz.
    low, high = (spectrum[15 * 150 : 15 * 3850 + 1] for spectrum in spectra)
    bands = [part[: part.size // 70 * 70].reshape(-1, 70).sum(axis=1) for part in (low, high[::-1])]
    assert np.corrcoef(np.log(bands[0] + 1.0), np.log(bands[1] + 1.0))[0, 1] > 0.99


@pytest.mark.authority
@pytest.mark.parametrize("programme", ["speech", "music"])
def test_modulation_reaches_its_depth_and_never_passes_it(programme):
    """Over-modulation is what a broadcaster must not do: the envelope may touch 0, not pass it."""
    station = AmplitudeModulatedStation(
        audio_hz=1000.0, programme=programme, depth_percent=100.0, **LEVEL
    )
    for seed in range(6):
        made = draw_programme(
            programme, DELIVERIES[programme], highest_hz=4500.0, slot_s=15.0,
            generator=generator(seed),
        )  # fmt: skip
        modulation = scipy.fft.irfft(
            station.modulation(made), 8 * made.samples.size, norm="forward"
        )
        assert 0.95 < np.abs(modulation).max() <= 1.0


@pytest.mark.authority
@pytest.mark.parametrize("depth_percent", [0.0, 40.0, 100.0])
def test_power_of_carrier_and_sidebands(depth_percent):
    """Textbook: a carrier of power 1 gains m^2 (mean square of the modulation) in its sidebands;
    both sidebands hold the same."""
    station = AmplitudeModulatedStation(
        audio_hz=2500.0, depth_percent=depth_percent, programme_high_hz=2000.0, **WIDE, **LEVEL
    )
    made = draw_programme(
        "speech", DELIVERIES["speech"], highest_hz=2000.0, slot_s=15.0, generator=generator()
    )
    modulation = scipy.fft.irfft(station.modulation(made), made.samples.size, norm="forward")
    samples = station.synthesise(SCENE, generator()).samples
    expected = 0.5 * np.mean((1.0 + modulation[: 15 * PROGRAMME_RATE_HZ]) ** 2)
    assert np.mean(samples**2) == pytest.approx(expected, rel=1e-3)
    # The envelope that a detector shows is carrier and programme, sample for sample.
    shown = envelope(samples)
    assert np.abs(shown - (1.0 + modulation[: 15 * PROGRAMME_RATE_HZ])[600:-600]).max() < 5e-3
    spectrum = np.abs(np.fft.rfft(samples)) ** 2
    lower, upper = spectrum[15 * 480 : 15 * 2480].sum(), spectrum[15 * 2520 : 15 * 4520].sum()
    if depth_percent > 0.0:
        assert lower == pytest.approx(upper, rel=0.01)
    else:
        assert voltage_deviation_db(shown) == pytest.approx(0.0, abs=1e-4)  # FACTS C3


@pytest.mark.derived
def test_a_programme_is_the_same_at_every_sample_rate():
    station = AmplitudeModulatedStation(audio_hz=1000.0, **LEVEL)
    slots = {
        rate_hz: station.synthesise(Scene(rate_hz, 4 * rate_hz, 1500.0, 50.0), generator()).samples
        for rate_hz in (8_000, 12_000, 48_000)
    }
    # Programmes are of single precision.
    assert np.abs(slots[48_000][::4] - slots[12_000]).max() < 1e-5
    assert np.abs(slots[48_000][::6] - slots[8_000]).max() < 1e-5


@pytest.mark.authority
@pytest.mark.parametrize("modulation_index", [0.5, 1.0, 2.4048, 5.0])
def test_lines_of_a_tone_modulated_carrier_are_bessel_functions(modulation_index):
    """Textbook: amplitude J_n(index); the carrier vanishes at 2.4048 (scipy.special.jv)."""
    carrier = FrequencyModulatedCarrier(
        audio_hz=2000.0, modulating_hz=100.0, deviation_hz=100.0 * modulation_index, **LEVEL
    )
    samples = carrier.synthesise(Scene(12_000, 120_000, 1500.0, 50.0), generator()).samples
    lines = 2.0 * np.abs(np.fft.rfft(samples)) / samples.size  # every line on a bin
    orders = np.arange(-12, 13)
    got = lines[(2000 + 100 * orders) * 10]
    assert np.abs(got - np.abs(scipy.special.jv(orders, modulation_index))).max() < 1e-9


@pytest.mark.authority
@pytest.mark.parametrize(("modulating_hz", "deviation_hz"), [(100.0, 50.0), (20.0, 300.0)])
def test_carson_width_holds_98_percent(modulating_hz, deviation_hz):
    """Carson's rule, a fact of the trade (from memory): 98 % within 2 (deviation + tone)."""
    carrier = FrequencyModulatedCarrier(
        audio_hz=2000.0, modulating_hz=modulating_hz, deviation_hz=deviation_hz, **LEVEL
    )
    spectrum = np.abs(np.fft.rfft(carrier.synthesise(SCENE, generator()).samples)) ** 2
    frequency_hz = np.fft.rfftfreq(SCENE.n_samples, 1 / 12_000)
    inside = np.abs(frequency_hz - 2000.0) <= carrier.carson_width_hz() / 2.0 + 1.0
    share = spectrum[inside].sum() / spectrum.sum()
    assert share > 0.98
    assert carrier.half_width_hz() > carrier.carson_width_hz() / 2.0
    farther = np.abs(frequency_hz - 2000.0) <= carrier.half_width_hz()
    assert spectrum[farther].sum() / spectrum.sum() > 0.9995


@pytest.mark.authority
def test_wide_noise_modulation_draws_the_density_of_the_deviation():
    """Woodward's theorem (textbook, from memory): the spectrum of a carrier swung slowly and far
    has the shape of the deviation's probability density, here Gaussian (scipy.stats.norm)."""
    carrier = FrequencyModulatedCarrier(
        audio_hz=3000.0, modulation="noise", modulating_hz=10.0, deviation_hz=300.0, **LEVEL
    )
    spectrum = np.mean(
        [
            np.abs(np.fft.rfft(carrier.synthesise(SCENE, generator(seed)).samples)) ** 2
            for seed in range(30)
        ],
        axis=0,
    )
    frequency_hz = np.fft.rfftfreq(SCENE.n_samples, 1 / 12_000)
    share = np.cumsum(spectrum) / spectrum.sum()
    for deviations in (-2.0, -1.0, 0.0, 1.0, 2.0):
        got = share[np.searchsorted(frequency_hz, 3000.0 + 300.0 * deviations)]
        assert got == pytest.approx(scipy.stats.norm.cdf(deviations), abs=0.02)
    # Carson's and the rms width: the second moment of the spectrum is that of the deviation.
    second = np.average((frequency_hz - 3000.0) ** 2, weights=spectrum)
    assert math.sqrt(second) == pytest.approx(300.0, rel=0.05)
