"""A twin made audible: its samples at the recording's level, to be set beside it."""

import math

import numpy as np
from pydantic import TypeAdapter

from solidcopy import units
from solidcopy.impairments.catalogue import AnyAdded
from solidcopy.impairments.chain.channel_filter import ChannelFilter
from solidcopy.impairments.impairment import Heard, Scene
from solidcopy.noise.twin.fitted import Twin
from solidcopy.signals.waveform import Waveform

SIGNAL_HZ = 1500.0
"""A place for a wanted signal that no part of a twin refers to."""


def sound_of(
    twin: Twin, *, duration_s: float, sample_rate_hz: int, generator: np.random.Generator
) -> Waveform:
    """Samples of a twin at the level of its recording.

    Args:
        generator: all draws come from it.
    """
    added: TypeAdapter[AnyAdded] = TypeAdapter(AnyAdded)
    n_samples = round(duration_s * sample_rate_hz)
    scene = Scene(sample_rate_hz, n_samples, SIGNAL_HZ, 0.0)
    sigma = units.white_noise_sigma(twin.floor_density.value, sample_rate_hz=sample_rate_hz)
    total = sigma * generator.standard_normal(n_samples)
    for part in twin.parts:
        made = added.validate_python(twin.fields(part)).synthesise(scene, generator)
        if made.reference_power > 0.0:
            total += math.sqrt(part.sent_power / made.reference_power) * made.samples
    heard = Heard(total, sample_rate_hz)
    through = ChannelFilter.model_validate(twin.filter_fields()).process(heard, generator)
    return Waveform(through.astype(np.float32), sample_rate_hz)
