"""A signal that arrives over several paths, each with its own delay, strength and fading."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.fft
import scipy.special

from solidcopy.impairments.impairment import Arrival, Transmission
from solidcopy.impairments.path.fading_gain import Stretch, rayleigh_gain
from solidcopy.signals.waveform import AnalyticSamples

REACH_SPREADS = 2.0
"""Beyond so many spreads (four standard deviations) 6e-5 of a path's power lie."""
WHOLE = 1e-6
"""A delay this close to a whole number of samples is taken as one."""
GUARD_SAMPLES = 64


@dataclass(frozen=True, slots=True)
class Tap:
    """One path, every number fixed."""

    delay_s: float
    spread_hz: float
    """Two standard deviations of the power spectrum."""
    shift_hz: float = 0.0
    power: float = 1.0
    """Mean power, in any unit: only its share of the sum counts."""
    steady_share: float = 0.0
    """Share of the power that does not fade (1 / (1 + 1 / Rice factor))."""


def arrive(sent: Transmission, taps: Sequence[Tap], generator: np.random.Generator) -> Arrival:
    """The sum over all paths; the mean power gain is 0 dB.

    Each path's gain is that at the time of arrival. Whole delays are exact, others too, below
    half the sample rate (a turn of phase for each spectrum line).

    Source: tapped delay line with independent complex Gaussian taps, FACTS B2.
    """
    rate, n_sent = sent.sample_rate_hz, sent.samples.size
    total = sum(tap.power for tap in taps)
    n_late = math.ceil(max(tap.delay_s for tap in taps) * rate - WHOLE)
    stretch = Stretch(
        rate,
        first_sample=round(sent.begins_s * rate),
        n_samples=n_sent + n_late,
        process_s=sent.process_s,
    )
    samples = np.zeros(n_sent + n_late, dtype=np.complex128)
    for tap in taps:
        gain = math.sqrt(tap.power / total) * tap_gain(tap, stretch, generator)
        first, delayed = _delayed(sent.samples, tap.delay_s * rate, n_sent + n_late)
        stop = first + delayed.size
        samples[first:stop] += gain[first:stop] * delayed
    reach = [(tap.shift_hz, REACH_SPREADS * tap.spread_hz) for tap in taps]
    return Arrival(
        samples=samples,
        shift_hz=sum(tap.power * tap.shift_hz for tap in taps) / total,
        delay_s=sum(tap.power * tap.delay_s for tap in taps) / total,
        widening_hz=(
            min(0.0, *(shift - spread for shift, spread in reach)),
            max(0.0, *(shift + spread for shift, spread in reach)),
        ),
    )


def tap_gain(tap: Tap, stretch: Stretch, generator: np.random.Generator) -> AnalyticSamples:
    """Complex gain of one path, unit mean power: a fading and a steady part, both shifted.

    Returns: (n_samples,) complex128.
    """
    phase_rad = float(generator.uniform(0.0, 2.0 * math.pi))
    gain = rayleigh_gain(tap.spread_hz, stretch, generator)
    if tap.steady_share > 0.0:
        gain *= math.sqrt(1.0 - tap.steady_share)
        gain += math.sqrt(tap.steady_share) * np.exp(1j * phase_rad)
    if tap.shift_hz != 0.0:
        step_rad = 2.0 * math.pi * tap.shift_hz / stretch.sample_rate_hz
        gain *= _turning(step_rad, stretch.n_samples, start_rad=step_rad * stretch.first_sample)
    return gain


def independent_fades(taps: Sequence[Tap], duration_s: float) -> float:
    """How many independent states of fading the mean power over a time is worth.

    T² / (2 ∫ (T − t) |rho(t)|² dt), integral from 0 to T: the number of independent values whose
    mean would scatter as the mean power over the time T does. rho is the autocorrelation of what
    fades, as a signal meets it that is too narrow to tell the paths apart by their delays. For
    one spread B: T² / (T erf(aT) √π/a − (1 − exp(−a²T²))/a²), a = pi B: 1 for a short time,
    √π B T for a long one.

    Returns: >= 1.
    Source: derived here from the covariance |rho|² of the power of a complex Gaussian process.
    """
    weight = np.array([tap.power * (1.0 - tap.steady_share) for tap in taps])
    if weight.sum() == 0.0:
        return 1.0
    weight /= weight.sum()
    total = 0.0
    for a, weight_a in zip(taps, weight, strict=True):
        for b, weight_b in zip(taps, weight, strict=True):
            total += weight_a * weight_b * _overlap(a, b, duration_s)
    return max(1.0, float(duration_s**2 / total))


def _overlap(a: Tap, b: Tap, duration_s: float) -> float:
    """2 ∫ (T − t) rho_a rho_b cos(2 pi (f_a − f_b) t) dt: each rho is exp(−(pi B t)²/2)."""
    width = math.pi * math.sqrt((a.spread_hz**2 + b.spread_hz**2) / 2.0)
    turn = 2.0 * math.pi * (a.shift_hz - b.shift_hz)
    end = min(duration_s, 6.0 / width)
    n_lines = 64 + math.ceil(4.0 * abs(turn) * end)
    place, share = scipy.special.roots_legendre(n_lines)
    time_s = end * (place + 1.0) / 2.0
    values = (duration_s - time_s) * np.exp(-((width * time_s) ** 2)) * np.cos(turn * time_s)
    return float(end * np.dot(share, values))


def _delayed(
    samples: AnalyticSamples, delay_samples: float, n_out: int
) -> tuple[int, AnalyticSamples]:
    """First sample reached, and the delayed signal from there on."""
    whole = round(delay_samples)
    if abs(delay_samples - whole) <= WHOLE:
        return whole, samples
    n_made = scipy.fft.next_fast_len(n_out + GUARD_SAMPLES)
    lines = scipy.fft.fft(samples, n_made)
    lines *= _turning(-2.0 * math.pi * delay_samples / n_made, n_made)
    # The upper half of the lines are those below 0 Hz.
    lines[n_made // 2 + 1 :] *= np.exp(2j * math.pi * delay_samples)
    return 0, scipy.fft.ifft(lines, overwrite_x=True)[:n_out]


def _turning(step_rad: float, n_samples: int, *, start_rad: float = 0.0) -> AnalyticSamples:
    """exp(i (start + n step)) for n = 0, 1, ..., from a coarse and a fine table."""
    n_fine = math.isqrt(n_samples) + 1
    n_coarse = -(-n_samples // n_fine)
    coarse = np.exp(1j * (start_rad + step_rad * n_fine * np.arange(n_coarse)))
    fine = np.exp(1j * step_rad * np.arange(n_fine))
    product: AnalyticSamples = np.multiply.outer(coarse, fine).ravel()
    return product[:n_samples]
