"""What a mean spectrum and the words of a recording tell: mains hum, and bits never used."""

from dataclasses import dataclass

import numpy as np
import scipy.fft

from solidcopy import units
from solidcopy.signals.waveform import Samples

SEGMENT_S = 1.0
MAINS_HZ = (50.0, 60.0)
N_HARMONICS = 8
LINE_DB = 7.0
"""A harmonic counts if it stands so far above what lies beside it."""
MIN_LINES = 2
MIN_SHARE = 1e-4
"""Of the power; lines 40 dB below the sound do not matter to it."""
BESIDE_HZ = 20.0


@dataclass(frozen=True, slots=True)
class Hum:
    """Lines at multiples of a mains frequency."""

    mains_hz: float
    n_lines: int
    power_dbfs: float
    """Of the lines together."""
    share: float
    """Of the sound's power."""


class MeanSpectrum:
    """Mean power spectrum with bins of 1 Hz, Hann window."""

    def __init__(self, sample_rate_hz: int) -> None:
        """Nothing was added yet."""
        self._n_segment = round(SEGMENT_S * sample_rate_hz)
        self._bin_hz = sample_rate_hz / self._n_segment
        self._window = np.hanning(self._n_segment + 1)[:-1]
        self._sum = np.zeros(self._n_segment // 2 + 1)
        self._n_added = 0

    def add(self, samples: Samples) -> None:
        """Take in whole segments of a piece of sound."""
        for start in range(0, samples.size - self._n_segment + 1, self._n_segment):
            segment = samples[start : start + self._n_segment]
            transform = scipy.fft.rfft((segment - segment.mean()) * self._window)
            self._sum += np.square(transform.real) + np.square(transform.imag)
            self._n_added += 1

    @property
    def bin_powers(self) -> Samples | None:
        """(n_bins,) adding up to the mean power; None if no segment was added."""
        if self._n_added == 0:
            return None
        scale = 2.0 / (self._n_segment * float(np.square(self._window).sum()))
        return self._sum * (scale / self._n_added)

    def hum(self) -> Hum | None:
        """The mains frequency whose harmonics stand out more, if they do."""
        powers = self.bin_powers
        if powers is None:
            return None
        found = [hum for mains_hz in MAINS_HZ if (hum := self._lines(powers, mains_hz))]
        return max(found, key=lambda hum: hum.power_dbfs, default=None)

    def _lines(self, powers: Samples, mains_hz: float) -> Hum | None:
        n_lines, total = 0, 0.0
        for harmonic in range(1, N_HARMONICS + 1):
            centre = round(harmonic * mains_hz / self._bin_hz)
            reach = round(BESIDE_HZ / self._bin_hz)
            if centre + reach >= powers.size:
                break
            line = float(powers[centre - 2 : centre + 3].sum())
            beside = np.concatenate(
                (powers[centre - reach : centre - 3], powers[centre + 4 : centre + reach + 1])
            )
            floor = 5.0 * float(np.median(beside))
            if line > units.ratio_from_db(LINE_DB) * floor and line > 0.0:
                n_lines += 1
                total += line - floor
        share = total / float(powers.sum()) if n_lines else 0.0
        if n_lines < MIN_LINES or share < MIN_SHARE:
            return None
        return Hum(mains_hz, n_lines, units.dbfs_from_power(total), share)


class UsedBits:
    """The smallest step that a recording really uses, by the bits that are ever set."""

    def __init__(self, step: float | None) -> None:
        """The step of its words, or None where there is none."""
        self._step = step
        self._set_bits = 0

    def add(self, samples: Samples) -> None:
        """Take in a piece of sound."""
        if self._step is not None:
            words = np.rint(samples / self._step).astype(np.int64)
            self._set_bits |= int(np.bitwise_or.reduce(words))

    @property
    def step(self) -> float | None:
        """None without words, or if nothing but 0 was seen."""
        if self._step is None or self._set_bits == 0:
            return None
        return self._step * (self._set_bits & -self._set_bits)
