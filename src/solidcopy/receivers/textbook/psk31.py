"""PSK31 by a matched filter and differential detection.

The pulses overlap, so that a matched filter alone hears a sixth of each neighbour; taps at the
distance of symbols take it out exactly. That costs 0.256 dB: with the correlation of the pulse
R0 = 3/4, R1 = 1/8 the noise grows by R0 / sqrt(R0^2 - 4 R1^2) = 1.0607 (derived here). The noise
of neighbouring symbols is then correlated, which leaves the mean of both kinds of error, taken for
reversed and for kept phase, at one half of exp(-Es/N0) (derived in the reference test).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from solidcopy.modes.plain_text.mode import PlainTextMode
from solidcopy.receivers.receiver import Decode
from solidcopy.receivers.textbook.heard import Heard, halfway, loudest_run
from solidcopy.signals.waveform import AnalyticSamples

PER_SYMBOL = 16
"""Samples in a symbol: placed to 2 ms."""
R0, R1 = 0.75, 0.125
"""Energy of a pulse and its overlap with the next one, in symbols."""
GREW = R0 / math.sqrt(R0**2 - 4.0 * R1**2)
"""Noise power behind the taps over that of a matched filter alone on a lone pulse."""
N_TAPS = 8
SEARCH_WIDTH_HZ = 32.0
NEAR_HZ = (-4.0, 0.0, 4.0)
LOWEST_ENERGY = 2.5
"""Mean of a symbol's power over noise, of a transmission that is printed (ours)."""
FEWEST_SYMBOLS = 40


def matched(channel: AnalyticSamples) -> AnalyticSamples:
    """Behind a filter matched to the pulse, noise of power 1.

    Args:
        channel: PER_SYMBOL samples in a symbol, noise of power 1 a sample.
    Returns: (n_samples,) place i belongs to a pulse whose middle is sample i.
    """
    place = np.arange(-PER_SYMBOL, PER_SYMBOL + 1) / PER_SYMBOL
    pulse = 0.5 * (1.0 + np.cos(np.pi * place))
    return np.asarray(np.convolve(channel, pulse, "same") / math.sqrt(float(pulse @ pulse)))


def without_neighbours(symbols: AnalyticSamples) -> AnalyticSamples:
    """Takes the overlap of pulses out; noise of power `GREW`, signal as of lone pulses.

    Args:
        symbols: (n_symbols,) matched filter at the middles of pulses.
    """
    root = math.sqrt(R0**2 - 4.0 * R1**2)
    taps = np.asarray([(-(R0 - root) / (2.0 * R1)) ** abs(k) for k in range(-N_TAPS, N_TAPS + 1)])
    return np.asarray(np.convolve(symbols, taps * R0 / root, "same"))


def turns_between(symbols: AnalyticSamples) -> AnalyticSamples:
    """(n_symbols - 1,) product of each symbol and the one before, conjugated."""
    return np.asarray(symbols[1:] * np.conj(symbols[:-1]))


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """A transmission found in one channel."""

    score: float
    first: int
    """Sample of its first symbol's middle."""
    turns: AnalyticSamples
    mean_energy: float

    @property
    def turn_rad(self) -> float:
        """By which the phase turns from symbol to symbol for want of tuning, -pi/2 to pi/2."""
        return float(np.angle((self.turns**2).sum())) / 2.0


def decoded(heard: Heard, mode: PlainTextMode, low_hz: float, high_hz: float) -> Iterator[Decode]:
    """The loudest transmission, if there is one."""
    symbol_s = mode.keying.symbol_s
    powers = heard.powers(SEARCH_WIDTH_HZ)
    first, last = heard.bin_of(low_hz), heard.bin_of(high_hz)
    about_hz = (first + int(powers[first : last + 1].argmax())) * heard.bin_hz
    found = [(_placed(heard, about_hz + near, symbol_s), about_hz + near) for near in NEAR_HZ]
    place, audio_hz = max(found, key=lambda item: item[0].score)
    audio_hz += place.turn_rad / (2.0 * math.pi * symbol_s)
    place = _placed(heard, audio_hz, symbol_s)
    if place.mean_energy < LOWEST_ENERGY or place.turns.size < FEWEST_SYMBOLS:
        return
    bits = (place.turns * np.exp(-1j * place.turn_rad)).real > 0.0
    # The first pulse begins a symbol before its middle.
    start_s = (place.first / PER_SYMBOL - 1.0) * symbol_s - mode.nominal_start_s
    text = mode.keying.text_of(bits.astype(np.uint8))
    yield Decode(text, audio_hz=audio_hz, time_offset_s=start_s)


def _placed(heard: Heard, audio_hz: float, symbol_s: float) -> _Place:
    """The best place of symbols within a channel."""
    filtered = matched(heard.channel(audio_hz, PER_SYMBOL / symbol_s))
    rows = [without_neighbours(filtered[offset::PER_SYMBOL]) for offset in range(PER_SYMBOL)]
    energies = [np.asarray(np.abs(row) ** 2, np.float64) for row in rows]
    bar = max(halfway(row, noise=GREW, n_smooth=15) for row in energies)
    runs = [loudest_run(row - bar) for row in energies]
    offset = max(range(PER_SYMBOL), key=lambda place: runs[place][2])
    start, stop, score = runs[offset]
    energy = float(energies[offset][start:stop].mean()) if stop > start else 0.0
    turns = turns_between(rows[offset][start:stop])
    return _Place(score, offset + PER_SYMBOL * start, turns, energy)
