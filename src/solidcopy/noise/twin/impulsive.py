"""What comes in impulses in a recorded noise, as impairments: trains and the rest."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.noise.features.figure import CannotTell, FloatArray
from solidcopy.noise.features.impulses import Impulses
from solidcopy.noise.features.measure import Features
from solidcopy.noise.features.trains import MOVING, WIDEST_WINDOW, Train
from solidcopy.noise.twin.fitted import FittedPart, Sureness

INNER_SHARE = 0.75
"""Width of the band in which impulses are measured, as a share of the passband 20 dB down: without
a tenth on either side, with raised-cosine skirts a tenth wide (derived here: 0.8 - 2 * 0.025)."""
CLICK_WIDTHS = 2.5
"""What is shorter than so many times 1 / passband is a click; one has 1.3 (1 / 0.75)."""
NARROWEST_WINDOW_S = 0.003
EXACT_S = 0.0002
"""Jitter below this is that of the reading."""
LEAST_IMPULSES = 5
N_CLASSES = 3
CLASS_DB = 6.0
"""Impulses without order whose strengths span more than this are parted into classes."""
IN_STEP = 0.2
"""Scatter about even times, as a share of the period, below which fast impulses are in step."""
PASSBAND_LIMITS_HZ = (100.0, 200.0)
"""Lowest edge and least width that impulses may have in a plan."""


@dataclass(frozen=True, slots=True, eq=False)
class _Some:
    """Some of the impulses of a recording."""

    times_s: FloatArray
    lengths_s: FloatArray
    """Energy over highest power: the length of a flat impulse as high."""
    powers: FloatArray
    """What each adds to the mean power of the recording."""

    def those(self, kept: NDArray[np.bool_]) -> "_Some":
        """A choice of them."""
        return _Some(self.times_s[kept], self.lengths_s[kept], self.powers[kept])


def impulse_parts(
    features: Features, passband_hz: tuple[float, float], *, pulses_per_s: tuple[float, ...]
) -> list[FittedPart]:
    """Trains of impulses and impulses without order.

    Args:
        passband_hz: of the recording, 6 dB down.
        pulses_per_s: of combs that are trains of pulses already; impulses as frequent are theirs.
    """
    found = features.impulses
    if isinstance(found, CannotTell) or isinstance(features.floor, CannotTell):
        return []
    heard = _Heard(features, passband_hz)
    inner_hz = INNER_SHARE * float(np.ptp(features.floor.passband_hz))
    all_of_them = _some(found, features.duration_s, inner_hz / float(np.ptp(heard.pulse_band_hz)))
    rate_per_s = all_of_them.times_s.size / features.duration_s
    if any(0.5 < rate_per_s / pulses < 1.3 for pulses in pulses_per_s):
        return []
    known = () if isinstance(features.rhythm, CannotTell) else features.rhythm.trains
    parts, left = [], all_of_them
    trains = () if isinstance(known, CannotTell) else known
    for place, train in enumerate(trains):
        is_member = _members(left.times_s, train)
        if int(is_member.sum()) < LEAST_IMPULSES:
            continue
        name = "train" if len(trains) == 1 else f"train {place + 1}"
        parts.append(_train_part(train, left.those(is_member), heard, f"impulse {name}"))
        left = left.those(~is_member)
    return parts + _without_order(left, heard, found.false_alarms_per_minute)


@dataclass(frozen=True, slots=True, eq=False)
class _Heard:
    """A recording's features and what it passed."""

    features: Features
    passband_hz: tuple[float, float]

    @property
    def duration_s(self) -> float:
        """Of the recording."""
        return self.features.duration_s

    @property
    def pulse_band_hz(self) -> tuple[float, float]:
        """Passband of impulses as a plan may hold it."""
        lowest_hz, least_hz = PASSBAND_LIMITS_HZ
        low_hz = max(self.passband_hz[0], lowest_hz)
        high_hz = min(self.passband_hz[1], self.features.sample_rate_hz / 2.0 - lowest_hz)
        return low_hz, max(high_hz, low_hz + least_hz)


def _some(found: Impulses, duration_s: float, inner_share: float) -> _Some:
    energies = np.maximum(found.energies, 0.0)
    peaks = 10.0 ** (found.peaks_dbfs / 10.0) * units.FULL_SCALE_SINE_POWER
    return _Some(found.times_s, energies / peaks, energies / duration_s / inner_share)


def _members(times_s: FloatArray, train: Train) -> NDArray[np.bool_]:
    """The impulse nearest to each due time, if it is near enough."""
    period_s = train.period_s.value
    window_s = max(4.0 * train.jitter_s.value, NARROWEST_WINDOW_S)
    if train.wander < MOVING:
        window_s = WIDEST_WINDOW * period_s
    numbers = np.rint((times_s - train.first_s) / period_s)
    away_s = np.abs(times_s - train.first_s - numbers * period_s)
    near = np.flatnonzero(away_s <= window_s)
    order = near[np.lexsort((away_s[near], numbers[near]))]
    _, firsts = np.unique(numbers[order], return_index=True)
    is_member = np.zeros(times_s.size, dtype=np.bool_)
    is_member[order[firsts]] = True
    return is_member


def _train_part(train: Train, members: _Some, heard: _Heard, name: str) -> FittedPart:
    period_s, jitter_s = train.period_s.value, train.jitter_s.value
    fields: dict[str, object] = {
        "kind": "impulses",
        "rate_per_s": round(max(1.0 / period_s, 0.05), 5),
        **_timing(jitter_s),
    }
    missing = (
        "" if train.n_seen >= train.n_expected else f", {train.n_seen} of {train.n_expected} seen"
    )
    return _part(
        name,
        fields,
        members,
        heard,
        (
            f"impulses every {period_s:.4g} s, jitter {1000.0 * jitter_s:.2g} ms{missing}",
            Sureness.SURE if train.p_chance < 1e-6 else Sureness.LIKELY,
        ),
    )


