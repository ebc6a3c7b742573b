"""A twin beside its recording: level, spectrum band by band, and amplitude distribution."""

import itertools
import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.impairments.added.recording_source import NOISE_BAND_HZ
from solidcopy.signals.amplitude_distribution import envelope, exceeded_levels
from solidcopy.signals.filters import Band
from solidcopy.signals.power import power_spectrum
from solidcopy.signals.waveform import Waveform

SHARES = (0.5, 0.1, 0.01, 1e-3, 1e-4)
"""Of the time, at which levels of the envelope are compared."""
N_BANDS = 8
LEAST_PASSES = 20.0
"""So many independent moments must lie beyond a share to be compared."""


@dataclass(frozen=True, slots=True)
class Beside:
    """One figure of both."""

    what: str
    recording: float
    twin: float

    @property
    def difference(self) -> float:
        """Twin less recording, dB."""
        return self.twin - self.recording


@dataclass(frozen=True, slots=True)
class Likeness:
    """How far a twin is from its recording, all in dB."""

    level: Beside
    """dBFS, between 200 and 2700 Hz."""
    bands: tuple[Beside, ...]
    """dBFS in each eighth of the shared band."""
    amplitudes: tuple[Beside, ...]
    """Envelope in 2500 Hz that shares of the time pass, over that of the recording's own rms."""

    def rows(self) -> list[Beside]:
        """All of it."""
        return [self.level, *self.bands, *self.amplitudes]


def likeness(recording: Waveform, twin: Waveform, passband_hz: tuple[float, float]) -> Likeness:
    """Both measured alike."""
    low_hz, high_hz = (
        max(NOISE_BAND_HZ[0], passband_hz[0]),
        min(NOISE_BAND_HZ[1], passband_hz[1]),
    )
    both = (recording, twin)
    spectra = [power_spectrum(w.samples, sample_rate_hz=w.sample_rate_hz) for w in both]
    edges_hz = np.linspace(low_hz, high_hz, N_BANDS + 1)
    level = [units.dbfs_from_power(s.band_power(*NOISE_BAND_HZ)) for s in spectra]
    bands = tuple(
        Beside(
            f"{first:.0f}-{last:.0f} Hz",
            *(units.dbfs_from_power(s.band_power(float(first), float(last))) for s in spectra),
        )
        for first, last in itertools.pairwise(edges_hz)
    )
    return Likeness(
        level=Beside("200-2700 Hz", *level),
        bands=bands,
        amplitudes=_amplitudes(recording, twin),
    )


def _amplitudes(recording: Waveform, twin: Waveform) -> tuple[Beside, ...]:
    band = Band(*NOISE_BAND_HZ, skirt_hz=100.0)
    least_s = min(recording.duration_s, twin.duration_s)
    n_independent = least_s * units.REFERENCE_BANDWIDTH_HZ
    shares = np.array([share for share in SHARES if share * n_independent >= LEAST_PASSES])
    found = [
        envelope(w.samples, sample_rate_hz=w.sample_rate_hz, band=band) for w in (recording, twin)
    ]
    rms = math.sqrt(float(np.square(found[0]).mean()))
    levels = [exceeded_levels(values, shares) / rms for values in found]
    return tuple(
        Beside(
            f"passed {100.0 * share:g} % of the time",
            units.db_from_ratio(float(here) ** 2),
            units.db_from_ratio(float(there) ** 2),
        )
        for share, here, there in zip(shares, *levels, strict=True)
    )
