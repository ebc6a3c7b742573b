"""Sound files as they come in real life, each with the answer that is right.

The other half is in torture_faults.py.
"""

import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from wav_bytes import NO_LENGTH, Format, Wav, broadcast_chunk, chunk, system_time, words

RATE_HZ = 12_000
N_SAMPLES = 60_000
N_CYCLES = 5_003
"""Whole cycles in the file, and no shorter period: exactly -6.02 dBFS, and never the same twice."""
TONE_DBFS = -6.0206
"""A sine of half of full scale: 20 lg 0.5, by the definition of dBFS."""
START = datetime(2026, 11, 24, 21, 15, 7)


def tone(
    peak: float = 0.5,
    *,
    n_samples: int = N_SAMPLES,
    n_cycles: int = N_CYCLES,
    turn_rad: float = 0.0,
) -> NDArray[np.float64]:
    """Whole cycles, so that the level is exact."""
    return peak * np.cos(2.0 * np.pi * n_cycles * np.arange(n_samples) / n_samples + turn_rad)


def noise(seed: int = 3, peak: float = 0.1, n_samples: int = N_SAMPLES) -> NDArray[np.float64]:
    return peak * np.random.Generator(np.random.PCG64DXSM(seed)).standard_normal(n_samples)


def cut_flac(path: Path) -> None:
    soundfile.write(path, noise(), RATE_HZ, subtype="PCM_16")
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])


def with_hole(samples: NDArray[np.float64], start: int, values: Any) -> NDArray[np.float64]:
    samples = samples.copy()
    samples[start : start + np.size(values)] = values
    return samples


@dataclass(frozen=True)
class Torture:
    """One file and what is right to say of it."""

    row: str
    """What is odd about it, as in the collection of needs."""
    make: Callable[[Path], None]
    finding: str = ""
    """Kind of the finding that must be among them; none must weigh if empty."""
    says: str = ""
    """Part of a sentence: of that finding, or of the refusal."""
    level_dbfs: float | None = TONE_DBFS
    n_samples: int | None = N_SAMPLES
    verdict: str = "measuring"
    answers: dict[str, Any] = field(default_factory=dict)
    suffix: str = "wav"
    is_refused: bool = False
    question: str | None = None
    """Option that answers what is asked."""


def of(wav: Wav, *, cut_bytes: int = 0) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        content = wav.content()
        path.write_bytes(content[: len(content) - cut_bytes])

    return make


def saved(samples: NDArray[np.float64], subtype: str, rate_hz: int = RATE_HZ, **more: Any):
    """Written by libsndfile, an outside witness for every format it knows."""

    def make(path: Path) -> None:
        soundfile.write(path, samples, rate_hz, subtype=subtype, **more)

    return make


def stereo(left: NDArray[np.float64], right: NDArray[np.float64]) -> Callable[[Path], None]:
    return saved(np.stack((left, right), axis=1), "PCM_24")


def refused(row: str, make: Callable[[Path], None], says: str, **more: Any) -> Torture:
    return Torture(row, make, says=says, is_refused=True, **more)


def with_bytes(content: bytes) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        path.write_bytes(content)

    return make


TONE_16 = Wav(words(tone(), 16))
HALF_BYTES = N_SAMPLES  # half of the samples, two bytes each
LIST = chunk(b"LIST", b"INFO" + chunk(b"ICMT", b"pump motor, second day"))
OTHER = tone(0.4, n_cycles=2_003)

