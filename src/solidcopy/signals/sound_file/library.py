"""FLAC, OGG, MP3, AIFF and all the rest, read through libsndfile."""

from pathlib import Path
from typing import Any, Final

import numpy as np
import soundfile

from solidcopy.errors import AudioFileError
from solidcopy.signals.sound_file.facts import Frames, SoundFacts
from solidcopy.signals.sound_file.findings import Finding, Weight, lasting
from solidcopy.signals.sound_file.format import check_rate, rate_finding
from solidcopy.signals.sound_file.words import LAW_STEP

LOSSY_FORMATS = frozenset({"OGG", "MPEG", "MP3"})
LOSSY_SUBTYPES = frozenset(
    {"VORBIS", "OPUS", "GSM610", "IMA_ADPCM", "MS_ADPCM", "G721_32", "G723_24", "G723_40"}
    | {"NMS_ADPCM_16", "NMS_ADPCM_24", "NMS_ADPCM_32", "VOX_ADPCM"}
    | {"MPEG_LAYER_I", "MPEG_LAYER_II", "MPEG_LAYER_III"}
)
WORDS: Final[dict[str, tuple[str, int | None]]] = {
    "PCM_S8": ("8-bit", 8),
    "PCM_U8": ("8-bit", 8),
    "PCM_16": ("16-bit", 16),
    "PCM_24": ("24-bit", 24),
    "PCM_32": ("32-bit", 32),
    "ALAC_16": ("16-bit", 16),
    "ALAC_20": ("20-bit", 20),
    "ALAC_24": ("24-bit", 24),
    "ALAC_32": ("32-bit", 32),
    "FLOAT": ("32-bit float", None),
    "DOUBLE": ("64-bit float", None),
    "ULAW": ("8-bit mu-law", None),
    "ALAW": ("8-bit A-law", None),
}
"""Name for a person and bits of each subtype that keeps what it is given."""
SKIP_SAMPLES = 1 << 16
MAX_DELAY_SAMPLES = 2304
"""Two frames of MP3: so much of the stated length a coder may keep for its own delay."""
SEARCH_SAMPLES = 4096
"""Where a damaged file ends is found to within so many samples."""


class LibrarySource:
    """A file opened by libsndfile."""

    def __init__(self, path: Path, opened: Any, facts: SoundFacts) -> None:
        """See `open_library`."""
        self._path = path
        self._opened = opened
        self._position = 0
        self.facts = facts

    def read(self, start: int, n_samples: int) -> Frames:
        """Samples from a place on; fewer at the end. See `SoundSource.read`."""
        n_samples = max(min(n_samples, self.facts.n_samples - start), 0)
        try:
            if start != self._position:
                self._go_to(start)
            values = self._opened.read(n_samples, dtype="float64", always_2d=True)
        except (soundfile.LibsndfileError, RuntimeError) as error:
            self._position = -1
            raise AudioFileError(
                f"{self._path}: is damaged within {lasting(start / self.facts.sample_rate_hz)} and "
                f"{lasting((start + n_samples) / self.facts.sample_rate_hz)} ({error}); cut that "
                "part out"
            ) from None
        self._position = start + values.shape[0]
        return np.ascontiguousarray(values.T)

    def _go_to(self, start: int) -> None:
        """Some codes can only be read from the beginning on."""
        if self._opened.seekable():
            self._opened.seek(start)
            return
        if start < self._position or self._position < 0:
            self._opened.close()
            self._opened = soundfile.SoundFile(str(self._path))
            self._position = 0
        while self._position < start:
            n_part = min(start - self._position, SKIP_SAMPLES)
            self._position += len(self._opened.read(n_part))

    def close(self) -> None:
        """Give the file back."""
        self._opened.close()


def open_library(path: Path, *, n_stated: int | None = None) -> LibrarySource:
    """Open a file by libsndfile.

    Args:
        path: the file.
        n_stated: samples by a WAV file's fact chunk: the last block of a code may be filled up.
    Raises: AudioFileError, without the file's name.
    """
    try:
        opened = soundfile.SoundFile(str(path))
    except (soundfile.LibsndfileError, RuntimeError) as error:
        reason = str(getattr(error, "error_string", error)).strip().rstrip(".")
        raise AudioFileError(
            f"is no sound file that can be read ({reason}); save it as WAV or FLAC"
        ) from None
    check_rate(int(opened.samplerate))
    is_lossy = opened.format in LOSSY_FORMATS or opened.subtype in LOSSY_SUBTYPES
    name, n_bits = WORDS.get(opened.subtype, (str(opened.subtype_info), None))
    step = 0.0 if n_bits is None else 2.0 ** (1 - n_bits)
    n_samples = _n_readable(opened)
    findings = rate_finding(int(opened.samplerate))
    if is_lossy:
        findings.append(_lossy(f"{opened.format}, {opened.subtype_info}"))
    if n_samples < opened.frames:
        if not is_lossy or opened.frames - n_samples > MAX_DELAY_SAMPLES:
            findings.append(_cut_short(n_samples, int(opened.frames), int(opened.samplerate)))
        opened = soundfile.SoundFile(str(path))  # after an error some decoders are lost
    facts = SoundFacts(
        container=str(opened.format),
        encoding=name,
        sample_rate_hz=int(opened.samplerate),
        n_channels=int(opened.channels),
        n_samples=min(n_samples, n_stated or n_samples),
        step=step or None,
        coarsest_step=LAW_STEP if name.endswith("law") else step,
        is_float=opened.subtype in ("FLOAT", "DOUBLE"),
        is_lossy=is_lossy,
        starts=None,
        n_pieces=1,
        findings=tuple(findings),
    )
    return LibrarySource(path, opened, facts)


def _lossy(what: str) -> Finding:
    sentence = (
        f"{what} is lossy and changes noise, so it is not for measuring; record as WAV or FLAC"
    )
    return Finding("lossy", sentence, Weight.SOURCES_ONLY, brief="lossy")


def _cut_short(n_there: int, n_promised: int, sample_rate_hz: int) -> Finding:
    sentence = (
        f"the file is cut short or damaged: {lasting((n_promised - n_there) / sample_rate_hz)} "
        f"that the header promises are lost, {lasting(n_there / sample_rate_hz)} are there"
    )
    return Finding("cut-short", sentence, brief="cut short")


def _n_readable(opened: Any) -> int:
    """Samples up to the end, or up to where a damaged file stops to give any."""
    n_stated = int(opened.frames)
    if not opened.seekable():
        return n_stated
    try:
        opened.seek(max(n_stated - SEARCH_SAMPLES, 0))
        n_tail = len(opened.read(SEARCH_SAMPLES))
        opened.seek(0)
        if n_tail == min(n_stated, SEARCH_SAMPLES):
            return n_stated
    except (soundfile.LibsndfileError, RuntimeError):
        pass
    n_read = 0
    with soundfile.SoundFile(opened.name) as again:
        try:
            while n_part := len(again.read(SEARCH_SAMPLES)):
                n_read += n_part
        except (soundfile.LibsndfileError, RuntimeError):
            pass
    return n_read
