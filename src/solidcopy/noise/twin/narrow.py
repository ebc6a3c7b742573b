"""What is narrow in a recorded noise, as impairments: carriers, combs and humps."""

from collections.abc import Sequence

import numpy as np

from solidcopy import units
from solidcopy.noise.features.combs import Comb
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.noise.features.humps import Hump
from solidcopy.noise.features.lines import Line
from solidcopy.noise.features.measure import Features
from solidcopy.noise.features.spectrum import Spectrum
from solidcopy.noise.twin.combed import Heard, comb_part, merged, power_about
from solidcopy.noise.twin.fitted import FittedPart, Sureness
from solidcopy.signals.power import AnySamples

MOST_LINES = 24
"""The strongest single lines become carriers."""
SURE_OVER_DB = 10.0
SWITCHINGS_PER_DOT = 0.524
"""Of random groups of five letters in Morse signals; the word PARIS has 28 in 50 dots, 0.56."""
DOTS_PER_S_AND_WPM = 1.2
MORSE_WPM = (5.0, 60.0)
PEAKED = 1.45
"""Edges so many widths apart belong to a bell, closer ones to a flat band."""
BELL_WIDTH = 0.94
"""Between the points 6 dB down, over the width of the rectangle of equal fluctuation: of a Gaussian
bell 3.33 over 3.54 standard deviations (derived here)."""
SHARES_ON = (0.1, 0.9)
SLOWEST_PER_S = 0.02
"""A line that is on for such a share of the time and switched so often is keyed."""
KEYED_REACH_HZ = 150.0


def narrow_parts(
    features: Features, samples: AnySamples, passband_hz: tuple[float, float]
) -> list[FittedPart]:
    """Combs, single lines and humps of a recording; `passband_hz`: 6 dB down."""
    lines = () if isinstance(features.lines, CannotTell) else features.lines
    switched = _switched(lines)
    switched_hz = [line.frequency_hz.value for line in switched]
    combs = merged(
        [
            comb
            for comb in (() if isinstance(features.combs, CannotTell) else features.combs)
            if not _is_keying(_middle_hz(comb, lines), _span_hz(comb, lines), switched_hz)
        ]
    )
    humps = [
        hump
        for hump in (() if isinstance(features.humps, CannotTell) else features.humps)
        if not _is_keying(hump.centre_hz.value, float(np.ptp(hump.edges_hz)), switched_hz)
    ]
    in_combs = {place for comb in combs for place in comb.lines}
    alone = [
        line
        for place, line in enumerate(lines)
        if place not in in_combs and (line in switched or not _is_sideband(line, switched_hz))
    ]
    alone = sorted(alone, key=lambda line: -line.level_dbfs.value)[:MOST_LINES]
    parts = [
        comb_part(comb, Heard(features, samples, passband_hz), name=_name("comb", place, combs))
        for place, comb in enumerate(combs)
    ]
    parts += [
        _line_part(line, features.spectrum)
        for line in sorted(alone, key=lambda line: line.frequency_hz.value)
    ]
    return parts + [
        _hump_part(hump, _name("hump", place, humps)) for place, hump in enumerate(humps)
    ]


def is_switched(line: Line) -> bool:
    """Whether a line is keyed, however slurred."""
    keying = line.keying
    if isinstance(keying, CannotTell) or keying.kind == "steady":
        return False
    low, high = SHARES_ON
    return low < keying.share_on.value < high and keying.switchings_per_s.value > SLOWEST_PER_S


def _switched(lines: tuple[Line, ...]) -> list[Line]:
    """Keyed lines, the strongest first; what is close to a stronger one is its keying."""
    kept: list[Line] = []
    for line in sorted(lines, key=lambda line: -line.level_dbfs.value):
        near = [other.frequency_hz.value for other in kept]
        if is_switched(line) and not _is_sideband(line, near):
            kept.append(line)
    return kept


def _is_keying(middle_hz: float, width_hz: float, switched_hz: list[float]) -> bool:
    """Whether a comb or hump is what keying spreads about one of the switched lines."""
    return width_hz < 2.0 * KEYED_REACH_HZ and any(
        abs(middle_hz - hz) < KEYED_REACH_HZ / 2.0 for hz in switched_hz
    )


def _is_sideband(line: Line, switched_hz: list[float]) -> bool:
    return any(abs(line.frequency_hz.value - hz) < KEYED_REACH_HZ for hz in switched_hz)