WORDS = [
    Torture("8-bit, unsigned", of(Wav(words(tone(), 8), Format(n_bits=8)))),
    Torture(
        "8-bit silence (all 128)",
        of(Wav(b"\x80" * N_SAMPLES, Format(n_bits=8))),
        finding="silent",
        level_dbfs=None,
        verdict="not-fit",
    ),
    Torture("16-bit", of(TONE_16)),
    Torture("24-bit", of(Wav(words(tone(), 24), Format(n_bits=24)))),
    Torture(
        "24 bits in words of 32, extensible",
        of(Wav(words(tone(), 32), Format(n_bits=32, valid_bits=24))),
    ),
    Torture("32-bit", of(Wav(words(tone(), 32), Format(n_bits=32)))),
    Torture("16-bit, extensible", of(Wav(words(tone(), 16), Format(valid_bits=16)))),
    Torture(
        "32-bit float, extensible",
        of(Wav(tone().astype("<f4").tobytes(), Format(n_bits=32, tag=3, valid_bits=32))),
    ),
    Torture("32-bit float", saved(tone(), "FLOAT")),
    Torture("64-bit float", saved(tone(), "DOUBLE")),
    Torture("A-law", saved(tone(), "ALAW"), finding="logarithmic"),
    Torture(
        "mu-law",
        saved(tone(), "ULAW"),
        finding="logarithmic",
        level_dbfs=-5.988,  # as libsndfile reads it: its own words are 0.03 dB high at this peak
    ),
    Torture("big-endian WAV", saved(tone(), "PCM_16", format="WAV", endian="BIG")),
    Torture("AIFF", saved(tone(), "PCM_24"), suffix="aiff"),
]

LENGTHS = [
    Torture(
        "data size 0 (recorder died)",
        of(TONE_16.but(stated=0)),
        finding="length-unknown",
        says="5.00 s were recovered",
    ),
    Torture(
        "data size FFFFFFFF (streamed)", of(TONE_16.but(stated=NO_LENGTH)), finding="length-unknown"
    ),
    Torture(
        "data size FFFFFFFF, text behind the sound",
        of(TONE_16.but(stated=NO_LENGTH, after=LIST)),
        finding="length-unknown",
    ),
    Torture(
        "truncated to a half",
        of(TONE_16, cut_bytes=HALF_BYTES),
        finding="cut-short",
        says="2.50 s that the header promises are lost, 2.50 s are there",
        n_samples=N_SAMPLES // 2,
    ),
    Torture(
        "header promises more",
        of(TONE_16.but(stated=4 * N_SAMPLES)),
        finding="cut-short",
        says="5.00 s that the header promises are lost",
    ),
    Torture(
        "header promises less",
        of(TONE_16.but(stated=HALF_BYTES)),
        finding="length-too-small",
        says="the header says 2.50 s, but 5.00 s of sound are there",
    ),
    Torture(
        "odd chunk without pad byte before the sound",
        of(TONE_16.but(before=chunk(b"note", b"fence", pad=False))),
        finding="missing-pad-byte",
    ),
    Torture(
        "odd chunk with pad byte",
        of(TONE_16.but(before=chunk(b"note", b"fence"))),
        finding="other-chunks",
    ),
    Torture(
        "odd sound without pad byte, text behind",
        of(Wav(words(tone()[:-1], 8), Format(n_bits=8), after=LIST, pad=False)),
        finding="missing-pad-byte",
        n_samples=N_SAMPLES - 1,
    ),
    Torture(
        "two data chunks",
        of(TONE_16.but(after=chunk(b"data", words(tone(), 16)))),
        finding="several-pieces",
        says="only the first is read",
        question="--join",
    ),
    Torture(
        "two data chunks, --join",
        of(TONE_16.but(after=chunk(b"data", words(tone(0.25), 16)))),
        finding="several-pieces",
        says="were joined",
        answers={"join": True},
        n_samples=2 * N_SAMPLES,
        level_dbfs=-8.0618,  # the mean of 1/4 and 1/16 as powers of peaks: 10 lg (5/32)
    ),
    Torture(
        "chunk with a start time before the sound (EBU Tech 3285)",
        of(TONE_16.but(before=broadcast_chunk(START))),
        finding="start-time",
        says="2026-11-24 21:15:07.000",
    ),
    Torture(
        "the same, counted in samples since midnight",
        of(
            TONE_16.but(
                before=broadcast_chunk(START, samples_since_midnight=RATE_HZ * 76_507 + 6_000)
            )
        ),
        finding="start-time",
        says="2026-11-24 21:15:07.500",
    ),
    Torture(
        "a recorder's own chunk with a start time",
        of(TONE_16.but(before=chunk(b"rcrd", struct.pack("<I", 7) + system_time(START)))),
        finding="start-time",
        says='by its "rcrd" chunk',
    ),
    Torture("RF64", of(Wav(words(tone(), 16), kind=b"RF64", stated=NO_LENGTH))),
    Torture(
        "RF64 whose 64-bit length was never written",
        of(Wav(b"", kind=b"RF64", stated=NO_LENGTH, after=words(tone(), 16))),
        finding="length-unknown",
    ),
    Torture(
        "FLAC, cut to a half",
        cut_flac,
        finding="cut-short",
        suffix="flac",
        n_samples=None,
        level_dbfs=None,
    ),
    refused("no data chunk", of(Wav(b"")), "holds no sound"),
    refused("0 bytes", with_bytes(b""), "is empty (0 bytes)"),
    refused("text", with_bytes(b"fence 6 to 9"), "is no sound file"),
    refused(
        "no format chunk",
        with_bytes(b"RIFF\0\0\0\0WAVE" + chunk(b"data", words(tone(), 16))),
        "has no format chunk",
    ),
]

