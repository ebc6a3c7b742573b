"""Sound files with faults in the sound itself, each with the answer that is right.

See torture_sounds.py; torture_table.py asks for the answers.
"""

import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from torture_sounds import (
    CHANNELS,
    LENGTHS,
    N_SAMPLES,
    RATE_HZ,
    RATES,
    WORDS,
    Torture,
    noise,
    of,
    refused,
    saved,
    tone,
    with_hole,
)
from wav_bytes import Wav, words

NOISE_DBFS = -16.99
"""Gaussian noise of standard deviation 0.1: 10 lg (0.01 / 0.5). Seeds are chosen by nothing."""


def analytic(seed: int, low: float, high: float) -> np.ndarray:
    """Complex noise between two shares of the sample rate (negative: below the centre)."""
    rng = np.random.Generator(np.random.PCG64DXSM(seed))
    spectrum = rng.standard_normal(N_SAMPLES) + 1j * rng.standard_normal(N_SAMPLES)
    share = np.fft.fftfreq(N_SAMPLES)
    spectrum[(share < low) | (share > high)] = 0.0
    made = np.fft.ifft(spectrum)
    return made / np.sqrt(np.mean(np.abs(made) ** 2))


def receiver_iq() -> np.ndarray:
    """A tone above the centre and three times weaker noise below it."""
    upper = 0.5 * np.exp(2j * np.pi * 1_003 * np.arange(N_SAMPLES) / N_SAMPLES)
    return upper + 0.05 * analytic(5, -0.3, -0.1)


def iq_pair() -> np.ndarray:
    made = receiver_iq()
    return np.stack((made.real, made.imag), axis=1)


IQ = [
    Torture(
        "I and Q in stereo",
        saved(iq_pair(), "PCM_16"),
        finding="channels",
        says="a quarter turn apart",
        level_dbfs=None,
        question="--iq",
    ),
    Torture(
        "I and Q, --iq upper",
        saved(iq_pair(), "PCM_16"),
        finding="channels",
        answers={"iq": "upper"},
    ),
    Torture(
        "I and Q, --iq lower",
        saved(iq_pair(), "PCM_16"),
        finding="channels",
        answers={"iq": "lower"},
        level_dbfs=-26.02,  # complex noise of power 0.0025: real audio of half of that
    ),
    refused(
        "one channel, --iq upper",
        saved(tone(), "PCM_16"),
        "I and Q need two channels, and it has 1",
        answers={"iq": "upper"},
    ),
]

FLOATS = [
    Torture(
        "float beyond ±1",
        saved(tone(2.0), "FLOAT"),
        finding="over-full-scale",
        says="by up to 6.02 dB; levels are kept",
        level_dbfs=6.0206,
    ),
    refused(
        "NaN",
        saved(with_hole(tone(), 30_000, np.nan), "FLOAT"),
        "a sample is no number (NaN) at 2.500 s",
    ),
    refused(
        "infinite",
        saved(with_hole(tone(), 45_000, -np.inf), "FLOAT"),
        "a sample is no number (infinite) at 3.750 s",
    ),
    refused(
        "finite, but no sound", saved(with_hole(tone(), 9, 1e200), "DOUBLE"), "values up to 1e+200"
    ),
]

LOSSY = [
    Torture("FLAC, 16-bit", saved(tone(), "PCM_16"), suffix="flac"),
    Torture("FLAC, 24-bit", saved(tone(), "PCM_24"), suffix="flac"),
    *(
        Torture(
            name,
            saved(noise(n_samples=48_000), subtype, 48_000, format=container),
            finding="lossy",
            says="is lossy and changes noise, so it is not for measuring",
            level_dbfs=None,
            n_samples=48_000,
            verdict="sources-only",
            suffix=suffix,
        )
        for name, container, subtype, suffix in (
            ("OGG (Vorbis)", "OGG", "VORBIS", "ogg"),
            ("OGG (Opus)", "OGG", "OPUS", "opus"),
            ("MP3", "MP3", "MPEG_LAYER_III", "mp3"),
        )
    ),
]


