"""Pictures of a recorded noise with its parts marked: spectrum, spectrogram, envelope."""

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.noise.features.spectrum import measure_spectrum
from solidcopy.noise.parts.part import Part, PartKind, PartsList
from solidcopy.reports import ink
from solidcopy.reports.noise_words import headline, part_name
from solidcopy.reports.palette import INK, SHADES, series_style
from solidcopy.reports.picture import Picture
from solidcopy.signals.waveform import Waveform

Array = NDArray[np.float64]

N_SHADES = 32
SHADED_DB = (-3.0, 24.0)
N_COLUMNS = 480
"""Times of the spectrogram: more than that is not seen."""
WINDOW_S = 0.064
SHOWN_S = 15.0
"""Of the envelope, so many seconds are shown: rhythms would run together in more."""
ENVELOPE_STEPS = 1500
MARKED_PARTS = 10
MOST_TICKS = 400
"""Impulses of one part that are ticked at most, taken evenly from all."""
FLAT_KINDS = (PartKind.FLOOR, PartKind.PERIODIC_IMPULSES, PartKind.RANDOM_IMPULSES)


@dataclass(frozen=True, slots=True)
class Marked:
    """One part with the colour and number that mark it in every picture."""

    number: int
    part: Part
    colour: str

    @property
    def label(self) -> str:
        """Number and name."""
        return f"{self.number}  {part_name(self.part)}"


def noise_pictures(waveform: Waveform, whole: PartsList) -> tuple[Picture, ...]:
    """Spectrum, spectrogram and envelope, in this order."""
    marked = _marked(whole)
    with ink.style():
        spectrum = ink.svg_text(spectrum_sheet(waveform, whole, marked), "noise-spectrum")
        over_time = ink.svg_text(spectrogram_sheet(waveform, whole, marked), "noise-spectrogram")
        envelope = ink.svg_text(envelope_sheet(waveform, whole, marked), "noise-envelope")
    names = "; ".join(f"{mark.number}: {part_name(mark.part)}" for mark in marked)
    return (
        Picture(
            "noise-spectrum",
            "Spectrum with the parts marked",
            f"Mean power density over frequency. {headline(whole)} {names}.",
            "Mean density over the whole recording, in dBFS per Hz. Bands and lines are marked "
            "with the number and colour of their part; the dashed line is the Gaussian floor, "
            "dotted ones are impulses as if spread evenly over their band.",
            spectrum,
        ),
        Picture(
            "noise-spectrogram",
            "Spectrogram with the parts marked",
            f"Power over time and frequency, darker is stronger. {names}.",
            "Darker is stronger, from 3 dB below to 24 dB above the median. Brackets on the right "
            "mark bands and lines; ticks on top mark impulses.",
            over_time,
        ),
        Picture(
            "noise-envelope",
            "Envelope with the impulses marked",
            f"Highest level of the envelope in each moment of {_shown_s(whole):.0f} s. {names}.",
            "Highest sample in each moment, against full scale. Triangles stand at impulses that "
            "were found one by one.",
            envelope,
        ),
    )


def _marked(whole: PartsList) -> tuple[Marked, ...]:
    """The strongest parts with colours; numbers are those of the list."""
    return tuple(
        Marked(place + 1, part, series_style(place)[0].colour)
        for place, part in enumerate(whole.parts[:MARKED_PARTS])
        if part.kind is not PartKind.REST and part.power > 0.0
    )


def _highest_hz(whole: PartsList) -> float:
    return min(1.12 * whole.passband_hz[1], whole.sample_rate_hz / 2.0)


def _shown_s(whole: PartsList) -> float:
    return min(SHOWN_S, whole.duration_s)


