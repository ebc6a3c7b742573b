"""The waveform against its definition, the Radio Regulations and a resampling library.

Waveform: "The FT4 and FT8 Communication Protocols" (QEX July/August 2020), from memory.
"""

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
import soxr
from scipy.special import erf

from solidcopy.errors import PlanError
from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.ft8.symbols import codeword_from_tones
from solidcopy.modes.ft8.waveform import (
    baseband_phase_cycles,
    envelope,
    modulate_tones,
    n_samples_at,
)

RATES_HZ = (8000, 11025, 11999, 12000, 44100, 48000)
AUDIO_HZ = 1503.7


def random_tones(seed: int = 0) -> np.ndarray:
    return FT8().encode(FT8().draw_message(np.random.default_rng(seed)))


def plain_tone(tone: int) -> np.ndarray:
    return np.full(79, tone)


def instantaneous_hz(signal: np.ndarray, sample_rate_hz: int) -> np.ndarray:
    """Between neighbouring samples, the silent first one left out."""
    return np.angle(signal[2:] * signal[1:-1].conj()) * sample_rate_hz / (2 * np.pi)


@pytest.mark.derived
@pytest.mark.parametrize("sample_rate_hz", [*RATES_HZ, 4001, 96000])
def test_length_and_power(sample_rate_hz: int) -> None:
    # Mean of |x|²/2 is ½ by construction; that the real part alone agrees is a property of a
    # carrier of many cycles, kept here within 1e-6 (4e-6 dB).
    signal = modulate_tones(random_tones(), sample_rate_hz=sample_rate_hz, audio_hz=AUDIO_HZ)
    assert signal.shape == (round(12.64 * sample_rate_hz),)
    assert signal.dtype == np.complex128
    assert np.mean(np.abs(signal) ** 2) / 2 == pytest.approx(0.5, abs=1e-12)
    assert np.mean(signal.real**2) == pytest.approx(0.5, abs=1e-6)


