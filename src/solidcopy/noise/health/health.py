"""One pass over a recording, and the verdict on it."""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from solidcopy.errors import AudioFileError
from solidcopy.noise.health import sentences
from solidcopy.noise.health.channel import ChannelHealth
from solidcopy.noise.health.coder_traces import CoderTrace, coder_trace
from solidcopy.noise.health.flat_tops import FlatTop, both
from solidcopy.noise.health.levels import LevelSums
from solidcopy.noise.health.repeats import Repeat, Repeats
from solidcopy.noise.health.sentences import UNIFORM_ERROR
from solidcopy.noise.health.spectrum import MeanSpectrum, UsedBits
from solidcopy.noise.health.stretches import StillStretches
from solidcopy.noise.reading.sound import Sound
from solidcopy.signals.sound_file.channels import channel_name
from solidcopy.signals.sound_file.facts import Frames
from solidcopy.signals.sound_file.findings import Finding, Weight
from solidcopy.signals.waveform import Samples

LAW_NOISE = 10.0**-3.8
"""Of the power: what rounding to A-law and mu-law words adds."""
BLOCK_SAMPLES = 1 << 16
"""Small enough for a processor's cache."""


class Verdict(StrEnum):
    """What a recording is fit for."""

    MEASURING = "measuring"
    SOURCES_ONLY = "sources-only"
    NOT_FIT = "not-fit"


@dataclass(frozen=True, slots=True)
class Health:
    """What a recording is fit for, and why."""

    channels: tuple[ChannelHealth, ...]
    """All of the file's."""
    repeats: tuple[Repeat, ...]
    """Of the first channel with sound."""
    findings: tuple[Finding, ...]
    """Of the reader, and of what was measured."""

    @property
    def verdict(self) -> Verdict:
        """The heaviest finding decides."""
        worst = max((finding.weight for finding in self.findings), default=Weight.REMARK)
        return {
            Weight.REMARK: Verdict.MEASURING,
            Weight.SOURCES_ONLY: Verdict.SOURCES_ONLY,
            Weight.UNFIT: Verdict.NOT_FIT,
        }[worst]

    @property
    def reasons(self) -> tuple[str, ...]:
        """Those findings that decided, briefly; none for a recording fit for measuring."""
        worst = max((finding.weight for finding in self.findings), default=Weight.REMARK)
        return tuple(
            finding.brief or finding.sentence
            for finding in self.findings
            if finding.weight is worst and worst is not Weight.REMARK
        )


def measure_health(sound: Sound) -> Health:
    """Look through a whole recording once, in blocks; memory does not grow with its length.

    Args:
        sound: opened. What is found weighs on the verdict only for the channels that are used:
            the chosen one, or all with sound while that is open.
    Raises: AudioFileError at the first sample that is NaN or infinite, with its time.
    """
    passes = [_ChannelPass(sound) for _ in range(sound.n_channels)]
    repeats = Repeats(sound.sample_rate_hz)
    first = _used(sound)[0]
    start = 0
    for frames in sound.blocks(BLOCK_SAMPLES):
        for channel, one in enumerate(passes):
            if not one.add(np.ascontiguousarray(frames[channel]), start):
                raise _no_numbers(sound, frames, start)
        repeats.add(np.ascontiguousarray(frames[first]))
        start += frames.shape[1]
    for frames in sound.looks():
        for channel, one in enumerate(passes):
            one.look(np.ascontiguousarray(frames[channel]))
    channels = tuple(
        one.health(channel_name(channel, sound.n_channels), is_periodic=repeats.is_periodic)
        for channel, one in enumerate(passes)
    )
    findings = [*sound.findings, *sentences.of_file(sound)]
    findings += sentences.of_silent([channels[c] for c in sound.relation.silent])
    for channel in _used(sound):
        findings += sentences.of_channel(channels[channel], sound)
    findings += sentences.of_repeats(repeats.found, sound, is_periodic=repeats.is_periodic)
    if not sound.facts.is_lossy:
        findings += sentences.of_trace(_trace(sound, first, channels[first]))
    return Health(channels, repeats.found, tuple(findings))


def _used(sound: Sound) -> list[int]:
    """Channels that the verdict is about."""
    if sound.channel is not None:
        return [sound.channel]
    heard = [c for c in range(sound.n_channels) if c not in sound.relation.silent]
    return heard or [0]


def _trace(sound: Sound, channel: int, health: ChannelHealth) -> CoderTrace | None:
    step = health.step
    if step is None and sound.facts.coarsest_step:  # A-law and mu-law: no step is the same
        step = math.sqrt(health.levels.power * LAW_NOISE / UNIFORM_ERROR)
    return coder_trace(
        lambda start, n_samples: sound.read(start, n_samples)[channel],
        sound.n_samples,
        sample_rate_hz=sound.sample_rate_hz,
        step=step,
    )


class _ChannelPass:
    """All that is collected of one channel."""

    def __init__(self, sound: Sound) -> None:
        self._levels = LevelSums()
        self._upper, self._lower = (
            FlatTop(sound.facts.coarsest_step, sound.sample_rate_hz) for _ in range(2)
        )
        self._still = StillStretches(sound.sample_rate_hz, step=sound.facts.step or 0.0)
        self._spectrum = MeanSpectrum(sound.sample_rate_hz)
        self._bits = UsedBits(sound.facts.step)

    def add(self, samples: Samples, start: int) -> bool:
        highest, lowest = float(samples.max()), float(samples.min())
        if not self._levels.add(samples):
            return False
        self._upper.add(samples, start, highest)
        self._lower.add(-samples, start, -lowest)
        self._still.add(samples, start)
        return True

    def look(self, samples: Samples) -> None:
        self._spectrum.add(samples)
        self._bits.add(samples)

    def health(self, name: str, *, is_periodic: bool) -> ChannelHealth:
        levels = self._levels.levels()
        ends = [end.clipping(is_periodic=is_periodic) for end in (self._upper, self._lower)]
        return ChannelHealth(
            name,
            levels,
            both(*ends) if levels.power > 0.0 else both(None, None),
            self._still.found,
            self._spectrum.hum(),
            self._bits.step,
        )


def _no_numbers(sound: Sound, frames: Frames, start: int) -> AudioFileError:
    bad = np.argwhere(~np.isfinite(frames.T))
    if bad.size == 0:
        return AudioFileError(
            f"{sound.path}: holds values up to {np.abs(frames).max():.0e}, which are no sound; "
            "export it again"
        )
    place, channel = (int(number) for number in bad[0])
    value = "NaN" if np.isnan(frames[channel, place]) else "infinite"
    return AudioFileError(
        f"{sound.path}: a sample is no number ({value}) at "
        f"{(start + place) / sound.sample_rate_hz:.3f} s, "
        f"{channel_name(channel, sound.n_channels)}; export it again, or cut that part out"
    )
