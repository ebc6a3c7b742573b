"""Take a decoded transmission out of the long spectrum.

The tones of a decoded word are known, so its waveform is known but for the start, the frequency
and an amplitude and phase that change slowly on the way. Times the conjugate reference, the audio
around it is that amplitude plus everything else, spread over the width of a transmission: an
average over about a second keeps the first and little of the second. Start, frequency and drift
are corrected by what the average cannot explain; the average is as long as the amplitude's own
changes allow (derived here).

The work is done on a band of `WIDTH_TONES` tone steps, 250 complex samples a second for FT8:
beyond it a shaped transmission has less than a millionth of its power.
"""

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from solidcopy.modes.mode import Mode, Tones
from solidcopy.receivers.builtin.front_end import LongSpectrum

WIDTH_TONES = 32
RATE_STEP_HZ = 250
"""Rates of whole multiples put whole samples into a frame and into a symbol of FT8 and FT4."""
LOWEST_TONE = 3
"""Tone steps from 0 Hz to the reference's lowest tone, before it is moved to its place."""
N_PAD = 32
"""Samples around the reference, for moving it by parts of a sample."""
SMOOTHING_S = (1.6, 0.8, 0.4, 0.2)
"""Whole lengths of the triangular average: 3 dB down at 0.4, 0.8, 1.6 and 3.2 Hz."""
FIRST_SMOOTHING_S = 0.8
"""While start and frequency are corrected."""
TRACK_RATE_HZ = 25
"""Samples of the amplitude by which the length is chosen."""
BESIDE_HZ = (4.0, 10.0)
"""Where the amplitude's spectrum holds the rest of the audio alone."""
DRIFT_LAG_S = 2.0
N_ROUNDS = 3
"""Of start, frequency and drift together. Of a clean signal 1, 2, 3 and 4 leave -41, -75, -77 and
-77 dB, of one that drifts by 2 Hz -36, -57, -75 and -77 dB (measured)."""
SHARED_TONES = 4
"""Transmissions up to this many tone steps apart, edge to edge, are measured twice."""

Track = NDArray[np.complex128]
"""Samples of the narrow band that span one transmission."""


@dataclass(frozen=True, slots=True, eq=False)
class Transmission:
    """A decoded word and where it was heard."""

    tones: Tones
    audio_hz: float
    start_s: float
    """After the slot's edge."""


@dataclass(frozen=True, slots=True, eq=False)
class Portion:
    """A transmission's part of a long spectrum."""

    transmission: Transmission
    first_bin: int
    bins: NDArray[np.complex64]


@dataclass(slots=True)
class _Fit:
    """What is still open about a reference, in samples and cycles per sample."""

    delay: float
    frequency: float
    drift: float


def _rate_hz(mode: Mode) -> int:
    """Complex samples per second of the narrow band."""
    width_hz = WIDTH_TONES * mode.facts.tone_spacing_hz
    return int(RATE_STEP_HZ * np.ceil(width_hz / RATE_STEP_HZ))


def _box_size(n_span: int) -> int:
    """Odd length of the box that, applied twice, makes a triangle of `n_span` samples."""
    return n_span // 4 * 2 + 1


def _average(track: Track, n_span: int) -> Track:
    """Triangular average over `n_span` samples around each; beyond the ends lie zeros."""
    size = _box_size(n_span)
    once = uniform_filter1d(track, size, mode="constant")
    return np.asarray(uniform_filter1d(once, size, mode="constant"))


class _Reference:
    """The transmission's waveform, movable in time and frequency; zero where nothing is heard."""

    def __init__(self, mode: Mode, tones: Tones, is_heard: NDArray[np.float64]) -> None:
        rate_hz = _rate_hz(mode)
        base_hz = LOWEST_TONE * mode.facts.tone_spacing_hz
        keyed = mode.modulate(tones, sample_rate_hz=rate_hz, audio_hz=base_hz)
        self._spectrum = scipy.fft.fft(np.pad(keyed, (N_PAD, is_heard.size - keyed.size - N_PAD)))
        self._turns = -2j * np.pi * scipy.fft.fftfreq(is_heard.size)
        self._is_heard = is_heard
        places = np.arange(is_heard.size, dtype=np.float64)
        self._places = places - places.mean()

    def at(self, fit: _Fit) -> tuple[Track, Track]:
        """The waveform, and its derivative by the delay."""
        moved = self._spectrum * np.exp(self._turns * fit.delay)
        cycles = (fit.frequency + 0.5 * fit.drift * self._places) * self._places
        turn = self._is_heard * np.exp(2j * np.pi * (cycles - np.rint(cycles)))
        return turn * scipy.fft.ifft(moved), turn * scipy.fft.ifft(moved * self._turns)


