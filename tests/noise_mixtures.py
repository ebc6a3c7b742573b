"""Made recordings of known mixtures: Gaussian noise and any impairments, through a passband."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from pydantic import TypeAdapter
from scipy import signal

from noise_pulses import HeardFence
from solidcopy import units
from solidcopy.impairments.catalogue import AnyAdded
from solidcopy.impairments.impairment import Scene
from solidcopy.signals import filters, power
from solidcopy.signals.waveform import Waveform

ADDED = TypeAdapter(AnyAdded)
NOISE_DBFS_IN_2500_HZ = -40.0
PASSBAND = filters.Band(200.0, 2900.0, skirt_hz=100.0)


@dataclass(frozen=True, slots=True)
class Mixed:
    """A recording and the power of each thing put into it."""

    waveform: Waveform
    levels_dbfs: tuple[float, ...]
    """Of each added thing, as it stands in the recording."""
    noise_dbfs: float


def mixed(
    added: Sequence[dict[str, Any] | HeardFence],
    *,
    seed: int,
    duration_s: float = 30.0,
    sample_rate_hz: int = 12_000,
    band: filters.Band | None = PASSBAND,
    soft_order: int | None = None,
) -> Mixed:
    """Gaussian noise at a fixed level, things at `interference_to_noise_db`, and a passband.

    Args:
        soft_order: of a Butterworth filter (scipy) with the same edges, instead of steep skirts.
    """
    generator = np.random.default_rng(np.random.SeedSequence(seed))
    scene = Scene(
        sample_rate_hz=sample_rate_hz,
        n_samples=round(duration_s * sample_rate_hz),
        wanted_audio_hz=1500.0,
        wanted_width_hz=50.0,
    )
    taps = None if band is None else filters.band_taps(band, sample_rate_hz=sample_rate_hz)

    def through(samples: np.ndarray) -> np.ndarray:
        if soft_order is not None:
            return signal.sosfilt(_soft(soft_order, sample_rate_hz), samples)
        if taps is None:
            return samples
        edge = taps.size // 2
        return filters.filtered_inside(np.pad(samples, edge), taps)

    in_reference = 2.0 * units.REFERENCE_BANDWIDTH_HZ / sample_rate_hz
    noise_power = units.power_from_dbfs(NOISE_DBFS_IN_2500_HZ)
    sigma = np.sqrt(noise_power / in_reference)
    noise = through(sigma * generator.standard_normal(scene.n_samples))
    total, levels = noise.copy(), []
    for one in added:
        samples = through(_made(one, scene, generator, noise_power))
        levels.append(units.dbfs_from_power(power.mean_power(samples)))
        total += samples
    return Mixed(
        Waveform(total.astype(np.float32), sample_rate_hz),
        tuple(levels),
        units.dbfs_from_power(power.mean_power(noise)),
    )


def _soft(order: int, sample_rate_hz: int) -> np.ndarray:
    edges_hz = (PASSBAND.low_hz, PASSBAND.high_hz)
    return signal.butter(order, edges_hz, "bandpass", fs=sample_rate_hz, output="sos")


def _made(
    one: dict[str, Any] | HeardFence,
    scene: Scene,
    generator: np.random.Generator,
    noise_power: float,
) -> np.ndarray:
    """Samples of one added thing at its level, before the passband."""
    if isinstance(one, HeardFence):
        samples = one.samples(scene.n_samples, scene.sample_rate_hz, generator)
        asked = noise_power * units.ratio_from_db(one.interference_to_noise_db)
        return samples * np.sqrt(asked / power.mean_power(samples))
    made = ADDED.validate_python(one)
    disturbance = made.synthesise(scene, generator)
    asked = noise_power * units.ratio_from_db(made.level().level_db)
    return np.sqrt(asked / disturbance.reference_power) * disturbance.samples
