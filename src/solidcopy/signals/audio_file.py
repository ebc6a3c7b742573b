"""Sound files, read as audio fit for measuring: never a wrong level, never a silent guess.

What cannot be read rightly is refused in one sentence; what was put right is told in `notes`.
"""

import os
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import numpy as np
import soundfile
from numpy.typing import NDArray

from solidcopy import __version__, units
from solidcopy.errors import AudioFileError, CalibrationError
from solidcopy.signals import power, riff
from solidcopy.signals.sample_count import FULL_SCALE_16, rounded_to_16_bits
from solidcopy.signals.sound_file.channels import ChannelSums
from solidcopy.signals.sound_file.facts import Frames, SoundFacts
from solidcopy.signals.sound_file.opening import open_source
from solidcopy.signals.waveform import Samples

MAX_VALUES = 250_000_000
"""Samples times channels of the longest file that is read whole (2 GB as float64)."""


@dataclass(frozen=True, slots=True, eq=False)
class AudioFile:
    """One channel of a sound file, at its own sample rate."""

    samples: Samples
    """(n_samples,) float64, full scale ±1.0; float files may go beyond."""
    sample_rate_hz: int
    notes: tuple[str, ...] = field(default=())
    """What was found odd and put right, one sentence each."""

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.samples.size / self.sample_rate_hz


def read_audio(path: Path, *, channel: int | None = None) -> AudioFile:
    """One channel of a WAV, FLAC or other lossless file, any rate and word length, whole.

    Args:
        path: the file.
        channel: 1 = first (left). Needed only where two or more channels with sound differ.
    Raises: AudioFileError, one sentence: not a sound file, lossy, empty, silent, not-a-number,
        or channels that differ and none chosen.
    """
    source = open_source(path)
    try:
        facts = source.facts
        _refuse_unfit(facts, path)
        frames = source.read(0, facts.n_samples)
    finally:
        source.close()
    notes = [finding.sentence for finding in facts.findings]
    _refuse_not_finite(frames, path)
    samples = _one_channel(frames, channel, path, notes)
    if np.ptp(samples) == 0.0:
        raise AudioFileError(
            f"{path}: is silent (all samples are {samples[0]:g}); check the recording's input"
        )
    peak = power.peak(samples)
    if peak > 1.0:
        notes.append(f"peaks {units.peak_dbfs(peak):.1f} dB beyond full scale; levels are kept")
    return AudioFile(samples, facts.sample_rate_hz, tuple(notes))


def _refuse_unfit(facts: SoundFacts, path: Path) -> None:
    if facts.is_lossy:
        lossy = next(finding for finding in facts.findings if finding.kind == "lossy")
        raise AudioFileError(f"{path}: {lossy.sentence}")
    if facts.n_samples * facts.n_channels > MAX_VALUES:
        allowed_h = MAX_VALUES / facts.n_channels / facts.sample_rate_hz / 3600
        raise AudioFileError(
            f"{path}: lasts {facts.duration_s / 3600:.1f} h; cut it to less than {allowed_h:.1f} h"
        )


def _one_channel(frames: Frames, channel: int | None, path: Path, notes: list[str]) -> Samples:
    """The chosen channel, or the only one with a sound of its own. Never a mean of channels."""
    n_channels = frames.shape[0]
    if channel is not None:
        if not 1 <= channel <= n_channels:
            raise AudioFileError(f"{path}: has channels 1 to {n_channels}, not {channel}")
        return np.ascontiguousarray(frames[channel - 1])
    sums = ChannelSums(n_channels)
    sums.add(frames)
    relation = sums.relation()
    if relation.channel is None:
        raise AudioFileError(
            f"{path}: {relation.sentence}; choose one with channel = 1 to {n_channels}"
        )
    if relation.sentence:
        notes.append(relation.told(relation.channel))
    return np.ascontiguousarray(frames[relation.channel])


def _refuse_not_finite(frames: Frames, path: Path) -> None:
    is_bad = ~np.isfinite(frames)
    n_bad = int(np.count_nonzero(is_bad))
    if n_bad:
        raise AudioFileError(
            f"{path}: {n_bad} of {frames.size} samples are no numbers (NaN or infinite); "
            "export it again"
        )


def write_audio(
    path: Path,
    samples: NDArray[np.floating[Any]],
    *,
    sample_rate_hz: int,
    subtype: Literal["FLOAT", "PCM_16"] = "FLOAT",
    comment: str | None = None,
) -> None:
    """Write one channel as WAV: 32-bit float as it is, or 16-bit rounded, never wrapped.

    Args:
        path: is there as a whole or not at all.
        samples: (n_samples,) full scale ±1.0.
        sample_rate_hz: of the samples.
        subtype: how one sample lies in the file.
        comment: ASCII text for the comment chunk behind the sound.
    Raises: CalibrationError if 16 bits cannot hold the peak; nothing is written then.
    """
    values: NDArray[Any] = samples.astype(np.float32)
    if subtype == "PCM_16":
        _refuse_beyond_16_bits(path, samples)
        values = rounded_to_16_bits(samples)
    partial = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        soundfile.write(partial, values, sample_rate_hz, format="WAV", subtype=subtype)
        if comment is not None:
            riff.append_comment(partial, comment, software=f"solidcopy {__version__}")
        partial.replace(path)
    except (OSError, soundfile.LibsndfileError) as error:
        raise AudioFileError(f"{path}: cannot be written ({error}); choose another") from None
    finally:
        partial.unlink(missing_ok=True)


def _refuse_beyond_16_bits(path: Path, samples: NDArray[np.floating[Any]]) -> None:
    scaled = np.rint(samples.astype(np.float64) * FULL_SCALE_16)
    n_clipped = int(np.count_nonzero((scaled > 32767.0) | (scaled < -32768.0)))
    if n_clipped:
        over_db = units.peak_dbfs(power.peak(samples))
        raise CalibrationError(
            f"{path}: {n_clipped} samples do not fit 16 bits (peak {over_db:+.2f} dB from full "
            "scale); lower the level or write 32-bit float"
        )
