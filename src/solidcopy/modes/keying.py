"""Gaussian-shaped frequency-shift keying: from tone numbers to the transmitted waveform.

The phase is a closed formula of the time since the start, so it does not depend on the sample
rate and nothing accumulates. What the modes share is from memory of "The FT4 and FT8 Communication
Protocols" (QEX July/August 2020): tones one symbol rate apart (h = 1), first and last tone held
beyond their ends, raised-cosine ramps. The closed form of the phase is derived here.

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
from solidcopy.modes.layout import Tones
from solidcopy.signals.waveform import AnalyticSamples, Samples

_SHAPING_MARGIN_TONES: Final = 2
"""Room kept beyond the outer tones, in steps; 99.9 % of the power lies within 1.4 (derived)."""

_NEGLIGIBLE_CYCLES: Final = 1e-15


@dataclass(frozen=True, slots=True)
class Keying:
    """The waveform of one mode, whatever its tones say."""

    n_symbols: int
    """All symbols, those that only ramp included."""
    n_tones: int
    symbol_s: Fraction
    bt: float
    """3 dB bandwidth of the Gaussian filter times the symbol length; at least 1."""
    ramp_s: Fraction
    """Length of the raised-cosine rise at the start, and of the fall at the end."""

    @property
    def duration_s(self) -> Fraction:
        """Length of a transmission, ramps included."""
        return self.n_symbols * self.symbol_s

    @property
    def tone_spacing_hz(self) -> float:
        """One symbol rate: h = 1."""
        return float(1 / self.symbol_s)

    @property
    def shaping_margin_hz(self) -> float:
        """Room that `modulate` wants beyond the outer tones."""
        return _SHAPING_MARGIN_TONES * self.tone_spacing_hz

    @property
    def edge_steepness(self) -> float:
        """k·BT of the frequency pulse ½[erf(k·BT·(x+½)) − erf(k·BT·(x−½))], x in symbols."""
        return math.pi * math.sqrt(2.0 / math.log(2.0)) * self.bt

    @property
    def neighbour_reach(self) -> float:
        """Share of a symbol, from its edge, in which the neighbour's pulse moves the phase at all.

        One half where no more than 1e-15 cycle is lost beyond it (BT = 2), else the whole symbol.
        """
        middle = np.array([0.5])
        return 0.5 if pulse_lead(middle, self.edge_steepness)[0] < _NEGLIGIBLE_CYCLES else 1.0

    def n_samples_at(self, sample_rate_hz: int) -> int:
        """Length of a transmission in samples, rounded. Raises TypeError for a broken rate."""
        return round(self.duration_s * operator.index(sample_rate_hz))

    def symbol_samples(self, sample_rate_hz: int) -> Fraction:
        """Exact length of a symbol in samples. Raises TypeError for a rate that is not whole."""
        return self.symbol_s * operator.index(sample_rate_hz)


def _erf_integral(x: Samples, steepness: float) -> Samples:
    """Antiderivative of erf(c·x) that is even: x·erf(c·x) + exp(−c²x²)/(c·√π)."""
    c = steepness
    return np.asarray(x * erf(c * x) + np.exp(-np.square(c * x)) / (c * math.sqrt(math.pi)))


def pulse_lead(x: Samples, steepness: float) -> Samples:
    """Share of the next symbol's frequency pulse that lies before place `x` of this symbol.

    Args:
        x: place in this symbol, 0..1; the next symbol's pulse is centred on 1.5. What lies more
            than 1.5 symbols from the centre, where the protocol cuts it, is below 1e-15 for
            BT = 1 and more.
        steepness: `Keying.edge_steepness`.
    Returns: at the middle of the symbol 2e-6 (BT = 1) or below 2e-16 (BT = 2), at its end 0.0529
        or 0.0264.
    """
    return 0.5 + 0.5 * (_erf_integral(x - 1.0, steepness) - _erf_integral(x - 2.0, steepness))


def _tone_steps(tones: Tones) -> tuple[Tones, Tones]:
    """Step up from the symbol before, and to the one after; outer tones are held at the ends."""
    held = np.concatenate([tones[:1], tones, tones[-1:]])
    return tones - held[:-2], held[2:] - tones


def baseband_phase_cycles(tones: Tones, keying: Keying, *, sample_rate_hz: int) -> Samples:
    """Phase that the keying adds to a carrier at the lowest tone, in cycles, at any rate.

    Whole cycles are left out: h = 1, so every finished symbol has added a whole number of them,
    and only the neighbours' pulses reach into a symbol. With x the place in the symbol and lead()
    the share of the coming pulse, the phase in cycles is tone·x + (step from the symbol
    before)·lead(1 − x) + (step to the symbol after)·lead(x).

    Args:
        tones: (n_symbols,) whole numbers 0..n_tones - 1.
        keying: the mode's waveform.
        sample_rate_hz: sample i lies at i / sample_rate_hz after the start.
    Returns: (keying.n_samples_at(sample_rate_hz),) float64.
    """
    from_before, to_after = _tone_steps(tones)
    # Whole-number arithmetic: no sample can fall into the wrong symbol by rounding.
    symbol_samples = keying.symbol_samples(sample_rate_hz)
    i = np.arange(keying.n_samples_at(sample_rate_hz), dtype=np.int64) * symbol_samples.denominator
    symbol, place = np.divmod(i, symbol_samples.numerator)
    x = place / symbol_samples.numerator
    bend = np.zeros(x.size)
    is_near = x < keying.neighbour_reach
    bend[is_near] = from_before[symbol[is_near]] * pulse_lead(
        1.0 - x[is_near], keying.edge_steepness
    )
    is_near = x >= 1.0 - keying.neighbour_reach
    bend[is_near] += to_after[symbol[is_near]] * pulse_lead(x[is_near], keying.edge_steepness)
    return np.asarray(tones[symbol] * x + bend)


def envelope(keying: Keying, sample_rate_hz: int) -> Samples:
    """Amplitude over a transmission, scaled so that its mean square is exactly 1.

    The ramps, raised cosines, take 5/8 of their energy away, which the scaling gives back to the
    flat part: 0.0086 dB for FT8, 0.052 dB for FT4.

    Returns: (keying.n_samples_at(sample_rate_hz),) float64, 0 at the first sample.
    """
    ramp_s = float(keying.ramp_s)
    n_samples = keying.n_samples_at(sample_rate_hz)
    amplitude = np.ones(n_samples)
    n_ramp = min(math.ceil(ramp_s * sample_rate_hz), n_samples)
    i = np.arange(n_ramp)
    amplitude[:n_ramp] = _raised_cosine(i / sample_rate_hz / ramp_s)
    time_left_s = float(keying.duration_s) - (n_samples - 1 - i) / sample_rate_hz
    amplitude[n_samples - 1 - i] = _raised_cosine(time_left_s / ramp_s)
    amplitude *= math.sqrt(n_samples / float(amplitude @ amplitude))
    return amplitude


def _raised_cosine(share: Samples) -> Samples:
    """0 at the start of a ramp, 1 from its end on."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0.0, 1.0)))


