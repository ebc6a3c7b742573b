"""Recordings with known slots, made by a recorder of any rate that began at any moment.

Made without the package's own mixing: noise and signal are worked out on the recorder's samples,
each at its own true time.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.modes.registry import mode_named
from solidcopy.signals.waveform import Waveform

FINE_RATE_HZ = 48_000


@dataclass(frozen=True)
class Station:
    """Sends in every n-th slot."""

    audio_hz: float = 1500.0
    clock_s: float = 0.0
    """Late by so much."""
    first: int = 0
    every: int = 1


@dataclass(frozen=True)
class Recorder:
    """Begins before the first slot edge, and runs at its own rate."""

    edge_s: float
    """From its start to the first slot edge, true seconds."""
    rate_hz: float = 12_000.0
    """True; the header may say another."""
    header_hz: int = 12_000
    tone_hz: float | None = None


def recording(
    recorder: Recorder,
    stations: list[Station],
    *,
    n_slots: int,
    snr_db: float,
    mode: str = "ft8",
    seed: int = 1,
) -> Waveform:
    """Slots with random messages in white noise; SNR in 2500 Hz."""
    found, generator = mode_named(mode), np.random.default_rng(seed)
    facts, rate_hz = found.facts, recorder.rate_hz
    n_samples = int((recorder.edge_s + n_slots * facts.slot_s + 0.5) * rate_hz)
    density = 0.5 / 10.0 ** (snr_db / 10.0) / 2500.0
    samples = generator.standard_normal(n_samples) * np.sqrt(density * rate_hz / 2.0)
    for station in stations:
        for slot in range(station.first, n_slots, station.every):
            begins_s = recorder.edge_s + slot * facts.slot_s + facts.nominal_start_s
            tones = found.encode(found.draw_message(generator))
            _add(samples, recorder, begins_s + station.clock_s, _fine(found, tones, station))
    if recorder.tone_hz is not None:
        time_s = np.arange(n_samples) / rate_hz
        samples += 0.5 * np.sin(2.0 * np.pi * recorder.tone_hz * time_s)
    return Waveform((0.1 * samples).astype(np.float32), recorder.header_hz)


def _fine(mode, tones, station: Station) -> tuple[NDArray[np.complex128], float]:
    sent = mode.modulate(tones, sample_rate_hz=FINE_RATE_HZ, audio_hz=station.audio_hz)
    turn = np.exp(-2j * np.pi * station.audio_hz * np.arange(sent.size) / FINE_RATE_HZ)
    return sent * turn, station.audio_hz


def _add(
    samples: NDArray[np.float64],
    recorder: Recorder,
    begins_s: float,
    sent: tuple[NDArray[np.complex128], float],
) -> None:
    """The signal at each sample's true time, by straight lines between fine base-band samples."""
    base, audio_hz = sent
    first = int(np.ceil(begins_s * recorder.rate_hz))
    n_sent = int(base.size / FINE_RATE_HZ * recorder.rate_hz)
    places = np.arange(first, min(first + n_sent, samples.size))
    after_s = places / recorder.rate_hz - begins_s
    at = after_s * FINE_RATE_HZ
    number = np.arange(base.size)
    values = np.interp(at, number, base.real) + 1j * np.interp(at, number, base.imag)
    samples[places] += (values * np.exp(2j * np.pi * audio_hz * after_s)).real
