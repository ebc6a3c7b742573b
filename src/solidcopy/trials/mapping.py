"""From conditions that say "map" to one condition for each value of the map."""

from collections.abc import Iterator, Sequence

from solidcopy.errors import PlanError
from solidcopy.impairments.level import MAP
from solidcopy.trials.condition import Condition


def expanded(
    conditions: Sequence[Condition], map_values: Sequence[float] | None
) -> Iterator[Condition]:
    """The conditions as they are run: each that says "map" becomes one for each value.

    What is expanded already stays as it is, so an expanded plan is read as itself.

    Args:
        conditions: as written.
        map_values: of the plan's map; None if it has none.
    Raises: PlanError if a condition lacks its map or the map its condition.
    """
    is_used = False
    for condition in conditions:
        if not condition.fields_saying(MAP):
            is_used |= condition.mapped is not None
            yield condition
            continue
        if map_values is None:
            raise PlanError(
                f'condition "{condition.name}" says "{MAP}", but the plan has no [map]: add one '
                "with `values`, or with `start`, `stop` and `step`"
            )
        is_used = True
        yield from (condition.on_map(value) for value in map_values)
    if map_values is not None and not is_used:
        raise PlanError(
            f'the plan has a [map], but no condition says "{MAP}": write it in place of a number, '
            "or leave [map] out"
        )
