"""Recordings of known content: white Gaussian noise of known density and added disturbances."""

import numpy as np

from solidcopy import units
from solidcopy.impairments.added.impulse_sources import ImpulseSources
from solidcopy.impairments.impairment import Added, Scene
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000
SIGMA = 0.02
"""Root mean square of the noise, full scale 1."""


def recording(duration_s, *parts, seed=1, rate_hz=RATE_HZ, sigma=SIGMA) -> Waveform:
    """White noise of `sigma` and parts (impairment, dB over the noise power in 2500 Hz)."""
    generator = np.random.Generator(np.random.PCG64DXSM(seed))
    samples = sigma * generator.standard_normal(round(duration_s * rate_hz))
    in_reference = sigma**2 * 2.0 * units.REFERENCE_BANDWIDTH_HZ / rate_hz
    for part, over_noise_db in parts:
        made = made_by(part, samples.size, rate_hz, generator)
        samples += made * np.sqrt(in_reference * units.ratio_from_db(over_noise_db))
    return Waveform(samples.astype(np.float32), rate_hz)


def made_by(part: Added, n_samples: int, rate_hz: int, generator: np.random.Generator):
    """Samples of one disturbance whose reference power is 1."""
    disturbance = part.synthesise(Scene(rate_hz, n_samples, 1500.0, 50.0), generator)
    return disturbance.samples / np.sqrt(disturbance.reference_power)


def sources(*items, **fields) -> ImpulseSources:
    """Named sources of impulses, each a dict."""
    return ImpulseSources.model_validate(
        {"sources": list(items), "interference_to_noise_db": 0.0, **fields}
    )
