"""How the channels of a file are related: alike, inverted, silent, I/Q, or simply different.

Channels are never averaged unasked: with one silent that costs 6 dB, with one inverted all.
"""

from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.signals.sound_file.facts import Frames

SAME_SOUND_DB = -50.0
"""What one channel holds beyond another, brought to its level, is below this: the same sound."""
SILENT_DB = -60.0
"""A channel so far below the strongest counts as silent."""
EQUAL_LEVEL_DB = 0.005
SEGMENT_SAMPLES = 2048
MAX_SEGMENTS = 240
"""Pieces of the sound whose cross spectrum is looked at."""
MIN_SEGMENTS = 16
MIN_COHERENCE = 0.5
"""Share of power in common beyond which a bin counts: by chance 0.5**15 of 16 pieces."""
QUADRATURE_SHARE = 0.9
MIN_COHERENT_BINS = 3


class Likeness(Enum):
    """What two or more channels are to each other."""

    ONLY = "only"
    """There is but one."""
    SAME = "same"
    INVERTED = "inverted"
    SCALED = "scaled"
    """The same sound at another level."""
    OTHERS_SILENT = "others-silent"
    QUADRATURE = "quadrature"
    """As I and Q of a receiver are: a quarter turn apart at every frequency."""
    DIFFERENT = "different"


@dataclass(frozen=True, slots=True)
class ChannelRelation:
    """How the channels of a file are related."""

    likeness: Likeness
    sentence: str
    """Empty for one channel."""
    channel: int | None
    """The one to take, from 0; None where only the user can know."""
    silent: tuple[int, ...]
    """Channels without sound."""
    brief: str = ""
    """In two or three words."""
    n_channels: int = 1

    def told(self, channel: int | None) -> str:
        """The sentence, and which channel is taken; None for no single one."""
        if channel is None:
            return self.sentence
        return f"{self.sentence}; {channel_name(channel, self.n_channels)} is taken"


def channel_name(channel: int, n_channels: int) -> str:
    """ "left" and "right" of two; "channel 3" of more; "sound" of one."""
    if n_channels == 1:
        return "sound"
    return ("left", "right")[channel] if n_channels == 2 else f"channel {channel + 1}"