def modulate_tones(
    tones: Tones, keying: Keying, *, sample_rate_hz: int, audio_hz: float, phase_rad: float = 0.0
) -> AnalyticSamples:
    """Analytic signal whose real part has mean power 0.5 over the whole transmission.

    Args:
        tones: (n_symbols,) whole numbers 0..n_tones - 1.
        keying: the mode's waveform.
        sample_rate_hz: any whole rate that holds the signal.
        audio_hz: frequency of the lowest tone.
        phase_rad: carrier phase at the first sample.
    Returns: (keying.n_samples_at(sample_rate_hz),) complex128; mean of |x|²/2 is 0.5.
    Raises: PlanError if the tones and their shaping do not fit between 0 Hz and half the rate.
    """
    symbols = np.asarray(tones)
    _check_tones(symbols, keying)
    _check_band(keying, sample_rate_hz, audio_hz)
    carrier = _Carrier(audio_hz / sample_rate_hz, phase_rad / (2.0 * np.pi))
    if keying.symbol_samples(sample_rate_hz).denominator == 1:
        signal = _signal_from_tables(symbols, keying, sample_rate_hz, carrier)
    else:
        cycles = baseband_phase_cycles(symbols, keying, sample_rate_hz=sample_rate_hz)
        signal = _unit_phasors(cycles + carrier.cycles_at(np.arange(cycles.size)))
    signal *= envelope(keying, sample_rate_hz)
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


def _signal_from_tables(
    tones: Tones, keying: Keying, sample_rate_hz: int, carrier: _Carrier
) -> AnalyticSamples:
    """The same as from `baseband_phase_cycles`, where each symbol has whole samples.

    Every symbol is then sampled at the same places: one phasor table for the tones and one for
    each neighbour's steps replace sine and cosine of every sample.
    """
    n_symbol = keying.symbol_samples(sample_rate_hz).numerator
    i = np.arange(n_symbol)
    x = i / n_symbol
    tone_table = _unit_phasors(
        np.outer(np.arange(keying.n_tones), x) + carrier.cycles_per_sample * i[None, :]
    )
    signal = tone_table[tones]
    signal *= _unit_phasors(carrier.cycles_at(n_symbol * np.arange(tones.size)))[:, None]
    from_before, to_after = _tone_steps(tones)
    highest = keying.n_tones - 1
    steps, reach = np.arange(-highest, highest + 1), keying.neighbour_reach
    near = slice(math.ceil(n_symbol * reach))
    before = _unit_phasors(np.outer(steps, pulse_lead(1.0 - x[near], keying.edge_steepness)))
    signal[:, near] *= before[from_before + highest]
    near = slice(math.ceil(n_symbol * (1.0 - reach)), n_symbol)
    after = _unit_phasors(np.outer(steps, pulse_lead(x[near], keying.edge_steepness)))
    signal[:, near] *= after[to_after + highest]
    return signal.ravel()


def _check_tones(tones: Tones, keying: Keying) -> None:
    if tones.shape != (keying.n_symbols,) or tones.dtype.kind not in "iu":
        raise ValueError(f"tones must be ({keying.n_symbols},) whole numbers, not {tones.shape}")
    if tones.min() < 0 or tones.max() >= keying.n_tones:
        raise ValueError(f"tones must be 0..{keying.n_tones - 1}")


def _check_band(keying: Keying, sample_rate_hz: int, audio_hz: float) -> None:
    lowest_hz = keying.shaping_margin_hz
    highest_hz = sample_rate_hz / 2 - (keying.n_tones - 1) * keying.tone_spacing_hz - lowest_hz
    if not lowest_hz <= audio_hz <= highest_hz:
        raise PlanError(
            f"audio_hz: {audio_hz:g} Hz for the lowest tone does not fit a sample rate of "
            f"{sample_rate_hz} Hz; allowed is {lowest_hz:g} to {highest_hz:g} Hz, so that "
            f"all {keying.n_tones} tones and their shaping lie between 0 Hz and half the sample "
            "rate"
        )
