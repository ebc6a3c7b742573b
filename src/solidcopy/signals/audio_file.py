"""Sound files, read as audio fit for measuring: never a wrong level, never a silent guess.

What cannot be read rightly is refused in one sentence; what was put right is told in `notes`.
"""

import io
import os
import struct
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO, Literal

import numpy as np
import soundfile
from numpy.typing import NDArray

from solidcopy import __version__, units
from solidcopy.errors import AudioFileError, CalibrationError
from solidcopy.signals import power, riff
from solidcopy.signals.sample_count import FULL_SCALE_16, rounded_to_16_bits
from solidcopy.signals.waveform import Samples

LOSSY_FORMATS = frozenset({"OGG", "MPEG", "MP3"})
LOSSY_SUBTYPES = frozenset(
    {"VORBIS", "OPUS", "GSM610", "IMA_ADPCM", "MS_ADPCM", "G721_32", "G723_24", "G723_40"}
)

MAX_VALUES = 250_000_000
"""Samples times channels of the longest file that is read whole (2 GB as float64)."""

SAME_CHANNEL_DB = -80.0
"""Two channels differ if their difference is stronger than this beside the sound."""


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
    """One channel of a WAV, FLAC or other lossless file, any rate and word length.

    Args:
        path: the file.
        channel: 1 = first (left). Needed only where the channels differ.
    Raises: AudioFileError, one sentence: not a sound file, lossy, empty, silent, not-a-number,
        or channels that differ and none chosen.
    """
    notes: list[str] = []
    try:
        with path.open("rb") as stream:
            source = _mended_wav(stream, notes) or stream
            source.seek(0)
            with soundfile.SoundFile(source) as opened:
                _refuse_unfit(opened, path)
                values: NDArray[np.float64] = opened.read(dtype="float64", always_2d=True)
                sample_rate_hz = int(opened.samplerate)
    except OSError as error:
        raise AudioFileError(f"{path}: cannot be read ({error.strerror})") from None
    except (soundfile.LibsndfileError, RuntimeError) as error:
        raise AudioFileError(
            f"{path}: is no sound file that can be read ({str(error).strip()}); "
            "save it as WAV or FLAC"
        ) from None
    if values.shape[0] == 0:
        raise AudioFileError(f"{path}: holds no sound (length 0); record it again")
    samples = _one_channel(values, channel, path, notes)
    _refuse_unusable(samples, path)
    peak = power.peak(samples)
    if peak > 1.0:
        notes.append(f"peaks {units.peak_dbfs(peak):.1f} dB beyond full scale; levels are kept")
    return AudioFile(samples, sample_rate_hz, tuple(notes))


def _refuse_unfit(opened: Any, path: Path) -> None:
    if opened.format in LOSSY_FORMATS or opened.subtype in LOSSY_SUBTYPES:
        raise AudioFileError(
            f"{path}: {opened.format_info}, {opened.subtype_info} is lossy and changes noise, so "
            "it is not fit for measuring; record as WAV or FLAC"
        )
    if opened.samplerate <= 0:
        raise AudioFileError(f"{path}: its header gives a sample rate of {opened.samplerate}")
    if opened.frames * opened.channels > MAX_VALUES:
        raise AudioFileError(
            f"{path}: lasts {opened.frames / opened.samplerate / 3600:.1f} h; cut it to less than "
            f"{MAX_VALUES / opened.channels / opened.samplerate / 3600:.1f} h"
        )


def _one_channel(
    values: NDArray[np.float64], channel: int | None, path: Path, notes: list[str]
) -> Samples:
    """The chosen channel; without a choice, all must be alike. Channels are never averaged."""
    n_channels = values.shape[1]
    if channel is not None:
        if not 1 <= channel <= n_channels:
            raise AudioFileError(f"{path}: has channels 1 to {n_channels}, not {channel}")
        return np.ascontiguousarray(values[:, channel - 1])
    first = np.ascontiguousarray(values[:, 0])
    for other in range(1, n_channels):
        difference = power.mean_power(first - values[:, other])
        if difference > units.ratio_from_db(SAME_CHANNEL_DB) * power.mean_power(first):
            raise AudioFileError(
                f"{path}: its {n_channels} channels differ{_silent_ones(values)}; "
                f"choose one with channel = 1 to {n_channels}"
            )
    if n_channels > 1:
        notes.append(f"its {n_channels} channels are alike; the first is taken")
    return first