class ChannelSums:
    """Sums over blocks, from which the relation follows."""

    def __init__(self, n_channels: int) -> None:
        """Nothing is summed yet."""
        self._n_channels = n_channels
        self._n_samples = 0
        self._sum = np.zeros(n_channels)
        self._products = np.zeros((n_channels, n_channels))
        self._n_segments = 0
        self._spectra = np.zeros((2, SEGMENT_SAMPLES // 2 + 1))
        self._cross = np.zeros(SEGMENT_SAMPLES // 2 + 1, np.complex128)

    def add(self, frames: Frames) -> None:
        """Take in (n_channels, n_samples)."""
        self._n_samples += frames.shape[1]
        self._sum += frames.sum(axis=1)
        self._products += frames @ frames.T
        if self._n_channels == 2:
            n_here = min(frames.shape[1] // SEGMENT_SAMPLES, MAX_SEGMENTS - self._n_segments)
            places = np.linspace(0, frames.shape[1] - SEGMENT_SAMPLES, max(n_here, 0), dtype=int)
            for place in places:
                self._add_segment(frames[:, place : place + SEGMENT_SAMPLES])

    def _add_segment(self, segment: Frames) -> None:
        centred = segment - segment.mean(axis=1, keepdims=True)
        left, right = scipy.fft.rfft(centred * np.hanning(SEGMENT_SAMPLES), axis=1)
        self._spectra += np.abs(np.stack((left, right))) ** 2
        self._cross += left * right.conj()
        self._n_segments += 1

    def relation(self) -> ChannelRelation:
        """What was found in all that was added."""
        return replace(self._relation(), n_channels=self._n_channels)

    def _relation(self) -> ChannelRelation:
        if self._n_channels == 1:
            return ChannelRelation(Likeness.ONLY, "", 0, ())
        mean = self._sum / self._n_samples
        covariance = self._products / self._n_samples - np.outer(mean, mean)
        powers = np.maximum(np.diag(covariance), 0.0)
        strongest = int(np.argmax(powers))
        is_silent = powers <= powers[strongest] * units.ratio_from_db(SILENT_DB)
        silent = tuple(int(channel) for channel in np.flatnonzero(is_silent))
        active = [int(channel) for channel in np.flatnonzero(~is_silent)]
        if powers[strongest] <= 0.0 or not active:
            return ChannelRelation(Likeness.SAME, "all channels are silent", 0, silent)
        if len(active) == 1:
            sentence = f"{self._listed(silent)} silent"
            brief = f"{' and '.join(map(self._name, silent))} silent"
            return ChannelRelation(Likeness.OTHERS_SILENT, sentence, active[0], silent, brief)
        return self._of_active(covariance, active, strongest, silent)

    def _of_active(
        self,
        covariance: NDArray[np.float64],
        active: list[int],
        strongest: int,
        silent: tuple[int, ...],
    ) -> ChannelRelation:
        names = " and ".join(self._name(channel) for channel in active)
        reference = covariance[strongest, strongest]
        gains = covariance[strongest, active] / reference
        rests = covariance[active, active] - gains**2 * reference
        if np.all(rests <= units.ratio_from_db(SAME_SOUND_DB) * covariance[active, active]):
            return self._same(gains, active, strongest, silent)
        if len(active) == 2 == self._n_channels and self._is_quadrature():
            sentence = "left and right are a quarter turn apart, as I and Q of a receiver are"
            return ChannelRelation(Likeness.QUADRATURE, sentence, None, silent, "I and Q")
        other = next(channel for channel in active if channel != strongest)
        correlation = covariance[strongest, other] / np.sqrt(reference * covariance[other, other])
        sentence = (
            f"{names} differ (correlation {round(float(correlation), 2) + 0.0:+.2f}, "
            f"{self._name(other)} {units.db_from_ratio(reference / covariance[other, other]):.1f} "
            "dB weaker)"
        )
        return ChannelRelation(Likeness.DIFFERENT, sentence, None, silent, "channels differ")

    def _same(
        self,
        gains: NDArray[np.float64],
        active: list[int],
        strongest: int,
        silent: tuple[int, ...],
    ) -> ChannelRelation:
        first = active[0]
        levels_db = [units.db_from_ratio(float(gain) ** 2) for gain in gains]
        is_level = max(abs(level_db) for level_db in levels_db) < EQUAL_LEVEL_DB
        if is_level and gains.min() > 0.0:
            sentence = f"its {self._n_channels} channels are alike"
            if silent:
                sentence = f"{self._listed(silent)} silent, the others alike"
            return ChannelRelation(Likeness.SAME, sentence, first, silent, "channels alike")
        if is_level:
            inverted = [c for c, gain in zip(active, gains, strict=True) if gain * gains[0] < 0.0]
            sentence = (
                f"{self._listed(inverted)} {self._name(first)} turned over: their sum would be "
                "nothing"
            )
            return ChannelRelation(
                Likeness.INVERTED, sentence, first, silent, f"{self._listed(inverted)} inverted"
            )
        weakest = int(np.argmin(levels_db))
        sentence = (
            f"the channels are the same sound, {self._name(active[weakest])} "
            f"{-levels_db[weakest]:.2f} dB weaker"
        )
        return ChannelRelation(
            Likeness.SCALED, sentence, strongest, silent, "channels alike but for their level"
        )

    def _is_quadrature(self) -> bool:
        """Whether nearly all that the channels have in common is a quarter turn apart.

        A signal on one side of the centre frequency of a receiver is so in I and Q. Two antennas
        turn each signal by its own angle; sounds that are not alike have nothing in common.
        Derived here.
        """
        if self._n_segments < MIN_SEGMENTS:
            return False
        both = self._spectra[0] * self._spectra[1]
        coherence = np.abs(self._cross) ** 2 / np.where(both > 0.0, both, np.inf)
        in_common = np.flatnonzero(coherence > MIN_COHERENCE)
        in_common = in_common[in_common > 1]  # what is left of the constant offset
        if in_common.size < MIN_COHERENT_BINS:
            return False
        weight = np.abs(self._cross[in_common])
        turned = np.abs(self._cross[in_common].imag) > 0.9 * weight
        return bool(weight[turned].sum() > QUADRATURE_SHARE * weight.sum())

    def _name(self, channel: int) -> str:
        return channel_name(channel, self._n_channels)

    def _listed(self, channels: list[int] | tuple[int, ...]) -> str:
        names = " and ".join(self._name(channel) for channel in channels)
        return f"{names} {'is' if len(channels) == 1 else 'are'}"