def differences(path: Path) -> None:
    """libsndfile counts the filling of its last block as sound; the fact chunk may know better."""
    soundfile.write(path, noise(n_samples=48_000), 48_000, subtype="IMA_ADPCM")
    content = bytearray(path.read_bytes())
    struct.pack_into("<I", content, content.index(b"fact") + 8, 48_000)
    path.write_bytes(content)


LOSSY.append(
    Torture(
        "WAV with 4-bit differences",
        differences,
        finding="lossy",
        level_dbfs=None,
        n_samples=48_000,
        verdict="sources-only",
    )
)


def once_coded(form: str, subtype: str) -> Callable[[Path], None]:
    """Decoded and saved as WAV: nothing in the file tells of it."""

    def make(path: Path) -> None:
        coded = path.with_suffix(".coded")
        soundfile.write(coded, noise(n_samples=144_000), 48_000, format=form, subtype=subtype)
        samples, rate_hz = soundfile.read(coded)
        soundfile.write(path, samples[:144_000], rate_hz, subtype="PCM_16")
        coded.unlink()

    return make


LOSSY += [
    Torture(
        f"WAV that was {name} once",
        once_coded(form, subtype),
        finding="once-lossy",
        says=f"frames like {name}'s",
        level_dbfs=None,
        n_samples=None,
        verdict="sources-only",
    )
    for name, form, subtype in (
        ("MP3", "MP3", "MPEG_LAYER_III"),
        ("Vorbis", "OGG", "VORBIS"),
        ("Opus", "OGG", "OPUS"),
    )
]
LOSSY.append(
    Torture(
        "WAV with a telephone code that cannot be entered in the middle",
        saved(noise(n_samples=48_000), "GSM610", 8_000),
        finding="lossy",
        says="is lossy and changes noise, so it is not for measuring",
        level_dbfs=None,
        n_samples=None,
        verdict="sources-only",
    )
)
OTHER_CONTAINERS = [
    Torture(f"{container}, {subtype}", saved(tone(), subtype, format=container), suffix=suffix)
    for container, subtype, suffix in (
        ("AIFF", "PCM_24", "aifc"),
        ("AU", "PCM_16", "au"),
        ("CAF", "PCM_24", "caf"),
        ("W64", "FLOAT", "w64"),
        ("VOC", "PCM_16", "voc"),
        ("IRCAM", "PCM_16", "sf"),
        ("MAT5", "DOUBLE", "mat"),
        ("NIST", "PCM_16", "sph"),
        ("RF64", "PCM_24", "wav"),
    )
]

CLIPPED = np.clip(tone(1.0), -0.5, 0.5)
GAPS = with_hole(with_hole(noise(), 12_000, np.zeros(1_200)), 36_000, np.zeros(600))
STUCK = with_hole(noise(), 24_000, np.full(1_200, 0.05))
REPEATED = with_hole(noise(), 24_512, noise()[24_000:24_512])
HUM = noise(peak=0.01) + 0.05 * np.cos(2 * np.pi * 50 * np.arange(N_SAMPLES) / RATE_HZ)
HUM += 0.02 * np.cos(2 * np.pi * 150 * np.arange(N_SAMPLES) / RATE_HZ)