@pytest.mark.derived
@pytest.mark.parametrize("sample_rate_hz", [12000, 11999])
def test_phase_against_numerical_integration_of_the_definition(sample_rate_hz: int) -> None:
    # p(t) = ½[erf(kBT(t/T+½)) − erf(kBT(t/T−½))] cut to 3T, k = π√(2/ln 2), BT = 2; frequency is
    # the sum of tone·p over all symbols, first and last held for one symbol more; phase is its
    # integral, here by the midpoint rule on a grid of 25 000 steps a symbol.
    steps, tones = 25_000, random_tones(1)
    k_bt = np.pi * np.sqrt(2 / np.log(2)) * 2.0
    place = (np.arange(3 * steps) + 0.5) / steps - 1.5
    pulse = 0.5 * (erf(k_bt * (place + 0.5)) - erf(k_bt * (place - 0.5)))
    held = np.concatenate([tones[:1], tones, tones[-1:]])
    cycles_per_symbol = np.zeros((held.size + 2) * steps)
    for symbol, tone in enumerate(held):
        cycles_per_symbol[symbol * steps : (symbol + 3) * steps] += tone * pulse
    integral = np.concatenate([[0.0], np.cumsum(cycles_per_symbol) / steps])[2 * steps :]
    # Samples that fall onto the grid: sample i lies at i / (0.16 · rate) symbols.
    grid_index = np.arange(n_samples_at(sample_rate_hz)) * 25 * steps
    on_grid = grid_index % (4 * sample_rate_hz) == 0
    expected = (integral - integral[0])[grid_index[on_grid] // (4 * sample_rate_hz)]
    phase = baseband_phase_cycles(tones, sample_rate_hz=sample_rate_hz)[on_grid]
    difference = phase - expected
    assert on_grid.sum() > 3
    assert np.abs(difference - np.rint(difference)).max() < 2e-8


@pytest.mark.derived
@pytest.mark.parametrize("sample_rate_hz", RATES_HZ)
def test_tables_and_formula_agree(sample_rate_hz: int) -> None:
    # Rates with whole symbols are made from phasor tables, others sample by sample.
    tones = random_tones(2)
    cycles = baseband_phase_cycles(tones, sample_rate_hz=sample_rate_hz)
    cycles = cycles + np.arange(cycles.size) * (AUDIO_HZ / sample_rate_hz)
    expected = envelope(sample_rate_hz) * np.exp(1j * (2 * np.pi * cycles + 0.7))
    signal = modulate_tones(tones, sample_rate_hz=sample_rate_hz, audio_hz=AUDIO_HZ, phase_rad=0.7)
    assert np.abs(signal - expected).max() < 2e-10


@pytest.mark.authority
def test_occupied_bandwidth() -> None:
    # Radio Regulations No. 1.153 (from memory): 0.5 % of the mean power beyond each edge. Derived
    # for random symbols by another program: 49.9 Hz, from -3.1 to +46.8 Hz beside the lowest tone;
    # unshaped keying would have 51.5 Hz. The mean of 60 transmissions is within about 0.3 Hz.
    sample_rate_hz, audio_hz = 1000, 200.0
    generator = np.random.default_rng(153)
    power = sum(
        np.abs(
            np.fft.fft(
                modulate_tones(
                    generator.integers(0, 8, 79), sample_rate_hz=sample_rate_hz, audio_hz=audio_hz
                )
            )
        )
        ** 2
        for _ in range(60)
    )
    below = np.cumsum(power) / np.sum(power)
    frequency_hz = np.arange(power.size) * sample_rate_hz / power.size - audio_hz
    low_hz, high_hz = np.interp([0.005, 0.995], below, frequency_hz)
    assert 49.0 < high_hz - low_hz < 51.0
    assert low_hz == pytest.approx(-3.1, abs=0.4)
    assert high_hz == pytest.approx(46.8, abs=0.4)


@pytest.mark.derived
@pytest.mark.parametrize("sample_rate_hz", [12000, 11999])
def test_envelope_rises_in_20_ms_and_is_flat_inside(sample_rate_hz: int) -> None:
    signal = modulate_tones(random_tones(), sample_rate_hz=sample_rate_hz, audio_hz=AUDIO_HZ)
    amplitude = np.abs(signal)
    time_s = np.arange(amplitude.size) / sample_rate_hz
    is_flat = (time_s >= 0.02) & (time_s <= 12.62)
    flat = amplitude[is_flat].mean()
    # Two ramps take 2 · 20 ms · (1 − 3/8) of energy: 1 / (1 − 0.025 / 12.64) in power. The length
    # is rounded by up to half a sample of 151 667: 1.7e-6 in amplitude.
    assert flat == pytest.approx(np.sqrt(1 / (1 - 0.025 / 12.64)), abs=1.7e-6)
    assert np.ptp(amplitude[is_flat]) < 1e-9
    rise = flat * (0.5 - 0.5 * np.cos(np.pi * time_s / 0.02))
    fall = flat * (0.5 - 0.5 * np.cos(np.pi * (12.64 - time_s) / 0.02))
    assert np.allclose(amplitude[time_s < 0.02], rise[time_s < 0.02], atol=1e-6)
    assert np.allclose(amplitude[time_s > 12.62], fall[time_s > 12.62], atol=1e-6)


@pytest.mark.derived
@pytest.mark.parametrize("sample_rate_hz", [12000, 11999])
def test_frequency_never_jumps_or_leaves_its_tones(sample_rate_hz: int) -> None:
    # The pulses of all symbols add up to 1: between two tones the frequency goes straight over.
    tones = random_tones(3)
    signal = modulate_tones(tones, sample_rate_hz=sample_rate_hz, audio_hz=AUDIO_HZ)
    frequency_hz = instantaneous_hz(signal, sample_rate_hz)
    assert frequency_hz.min() > AUDIO_HZ + tones.min() * 6.25 - 1e-3
    assert frequency_hz.max() < AUDIO_HZ + tones.max() * 6.25 + 1e-3
    # Steepest: 7 tones · kBT·(1/√π) per symbol = 43.75 Hz · 6.02 / 0.16 s = 1646 Hz a second.
    assert np.abs(np.diff(frequency_hz)).max() * sample_rate_hz < 1650
    middle = (np.arange(79) + 0.5) * 0.16 * sample_rate_hz
    in_middle_hz = np.interp(middle, np.arange(frequency_hz.size) + 1.5, frequency_hz)
    assert np.allclose(in_middle_hz, AUDIO_HZ + 6.25 * tones, atol=1e-3)


@pytest.mark.derived
@pytest.mark.parametrize("sample_rate_hz", [12000, 48000, 11999])
def test_a_plain_tone_keeps_its_phase_to_the_end(sample_rate_hz: int) -> None:
    # Exact phase by whole-number arithmetic: 1512.5 Hz at sample i is 3025·i / (2·rate) cycles.
    signal = modulate_tones(
        plain_tone(2), sample_rate_hz=sample_rate_hz, audio_hz=1500.0, phase_rad=0.4
    )
    for sample in (1, 1000, signal.size // 2, signal.size - 1):
        cycles = Fraction(3025 * sample, 2 * sample_rate_hz) % 1
        turned = signal[sample] * np.exp(-1j * (2 * np.pi * float(cycles) + 0.4))
        assert abs(np.angle(turned)) < 1e-9


@pytest.mark.derived
@pytest.mark.parametrize("tone", range(8))
def test_spectrum_of_a_plain_tone(tone: int) -> None:
    # Four seconds without ramps: whole cycles, so all power stands in one line of the spectrum.
    signal = modulate_tones(plain_tone(tone), sample_rate_hz=8000, audio_hz=1000.0)
    spectrum = np.abs(np.fft.fft(signal[8000 : 8000 + 4 * 8000])) ** 2
    assert int(spectrum.argmax()) == 4 * 1000 + 25 * tone
    assert spectrum.max() / spectrum.sum() == pytest.approx(1.0, abs=1e-12)


@pytest.mark.authority
def test_48_khz_brought_down_by_soxr_is_the_12_khz_signal() -> None:
    # soxr at its highest quality, whose own residual near 1.5 kHz is below -180 dB (7e-10). The
    # first and last 50 ms, where its filter meets the cut, are left out.
    tones = random_tones(4)
    fine, coarse = (
        modulate_tones(tones, sample_rate_hz=rate, audio_hz=AUDIO_HZ).real
        for rate in (48000, 12000)
    )
    resampled = soxr.resample(fine, 48000, 12000, quality="VHQ")
    inside = slice(600, -600)
    residual = resampled[: coarse.size][inside] - coarse[inside]
    assert np.abs(residual).max() < 1e-8


@pytest.mark.derived
@pytest.mark.parametrize("sample_rate_hz", RATES_HZ)
def test_tones_are_read_back_symbol_by_symbol(sample_rate_hz: int) -> None:
    # Correlation with the eight tones over each symbol: 79 of 79 right, and the codeword returns.
    tones = random_tones(5)
    signal = modulate_tones(tones, sample_rate_hz=sample_rate_hz, audio_hz=AUDIO_HZ)
    edges = np.rint(np.arange(80) * 0.16 * sample_rate_hz).astype(int)
    heard = []
    for start, stop in pairwise(edges):
        time_s = np.arange(start, stop) / sample_rate_hz
        bank = np.exp(-2j * np.pi * np.outer(AUDIO_HZ + 6.25 * np.arange(8), time_s))
        heard.append(int(np.abs(bank[:, : signal[start:stop].size] @ signal[start:stop]).argmax()))
    assert heard == tones.tolist()
    assert np.array_equal(codeword_from_tones(np.array(heard)), codeword_from_tones(tones))


@pytest.mark.derived
@pytest.mark.parametrize(
    ("sample_rate_hz", "lowest_hz", "highest_hz"), [(12000, 12.5, 5943.75), (300, 12.5, 93.75)]
)
def test_band_limits(sample_rate_hz: int, lowest_hz: float, highest_hz: float) -> None:
    # Half the rate − 7 · 6.25 Hz − 12.5 Hz of room for the shaping.
    for audio_hz in (lowest_hz, highest_hz):
        modulate_tones(random_tones(), sample_rate_hz=sample_rate_hz, audio_hz=audio_hz)
    for audio_hz in (lowest_hz - 0.1, highest_hz + 0.1, -100.0, float("nan")):
        with pytest.raises(PlanError, match=f"audio_hz.*allowed is 12.5 to {highest_hz:g} Hz"):
            modulate_tones(random_tones(), sample_rate_hz=sample_rate_hz, audio_hz=audio_hz)


def test_a_rate_that_is_not_whole_is_a_mistake_of_the_program() -> None:
    with pytest.raises(TypeError):
        modulate_tones(random_tones(), sample_rate_hz=12000.5, audio_hz=1500.0)


def test_wrong_tones_are_a_mistake_of_the_program() -> None:
    for tones in (np.zeros(78, np.int64), np.full(79, 8), np.full(79, -1), np.zeros(79)):
        with pytest.raises(ValueError, match="tones must be"):
            modulate_tones(tones, sample_rate_hz=12000, audio_hz=1500.0)
