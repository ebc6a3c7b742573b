"""Made recordings without a fault, of many kinds: what a check says of them is a false alarm.

Kinds follow what receivers and recorders give: noise of every bandwidth, impulses, speech-like
sound, gain riding, carriers, fading, quiet and loud files, every usual rate and word length,
changed rates.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

RATES_HZ = (8_000, 11_025, 12_000, 16_000, 22_050, 24_000, 32_000, 44_100, 48_000)
Sound = NDArray[np.float64]
SUBTYPES = ("PCM_16", "PCM_16", "PCM_24", "FLOAT", "PCM_U8")
KINDS = (
    "wide", "receiver", "narrow", "impulses", "fence", "speech-like", "gain riding", "carriers",
    "fading", "rate changed", "held noise", "morse", "tilted", "quiet", "two voices",
)  # fmt: skip


@dataclass(frozen=True)
class Clean:
    """One recording."""

    kind: str
    rate_hz: int
    subtype: str
    samples: Sound


def clean(number: int, *, seed: int = 0) -> Clean:
    """The recording of that number: kinds in turn, the rest by chance."""
    rng = np.random.Generator(np.random.PCG64DXSM([seed, number]))
    kind = KINDS[number % len(KINDS)]
    rate_hz = int(rng.choice(RATES_HZ))
    n_samples = int(rng.uniform(3.0, 12.0) * rate_hz)
    sound = _sound(kind, rng, n_samples, rate_hz)
    subtype = str(rng.choice(SUBTYPES))
    level_db = rng.uniform(-60.0, -45.0) if kind == "quiet" else rng.uniform(-32.0, -16.0)
    if subtype == "PCM_U8":
        level_db = max(level_db, -24.0)
    if kind == "quiet" and subtype == "PCM_U8":
        subtype = "PCM_16"
    sound *= 10.0 ** (level_db / 20.0) / np.sqrt(np.mean(np.square(sound)))
    peak = float(np.abs(sound).max())
    if peak > 0.95:  # a recorder set so that nothing clips
        sound *= 0.95 / peak
    return Clean(kind, rate_hz, subtype, sound)


@dataclass(frozen=True)
class _Making:
    """What every kind starts from."""

    rng: np.random.Generator
    rate_hz: int
    white: Sound
    band: Sound
    """Through a receiver."""

    @property
    def n_samples(self) -> int:
        return self.white.size

    @property
    def time_s(self) -> Sound:
        return np.arange(self.n_samples) / self.rate_hz


def _sound(kind: str, rng: np.random.Generator, n_samples: int, rate_hz: int) -> Sound:
    white = rng.standard_normal(n_samples)
    making = _Making(rng, rate_hz, white, _through(white, rng, rate_hz))
    return MAKERS.get(kind, lambda made: made.band)(making)


def _narrow(made: _Making) -> Sound:
    high_hz = 500.0 + made.rng.uniform(100.0, 500.0)
    return _between(made.white, 500.0, high_hz, made.rate_hz)


def _impulses(made: _Making) -> Sound:
    rng, n = made.rng, made.n_samples
    hits = rng.random(n) < rng.uniform(2.0, 60.0) / made.rate_hz
    strengths = hits * rng.exponential(rng.uniform(50.0, 500.0), n)
    return made.band + _through(strengths * rng.choice([-1.0, 1.0], n), rng, made.rate_hz)


def _fence(made: _Making) -> Sound:
    period = int(made.rng.uniform(0.9, 1.6) * made.rate_hz)
    pulses = np.zeros(made.n_samples)
    pulses[made.rng.integers(period) :: period] = made.rng.uniform(100.0, 2000.0)
    return made.band + _through(pulses, made.rng, made.rate_hz)


def _speech_like(made: _Making) -> Sound:
    return 0.1 * made.band + _speech(made.rng, made.n_samples, made.rate_hz)


def _two_voices(made: _Making) -> Sound:
    first = _speech(made.rng, made.n_samples, made.rate_hz)
    return first + 0.5 * _speech(made.rng, made.n_samples, made.rate_hz)


def _gain_riding(made: _Making) -> Sound:
    turn = 2.0 * np.pi * made.rng.uniform(0.05, 4.0) * made.time_s
    return made.band * 10.0 ** (made.rng.uniform(3.0, 15.0) / 20.0 * np.sin(turn))


def _carriers(made: _Making) -> Sound:
    rng = made.rng
    tones = [
        rng.uniform(0.1, 5.0) * np.sin(2.0 * np.pi * rng.uniform(300.0, 2700.0) * made.time_s)
        for _ in range(rng.integers(1, 6))
    ]
    return made.band + np.sum(tones, axis=0)


def _fading(made: _Making) -> Sound:
    slow = made.rng.standard_normal(made.n_samples // 100 + 2)
    slow = _between(slow, 0.2, 2.0, made.rate_hz // 100)
    gain = np.interp(np.arange(made.n_samples) / 100.0, np.arange(slow.size), slow)
    return 0.05 * made.band + made.band * gain / np.abs(gain).max()


def _rate_changed(made: _Making) -> Sound:
    other = int(made.rng.choice([rate for rate in RATES_HZ if rate != made.rate_hz]))
    source = made.rng.standard_normal(int(made.n_samples * other / made.rate_hz) + 100)
    return soxr.resample(source, other, made.rate_hz)[: made.n_samples]


def _held(made: _Making) -> Sound:
    steps = made.rng.choice([0.3, 1.0, 3.0], made.n_samples // 4_000 + 1)
    return made.band * np.repeat(steps, 4_000)[: made.n_samples]


def _morse(made: _Making) -> Sound:
    n_dot, n_edge = made.rate_hz // 16, made.rate_hz // 200
    keyed = np.repeat(made.rng.random(made.n_samples // n_dot + 1) < 0.5, n_dot)
    soft = np.convolve(keyed[: made.n_samples], np.hanning(n_edge) / (n_edge / 2.0))
    tone = np.sin(2.0 * np.pi * made.rng.uniform(400.0, 1200.0) * made.time_s)
    return 0.3 * made.band + 3.0 * soft[: made.n_samples] * tone


def _tilted(made: _Making) -> Sound:
    corner_hz = made.rng.uniform(100.0, 1000.0)
    return sosfilt(butter(1, corner_hz, fs=made.rate_hz, output="sos"), made.white)


def _through(sound: Sound, rng: np.random.Generator, rate_hz: int) -> Sound:
    """A receiver's filter, with a little of its own noise behind it."""
    high = min(rng.uniform(2200.0, 3800.0), 0.47 * rate_hz)
    filtered = _between(sound, rng.uniform(100.0, 400.0), high, rate_hz)
    size = np.sqrt(np.mean(np.square(filtered)))
    return filtered + 10.0 ** rng.uniform(-4.0, -2.0) * size * rng.standard_normal(sound.size)


