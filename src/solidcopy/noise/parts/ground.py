"""A recording made ready to be taken apart: transformed, its passband known, its lines cut out."""

from dataclasses import dataclass

import numpy as np

from solidcopy.errors import AudioFileError
from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.noise.features.floor import find_passband, measure_floor_curve
from solidcopy.noise.features.lines import Line, find_lines, find_surroundings
from solidcopy.noise.features.spectrum import measure_spectrum
from solidcopy.noise.parts.cells import Cells
from solidcopy.noise.parts.narrow import Transform, transform_of, without_stretches
from solidcopy.noise.parts.narrowband import humps_of
from solidcopy.signals.waveform import Waveform

SHORTEST_S = 2.0
SEGMENT_LIMITS_S = (0.25, 2.0)
SEGMENTS = 10.0
"""Lines are looked for in segments of a tenth of the recording, but two seconds at most."""
LINE_BINS = 4.0
"""A line is cut out of the spectrum to so many bins on either side, more if it is strong."""
WIDEST_HZ = 900.0
LEAST_BINS = 3
LEAST_BINS_SHARE = 0.3
"""So many bins of the passband must be left to tell an impulse from a narrow signal."""


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A recording made ready: its mean taken off, transformed, its passband known."""

    transform: Transform
    samples: FloatArray
    """(n_samples,) the mean taken off."""
    passband_hz: tuple[float, float]
    segment_s: float

    @property
    def sample_rate_hz(self) -> float:
        """Samples a second."""
        return self.transform.sample_rate_hz

    @property
    def duration_s(self) -> float:
        """Length."""
        return self.transform.duration_s

    @property
    def inner_band_hz(self) -> tuple[float, float]:
        """The passband without its skirts, where frames are compared."""
        skirt = 0.03 * (self.passband_hz[1] - self.passband_hz[0])
        return self.passband_hz[0] + skirt, self.passband_hz[1] - skirt


def ground_of(waveform: Waveform) -> Ground:
    """Raises AudioFileError for a recording that is too short or silent."""
    if waveform.duration_s < SHORTEST_S:
        raise AudioFileError(
            f"the recording lasts {waveform.duration_s:.2g} s; its parts need {SHORTEST_S:g} s or "
            "more, and half a minute to tell slow rhythms"
        )
    samples = waveform.samples.astype(np.float64)
    samples -= samples.mean()
    curve = measure_floor_curve(samples, sample_rate_hz=waveform.sample_rate_hz)
    passband_hz = None if isinstance(curve, CannotTell) else find_passband(curve)
    if passband_hz is None:
        raise AudioFileError("the recording is silent for the most part; there is no noise in it")
    return Ground(
        transform=transform_of(samples, sample_rate_hz=waveform.sample_rate_hz),
        samples=samples,
        passband_hz=(float(passband_hz[0]), float(passband_hz[1])),
        segment_s=min(
            max(waveform.duration_s / SEGMENTS, SEGMENT_LIMITS_S[0]), SEGMENT_LIMITS_S[1]
        ),
    )


def notched_of(ground: Ground) -> tuple[FloatArray, list[tuple[float, float]]]:
    """The recording with every line cut out, so that lines do not hide impulses, and the bands
    of what is wider than a line."""
    spectrum = measure_spectrum(
        ground.samples, sample_rate_hz=ground.sample_rate_hz, segment_s=ground.segment_s
    )
    around = find_surroundings(spectrum, ground.passband_hz)
    lines = find_lines(spectrum, around, ground.passband_hz)
    stretches = [_stretch(line, spectrum.bin_hz) for line in lines]
    humps = humps_of(spectrum, lines, ground.passband_hz)
    notched = without_stretches(ground.transform, stretches) if stretches else ground.samples
    # What is wider may be made of the impulses themselves, behind a narrower filter.
    narrow = [edges for edges in (hump.edges_hz for hump in humps) if np.ptp(edges) < WIDEST_HZ]
    return notched, narrow


def _stretch(line: Line, bin_hz: float) -> tuple[float, float]:
    reach_hz = LINE_BINS * bin_hz + 0.5 * max(line.over_floor_db, 0.0) / 10.0
    return line.frequency_hz.value - reach_hz, line.frequency_hz.value + reach_hz


def without_bands(cells: Cells, bands_hz: list[tuple[float, float]]) -> np.ndarray:
    """Bins of the cells outside some bands; all, if hardly any would be left."""
    outside = np.ones(cells.bins_hz.size, dtype=bool)
    for low_hz, high_hz in bands_hz:
        reach_hz = cells.bin_hz
        outside &= (cells.bins_hz < low_hz - reach_hz) | (cells.bins_hz > high_hz + reach_hz)
    enough = max(LEAST_BINS, round(LEAST_BINS_SHARE * outside.size))
    return outside if int(outside.sum()) >= enough else np.ones_like(outside)