def spectrum_sheet(waveform: Waveform, whole: PartsList, marked: tuple[Marked, ...]) -> Figure:
    """Density over frequency with bands and lines marked."""
    figure, axes = ink.one_axes(8.2, 4.2)
    spectrum = measure_spectrum(
        waveform.samples, sample_rate_hz=waveform.sample_rate_hz, segment_s=0.5
    )
    highest_hz = _highest_hz(whole)
    kept = spectrum.frequencies_hz <= highest_hz
    densities_db = spectrum.densities_dbfs_per_hz()[kept]
    axes.plot(spectrum.frequencies_hz[kept], densities_db, color=INK, linewidth=0.8)
    inside = (spectrum.frequencies_hz[kept] >= whole.passband_hz[0]) & (
        spectrum.frequencies_hz[kept] <= whole.passband_hz[1]
    )
    flat_db = [at for mark in marked if (at := _flat_density_db(mark.part, whole)) is not None]
    low = min([float(np.median(densities_db[inside])) - 8.0, *flat_db]) - 4.0
    high = float(densities_db[inside].max())
    top = high + 4.0 + 2.2 * len(marked)
    for mark in marked:
        _mark_spectrum(axes, mark, whole, (low, high))
    axes.set_ylim(low, top)
    axes.set_xlim(0.0, highest_hz)
    axes.set_xlabel("frequency, Hz")
    axes.set_ylabel("dBFS in 1 Hz")
    axes.set_title("spectrum")
    _legend(axes, marked)
    return figure


def _flat_density_db(part: Part, whole: PartsList) -> float | None:
    """dBFS in 1 Hz of a part that is drawn as if its power were spread evenly over its band."""
    if part.kind not in FLAT_KINDS:
        return None
    low_hz, high_hz = whole.passband_hz if part.kind is PartKind.FLOOR else part.band_hz
    return units.dbfs_from_power(part.power / (high_hz - low_hz))


def _mark_spectrum(axes: Axes, mark: Marked, whole: PartsList, reach: tuple[float, float]) -> None:
    low_hz, high_hz = mark.part.band_hz
    density_db = _flat_density_db(mark.part, whole)
    if density_db is not None:
        is_floor = mark.part.kind is PartKind.FLOOR
        axes.plot(
            whole.passband_hz if is_floor else (low_hz, high_hz),
            (density_db, density_db),
            color=mark.colour,
            dashes=(5, 2) if is_floor else (1.5, 1.5),
            linewidth=1.6,
        )
    elif mark.part.frequencies_hz:
        for at_hz in mark.part.frequencies_hz:
            axes.plot(at_hz, reach[0] + 1.5, marker="^", color=mark.colour, markersize=6)
        first_hz = mark.part.frequencies_hz[0]
        axes.text(first_hz, reach[0] + 2.6, f" {mark.number}", color=mark.colour, va="bottom")
    else:
        axes.axvspan(low_hz, high_hz, color=mark.colour, alpha=0.18, lw=0)
        axes.text((low_hz + high_hz) / 2.0, reach[0] + 2.6, f"{mark.number}", color=mark.colour)


def _legend(axes: Axes, marked: tuple[Marked, ...]) -> None:
    """Names in the colours of their marks, at the upper right."""
    for place, mark in enumerate(marked):
        axes.text(
            0.995,
            0.985 - 0.052 * place,
            mark.label,
            color=mark.colour,
            transform=axes.transAxes,
            ha="right",
            va="top",
            fontsize=9.0,
        )


