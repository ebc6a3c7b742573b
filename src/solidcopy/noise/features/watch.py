"""One pass along the envelope of a recording: amplitudes, impulses and the series for rhythms."""

import math
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.noise.features.amplitudes import (
    N_BLOCKS,
    Amplitudes,
    AmplitudeSums,
    collect,
    summarise_amplitudes,
)
from solidcopy.noise.features.band_envelope import EnvelopePlan, envelope_powers, inner_band
from solidcopy.noise.features.figure import CannotTell, Figure, FloatArray
from solidcopy.noise.features.humps import without_lines
from solidcopy.noise.features.impulses import (
    FALSE_IMPULSES_PER_MINUTE,
    LONGEST_S,
    Found,
    Impulses,
    Thresholds,
    find_impulses,
    find_thresholds,
    local_levels,
    ratios_of,
)
from solidcopy.noise.features.lines import Line
from solidcopy.noise.features.rhythm import SERIES_HZ, series_of
from solidcopy.noise.features.spectrum import Spectrum
from solidcopy.signals.band_noise import skirted_amplitude
from solidcopy.signals.filters import Band
from solidcopy.signals.waveform import Waveform

NOTCH_HZ = 3.0
"""Cut out on either side of a steady line."""
KEYED_NOTCH_HZ = 25.0
"""And of a keyed one, whose sidebands reach further."""
NARROWEST_HZ = 100.0


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """What one pass along the envelope gives."""

    amplitudes: Amplitudes | CannotTell
    impulses: Impulses | CannotTell
    series: FloatArray
    """(n,) power over the local level."""
    series_rate_hz: float


@dataclass(frozen=True, slots=True)
class Statistics:
    """How fast the envelope of Gaussian noise of this spectrum moves."""

    effective_hz: float
    """Bandwidth of the rectangle of equal fluctuation."""
    rms_spread_hz: float
    """Standard deviation of the power about its centre."""


def watch_envelope(
    waveform: Waveform,
    passband_hz: tuple[float, float],
    lines: tuple[Line, ...],
    spectrum: Spectrum,
) -> Watched:
    """Amplitudes, impulses and the envelope's series of everything but the given lines."""
    if passband_hz[1] - passband_hz[0] < NARROWEST_HZ:
        why = CannotTell(f"the passband is narrower than {NARROWEST_HZ:g} Hz")
        return Watched(why, why, np.zeros(0), SERIES_HZ)
    band = inner_band(passband_hz)
    notches_hz = notches_of(lines, spectrum.bin_hz)
    rate_hz = float(waveform.sample_rate_hz)
    plan = EnvelopePlan(band, notches_hz, rate_hz, waveform.samples.size)
    moves = statistics_of(without_lines(spectrum, lines), spectrum.bin_hz, band)
    envelope_rate_hz = plan.envelope_rate_hz
    thresholds = find_thresholds(
        envelope_rate_hz=envelope_rate_hz,
        effective_hz=moves.effective_hz,
        rms_spread_hz=moves.rms_spread_hz,
    )
    n_averaged = max(1, math.floor(envelope_rate_hz / SERIES_HZ))
    passed = _pass_along(
        waveform, plan, thresholds, n_averaged=n_averaged, effective_hz=moves.effective_hz
    )
    impulses = gather(passed.found, thresholds, energy=passed.energy, watched_s=plan.watched_s)
    amplitudes = summarise_amplitudes(
        passed.sums,
        band_hz=(band.low_hz, band.high_hz),
        n_independent=moves.effective_hz * (plan.watched_s[1] - plan.watched_s[0]),
    )
    return Watched(amplitudes, impulses, passed.series, envelope_rate_hz / n_averaged)


@dataclass(frozen=True, slots=True, eq=False)
class _Passed:
    """What is collected stretch by stretch."""

    sums: list[AmplitudeSums]
    found: list[tuple[float, Found]]
    """Begin of each stretch in seconds, and its impulses."""
    series: FloatArray
    energy: float
    """Power times seconds."""


