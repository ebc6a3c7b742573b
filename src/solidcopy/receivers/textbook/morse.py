"""Morse by a filter matched to a dot, and the likeliest way through marks and gaps.

The speed is known, the phase is not: each unit counts by the logarithm of its likelihood with a
carrier of unknown phase over that without one, ln I0(2 sqrt(g E)) - g (textbook). A dash is added
up over its three units before its power is taken. Of all sequences of dots, dashes and gaps of 1,
3 and 7 units the likeliest is found step by step (textbook: dynamic programming).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.special
from numpy.typing import NDArray

from solidcopy.modes.plain_text.mode import PlainTextMode
from solidcopy.receivers.receiver import Decode
from solidcopy.receivers.textbook.heard import Heard
from solidcopy.signals.waveform import AnalyticSamples, Samples

PER_UNIT = 16
"""Samples in a unit: placed to 4 ms."""
LINE_WIDTH_HZ = 1.0
DOT, DASH = 1, 3
GAP_SHARES = {1: 0.62, 3: 0.30, 7: 0.08}
"""How often which gap follows a mark, in messages of ordinary contacts (ours)."""
MARK_SHARE = 0.5
"""Dots and dashes are about as frequent."""
LOWEST_SCORE = 30.0
"""Logarithm of the likelihood ratio from which on a text is printed (ours)."""
FEWEST_MARKS = 8


def unit_phasors(channel: AnalyticSamples) -> AnalyticSamples:
    """Sums over a unit from each sample on, noise of power 1; (n_samples - PER_UNIT + 1,)."""
    sums = np.cumsum(np.pad(channel, (1, 0)))
    return np.asarray((sums[PER_UNIT:] - sums[:-PER_UNIT]) / math.sqrt(PER_UNIT))


def decoded(heard: Heard, mode: PlainTextMode, low_hz: float, high_hz: float) -> Iterator[Decode]:
    """The loudest transmission, if there is one."""
    unit_s = mode.keying.symbol_s
    powers = heard.powers(LINE_WIDTH_HZ)
    first, last = heard.bin_of(low_hz), heard.bin_of(high_hz)
    audio_hz = _line_hz(heard, first + int(powers[first : last + 1].argmax()))
    phasors = unit_phasors(heard.channel(audio_hz, PER_UNIT / unit_s))
    offset = max(range(PER_UNIT), key=lambda place: _contrast(phasors[place::PER_UNIT]))
    units = phasors[offset::PER_UNIT]
    path = _likeliest(units, _strength(np.abs(units) ** 2))
    if not path.marks:
        return
    path = _likeliest(units, _strength_of(units, path))
    if path.score < LOWEST_SCORE or len(path.marks) < FEWEST_MARKS:
        return
    start_s = (offset / PER_UNIT + path.marks[0][0]) * unit_s - mode.nominal_start_s
    yield Decode(mode.keying.text_of(path.bits), audio_hz=audio_hz, time_offset_s=start_s)


def _line_hz(heard: Heard, about: int) -> float:
    """The loudest bin within the width of a line."""
    half = max(round(LINE_WIDTH_HZ / 2.0 / heard.bin_hz), 0)
    near = np.abs(heard.bins[about - half : about + half + 1])
    return (about - half + int(near.argmax())) * heard.bin_hz


def _contrast(units: AnalyticSamples) -> float:
    """Units that are wholly on or off have the larger fourth power."""
    return float((np.abs(units) ** 4).sum())


def _strength(energies: Samples) -> float:
    """Power of a unit with the key down over noise, from the loudest units."""
    return max(float(np.percentile(energies, 85)) - 1.0, 1.0)


@dataclass(frozen=True, slots=True)
class _Path:
    """Marks, each with its first unit and its length in units."""

    score: float
    marks: tuple[tuple[int, int], ...]

    @property
    def bits(self) -> NDArray[np.uint8]:
        """Units from the first mark to the last, 1 = key down."""
        first, (last, n_last) = self.marks[0][0], self.marks[-1]
        bits = np.zeros(last + n_last - first, np.uint8)
        for start, n_units in self.marks:
            bits[start - first : start - first + n_units] = 1
        return bits


def _strength_of(units: AnalyticSamples, path: _Path) -> float:
    """The same from the units that were taken for marks."""
    first = path.marks[0][0]
    down = units[first : first + path.bits.size][path.bits == 1]
    return max(float(np.mean(np.abs(down) ** 2)) - 1.0, 1.0)


def mark_scores(units: AnalyticSamples, strength: float, n_units: int) -> Samples:
    """Logarithm of the likelihood of a mark from each unit on over that of silence.

    Args:
        units: (n,) noise of power 1.
        strength: power of a unit with the key down over noise.
        n_units: length of the mark.
    Returns: (n - n_units + 1,).
    """
    sums = np.cumsum(np.pad(units, (1, 0)))
    energies = np.abs(sums[n_units:] - sums[:-n_units]) ** 2 / n_units
    argument = 2.0 * np.sqrt(n_units * strength * energies)
    log_i0 = np.log(scipy.special.i0e(argument)) + argument
    return np.asarray(log_i0 - n_units * strength)


def _likeliest(units: AnalyticSamples, strength: float) -> _Path:
    """The best way through marks and gaps; it may begin and end anywhere."""
    gains = {length: mark_scores(units, strength, length).tolist() for length in (DOT, DASH)}
    gaps = [(length, math.log(share * MARK_SHARE)) for length, share in GAP_SHARES.items()]
    n = units.size
    # best[p]: score of the best way whose last mark ends before unit p; begun[p]: that mark.
    best = [-math.inf] * (n + 1)
    came: list[tuple[int, int]] = [(0, 0)] * (n + 1)
    for end in range(1, n + 1):
        for length in (DOT, DASH):
            start = end - length
            if start < 0:
                continue
            before, source = 0.0, -1
            for gap, prior in gaps:
                if start >= gap and best[start - gap] + prior > before:
                    before, source = best[start - gap] + prior, start - gap
            score = before + gains[length][start]
            if score > best[end]:
                best[end], came[end] = score, (length, source)
    end = int(np.argmax(best))
    score, marks = best[end], []
    while end > 0:
        length, source = came[end]
        marks.append((end - length, length))
        end = source
    return _Path(score, tuple(reversed(marks)))