def spectrogram_sheet(waveform: Waveform, whole: PartsList, marked: tuple[Marked, ...]) -> Figure:
    """Power over time and frequency."""
    figure = ink.sheet(8.2, 4.6)
    axes = figure.add_subplot()
    levels_db, highest_hz = _spectrogram(waveform, _highest_hz(whole))
    axes.imshow(
        levels_db,
        origin="lower",
        aspect="auto",
        extent=(0.0, whole.duration_s, 0.0, highest_hz),
        cmap=LinearSegmentedColormap.from_list("paper to ink", list(SHADES), N=N_SHADES),
        vmin=SHADED_DB[0],
        vmax=SHADED_DB[1],
        interpolation="nearest",
    )
    axes.grid(False)
    right_s = whole.duration_s
    for place, mark in enumerate(marked):
        at_s = right_s * (1.012 + 0.018 * place)
        _mark_beside(axes, mark, at_s)
        starts = np.array(mark.part.starts_s)
        starts = starts[:: -(-starts.size // MOST_TICKS) or 1]
        if starts.size:
            height = highest_hz * (1.02 + 0.025 * (place % 3))
            axes.plot(
                starts, np.full(starts.size, height), "|", color=mark.colour, clip_on=False, ms=7
            )
    axes.set_xlim(0.0, right_s)
    axes.set_ylim(0.0, highest_hz)
    axes.set_xlabel("time, s")
    axes.set_ylabel("frequency, Hz")
    axes.set_title("spectrogram", pad=26.0)
    return figure


def _mark_beside(axes: Axes, mark: Marked, at_s: float) -> None:
    if mark.part.kind is PartKind.FLOOR:
        return
    spans = [mark.part.band_hz]
    if mark.part.frequencies_hz and mark.part.kind in (PartKind.STEADY_LINE, PartKind.COMB):
        spans = [(at_hz - 8.0, at_hz + 8.0) for at_hz in mark.part.frequencies_hz]
    for low_hz, high_hz in spans:
        axes.plot(
            (at_s, at_s),
            (low_hz, high_hz),
            color=mark.colour,
            linewidth=3.0,
            clip_on=False,
            solid_capstyle="butt",
        )
    axes.text(at_s, spans[-1][1], f"{mark.number}", color=mark.colour, ha="center", va="bottom")


def _spectrogram(waveform: Waveform, highest_hz: float) -> tuple[Array, float]:
    """Levels in dB relative to their median, (n_frequencies, n_times), and where they end."""
    rate_hz = waveform.sample_rate_hz
    n_window = round(WINDOW_S * rate_hz)
    n_hop = max(1, (waveform.samples.size - n_window) // N_COLUMNS)
    window = np.hanning(n_window)
    frames = sliding_window_view(waveform.samples, n_window)[::n_hop]
    # Between two columns nothing may be missed: each shows the stronger of two windows.
    n_inside = max(1, min(8, n_hop // max(n_window // 2, 1)))
    columns = []
    for part in range(n_inside):
        shifted = sliding_window_view(waveform.samples, n_window)[part * n_hop // n_inside :: n_hop]
        windowed = shifted[: frames.shape[0] - 1] * window
        columns.append(np.square(np.abs(scipy.fft.rfft(windowed, axis=1))))
    powers = np.max(columns, axis=0) if n_inside > 1 else columns[0]
    last = min(math.ceil(highest_hz * n_window / rate_hz), powers.shape[1] - 1)
    kept = np.maximum(powers[:, : last + 1], 1e-30)
    levels = units.dbfs_from_powers(kept)
    return (levels - np.median(levels)).T, last * rate_hz / n_window


def envelope_sheet(waveform: Waveform, whole: PartsList, marked: tuple[Marked, ...]) -> Figure:
    """Highest level in each moment of the first seconds, impulses marked."""
    figure, axes = ink.one_axes(8.2, 3.2)
    shown_s = _shown_s(whole)
    samples = waveform.samples[: round(shown_s * waveform.sample_rate_hz)].astype(np.float64)
    n_step = max(1, samples.size // ENVELOPE_STEPS)
    n_steps = samples.size // n_step
    blocks = np.square(samples[: n_steps * n_step]).reshape(n_steps, n_step)
    times_s = (np.arange(n_steps) + 0.5) * n_step / waveform.sample_rate_hz
    # Peaks count from full scale, not from a full-scale sine's power.
    full_scale = units.dbfs_from_power(1.0)
    highest_db = units.dbfs_from_powers(np.maximum(blocks.max(axis=1), 1e-20)) - full_scale
    axes.plot(times_s, highest_db, color=INK, linewidth=0.6)
    low, high = float(np.quantile(highest_db, 0.01)) - 3.0, float(highest_db.max())
    trains = [mark for mark in marked if mark.part.starts_s]
    for place, mark in enumerate(trains):
        starts = np.array([at for at in mark.part.starts_s if at < shown_s])
        height = high + 2.0 + 2.5 * place
        axes.plot(
            starts,
            np.full(starts.size, height),
            marker="v",
            ls="",
            color=mark.colour,
            ms=5,
            label=mark.label,
        )
    axes.set_ylim(low, high + 6.0 + 2.5 * len(trains))
    axes.set_xlim(0.0, shown_s)
    axes.set_xlabel("time, s")
    axes.set_ylabel("peak, dB of full scale")
    axes.set_title(f"envelope, first {shown_s:.0f} s")
    if trains:
        axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.2), ncols=2)
    return figure
