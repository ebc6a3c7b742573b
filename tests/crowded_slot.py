"""Slots with several transmissions in white noise, made without the plan's machinery."""

from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.modes.registry import mode_named
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000
NOISE_SIGMA = 0.002
"""Low enough that 30 strong signals stay below full scale."""
FT8 = mode_named("ft8")


@dataclass(frozen=True, slots=True)
class Sent:
    """One transmission."""

    text: str
    audio_hz: float
    start_s: float
    snr_db: float
    phase_rad: float = 0.0


def draw_sent(rng: np.random.Generator, *, low_db: float = -18.0, high_db: float = 10.0) -> Sent:
    """A random message at a random place."""
    return Sent(
        text=FT8.draw_message(rng).text,
        audio_hz=rng.uniform(250.0, 2800.0),
        start_s=0.5 + rng.uniform(-1.0, 1.0),
        snr_db=rng.uniform(low_db, high_db),
        phase_rad=rng.uniform(0.0, 2.0 * np.pi),
    )


def crowded_slot(rng: np.random.Generator, sent: list[Sent]) -> Waveform:
    """Noise and transmissions; what lies outside the slot is cut off."""
    slot = NOISE_SIGMA * rng.standard_normal(round(FT8.facts.slot_s * RATE_HZ))
    # Noise of variance s^2 a sample has density s^2 / 6000; a signal's mean power is 0.5.
    density = NOISE_SIGMA**2 / (RATE_HZ / 2)
    for item in sent:
        signal = FT8.modulate(
            FT8.encode(FT8.pack(item.text)),
            sample_rate_hz=RATE_HZ,
            audio_hz=item.audio_hz,
            phase_rad=item.phase_rad,
        ).real
        power = units.ratio_from_db(item.snr_db) * density * units.REFERENCE_BANDWIDTH_HZ
        first = round(item.start_s * RATE_HZ)
        low, high = max(0, -first), min(signal.size, slot.size - first)
        slot[first + low : first + high] += np.sqrt(2.0 * power) * signal[low:high]
    return Waveform(slot.astype(np.float32), RATE_HZ)
