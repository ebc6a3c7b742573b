"""The figure of an evidence sheet: mean spectra, and some seconds of each recording."""

import numpy as np
from matplotlib.axes import Axes

from solidcopy import units
from solidcopy.noise.features.spectrum import measure_spectrum
from solidcopy.reports import ink
from solidcopy.reports.evidence.facts import EvidenceFacts, Heard
from solidcopy.reports.palette import series_style
from solidcopy.reports.picture import Picture
from solidcopy.signals.waveform import Waveform

SEGMENT_S = 0.25
SHOWN_S = 10.0
STEP_S = 0.01
MOST_SIGNS = 18
DEEPEST_DB = 30.0
"""Below the median of the passband nothing is drawn."""


def evidence_picture(facts: EvidenceFacts, headline: str) -> Picture:
    """Spectrum on the left, peaks over time on the right."""
    n_heard = len(facts.heard)
    with ink.style():
        figure = ink.sheet(8.6, 3.5)
        grid = figure.add_gridspec(n_heard, 2)
        _spectra(figure.add_subplot(grid[:, 0]), facts)
        rows = [figure.add_subplot(grid[place, 1]) for place in range(n_heard)]
        lows, highs = zip(
            *(
                _course(axes, facts, one, place)
                for place, (axes, one) in enumerate(zip(rows, facts.heard, strict=True))
            ),
            strict=True,
        )
        for axes in rows:
            axes.set_ylim(min(lows) - 3.0, max(highs) + 5.0)
            axes.set_xlim(0.0, SHOWN_S)
        for axes in rows[:-1]:
            axes.tick_params(labelbottom=False)
        rows[-1].set_xlabel("time, s")
        svg = ink.svg_text(figure, "evidence")
    return Picture(
        "evidence",
        "Spectrum and course of the noise",
        f"Left: mean power density over frequency. Right: highest sample in each hundredth of a "
        f"second, the first {SHOWN_S:g} s of each recording. {headline}",
        f"Left: mean density over each whole recording. Right: highest sample in each hundredth of "
        f"a second over the first {SHOWN_S:g} s, all frequencies; one scale for all.",
        svg,
    )


def _spectra(axes: Axes, facts: EvidenceFacts) -> None:
    lowest = []
    low_hz, high_hz = facts.passband_hz
    for place, one in enumerate(facts.heard):
        spectrum = measure_spectrum(
            one.waveform.samples, sample_rate_hz=one.waveform.sample_rate_hz, segment_s=SEGMENT_S
        )
        frequencies = spectrum.frequencies_hz
        levels = spectrum.densities_dbfs_per_hz() - one.gain_db + facts.shown(0.0)
        shown = frequencies <= 1.15 * high_hz
        inside = (frequencies >= low_hz) & (frequencies <= high_hz)
        lowest.append(float(np.median(levels[inside])) - DEEPEST_DB)
        style = series_style(place)[0]
        axes.plot(
            frequencies[shown],
            levels[shown],
            color=style.colour,
            linewidth=1.3,
            dashes=style.dashes or (1, 0),
            label=_brief(one.taken.state),
        )
    axes.set_xlim(0.0, 1.15 * high_hz)
    axes.set_ylim(bottom=max(min(lowest), axes.get_ylim()[0]))
    axes.margins(y=0.2)
    axes.set_xlabel("frequency, Hz")
    axes.set_ylabel(f"{facts.unit} in 1 Hz")
    axes.set_title("mean spectrum")
    axes.legend(loc="lower center")


def _course(axes: Axes, facts: EvidenceFacts, one: Heard, place: int) -> tuple[float, float]:
    """Draws the course; returns the lowest and the highest level."""
    levels = facts.shown(0.0) - one.gain_db + peaks_db(one.waveform)
    times = STEP_S * np.arange(levels.size)
    axes.plot(times, levels, color=series_style(place)[0].colour, linewidth=0.7)
    axes.set_ylabel(facts.unit)
    axes.set_title(f"peaks: {_brief(one.taken.state)}")
    is_there = np.isfinite(levels)
    if not is_there.any():
        return 0.0, 0.0
    return float(np.percentile(levels[is_there], 1)), float(levels[is_there].max())


def _brief(state: str) -> str:
    """As much of it as a figure has room for."""
    return state if len(state) <= MOST_SIGNS else f"{state[: MOST_SIGNS - 1].rstrip()}…"


def peaks_db(waveform: Waveform) -> np.ndarray:
    """Highest magnitude in each hundredth of the first seconds, dB under full scale."""
    n_step = round(STEP_S * waveform.sample_rate_hz)
    samples = waveform.samples[: round(SHOWN_S * waveform.sample_rate_hz) // n_step * n_step]
    peaks = np.abs(samples.astype(np.float64).reshape(-1, n_step)).max(axis=1)
    return units.db_from_ratios(np.square(peaks))