def _timing(jitter_s: float) -> dict[str, object]:
    if jitter_s < EXACT_S:
        return {"timing": "periodic"}
    # Evenly within +-j: standard deviation j / sqrt(3).
    return {"timing": "jittered", "jitter_ms": round(1000.0 * math.sqrt(3.0) * jitter_s, 3)}


def _without_order(left: _Some, heard: _Heard, false_alarms_per_minute: float) -> list[FittedPart]:
    n_false = false_alarms_per_minute * heard.duration_s / 60.0
    if left.times_s.size < max(LEAST_IMPULSES, 4.0 * n_false):
        return []
    fast_hz = _fast_rate_hz(left, heard.features)
    parts = []
    for number, chosen in enumerate(_classes(left.powers)):
        members = left.those(chosen)
        rate_per_s = members.times_s.size / heard.duration_s
        fields: dict[str, object] = {"kind": "impulses", "rate_per_s": round(rate_per_s, 4)}
        words = f"{members.times_s.size} impulses without order"
        scatter = 1.0 if fast_hz is None else _scatter(members.times_s, fast_hz)
        if fast_hz is not None and scatter < IN_STEP:
            fields |= _timing(scatter / fast_hz)
            words = f"impulses in step with {fast_hz:.2f} a second"
        else:
            fields["timing"] = "random"
        if not 0.05 <= rate_per_s <= 5000.0:
            continue
        strength = f", class {number + 1} of strength" if number else ""
        parts.append(
            _part(
                "impulses",
                fields,
                members,
                heard,
                (words + strength, Sureness.LIKELY),
            )
        )
    return parts


def _fast_rate_hz(left: _Some, features: Features) -> float | None:
    """Rate of the rhythm that comes as often as the impulses do."""
    if isinstance(features.rhythm, CannotTell):
        return None
    rate_per_s = left.times_s.size / features.duration_s
    near = [
        family.rate_hz.value
        for family in features.rhythm.families
        if 0.7 < family.rate_hz.value / rate_per_s < 1.3
    ]
    return near[0] if near else None


def _scatter(times_s: FloatArray, rate_hz: float) -> float:
    """Standard deviation about even times, as a share of the period; 1 where there is no step.

    The rate is sharpened first: over a long recording its error turns the phase round.
    """
    span_s = max(float(np.ptp(times_s)), 1.0)
    rates_hz = rate_hz + np.linspace(-3.0, 3.0, 121) / span_s
    resultants = np.abs(np.exp(2j * math.pi * np.outer(rates_hz, times_s)).mean(axis=1))
    resultant = float(resultants.max())
    if resultant < 0.3:
        return 1.0
    return math.sqrt(-2.0 * math.log(min(resultant, 1.0 - 1e-12))) / (2.0 * math.pi)


def _classes(powers: FloatArray) -> list[NDArray[np.bool_]]:
    """Impulses by strength, weakest first: equal spans of level, empty and tiny ones left out."""
    levels = np.log10(np.maximum(powers, powers.max() * 1e-6))
    low, high = np.quantile(levels, [0.02, 0.98])
    if 10.0 * (high - low) < CLASS_DB:
        return [np.ones(powers.size, dtype=np.bool_)]
    edges = np.linspace(low, high, N_CLASSES + 1)[1:-1]
    place = np.searchsorted(edges, levels)
    counts = np.bincount(place, minlength=N_CLASSES)
    # A class of hardly any impulses joins its weaker neighbour, so that no power is lost.
    for number in range(N_CLASSES - 1, 0, -1):
        if 0 < counts[number] < LEAST_IMPULSES:
            place[place == number] = number - 1
            counts = np.bincount(place, minlength=N_CLASSES)
    return [place == number for number in range(N_CLASSES) if counts[number] > 0]


def _part(
    group: str, fields: dict[str, object], members: _Some, heard: _Heard, said: tuple[str, Sureness]
) -> FittedPart:
    """Impulses of one kind through the recording's passband; `said`: comment and sureness."""
    low_hz, high_hz = heard.pulse_band_hz
    shape, length = _shape(float(np.median(members.lengths_s)), high_hz - low_hz)
    return FittedPart(
        group=group,
        fields={
            **fields,
            "pulse": shape,
            "low_hz": round(low_hz, 1),
            "high_hz": round(high_hz, 1),
        },
        power=float(members.powers.sum()),
        band_hz=(low_hz, high_hz),
        comment=f"{said[0]}, {length}",
        sureness=said[1],
    )


def _shape(length_s: float, width_hz: float) -> tuple[dict[str, object], str]:
    """A click where the passband shows no length, else a burst of noise.

    Source: derived here: in a burst as long as D the highest of about 0.75 B D independent powers
        stands ln(0.75 B D) + 0.58 times over their mean, so D is that many times energy over peak.
    """
    if length_s < CLICK_WIDTHS / width_hz:
        return {"kind": "click"}, "clicks"
    burst_s = length_s
    for _ in range(20):
        n_powers = max(INNER_SHARE * width_hz * burst_s, math.e)
        burst_s = length_s * (math.log(n_powers) + 0.58)
    length_ms = round(min(max(1000.0 * burst_s, 0.5), 2000.0), 2)
    return (
        {"kind": "burst", "length_ms": length_ms, "edge_ms": 0.3},
        f"bursts of about {length_ms:.2g} ms",
    )
