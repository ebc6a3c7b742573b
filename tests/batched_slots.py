"""Slots for checks of many slots at once."""

import numpy as np

from solidcopy import units
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.batched.receiver import BatchedReceiver
from solidcopy.receivers.builtin.receiver import build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000
SIGMA = 0.02
NEAR_DB = {"ft8": -21.0, "ft4": -17.5}
"""Where about every other slot is decoded: answers of both kinds are compared."""


def noise(rng, mode):
    return SIGMA * rng.standard_normal(round(mode.facts.slot_s * RATE_HZ))


def slot(rng, mode, snr_db, *, audio_hz=None):
    """Noise alone, or one random message in it."""
    samples = noise(rng, mode)
    if snr_db is not None:
        tones = mode.encode(mode.draw_message(rng))
        audio_hz = rng.uniform(300.0, 2600.0) if audio_hz is None else audio_hz
        signal = mode.modulate(tones, sample_rate_hz=RATE_HZ, audio_hz=audio_hz).real
        density = SIGMA**2 / (RATE_HZ / 2)
        power = units.ratio_from_db(snr_db) * density * units.REFERENCE_BANDWIDTH_HZ
        first = round(rng.uniform(0.2, 0.9) * RATE_HZ)
        samples[first : first + signal.size] += np.sqrt(2.0 * power) * signal
    return Waveform(samples.astype(np.float32), RATE_HZ)


def receivers(name, **settings):
    compiled = build_receiver(BuiltinSettings(**settings), mode_named(name))
    return compiled, BatchedReceiver(compiled, np)
