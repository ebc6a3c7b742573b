"""Combs of a recorded noise as impairments: a clock's lines, the hum or buzz of the mains."""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy.signal
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.impairments.added.line_comb import LineComb
from solidcopy.impairments.added.mains_hum import MainsHum
from solidcopy.noise.features.combs import Comb
from solidcopy.noise.features.figure import FloatArray
from solidcopy.noise.features.measure import Features
from solidcopy.noise.features.spectrum import Spectrum
from solidcopy.noise.twin.fitted import FittedPart, Sureness
from solidcopy.signals.power import AnySamples

SMEARED_HZ = 10.0
"""A wandering line is looked for so far from its middle."""
SAME_SPACING = 0.002
SKIRT_HZ = 100.0
LEAST_FOR_SLOPE = 3
OFF_MAINS_HZ = 2.0
"""A comb so close to true harmonics of the mains is them: no receiver shifted it."""
PHASE_S = 1.0
"""Phases of a comb's lines are read from so much of the recording."""


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """A recording, its features and what it passed."""

    features: Features
    samples: AnySamples
    passband_hz: tuple[float, float]


def comb_part(comb: Comb, heard: Heard, *, name: str) -> FittedPart:
    """A comb with a straight slope through the levels of its lines, those on skirts left out."""
    features, samples = heard.features, heard.samples
    numbers = np.unique(comb.numbers)
    lowest_hz = comb.offset_hz.value + int(numbers[0]) * comb.spacing_hz.value
    n_lines = int(np.ptp(numbers)) + 1
    frequencies_hz = comb.offset_hz.value + numbers * comb.spacing_hz.value
    half_hz = min(comb.spacing_hz.value / 4.0, SMEARED_HZ)
    powers = np.array([power_about(features.spectrum, float(hz), half_hz) for hz in frequencies_hz])
    levels_db = units.dbfs_from_powers(np.maximum(powers, 1e-6 * powers.max()))
    low_hz, high_hz = heard.passband_hz
    is_whole = (frequencies_hz > low_hz + SKIRT_HZ) & (frequencies_hz < high_hz - SKIRT_HZ)
    if int(is_whole.sum()) < LEAST_FOR_SLOPE:
        is_whole = np.ones(numbers.size, dtype=np.bool_)
    slope_db = float(np.polyfit(numbers[is_whole], levels_db[is_whole], 1)[0])
    is_aligned = comb_is_aligned(
        samples, features.sample_rate_hz, frequencies_hz, comb.spacing_hz.value
    )
    sound = "all in step, a train of pulses" if is_aligned else "phases without order"
    fields: dict[str, object] = {
        "kind": "line-comb",
        "audio_hz": round(lowest_hz, 2),
        "spacing_hz": round(comb.spacing_hz.value, 3),
        "n_lines": n_lines,
        "slope_db_per_line": round(min(max(slope_db, -20.0), 20.0), 2),
        "phase": "aligned" if is_aligned else "random",
    }
    if comb.mains_hz is not None and abs(comb.offset_hz.value) < OFF_MAINS_HZ:
        fields = _mains(comb, frequencies_hz, levels_db, is_whole) | {
            "sound": "buzz" if is_aligned else "hum"
        }
    return FittedPart(
        group=name,
        fields=fields,
        power=float(powers.sum()),
        band_hz=(lowest_hz, float(frequencies_hz[-1])),
        comment=f"{numbers.size} lines every {comb.spacing_hz.value:.2f} Hz, {sound}",
        sureness=Sureness.SURE if comb.p_chance < 1e-6 else Sureness.LIKELY,
    )


def _mains(
    comb: Comb, frequencies_hz: FloatArray, levels_db: FloatArray, is_whole: NDArray[np.bool_]
) -> dict[str, object]:
    """True harmonics of the mains: they wander with it, each by its number."""
    assert comb.mains_hz is not None
    per_cycle = round(comb.spacing_hz.value / comb.mains_hz)
    fall_db = -float(np.polyfit(np.log2(frequencies_hz[is_whole]), levels_db[is_whole], 1)[0])
    half_hz = comb.spacing_hz.value / 2.0
    return {
        "kind": "mains-hum",
        "mains_hz": float(comb.mains_hz),
        "frequency_error_hz": round(comb.spacing_hz.value / per_cycle - comb.mains_hz, 3),
        "harmonics": "even" if per_cycle == 2 else "all",
        "fall_db_per_octave": round(min(max(fall_db, 0.0), 40.0), 1),
        "lowest_hz": round(max(float(frequencies_hz[0]) - half_hz, 15.0), 1),
        "highest_hz": round(float(frequencies_hz[-1]) + half_hz, 1),
    }


