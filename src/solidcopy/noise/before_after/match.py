"""Which part of one recording is which part of another: by kind, frequency and rhythm."""

import math

from solidcopy.noise.features.figure import Figure
from solidcopy.noise.parts.part import Part, PartKind

LINE_HZ = 5.0
"""A carrier or a receiver drifts by less from one recording to the next; common practice, no
source."""
RHYTHM_SHARE = 0.01
"""A fence or a motor keeps its rhythm better than this, while it runs as before; no source."""
SURE_ERRORS = 3.0
OVERLAP = 0.5
"""Of the narrower of two bands, so much must lie in the other."""
LINES = (PartKind.STEADY_LINE, PartKind.KEYED_LINE)
ONLY_ONE = (PartKind.FLOOR, PartKind.RANDOM_IMPULSES, PartKind.SPEECH_LIKE)
"""Kinds of which a list holds no more than one, as a rule."""


def matched(
    before: tuple[Part, ...], after: tuple[Part, ...]
) -> list[tuple[Part | None, Part | None]]:
    """Every part of both lists once, with its match or alone; the nearest pairs first."""
    pairs = sorted(
        (distance, i, j)
        for i, one in enumerate(before)
        for j, other in enumerate(after)
        if (distance := unlikeness(one, other)) <= 1.0
    )
    found: list[tuple[Part | None, Part | None]] = []
    left, right = set(range(len(before))), set(range(len(after)))
    for _, i, j in pairs:
        if i in left and j in right:
            found.append((before[i], after[j]))
            left.remove(i)
            right.remove(j)
    alone_before: list[tuple[Part | None, Part | None]] = [(before[i], None) for i in sorted(left)]
    return found + alone_before + [(None, after[j]) for j in sorted(right)]


def best_match(part: Part, others: tuple[Part, ...]) -> Part | None:
    """The part of another list that is most like this one; None if none is."""
    near = [other for other in others if unlikeness(part, other) <= 1.0]
    return min(near, key=lambda other: unlikeness(part, other), default=None)


def unlikeness(one: Part, other: Part) -> float:
    """0 for the same, up to 1 for what may still be the same part; infinite for what cannot."""
    if one.kind in LINES and other.kind in LINES:
        away_hz = abs(one.frequencies_hz[0] - other.frequencies_hz[0])
        return away_hz / LINE_HZ if away_hz <= LINE_HZ else math.inf
    if one.kind is not other.kind:
        return math.inf
    if one.kind in ONLY_ONE:
        return 0.0
    if isinstance(one.rhythm_hz, Figure) and isinstance(other.rhythm_hz, Figure):
        error = math.hypot(one.rhythm_hz.standard_error, other.rhythm_hz.standard_error)
        reach = max(RHYTHM_SHARE * one.rhythm_hz.value, SURE_ERRORS * error)
        away = abs(one.rhythm_hz.value - other.rhythm_hz.value)
        return away / reach if away <= reach else math.inf
    common = min(one.band_hz[1], other.band_hz[1]) - max(one.band_hz[0], other.band_hz[0])
    narrower = min(part.band_hz[1] - part.band_hz[0] for part in (one, other))
    share = common / narrower if narrower > 0.0 else 0.0
    return 1.0 - share if share >= OVERLAP else math.inf
