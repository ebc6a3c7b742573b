"""Two lots of samples side by side: a file, and what its recipe makes."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from solidcopy.actions.recipe_pieces import Piece
from solidcopy.errors import AudioFileError
from solidcopy.signals.sample_count import (
    FULL_SCALE_16,
    SampleCounter,
    SampleFacts,
    Word,
    rounded_to_16_bits,
)
from solidcopy.signals.waveform import Samples

BLOCK_SAMPLES = 1 << 20
FLOAT_STEP = 2.0**-20
"""Largest difference of floats that is rounding: 120 dB below full scale. Another processor sums in
another order; 32-bit floats at full scale lie 2^-24 apart."""
STEPS = {"PCM_S8": 2.0**-7, "PCM_U8": 2.0**-7, "PCM_16": 2.0**-15}
STEPS |= {"PCM_24": 2.0**-23, "PCM_32": 2.0**-31}
WORDS: dict[str, Word] = {"PCM_16": "int16", "FLOAT": "float32"}


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What a sound file holds, whatever it says of itself."""

    format: str
    subtype: str
    n_channels: int
    sample_rate_hz: int
    n_samples: int
    word: Word | None
    """None: a word that we do not write."""
    samples: SampleFacts | None
    """None for such a word, or for several channels."""

    @property
    def step(self) -> float:
        """One step of the word, full scale ±1.0."""
        return STEPS.get(self.subtype, FLOAT_STEP)


def facts_of_file(path: Path) -> FileFacts:
    """Count the samples of a file. Raises what soundfile raises."""
    with soundfile.SoundFile(path) as opened:
        word = WORDS.get(opened.subtype)
        facts = None
        if word is not None and opened.channels == 1:
            counter = SampleCounter(word)
            for block in opened.blocks(BLOCK_SAMPLES, dtype=word):
                counter.add(block)
            facts = counter.facts
        return FileFacts(
            opened.format,
            opened.subtype,
            opened.channels,
            opened.samplerate,
            opened.frames,
            word,
            facts,
        )


@dataclass(slots=True)
class _Sums:
    """What is summed up while two lots of samples pass."""

    step: float
    n_unequal: int = 0
    n_beyond: int = 0
    first: int | None = None
    last: int | None = None
    largest: float = 0.0
    difference: float = 0.0
    file: float = 0.0
    made: float = 0.0
    product: float = 0.0

    def add(self, at: int, heard: Samples, made: Samples) -> int:
        """Samples from one place on; returns how many differ by more than a step."""
        apart = np.abs(heard - made)
        self.n_unequal += int(np.count_nonzero(apart))
        places = np.flatnonzero(~(apart <= self.step))  # not a number is beyond
        if places.size:
            self.first = at + int(places[0]) if self.first is None else self.first
            self.last = at + int(places[-1])
        self.n_beyond += places.size
        self.largest = max(self.largest, float(np.nanmax(apart, initial=0.0)))
        heard = np.nan_to_num(heard)
        self.difference += float(np.sum((heard - made) ** 2))
        self.file += float(np.sum(heard**2))
        self.made += float(np.sum(made**2))
        self.product += float(np.sum(heard * made))
        return int(places.size)


@dataclass(frozen=True, slots=True)
class Match:
    """How the file lies beside what its recipe makes."""

    n_made: int
    n_in_file: int
    n_unequal: int
    """Samples that differ at all, of those that both have."""
    n_beyond: int
    """Samples that differ by more than one step of the coarser word."""
    first_beyond: int | None
    """Sample number."""
    last_beyond: int | None
    step: float
    largest: float
    """Difference, full scale 1.0."""
    residual_ratio: float
    """Power of the difference over that of what is made."""
    gain: float
    """Amplitude factor under which the made samples fit the file best."""
    residual_after_gain_ratio: float
    """Power of what that leaves, over that of the scaled samples."""
    pieces_beyond: tuple[int, ...] = field(default=())
    """Numbers, from 1, of the pieces with such samples."""


def match(path: Path, pieces: Iterable[Piece], *, word: Word, file: FileFacts) -> Match:
    """Compare sample by sample; silence is expected between the pieces.

    Args:
        path: the file; of several channels, the first is compared.
        pieces: in order, not overlapping.
        word: to which the made samples are rounded before they are compared.
        file: facts of the file.
    """
    own_step = STEPS["PCM_16"] if word == "int16" else FLOAT_STEP
    sums = _Sums(max(own_step, file.step))
    beyond = []
    end = 0
    with soundfile.SoundFile(path) as opened:
        for number, (at, made) in enumerate(_with_silence(pieces, word)):
            heard = _read(opened, at, made.size)
            if sums.add(at, heard, made[: heard.size]) and number % 2:
                beyond.append(number // 2 + 1)
            end = at + made.size
    gain = sums.product / sums.made if sums.made > 0.0 else 1.0
    left = max(sums.file - gain * sums.product, 0.0)
    fitted = gain * sums.product
    return Match(
        n_made=end,
        n_in_file=file.n_samples,
        n_unequal=sums.n_unequal,
        n_beyond=sums.n_beyond,
        first_beyond=sums.first,
        last_beyond=sums.last,
        step=sums.step,
        largest=sums.largest,
        residual_ratio=sums.difference / sums.made if sums.made > 0.0 else 0.0,
        gain=gain,
        residual_after_gain_ratio=left / fitted if fitted > 0.0 else float("inf"),
        pieces_beyond=tuple(beyond),
    )


def _with_silence(pieces: Iterable[Piece], word: Word) -> Iterator[tuple[int, Samples]]:
    """Silence and pieces in turn, each with its first sample's number."""
    at = 0
    for piece in pieces:
        if piece.starts_at_sample < at:
            raise AudioFileError("the certificate is damaged: its slots overlap")
        yield at, np.zeros(piece.starts_at_sample - at)
        yield piece.starts_at_sample, _in_word(piece.samples, word)
        at = piece.starts_at_sample + piece.samples.size


def _in_word(samples: NDArray[np.floating], word: Word) -> Samples:
    if word == "int16":
        return rounded_to_16_bits(samples) / FULL_SCALE_16
    return samples.astype(np.float32).astype(np.float64)


def _read(opened: soundfile.SoundFile, at: int, n_samples: int) -> Samples:
    if at >= opened.frames:
        return np.zeros(0)
    opened.seek(at)
    values: Samples = opened.read(n_samples, dtype="float64", always_2d=True)[:, 0]
    return values