def _silent_ones(values: NDArray[np.float64]) -> str:
    silent = [str(i + 1) for i in range(values.shape[1]) if np.ptp(values[:, i]) == 0.0]
    return f" (channel {', '.join(silent)} is silent)" if silent else ""


def _refuse_unusable(samples: Samples, path: Path) -> None:
    n_bad = int(np.count_nonzero(~np.isfinite(samples)))
    if n_bad:
        raise AudioFileError(
            f"{path}: {n_bad} of {samples.size} samples are no numbers (NaN or infinite); "
            "export it again"
        )
    if np.ptp(samples) == 0.0:
        raise AudioFileError(
            f"{path}: is silent (all samples are {samples[0]:g}); check the recording's input"
        )


@dataclass(frozen=True, slots=True)
class _DataChunk:
    """Where the sound of a WAV file lies, and what the header says of it."""

    starts_at: int
    """Of the first byte of sound."""
    n_stated: int
    """Bytes, by the header."""
    n_present: int
    """Bytes, by the file's length."""
    block_bytes: int
    """Bytes per sample of all channels."""
    sample_rate_hz: int

    def duration_s(self, n_bytes: int) -> float:
        """Seconds that so many bytes last."""
        return n_bytes / self.block_bytes / max(self.sample_rate_hz, 1)


def _mended_wav(stream: BinaryIO, notes: list[str]) -> io.BytesIO | None:
    """A copy of a WAV file with the length put right, if its header is wrong about it.

    A recorder that dies or streams leaves 0, the largest number or the planned length; a reader
    that trusts it returns nothing, or less, without a word.
    """
    chunk = _find_data(stream)
    if chunk is None or chunk.block_bytes == 0:
        return None
    if chunk.n_stated == 0 and _is_chunk_chain(stream, chunk.starts_at):
        return None  # truly empty: what follows is not sound
    if 0 < chunk.n_stated <= chunk.n_present:
        return None
    n_bytes = chunk.n_present - chunk.n_present % chunk.block_bytes
    if n_bytes == 0:
        return None
    kept_s = chunk.duration_s(n_bytes)
    if chunk.n_stated in (0, 0xFFFFFFFF):
        notes.append(f"the header gives no length; {kept_s:.2f} s were recovered from the file's")
    else:
        lost_s = chunk.duration_s(chunk.n_stated) - kept_s
        notes.append(
            f"the file is cut short: {lost_s:.2f} s that the header promises are lost, "
            f"{kept_s:.2f} s are there"
        )
    stream.seek(0)
    content = bytearray(stream.read(chunk.starts_at + n_bytes))
    struct.pack_into("<I", content, chunk.starts_at - 4, n_bytes)
    struct.pack_into("<I", content, 4, len(content) - 8)
    return io.BytesIO(bytes(content))


def _find_data(stream: BinaryIO) -> _DataChunk | None:
    """Walk the chunks of a RIFF WAVE file to its sound; None for any other file."""
    n_file = stream.seek(0, io.SEEK_END)
    stream.seek(0)
    head = stream.read(12)
    if len(head) < 12 or head[:4] != b"RIFF" or head[8:12] != b"WAVE":
        return None
    block_bytes, sample_rate_hz, at = 0, 0, 12
    while at + 8 <= n_file:
        stream.seek(at)
        name, n_bytes = struct.unpack("<4sI", stream.read(8))
        if name == b"fmt " and at + 8 + 16 <= n_file:
            _, _, sample_rate_hz, _, block_bytes, _ = struct.unpack("<HHIIHH", stream.read(16))
        if name == b"data":
            return _DataChunk(at + 8, n_bytes, n_file - at - 8, block_bytes, sample_rate_hz)
        at += 8 + n_bytes + n_bytes % 2
    return None


def _is_chunk_chain(stream: BinaryIO, at: int) -> bool:
    """Whether whole chunks with printable names follow one another to the end of the file."""
    n_file = stream.seek(0, io.SEEK_END)
    while at + 8 <= n_file:
        stream.seek(at)
        name, n_bytes = struct.unpack("<4sI", stream.read(8))
        if not all(32 <= letter < 127 for letter in name):
            return False
        at += 8 + n_bytes + n_bytes % 2
    return at in (n_file, n_file + 1)


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