FAULTS = [
    Torture(
        "constant offset",
        saved(tone() + 0.25, "PCM_16"),
        finding="offset",
        says="would overstate the level by 1.76 dB",  # 1/16 beside 1/8: 10 lg 1.5
    ),
    Torture(
        "mains hum",
        saved(HUM, "PCM_16"),
        finding="hum",
        says="2 multiples of 50 Hz, -25.4 dBFS",  # 10 lg (0.05² + 0.02²)
        level_dbfs=None,
    ),
    Torture(
        "silence",
        of(Wav(bytes(2 * N_SAMPLES))),
        finding="silent",
        level_dbfs=None,
        verdict="not-fit",
    ),
    Torture(
        "one stuck value",
        of(Wav(words(np.full(N_SAMPLES, 0.25), 16))),
        finding="stuck",
        says="all are 0.25",
        level_dbfs=None,
        verdict="not-fit",
    ),
    Torture(
        "value stuck for a while",
        saved(STUCK, "PCM_16"),
        finding="gaps",
        says="1 stretch of one value, 0.10 s in all, at 2.00 s",
        level_dbfs=None,
        verdict="sources-only",
    ),
    Torture(
        "gaps filled with zeros",
        saved(GAPS, "PCM_16"),
        finding="gaps",
        says="2 gaps, 0.15 s in all, at 1.00 and 3.00 s",
        level_dbfs=None,
        verdict="sources-only",
    ),
    Torture(
        "silent start",
        saved(with_hole(noise(), 0, np.zeros(6_000)), "PCM_16"),
        finding="still-at-start",
        says="silent for the first 0.50 s",
        level_dbfs=None,
    ),
    Torture(
        "repeated buffer",
        saved(REPEATED, "PCM_16"),
        finding="repeated",
        says="a buffer came twice (the first of 42.7 ms), at 2.04 s",
        level_dbfs=None,
    ),
    Torture(
        "clipped at full scale",
        saved(np.clip(tone(2.0), -1.0, 1.0), "PCM_16"),
        finding="clipped",
        says="67 % clipped",  # a sine of twice full scale is beyond it 2/pi acos(1/2) of the time
        level_dbfs=None,
        verdict="sources-only",
    ),
    Torture(
        "clipped below full scale",
        saved(CLIPPED, "PCM_24"),
        finding="clipped",
        says="67 % clipped at -6.0 dBFS, below full scale",
        level_dbfs=None,
        verdict="sources-only",
    ),
    Torture(
        "three clipped pulses",
        saved(with_hole(noise(peak=0.01), 30_000, np.ones(3)), "PCM_16"),
        finding="clipped",
        says="3 samples in 1 run, the longest of 3; first at 2.50 s",
        level_dbfs=None,
    ),
    Torture(
        "a tone of 12 samples, not clipped",
        saved(np.cos(2 * np.pi * (np.arange(N_SAMPLES) + 0.5) / 12) / 2, "PCM_16"),
        finding="periodic",
        says="every 12 samples",
    ),
    Torture(
        "a tone of 12 samples, clipped",
        saved(np.clip(np.cos(2 * np.pi * np.arange(N_SAMPLES) / 12), -0.8, 0.8), "PCM_16"),
        finding="clipped",
        says="50 % clipped at -1.9 dBFS",
        level_dbfs=None,
        verdict="sources-only",
    ),
    Torture("full scale, not clipped", saved(tone(32_767 / 32_768), "PCM_16"), level_dbfs=0.0),
    Torture(
        "too faint for its words",
        saved(noise(peak=1.0 / 32_768), "PCM_16"),
        finding="too-faint",
        level_dbfs=None,
        verdict="sources-only",
    ),
    Torture(
        "16-bit sound in 24-bit words",
        saved(np.rint(tone() * 32_768) / 32_768, "PCM_24"),
        finding="unused-bits",
        says="lowest 8 bits are never used",
    ),
    Torture(
        "half a second", saved(tone()[:6_000], "PCM_16"), finding="too-short", n_samples=6_000,
        verdict="sources-only", level_dbfs=None,
    ),
    Torture("noise, nothing odd", saved(noise(), "PCM_16"), level_dbfs=None),
]  # fmt: skip

ALL = [*WORDS, *LENGTHS, *OTHER_CONTAINERS, *RATES, *CHANNELS, *IQ, *FLOATS, *LOSSY, *FAULTS]
