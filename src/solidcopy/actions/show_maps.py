"""Maps of a campaign as the page shows them: cells that fill, and thresholds along the map."""

from collections.abc import Iterator
from dataclasses import dataclass

from solidcopy.actions.served import served
from solidcopy.actions.shown_estimate import (
    Scaled,
    ShownThreshold,
    counts_words,
    shown_threshold,
    three,
)
from solidcopy.reports.facts import CampaignFacts, MapFacts
from solidcopy.reports.map_facts import MapRow, map_rows
from solidcopy.reports.map_figures import cell_edges
from solidcopy.reports.map_tables import map_sheet
from solidcopy.reports.sheet import Sheet
from solidcopy.reports.wording import plain


@served
@dataclass(frozen=True, slots=True)
class ShownCell:
    """One value of a map at one axis value."""

    condition: str
    """That was run for this value of the map; by it the trials are asked for."""
    value: float
    """Of the map."""
    axis_value: float
    """As in the journal."""
    x: tuple[float, float]
    """Edges along the map."""
    y: tuple[float, float]
    """Edges along the axis, on the scale that was asked for."""
    n_decoded: int
    n_answered: int
    share: float | None
    """Null before the first answer."""
    low: float | None
    """Lower end of the 95 % Wilson interval of the share."""
    high: float | None
    """Upper end."""
    words: str
    """Place, counts and share in one line."""


@served
@dataclass(frozen=True, slots=True)
class HeardMap:
    """A map as one receiver heard it."""

    receiver: str
    cells: tuple[ShownCell, ...]
    half: tuple[ShownThreshold, ...]
    """At each value of the map, where half of the messages get through."""
    most: tuple[ShownThreshold, ...]
    """Where 90 % do."""


@served
@dataclass(frozen=True, slots=True)
class ShownMap:
    """A condition that was run over a map."""

    condition: str
    """Its name in the plan as written."""
    label: str
    """The mapped quantity and its unit."""
    values: tuple[float, ...]
    conditions: tuple[str, ...]
    """The condition that was run for each value."""
    signal_band: tuple[float, float] | None
    """Where the wanted signal lies, if the map is one of frequency offsets."""
    heard: tuple[HeardMap, ...]
    """By each receiver."""
    sheet: Sheet
    """The report's table; its thresholds are on the axis as planned."""


def shown_map(facts: CampaignFacts, a_map: MapFacts, scaled: Scaled) -> ShownMap:
    """A map of the facts, its axis on a scale."""
    heard = []
    for receiver in facts.receivers:
        rows = map_rows(facts, a_map, receiver.name)
        heard.append(
            HeardMap(
                receiver=receiver.name,
                cells=tuple(_cells(facts, a_map, rows, scaled)),
                half=tuple(shown_threshold(0.5, row.half, scaled) for row in rows),
                most=tuple(shown_threshold(0.9, row.most, scaled) for row in rows),
            )
        )
    return ShownMap(
        condition=a_map.condition,
        label=a_map.label,
        values=tuple(place.value for place in a_map.places),
        conditions=tuple(place.condition for place in a_map.places),
        signal_band=a_map.signal_band,
        heard=tuple(heard),
        sheet=map_sheet(facts, a_map),
    )


def _cells(
    facts: CampaignFacts, a_map: MapFacts, rows: tuple[MapRow, ...], scaled: Scaled
) -> Iterator[ShownCell]:
    across = cell_edges([row.value for row in rows]).tolist()
    along = scaled.values(cell_edges(facts.axis.values).tolist())
    place_of = {value: place for place, value in enumerate(facts.axis.values)}
    for column, row in enumerate(rows):
        place = f"{plain(row.value)} {a_map.unit}".rstrip()
        for point in row.curve.points:
            line = place_of[point.axis_value]
            share, low, high = three(point.p_decoded)
            yield ShownCell(
                condition=row.curve.condition,
                value=row.value,
                axis_value=point.axis_value,
                x=(across[column], across[column + 1]),
                y=(along[line], along[line + 1]),
                n_decoded=point.n_decoded,
                n_answered=point.n_answered,
                share=share,
                low=low,
                high=high,
                words=f"{place} at {scaled.words(point.axis_value)}: {counts_words(point)}",
            )
