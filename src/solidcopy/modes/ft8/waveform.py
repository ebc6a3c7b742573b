"""The transmitted waveform: Gaussian-shaped frequency-shift keying of 8 tones, 6.25 Hz apart.

The phase is a closed formula of the time since the first symbol, so it does not depend on the
sample rate and nothing accumulates. Source: "The FT4 and FT8 Communication Protocols" (QEX
July/August 2020), from memory: h = 1, BT = 2.0, first and last tone held beyond their ends,
raised-cosine ends of T/8. The closed form of the phase is derived here.

A test signal belongs on a cable, a dummy load or in a file, never on the air; keep levels down at
ears and receiver inputs.
"""

import math
import operator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from solidcopy.errors import PlanError
from solidcopy.modes.ft8.symbols import N_SYMBOLS, N_TONES
from solidcopy.modes.mode import Tones
from solidcopy.signals.waveform import AnalyticSamples, Samples

SYMBOL_S: Final = Fraction(4, 25)
DURATION_S: Final = N_SYMBOLS * SYMBOL_S
TONE_SPACING_HZ: Final = 6.25
RAMP_S: Final = float(SYMBOL_S / 8)

BT: Final = 2.0
"""3 dB bandwidth of the Gaussian filter times the symbol length."""

SHAPING_MARGIN_HZ: Final = 2 * TONE_SPACING_HZ
"""Room kept beyond the outer tones: 99.9 % of the power lies within about 61 Hz (derived)."""

_EDGE_STEEPNESS: Final = math.pi * math.sqrt(2.0 / math.log(2.0)) * BT
"""k·BT of the frequency pulse ½[erf(k·BT·(x+½)) − erf(k·BT·(x−½))], x in symbols."""


def _erf_integral(x: Samples) -> Samples:
    """Antiderivative of erf(c·x) that is even: x·erf(c·x) + exp(−c²x²)/(c·√π)."""
    c = _EDGE_STEEPNESS
    return np.asarray(x * erf(c * x) + np.exp(-np.square(c * x)) / (c * math.sqrt(math.pi)))


def _pulse_lead(x: Samples) -> Samples:
    """Share of the next symbol's frequency pulse that lies before place `x` of this symbol.

    Args:
        x: place in this symbol, 0..1; the next symbol's pulse is centred on 1.5. What lies more
            than 1.5 symbols from the centre (the pulse is cut there) is below 1e-40.
    Returns: below 2e-16 up to the middle of the symbol, 0.0264 at its end.
    """
    return 0.5 + 0.5 * (_erf_integral(x - 1.0) - _erf_integral(x - 2.0))


def _tone_steps(tones: Tones) -> tuple[Tones, Tones]:
    """Step up from the symbol before, and to the one after; outer tones are held at the ends."""
    held = np.concatenate([tones[:1], tones, tones[-1:]])
    return tones - held[:-2], held[2:] - tones


def n_samples_at(sample_rate_hz: int) -> int:
    """Length of a transmission: 12.64 s rounded to whole samples."""
    return round(DURATION_S * operator.index(sample_rate_hz))


def _symbol_samples(sample_rate_hz: int) -> Fraction:
    """Exact length of a symbol in samples. Raises TypeError for a rate that is not whole."""
    return SYMBOL_S * operator.index(sample_rate_hz)


def baseband_phase_cycles(tones: Tones, *, sample_rate_hz: int) -> Samples:
    """Phase that the keying adds to a carrier at the lowest tone, in cycles, at any rate.

    Whole cycles are left out: h = 1, so every finished symbol has added a whole number of them,
    and only the neighbours' pulses reach into a symbol, each into its own half. With x the place
    in the symbol and lead() the share of the coming pulse, the phase in cycles is tone·x +
    (step from the symbol before)·lead(1 − x) in the first half, and tone·x + (step to the symbol
    after)·lead(x) in the second.

    Args:
        tones: (79,) whole numbers 0..7.
        sample_rate_hz: sample i lies at i / sample_rate_hz after the first symbol's start.
    Returns: (n_samples_at(sample_rate_hz),) float64.
    """
    from_before, to_after = _tone_steps(tones)
    # Whole-number arithmetic: no sample can fall into the wrong symbol by rounding.
    symbol_samples = _symbol_samples(sample_rate_hz)
    i = np.arange(n_samples_at(sample_rate_hz), dtype=np.int64) * symbol_samples.denominator
    symbol, place = np.divmod(i, symbol_samples.numerator)
    x = place / symbol_samples.numerator
    step = np.where(x < 0.5, from_before[symbol], to_after[symbol])
    return np.asarray(tones[symbol] * x + step * _pulse_lead(np.maximum(x, 1.0 - x)))


def envelope(sample_rate_hz: int) -> Samples:
    """Amplitude over a transmission, scaled so that its mean square is exactly 1.

    Raised-cosine rise and fall over T/8 = 20 ms inside the first and the last symbol. They take
    0.0086 dB, which the scaling gives back: the flat part is 1.00099 instead of 1.

    Returns: (n_samples_at(sample_rate_hz),) float64, 0 at the first sample.
    """
    n_samples = n_samples_at(sample_rate_hz)
    amplitude = np.ones(n_samples)
    n_ramp = min(math.ceil(RAMP_S * sample_rate_hz), n_samples)
    i = np.arange(n_ramp)
    amplitude[:n_ramp] = _raised_cosine(i / sample_rate_hz)
    time_left_s = float(DURATION_S) - (n_samples - 1 - i) / sample_rate_hz
    amplitude[n_samples - 1 - i] = _raised_cosine(time_left_s)
    amplitude *= math.sqrt(n_samples / float(amplitude @ amplitude))
    return amplitude


