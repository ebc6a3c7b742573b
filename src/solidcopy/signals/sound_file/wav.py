"""WAV and RF64 files whose numbers are read by us: every length is checked against the file."""

from collections.abc import Sequence
from typing import BinaryIO

import numpy as np

from solidcopy.errors import AudioFileError
from solidcopy.signals.sound_file.chunks import Chunk, Length, content_of
from solidcopy.signals.sound_file.facts import Frames, SoundFacts
from solidcopy.signals.sound_file.findings import Finding, lasting
from solidcopy.signals.sound_file.format import WavFormat, parse_format, rate_finding
from solidcopy.signals.sound_file.start_time import STANDARD_NAMES, start_time


class WavSource:
    """The sound of one WAV file, or of all its data chunks one behind the other."""

    def __init__(
        self,
        stream: BinaryIO,
        pieces: Sequence[tuple[int, int]],
        form: WavFormat,
        facts: SoundFacts,
    ) -> None:
        """Pieces are (first byte, samples); see `open_wav`."""
        self._stream = stream
        self._pieces = pieces
        self._form = form
        self.facts = facts

    def read(self, start: int, n_samples: int) -> Frames:
        """Samples from a place on; fewer at the end. See `SoundSource.read`."""
        parts = []
        for first_byte, n_there in self._pieces:
            n_part = min(n_samples, n_there - start)
            if n_part > 0:
                parts.append(self._read_piece(first_byte, start, n_part))
                n_samples -= n_part
            start = max(start - n_there, 0)
        if len(parts) == 1:
            return parts[0]
        return np.concatenate([np.empty((self._form.n_channels, 0)), *parts], axis=1)

    def close(self) -> None:
        """Give the file back."""
        self._stream.close()

    def _read_piece(self, first_byte: int, start: int, n_samples: int) -> Frames:
        frame_bytes = self._form.frame_bytes
        self._stream.seek(first_byte + start * frame_bytes)
        content = np.frombuffer(self._stream.read(n_samples * frame_bytes), np.uint8)
        if content.size < n_samples * frame_bytes:
            raise AudioFileError(
                f"{self._stream.name}: became shorter while it was read; wait until the recorder "
                "has finished"
            )
        values = self._form.encoding.decode(content)
        return np.ascontiguousarray(values.reshape(n_samples, self._form.n_channels).T)


def open_wav(
    stream: BinaryIO, container: str, chunks: Sequence[Chunk], *, join: bool
) -> WavSource | None:
    """Open a WAV file whose chunks are known.

    Args:
        stream: opened for reading; closed by the source.
        container: "WAV" or "RF64".
        chunks: of the file.
        join: take all data chunks, not the first alone.
    Returns: None if the encoding is left to the library.
    Raises: AudioFileError, without the file's name.
    """
    format_chunk = next((chunk for chunk in chunks if chunk.name == b"fmt "), None)
    if format_chunk is None:
        raise AudioFileError(
            "has no format chunk, so its rate and word length are unknown; export it again"
        )
    form = parse_format(content_of(stream, format_chunk, at_most=64))
    if form is None:
        return None
    sounds = [chunk for chunk in chunks if chunk.name == b"data"]
    taken = sounds if join else sounds[:1]
    pieces = [(chunk.starts_at, chunk.n_present // form.frame_bytes) for chunk in taken]
    starts = start_time(stream, chunks, sample_rate_hz=form.sample_rate_hz)
    findings = [*form.findings, *rate_finding(form.sample_rate_hz)]
    for chunk in taken:
        findings += _length_findings(chunk, form)
    findings += _chunk_findings(chunks, form, join=join)
    facts = SoundFacts(
        container=container,
        encoding=form.encoding.name,
        sample_rate_hz=form.sample_rate_hz,
        n_channels=form.n_channels,
        n_samples=sum(n_samples for _, n_samples in pieces),
        step=form.encoding.step,
        coarsest_step=form.encoding.coarsest_step,
        is_float=form.encoding.is_float,
        is_lossy=False,
        starts=starts,
        n_pieces=len(sounds),
        findings=tuple(findings),
    )
    return WavSource(stream, pieces, form, facts)


def _length_findings(chunk: Chunk, form: WavFormat) -> list[Finding]:
    """What the header says of the length, if it is not what is there."""
    byte_s = 1.0 / form.frame_bytes / form.sample_rate_hz
    there, stated = lasting(chunk.n_present * byte_s), lasting(chunk.n_stated * byte_s)
    match chunk.length:
        case Length.UNKNOWN:
            sentence = f"the header gives no length; {there} were recovered from the file's"
            return [Finding("length-unknown", sentence, brief="no length in its header")]
        case Length.CUT_SHORT:
            lost = lasting((chunk.n_stated - chunk.n_present) * byte_s)
            sentence = (
                f"the file is cut short: {lost} that the header promises are lost, {there} are "
                "there"
            )
            return [Finding("cut-short", sentence, brief="cut short")]
        case Length.TOO_SMALL:
            sentence = f"the header says {stated}, but {there} of sound are there and were taken"
            return [Finding("length-too-small", sentence, brief="wrong length in its header")]
    left_over = chunk.n_present % form.frame_bytes
    if left_over:
        sentence = f"{left_over} bytes at the end make no whole sample and were left out"
        return [Finding("left-over-bytes", sentence)]
    return []


def _chunk_findings(chunks: Sequence[Chunk], form: WavFormat, *, join: bool) -> list[Finding]:
    findings = []
    odd = [chunk for chunk in chunks if not chunk.has_pad]
    if odd:
        names = ", ".join(_named(chunk) for chunk in odd)
        sentence = f"an odd chunk ({names}) lacks its pad byte; what follows was found all the same"
        findings.append(Finding("missing-pad-byte", sentence))
    unread = {
        _named(chunk): None
        for chunk in chunks
        if chunk.name not in STANDARD_NAMES and chunk.name != b"bext"
    }
    if unread:
        sentence = f"chunks that are not sound: {', '.join(unread)}"
        findings.append(Finding("other-chunks", sentence))
    sounds = [chunk for chunk in chunks if chunk.name == b"data"]
    if len(sounds) > 1:
        lengths = " and ".join(
            lasting(chunk.n_present / form.frame_bytes / form.sample_rate_hz) for chunk in sounds
        )
        what = "were joined" if join else "stand in it; only the first is read"
        sentence = f"{len(sounds)} pieces of sound ({lengths}) {what}"
        findings.append(Finding("several-pieces", sentence, brief=f"{len(sounds)} pieces"))
    return findings


def _named(chunk: Chunk) -> str:
    return f'"{chunk.name.decode("ascii").strip()}"'
