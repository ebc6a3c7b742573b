"""Pictures of one re-made trial: spectrogram, spectrum and, where it tells, amplitudes."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from solidcopy.reports import ink
from solidcopy.reports.palette import INK, SERIES, SHADES, SOFT_INK
from solidcopy.reports.picture import Picture
from solidcopy.reports.samples import HIGHEST_HZ, Amplitudes, SampleFacts, rayleigh_place
from solidcopy.reports.wording import number

N_SHADES = 32
SHADED_DB = (-3.0, 21.0)
"""Below the first the paper stays white; above the second it is full ink."""

PROBABILITIES = (0.9, 0.5, 0.1, 0.01, 0.0001)
"""Ticks of the Rayleigh paper."""


def sample_picture(sample: SampleFacts, place: int) -> Picture:
    """All pictures of one re-made trial of the condition at a 0-based place."""
    name = f"sample-{place + 1}"
    with ink.style():
        svg = ink.svg_text(sample_sheet(sample), name)
    return Picture(name, f"Trial {sample.key}", _described(sample), _caption(sample), svg)


def sample_sheet(sample: SampleFacts) -> Figure:
    """Spectrogram, spectrum and, where they were taken, amplitudes side by side."""
    figure = ink.sheet(8.2, 3.5)
    widths = (3.2, 1.3) if sample.amplitudes is None else (3.2, 1.3, 2.2)
    grid = figure.add_gridspec(1, len(widths), width_ratios=widths)
    over_time = figure.add_subplot(grid[0])
    beside = figure.add_subplot(grid[1], sharey=over_time)
    _draw_spectrogram(over_time, sample)
    _draw_spectrum(beside, sample)
    if sample.amplitudes is not None:
        _draw_amplitudes(figure.add_subplot(grid[2]), sample.amplitudes)
    return figure


def _described(sample: SampleFacts) -> str:
    band = f"{sample.audio_hz:.0f} to {sample.audio_hz + sample.width_hz:.0f} Hz"
    text = (
        f"Spectrogram and spectrum of trial {sample.key} from 0 to 3 kHz. A frame marks the wanted "
        f"signal: {band}, {number(sample.start_s, 1)} to {number(sample.stop_s, 1)} s."
    )
    if sample.amplitudes is not None:
        text += (
            " Beside them the amplitude distribution: how often the envelope in 2500 Hz passes a "
            "level, with the straight line that Gaussian noise would give."
        )
    return text


def _caption(sample: SampleFacts) -> str:
    text = "The frame and the shaded stripe mark the wanted signal."
    if sample.amplitudes is not None:
        text += (
            " On the right, on a scale that makes Gaussian noise a straight line: how often the "
            "envelope in 2500 Hz passes a level. A rise on the right means impulses."
        )
    return text


def _draw_spectrogram(axes: Axes, sample: SampleFacts) -> None:
    picture = sample.spectrogram
    shades = LinearSegmentedColormap.from_list("paper to ink", list(SHADES), N=N_SHADES)
    axes.imshow(
        picture.levels_db,
        origin="lower",
        aspect="auto",
        extent=(0.0, picture.duration_s, 0.0, picture.highest_hz),
        cmap=shades,
        vmin=SHADED_DB[0],
        vmax=SHADED_DB[1],
        interpolation="nearest",
    )
    axes.add_patch(
        Rectangle(
            (sample.start_s, sample.audio_hz),
            sample.stop_s - sample.start_s,
            sample.width_hz,
            fill=False,
            edgecolor=SERIES[1].colour,
            linewidth=1.2,
        )
    )
    axes.grid(False)
    axes.set_xlim(0.0, picture.duration_s)
    axes.set_ylim(0.0, HIGHEST_HZ)
    axes.set_xlabel("time in the slot, s")
    axes.set_ylabel("frequency, Hz")
    axes.set_title("over time")


def _draw_spectrum(axes: Axes, sample: SampleFacts) -> None:
    axes.axhspan(
        sample.audio_hz, sample.audio_hz + sample.width_hz, color=SERIES[1].colour, alpha=0.25, lw=0
    )
    axes.plot(sample.spectrum_db, sample.spectrum_hz, color=INK, linewidth=0.9)
    middle = float(np.median(sample.spectrum_db))
    highest = float(sample.spectrum_db.max())
    axes.set_xlim(middle - 8.0, max(middle + 12.0, highest + 3.0))
    axes.tick_params(labelleft=False)
    axes.set_xlabel("dBFS in 1 Hz")
    axes.set_title("spectrum")


def _draw_amplitudes(axes: Axes, amplitudes: Amplitudes) -> None:
    """Rayleigh paper: a share p stands at 10 lg(−ln p), where Gaussian noise is a line of 1:1."""
    places = [rayleigh_place(float(p)) for p in amplitudes.p_exceeded]
    line = [places[0], places[-1]]
    axes.plot(line, line, color=SOFT_INK, dashes=(4, 2), linewidth=1.2, label="Gaussian noise")
    axes.plot(places, amplitudes.level_db, color=SERIES[0].colour, label="this trial")
    axes.set_xticks(
        [rayleigh_place(p) for p in PROBABILITIES],
        [f"{100 * p:g}" for p in PROBABILITIES],
    )
    axes.set_xlim(rayleigh_place(0.9), rayleigh_place(0.00004))
    axes.set_ylim(-12.0, max(14.0, float(amplitudes.level_db.max()) + 2.0))
    axes.set_xlabel("share of time above, %")
    axes.set_ylabel("envelope over its rms, dB")
    axes.set_title("amplitudes in 2500 Hz")
    axes.legend(loc="upper left")