def comb_is_aligned(
    samples: AnySamples, sample_rate_hz: int, frequencies_hz: FloatArray, spacing_hz: float
) -> bool:
    """Whether the lines of a comb meet once a period, so that they sound as pulses.

    Source: derived here. In step, the peak of one period is as many times its mean power as there
        are equally strong lines; n lines of random phases reach about ln(2 n) times. Judged by the
        geometric mean of the two, from the lines' own amplitudes.
    """
    n_samples = min(samples.size, round(PHASE_S * sample_rate_hz))
    first = (samples.size - n_samples) // 2
    part = samples[first : first + n_samples].astype(np.float64)
    window = scipy.signal.get_window("hann", n_samples)
    times_s = np.arange(n_samples) / sample_rate_hz
    turns = np.exp(-2j * math.pi * np.outer(frequencies_hz, times_s))
    amplitudes = turns @ (part * window)
    steps = np.linspace(0.0, 1.0 / spacing_hz, 64 * frequencies_hz.size, endpoint=False)
    period = np.abs(np.exp(2j * math.pi * np.outer(steps, frequencies_hz)) @ amplitudes)
    crest = float(np.square(period).max() / np.square(period).mean())
    strengths = np.abs(amplitudes)
    in_step = float(strengths.sum() ** 2 / np.square(strengths).sum())
    return crest > math.sqrt(in_step * min(math.log(2.0 * frequencies_hz.size), in_step))


def power_about(spectrum: Spectrum, frequency_hz: float, half_hz: float) -> float:
    """Power of what stands about a frequency over the noise beside it; 0 where nothing does.

    Args:
        half_hz: it may be smeared so far to either side; as much again shows the noise.
    """
    inside = spectrum.power_between(frequency_hz - half_hz, frequency_hz + half_hz)
    around = spectrum.power_between(frequency_hz - 2.0 * half_hz, frequency_hz + 2.0 * half_hz)
    return max(inside - (around - inside), 0.0)


def lines_of(part: FittedPart) -> tuple[FloatArray, FloatArray]:
    """Where the power of a part lies, and in which proportions: its lines, or else its middle."""
    if part.fields["kind"] == "line-comb":
        comb = LineComb.model_validate({**part.fields, "interference_to_noise_db": 0.0})
        numbers = np.arange(comb.n_lines)
        return (
            part.fields["audio_hz"] + part.fields["spacing_hz"] * numbers,
            np.square(comb.amplitudes()),
        )
    if part.fields["kind"] == "mains-hum":
        hum = MainsHum.model_validate({**part.fields, "interference_to_noise_db": 0.0})
        return hum.mains_hz * hum.numbers().astype(np.float64), np.square(hum.amplitudes())
    return np.array([sum(part.band_hz) / 2.0]), np.ones(1)


def pulses_per_s(part: FittedPart) -> float | None:
    """Pulses a second of a comb that is a train of them; None for any other part."""
    if part.fields.get("phase") == "aligned":
        return float(part.fields["spacing_hz"])
    if part.fields.get("sound") == "buzz":
        each = 2.0 if part.fields["harmonics"] == "even" else 1.0
        return each * float(part.fields["mains_hz"])
    return None


def merged(combs: list[Comb]) -> list[Comb]:
    """Combs of one spacing in step are one: a little wander may part them."""
    left: list[Comb] = []
    for comb in combs:
        for place, other in enumerate(left):
            spacing_hz = other.spacing_hz.value
            away_hz = comb.offset_hz.value - other.offset_hz.value
            away_hz -= spacing_hz * round(away_hz / spacing_hz)
            is_alike = abs(comb.spacing_hz.value / spacing_hz - 1.0) < SAME_SPACING
            if is_alike and abs(away_hz) < SAME_SPACING * 20.0 * spacing_hz:
                left[place] = replace(
                    other,
                    lines=other.lines + comb.lines,
                    numbers=other.numbers + comb.numbers,
                )
                break
        else:
            left.append(comb)
    return left