RATES = [
    *(
        Torture(
            f"{rate_hz} Hz",
            saved(tone(n_samples=2 * rate_hz, n_cycles=2_003), "PCM_16", rate_hz),
            n_samples=2 * rate_hz,
        )
        for rate_hz in (8_000, 11_025, 12_000, 44_100, 48_000, 96_000, 192_000)
    ),
    Torture(
        "11 999 Hz",
        of(Wav(words(tone(), 16), Format(rate_hz=11_999))),
        finding="odd-rate",
        says="11 999 Hz is no usual sample rate; taken as it stands",
    ),
    refused("0 Hz", of(Wav(words(tone(), 16), Format(rate_hz=0))), "a sample rate of 0 Hz"),
    Torture(
        "4000 Hz",
        of(Wav(words(tone(), 16), Format(rate_hz=4_000))),
        finding="rate-too-low",
        verdict="sources-only",
    ),
]

CHANNELS = [
    Torture(
        "right channel silent",
        stereo(tone(), 0.0 * tone()),
        finding="channels",
        says="right is silent; left is taken",
    ),
    Torture(
        "right channel inverted",
        stereo(tone(), -tone()),
        finding="channels",
        says="their sum would be nothing",
    ),
    Torture(
        "identical channels", stereo(tone(), tone()), finding="channels", says="channels are alike"
    ),
    Torture(
        "the same sound, right weaker",
        stereo(0.5 * tone(), tone()),
        finding="channels",
        says="left 6.02 dB weaker; right is taken",
    ),
    Torture(
        "two antennas",
        stereo(tone() + noise(1), tone(0.4) + noise(2)),
        finding="channels",
        says="left and right differ",
        level_dbfs=None,
        question="--channel",
    ),
    Torture(
        "two antennas, --channel right",
        stereo(OTHER, tone()),
        finding="channels",
        answers={"channel": "right"},
    ),
    Torture(
        "two antennas, --channel sum",
        stereo(OTHER, tone()),
        finding="channels",
        answers={"channel": "sum"},
        level_dbfs=-9.893,  # half of each: peaks 0.2 and 0.25, 10 lg (0.04 + 0.0625)
    ),
    Torture(
        "four channels, one with sound",
        saved(np.stack((0 * OTHER, 0 * OTHER, tone(), 0 * OTHER), axis=1), "PCM_16"),
        finding="channels",
        says="channel 3 is taken",
    ),
    refused(
        "a channel that is not there",
        stereo(tone(), OTHER),
        'there is no channel "3"; give 1 to 2, left, right or sum',
        answers={"channel": "3"},
    ),
]
