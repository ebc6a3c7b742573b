"""RTTY by matched filters for both tones, without phase: the louder one counts.

Start and stop elements say where characters lie: of all places the one is taken at which the
whole transmission agrees best with a space in each start and a mark in each stop.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.plain_text.mode import PlainTextMode
from solidcopy.receivers.receiver import Decode
from solidcopy.receivers.textbook.heard import Heard, halfway, loudest_run, run_sums
from solidcopy.signals.waveform import AnalyticSamples

PER_ELEMENT = 16
"""Samples in an element: characters are placed to 1.4 ms."""
N_ELEMENTS = 5
PER_CHARACTER = 120
"""7.5 elements."""
SEARCH_STEP_HZ = 10.0
NEAR_HZ = np.arange(-7.5, 7.6, 2.5)
LOUDER_OF_TWO = 1.5
"""Mean of the larger of two powers of noise with mean 1."""
LOWEST_ENERGY = 4.0
"""Mean of the louder tone's power over noise, of a transmission that is printed (ours)."""
FEWEST_CHARACTERS = 4


def tone_powers(channel: AnalyticSamples, shift_hz: float, symbol_s: float) -> NDArray[np.float64]:
    """Power of mark and space at every place, behind filters matched to an element.

    Args:
        channel: about the mark, PER_ELEMENT samples in an element, noise of power 1 a sample.
        shift_hz, symbol_s: of the keying.
    Returns: (2, n_samples - PER_ELEMENT + 1), mean 1 in noise alone.
    """
    turns = shift_hz * symbol_s / PER_ELEMENT * np.arange(channel.size)
    tones = np.stack([channel, channel * np.exp(-2j * np.pi * turns)])
    sums = np.cumsum(np.pad(tones, ((0, 0), (1, 0))), axis=1)
    return np.asarray(np.abs(sums[:, PER_ELEMENT:] - sums[:, :-PER_ELEMENT]) ** 2 / PER_ELEMENT)


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """A transmission found."""

    score: float
    mark_hz: float
    first: int
    """Sample at which its first character begins."""
    bits: NDArray[np.uint8]
    mean_energy: float


def decoded(heard: Heard, mode: PlainTextMode, low_hz: float, high_hz: float) -> Iterator[Decode]:
    """The loudest transmission, if there is one."""
    keying = mode.keying
    shift_hz, symbol_s = keying.tone_spacing_hz, keying.symbol_s
    about_hz = _searched(heard, shift_hz, symbol_s, low_hz, high_hz)
    places = []
    for mark_hz in about_hz + NEAR_HZ:
        channel = heard.channel(float(mark_hz), PER_ELEMENT / symbol_s)
        places.append(_placed(tone_powers(channel, shift_hz, symbol_s), float(mark_hz)))
    best = max(places, key=lambda place: place.score)
    n_characters = best.bits.size // N_ELEMENTS
    if best.mean_energy < LOWEST_ENERGY or n_characters < FEWEST_CHARACTERS:
        return
    start_s = best.first / PER_ELEMENT * symbol_s - mode.nominal_start_s
    yield Decode(keying.text_of(best.bits), audio_hz=best.mark_hz, time_offset_s=start_s)


def _searched(
    heard: Heard, shift_hz: float, symbol_s: float, low_hz: float, high_hz: float
) -> float:
    """Mark frequency with the largest mean of the louder tone of each half element."""
    n_steps = round((high_hz - low_hz) / SEARCH_STEP_HZ)
    per_s = 2.0 / symbol_s
    step = round(SEARCH_STEP_HZ / heard.bin_hz)
    first = heard.bin_of(low_hz)
    shift = round(shift_hz / heard.bin_hz / step)
    powers = []
    for place in range(n_steps + shift + 1):
        channel = heard.channel((first + place * step) * heard.bin_hz, 2.0 * per_s)
        pairs = np.abs(np.convolve(channel, np.ones(4), "valid")[::2]) ** 2 / 4.0
        powers.append(pairs)
    rows = np.array(powers)
    louder = np.maximum(rows[:-shift], rows[shift:]).mean(axis=1)
    return (first + int(louder.argmax()) * step) * heard.bin_hz


def _placed(powers: NDArray[np.float64], mark_hz: float) -> _Place:
    """The best place of characters within a channel."""
    mark, space = powers
    louder = np.maximum(mark, space)
    bar = halfway(louder[::PER_ELEMENT], noise=LOUDER_OF_TWO, n_smooth=15)
    n_characters = (louder.size - PER_CHARACTER) // PER_CHARACTER
    starts = np.arange(PER_CHARACTER)[:, None] + PER_CHARACTER * np.arange(n_characters)
    values = space[starts] + mark[starts + PER_ELEMENT * (1 + N_ELEMENTS)]
    for place in range(1, 1 + N_ELEMENTS):
        values += louder[starts + PER_ELEMENT * place]
    values -= (N_ELEMENTS + 2) * bar
    offset = int(run_sums(values).argmax())
    start, stop, score = loudest_run(values[offset])
    starts = offset + PER_CHARACTER * np.arange(start, stop)
    elements = starts[:, None] + PER_ELEMENT * (1 + np.arange(N_ELEMENTS))
    bits = (mark[elements] > space[elements]).astype(np.uint8)
    energy = float(louder[elements].mean()) if bits.size else 0.0
    return _Place(score, mark_hz, offset + PER_CHARACTER * start, bits.ravel(), energy)