def _improve(fit: _Fit, heard: Track, reference: _Reference, n_span: int, n_lag: int) -> None:
    """One round: correct the delay by the rest, frequency and drift by the amplitude's turning."""
    waveform, slope = reference.at(fit)
    weight = _average(np.abs(waveform) ** 2, n_span) + 1e-9
    amplitude = _average(heard * waveform.conj(), n_span) / weight
    # The part of the slope that no slow amplitude can imitate.
    slope = amplitude * (slope - waveform * _average(slope * waveform.conj(), n_span) / weight)
    energy = float(np.vdot(slope, slope).real)
    if energy > 0.0:
        rest = heard - amplitude * waveform
        fit.delay += float(np.clip(np.vdot(slope, rest).real / energy, -1.0, 1.0))
    is_sent = np.abs(waveform) > 0.5
    first, last = np.flatnonzero(is_sent)[[0, -1]]
    inside = amplitude[first : last + 1]
    fit.frequency += float(np.angle(np.vdot(inside[:-1], inside[1:]))) / (2.0 * np.pi)
    if inside.size > 2 * n_lag:
        turning = inside[n_lag:] * inside[:-n_lag].conj()
        step_rad = float(np.angle(np.vdot(turning[:-1], turning[1:])))
        fit.drift += step_rad / (2.0 * np.pi * n_lag)


def _best_span(product: Track, weight: Track, rate_hz: int) -> int:
    """The length of average that is expected to miss the true amplitude least.

    With s2 the variance of what is not the transmission, the expected error of a linear average
    is the sum of squares of what it leaves plus 2 s2 times its own weight at the centre, summed
    (Mallows' criterion, textbook, from memory), less a constant.

    Args:
        product: the audio times the conjugate reference.
        weight: squared magnitude of the reference.
        rate_hz: samples per second of both.
    Returns: samples.
    """
    n_block = rate_hz // TRACK_RATE_HZ
    n_blocks = product.size // n_block
    track, known = (
        values[: n_blocks * n_block].reshape(n_blocks, n_block).mean(axis=1)
        for values in (product, weight)
    )
    powers = np.abs(scipy.fft.fft(track)) ** 2
    aside_hz = np.abs(scipy.fft.fftfreq(n_blocks, 1.0 / TRACK_RATE_HZ))
    variance = powers[(aside_hz >= BESIDE_HZ[0]) & (aside_hz <= BESIDE_HZ[1])].mean() / n_blocks
    errors = []
    for span_s in SMOOTHING_S:
        n_span = round(span_s * TRACK_RATE_HZ)
        rest = track - known * _average(track, n_span) / (_average(known, n_span) + 1e-9)
        centre = n_blocks / _box_size(n_span)
        errors.append(float(np.vdot(rest, rest).real) + 2.0 * variance * centre)
    return round(SMOOTHING_S[int(np.argmin(errors))] * rate_hz)


def _bins_around(
    spectrum: LongSpectrum, middle_hz: float, width_hz: float
) -> tuple[int, NDArray[np.complex64]]:
    """First bin and bins of a part of the spectrum; zeros beyond its ends."""
    n_band = round(width_hz / spectrum.bin_hz)
    first_bin = round((middle_hz - 0.5 * width_hz) / spectrum.bin_hz)
    bins = np.zeros(n_band, np.complex64)
    low, high = max(first_bin, 0), min(first_bin + n_band, spectrum.bins.size)
    bins[low - first_bin : high - first_bin] = spectrum.bins[low:high]
    return first_bin, bins