def _raised_cosine(time_s: Samples) -> Samples:
    """0 at the start, 1 from T/8 on."""
    share = np.clip(time_s / RAMP_S, 0.0, 1.0)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * share))


def modulate_tones(
    tones: Tones, *, sample_rate_hz: int, audio_hz: float, phase_rad: float = 0.0
) -> AnalyticSamples:
    """Analytic signal whose real part has mean power 0.5 over the whole transmission.

    Args:
        tones: (79,) whole numbers 0..7.
        sample_rate_hz: any whole rate that holds the signal.
        audio_hz: frequency of the lowest tone.
        phase_rad: carrier phase at the first sample.
    Returns: (n_samples_at(sample_rate_hz),) complex128; mean of |x|²/2 is 0.5.
    Raises: PlanError if the tones and their shaping do not fit between 0 Hz and half the rate.
    """
    _check_tones(tones)
    _check_band(sample_rate_hz, audio_hz)
    carrier = _Carrier(audio_hz / sample_rate_hz, phase_rad / (2.0 * np.pi))
    symbol_samples = _symbol_samples(sample_rate_hz)
    if symbol_samples.denominator == 1:
        signal = _signal_from_tables(np.asarray(tones), symbol_samples.numerator, carrier)
    else:
        cycles = baseband_phase_cycles(np.asarray(tones), sample_rate_hz=sample_rate_hz)
        signal = _unit_phasors(cycles + carrier.cycles_at(np.arange(cycles.size)))
    signal *= envelope(sample_rate_hz)
    return signal


@dataclass(frozen=True, slots=True)
class _Carrier:
    """Where the lowest tone's phase stands."""

    cycles_per_sample: float
    first_cycles: float

    def cycles_at(self, sample: NDArray[np.int64]) -> Samples:
        return np.asarray(self.first_cycles + self.cycles_per_sample * sample)


def _unit_phasors(cycles: Samples) -> AnalyticSamples:
    """Phasors of length 1. Small arguments keep sine and cosine exact and fast."""
    phase_rad = (cycles - np.rint(cycles)) * (2.0 * np.pi)
    phasors = np.empty(cycles.shape, np.complex128)
    phasors.real = np.cos(phase_rad)
    phasors.imag = np.sin(phase_rad)
    return phasors


def _signal_from_tables(tones: Tones, n_symbol: int, carrier: _Carrier) -> AnalyticSamples:
    """The same as from `baseband_phase_cycles`, where each symbol has `n_symbol` whole samples.

    Every symbol is then sampled at the same places: one phasor table for the tones and one for
    the steps between neighbours replace sine and cosine of every sample. `n_symbol` is a multiple
    of 4 (4/25 of the rate), so that a symbol has two equal halves.
    """
    i, n_half = np.arange(n_symbol), n_symbol // 2
    x = i / n_symbol
    tone_table = _unit_phasors(
        np.outer(np.arange(N_TONES), x) + carrier.cycles_per_sample * i[None, :]
    )
    signal = tone_table[tones]
    signal *= _unit_phasors(carrier.cycles_at(n_symbol * np.arange(N_SYMBOLS)))[:, None]
    from_before, to_after = _tone_steps(tones)
    steps = np.arange(1 - N_TONES, N_TONES)
    first_half = _unit_phasors(np.outer(steps, _pulse_lead(1.0 - x[:n_half])))
    signal[:, :n_half] *= first_half[from_before + N_TONES - 1]
    second_half = _unit_phasors(np.outer(steps, _pulse_lead(x[n_half:])))
    signal[:, n_half:] *= second_half[to_after + N_TONES - 1]
    return signal.ravel()


def _check_tones(tones: Tones) -> None:
    symbols = np.asarray(tones)
    if symbols.shape != (N_SYMBOLS,) or symbols.dtype.kind not in "iu":
        raise ValueError(f"tones must be ({N_SYMBOLS},) whole numbers, not {symbols.shape}")
    if symbols.min() < 0 or symbols.max() >= N_TONES:
        raise ValueError(f"tones must be 0..{N_TONES - 1}")


def _check_band(sample_rate_hz: int, audio_hz: float) -> None:
    highest_hz = sample_rate_hz / 2 - (N_TONES - 1) * TONE_SPACING_HZ - SHAPING_MARGIN_HZ
    if not SHAPING_MARGIN_HZ <= audio_hz <= highest_hz:
        raise PlanError(
            f"audio_hz: {audio_hz:g} Hz for the lowest tone does not fit a sample rate of "
            f"{sample_rate_hz} Hz; allowed is {SHAPING_MARGIN_HZ:g} to {highest_hz:g} Hz, so that "
            f"all {N_TONES} tones and their shaping lie between 0 Hz and half the sample rate"
        )