def _pass_along(
    waveform: Waveform,
    plan: EnvelopePlan,
    thresholds: Thresholds,
    *,
    n_averaged: int,
    effective_hz: float,
) -> _Passed:
    """Go through the recording once."""
    envelope_rate_hz = plan.envelope_rate_hz
    blocks_a_value = N_BLOCKS / (plan.n_watched * plan.n_out / plan.n_stretch)
    sums: list[AmplitudeSums] = []
    found: list[tuple[float, Found]] = []
    series: list[FloatArray] = []
    rest, energy, done = np.zeros(0), 0.0, 0
    for powers in envelope_powers(waveform.samples, plan):
        if powers.size == 0:
            continue
        levels = local_levels(powers, envelope_rate_hz, effective_hz)
        blocks = (np.arange(done, done + powers.size) * blocks_a_value).astype(np.int64)
        blocks = np.minimum(blocks, N_BLOCKS - 1)
        sums.append(collect(powers, blocks, n_span=round(envelope_rate_hz)))
        begin_s = plan.begin_s + done / envelope_rate_hz
        found.append((begin_s, find_impulses(powers, levels, thresholds, envelope_rate_hz)))
        # What does not fill a value of the series waits for the next stretch.
        ratios = np.concatenate([rest, ratios_of(powers, levels)])
        rest = ratios[ratios.size // n_averaged * n_averaged :]
        series.append(series_of(ratios, n_averaged))
        energy += float(powers.sum()) / envelope_rate_hz / 2.0
        done += powers.size
    return _Passed(sums, found, np.concatenate(series), energy)


def notches_of(lines: tuple[Line, ...], bin_hz: float) -> FloatArray:
    """From where to where each line is cut out, (n_lines, 2)."""
    notches = []
    for line in lines:
        is_steady = isinstance(line.keying, CannotTell) or line.keying.kind == "steady"
        half_hz = max(NOTCH_HZ if is_steady else KEYED_NOTCH_HZ, 2.0 * bin_hz)
        notches.append((line.frequency_hz.value - half_hz, line.frequency_hz.value + half_hz))
    return np.array(notches).reshape(-1, 2)


def statistics_of(densities: FloatArray, bin_hz: float, band: Band) -> Statistics:
    """Bandwidths of noise of this spectrum behind a band filter."""
    frequencies_hz = bin_hz * np.arange(densities.size, dtype=np.float64)
    passed = densities * np.square(skirted_amplitude(band, frequencies_hz))
    total = float(passed.sum())
    centre_hz = float(passed @ frequencies_hz) / total
    spread = float(passed @ np.square(frequencies_hz - centre_hz)) / total
    effective_hz = bin_hz * total**2 / float(np.square(passed).sum())
    return Statistics(effective_hz, math.sqrt(spread))


def gather(
    parts: list[tuple[float, Found]],
    thresholds: Thresholds,
    *,
    energy: float,
    watched_s: tuple[float, float],
) -> Impulses:
    """Impulses of all stretches in one list, what is too long to be one left out.

    Args:
        parts: begin of each stretch in seconds, and what was found in it.
        energy: of the whole recording in the band, power times seconds.
    """
    times_s = np.concatenate([begin_s + part.times_s for begin_s, part in parts])
    lengths_s = np.concatenate([part.lengths_s for _, part in parts])
    peaks = np.concatenate([part.peaks for _, part in parts])
    levels = np.concatenate([part.levels for _, part in parts])
    energies = np.concatenate([part.energies for _, part in parts])
    is_short = lengths_s <= LONGEST_S
    n_impulses = int(is_short.sum())
    minutes = (watched_s[1] - watched_s[0]) / 60.0
    share = float(energies[is_short].sum()) / energy if energy > 0.0 else 0.0
    scatter = math.sqrt(float(np.square(energies[is_short]).sum())) / energy if energy else 0.0
    full = units.FULL_SCALE_SINE_POWER
    return Impulses(
        watched_s=watched_s,
        times_s=times_s[is_short],
        lengths_s=lengths_s[is_short],
        peaks_dbfs=units.dbfs_from_powers(peaks[is_short] * full),
        peaks_over_floor_db=units.dbfs_from_powers(peaks[is_short] / levels[is_short] * full),
        energies=energies[is_short],
        rate_per_minute=Figure(n_impulses / minutes, math.sqrt(n_impulses) / minutes),
        energy_share=Figure(share, scatter * (1.0 - share)),
        false_alarms_per_minute=FALSE_IMPULSES_PER_MINUTE,
        threshold_over_floor_db=units.db_from_ratio(thresholds.ratios[0]),
        n_long=int(is_short.size) - n_impulses,
    )