def portion_of(spectrum: LongSpectrum, transmission: Transmission, mode: Mode) -> Portion:
    """What a transmission has brought into the spectrum.

    Args:
        spectrum: the slot's, or what is left of it; not changed.
        transmission: start good to 4 ms, frequency to 0.5 Hz (measured with such errors).
        mode: the protocol.
    Returns: its bins, and the transmission with start and frequency as corrected.
    """
    rate_hz, facts = _rate_hz(mode), mode.facts
    middle_hz = transmission.audio_hz + 0.5 * facts.width_hz
    first_bin, bins = _bins_around(spectrum, middle_hz, rate_hz)
    n_band = bins.size
    n_heard = min(n_band, int(spectrum.heard_s * rate_hz))
    n_track = scipy.fft.next_fast_len(round(facts.duration_s * rate_hz) + 2 * N_PAD)
    first = int(np.floor(transmission.start_s * rate_hz)) - N_PAD
    # The frame with empty time on either side, so that a cut transmission needs no other rules.
    n_before, n_after = max(0, -first), max(0, first + n_track - n_heard)
    frame = np.pad(scipy.fft.ifft(bins, norm="forward")[:n_heard], (n_before, n_after))
    is_heard = np.pad(np.ones(n_heard), (n_before, n_after))
    # A cut falls on the first sample, half of whose time is outside.
    is_heard[n_before] = 0.5
    place = slice(first + n_before, first + n_before + n_track)
    heard = frame[place].astype(np.complex128)
    reference = _Reference(mode, transmission.tones, is_heard[place])
    own_hz = transmission.audio_hz - first_bin * spectrum.bin_hz
    base_hz = LOWEST_TONE * facts.tone_spacing_hz
    fit = _Fit(transmission.start_s * rate_hz - first - N_PAD, (own_hz - base_hz) / rate_hz, 0.0)
    n_span, n_lag = round(FIRST_SMOOTHING_S * rate_hz), round(DRIFT_LAG_S * rate_hz)
    for _ in range(N_ROUNDS):
        _improve(fit, heard, reference, n_span, n_lag)
    waveform, _ = reference.at(fit)
    product, weight = heard * waveform.conj(), waveform * waveform.conj()
    n_span = _best_span(product, weight, rate_hz)
    frame[:] = 0.0
    frame[place] = waveform * _average(product, n_span) / (_average(weight, n_span) + 1e-9)
    own = np.zeros(n_band, np.complex64)
    own[:n_heard] = frame[n_before : n_before + n_heard]
    return Portion(
        Transmission(
            transmission.tones,
            fit.frequency * rate_hz + base_hz + first_bin * spectrum.bin_hz,
            (first + N_PAD + fit.delay) / rate_hz,
        ),
        first_bin,
        scipy.fft.fft(own, norm="forward"),
    )


def _overlap(one: Portion, other: Portion, mode: Mode) -> bool:
    """Whether two transmissions share frequencies, closely enough to disturb each other's fit."""
    apart_hz = abs(one.transmission.audio_hz - other.transmission.audio_hz)
    return apart_hz < mode.facts.width_hz + SHARED_TONES * mode.facts.tone_spacing_hz


def take_out(
    spectrum: LongSpectrum, earlier: list[Portion], found: list[Transmission], mode: Mode
) -> tuple[LongSpectrum, list[Portion]]:
    """Subtract transmissions, and subtract those they overlap with more exactly.

    Each is first measured with those after it still there; once all are out, each one that shares
    frequencies with a new one is put back alone and measured again.

    Args:
        spectrum: what is left after `earlier` were taken out; not changed.
        earlier: as returned by the call before; empty at first.
        found: newly decoded, strongest first.
        mode: the protocol.
    Returns: what is left, and all portions taken out so far.
    """
    bins = spectrum.bins.copy()
    rest = LongSpectrum(bins, spectrum.bin_hz, spectrum.heard_s)
    portions = list(earlier)
    for transmission in found:
        portions.append(portion_of(rest, transmission, mode))
        _add(bins, portions[-1], -1.0)
    new = portions[len(earlier) :]
    for i, portion in enumerate(portions):
        if any(other is not portion and _overlap(portion, other, mode) for other in new):
            _add(bins, portion, 1.0)
            portions[i] = portion_of(rest, portion.transmission, mode)
            _add(bins, portions[i], -1.0)
    return rest, portions


def _add(bins: NDArray[np.complex64], portion: Portion, sign: float) -> None:
    """Add or subtract a portion in place, as far as the spectrum reaches."""
    first, n_band = portion.first_bin, portion.bins.size
    low, high = max(first, 0), min(first + n_band, bins.size)
    bins[low:high] += np.float32(sign) * portion.bins[low - first : high - first]
