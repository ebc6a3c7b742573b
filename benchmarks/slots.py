"""Slots that the benchmarks hand to a receiver: noise alone, or one transmission in it."""

import numpy as np

from solidcopy import units
from solidcopy.modes.mode import Mode
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000
SIGMA = 0.02
NEAR_THRESHOLD_DB = {"ft8": -21.0, "ft4": -17.5}
"""SNR in 2500 Hz, weak on purpose. FT8: three of four slots are decoded (docs/accuracy.md); FT4:
chosen by eye, its share not measured here."""


def make_slot(rng: np.random.Generator, mode: Mode, *, snr_db: float | None) -> Waveform:
    """White noise, and unless `snr_db` is None one random message in it."""
    facts = mode.facts
    slot = SIGMA * rng.standard_normal(round(facts.slot_s * RATE_HZ))
    if snr_db is not None:
        tones = mode.encode(mode.draw_message(rng))
        audio_hz = rng.uniform(300.0, 2600.0)
        signal = mode.modulate(tones, sample_rate_hz=RATE_HZ, audio_hz=audio_hz).real
        density = SIGMA**2 / (RATE_HZ / 2)
        power = units.ratio_from_db(snr_db) * density * units.REFERENCE_BANDWIDTH_HZ
        first = round(rng.uniform(0.0, 2.0 * facts.nominal_start_s) * RATE_HZ)
        signal = signal[: slot.size - first]
        slot[first : first + signal.size] += np.sqrt(2.0 * power) * signal
    return Waveform(slot.astype(np.float32), RATE_HZ)