def _middle_hz(comb: Comb, lines: tuple[Line, ...]) -> float:
    return float(np.mean([lines[place].frequency_hz.value for place in comb.lines]))


def _span_hz(comb: Comb, lines: tuple[Line, ...]) -> float:
    return float(np.ptp([lines[place].frequency_hz.value for place in comb.lines]))


def _name(word: str, place: int, members: Sequence[object]) -> str:
    return word if len(members) == 1 else f"{word} {place + 1}"


def _line_part(line: Line, spectrum: Spectrum) -> FittedPart:
    frequency_hz, keying = line.frequency_hz.value, line.keying
    fields = {"kind": "carrier", "audio_hz": round(frequency_hz, 2)}
    power = units.power_from_dbfs(line.level_dbfs.value)
    reach_hz, words = 0.0, "steady line"
    if isinstance(keying, CannotTell):
        words = "line, taken as steady (too weak to tell)"
    elif is_switched(line):
        fields |= _keyed(keying.switchings_per_s.value, keying.share_on.value)
        power = power_about(spectrum, frequency_hz, KEYED_REACH_HZ / 2.0) or power
        reach_hz = 50.0
        words = (
            f"keyed line, on for {100.0 * keying.share_on.value:.0f} % of the time, "
            f"{keying.switchings_per_s.value:.2g} switchings a second"
        )
    elif keying.kind == "varying":
        words = "line of changing level, taken as steady"
    sureness = Sureness.SURE if line.over_floor_db > SURE_OVER_DB else Sureness.LIKELY
    return FittedPart(
        group="lines",
        fields=fields,
        power=power,
        band_hz=(frequency_hz - reach_hz, frequency_hz + reach_hz),
        comment=f"{words} at {frequency_hz:.1f} Hz, {line.level_dbfs.value:.1f} dBFS",
        sureness=sureness if words == "steady line" or reach_hz else Sureness.LIKELY,
    )


def _keyed(switchings_per_s: float, share_on: float) -> dict[str, object]:
    """Morse signals of the same rhythm, or a slower gate."""
    speed_wpm = DOTS_PER_S_AND_WPM * switchings_per_s / SWITCHINGS_PER_DOT
    low_wpm, high_wpm = MORSE_WPM
    if speed_wpm < low_wpm:
        period_s = 2.0 / switchings_per_s
        on_s, off_s = period_s * share_on, period_s * (1.0 - share_on)
        return {"gate": {"on_s": round(max(on_s, 0.05), 2), "off_s": round(max(off_s, 0.05), 2)}}
    return {"keying": {"text": "random", "speed_wpm": round(min(speed_wpm, high_wpm), 1)}}


def _hump_part(hump: Hump, name: str) -> FittedPart:
    low_hz, high_hz = hump.edges_hz
    width_hz, centre_hz = hump.width_hz.value, hump.centre_hz.value
    drift = hump.drift_hz_per_s
    moves = isinstance(drift, Figure) and abs(drift.value) > 4.0 * drift.standard_error
    is_bell = moves or (high_hz - low_hz) > PEAKED * width_hz
    fields: dict[str, object]
    if is_bell:
        fields = {
            "kind": "switch-mode-hump",
            "audio_hz": round(centre_hz, 1),
            "width_hz": round(max(BELL_WIDTH * width_hz, 5.0), 1),
        }
        if moves and isinstance(drift, Figure):
            fields["drift_hz_per_s"] = round(drift.value, 3)
    else:
        skirt_hz = min(max((high_hz - low_hz - width_hz) / 2.0, 1.0), width_hz / 2.0)
        fields = {
            "kind": "band-noise",
            "centre_hz": round((low_hz + high_hz) / 2.0, 1),
            "width_hz": round(width_hz, 1),
            "skirt_hz": round(skirt_hz, 1),
        }
    return FittedPart(
        group=name,
        fields=fields,
        power=units.power_from_dbfs(hump.level_dbfs.value),
        band_hz=hump.edges_hz,
        comment=(
            f"hump of noise about {centre_hz:.0f} Hz, {width_hz:.0f} Hz wide, "
            f"{hump.peak_over_floor_db:.1f} dB over the floor at its top"
        ),
        sureness=Sureness.SURE if hump.peak_over_floor_db > 3.0 else Sureness.LIKELY,
    )