def _between(sound: Sound, low_hz: float, high_hz: float, rate_hz: int) -> Sound:
    return sosfilt(butter(5, [low_hz, high_hz], "bandpass", fs=rate_hz, output="sos"), sound)


def _speech(rng: np.random.Generator, n_samples: int, rate_hz: int) -> Sound:
    """Pulses of a gliding pitch through resonances, in syllables with pauses."""
    pitch_hz = rng.uniform(90.0, 220.0)
    glide = np.cumsum(rng.standard_normal(n_samples)) / np.sqrt(rate_hz) * 0.02
    phase = np.cumsum(pitch_hz * np.exp(np.clip(glide, -0.5, 0.5)) / rate_hz)
    pulses = np.diff(np.floor(phase), prepend=0.0) + 0.02 * rng.standard_normal(n_samples)
    voiced = sum(
        _between(pulses, hz, 1.15 * hz, rate_hz)
        for hz in (rng.uniform(300, 800), rng.uniform(900, 1800), rng.uniform(2000, 2800))
    )
    syllable = np.repeat(rng.random(n_samples // (rate_hz // 5) + 2) < 0.7, rate_hz // 5)
    soft = np.convolve(syllable, np.hanning(rate_hz // 20) / (rate_hz / 40))[:n_samples]
    return voiced * soft + 1e-3 * np.std(voiced) * rng.standard_normal(n_samples)


MAKERS: dict[str, Callable[[_Making], Sound]] = {
    "wide": lambda made: made.white,
    "narrow": _narrow,
    "impulses": _impulses,
    "fence": _fence,
    "speech-like": _speech_like,
    "two voices": _two_voices,
    "gain riding": _gain_riding,
    "carriers": _carriers,
    "fading": _fading,
    "rate changed": _rate_changed,
    "held noise": _held,
    "morse": _morse,
    "tilted": _tilted,
}
"""All others are a receiver's noise."""
