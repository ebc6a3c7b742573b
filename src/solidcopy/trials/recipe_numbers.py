"""Numbers that tell whether two programs make the same recordings and decode them alike."""

from collections.abc import Iterable

from solidcopy.impairments.added.slot_stations import SlotCrowd, SlotStation
from solidcopy.modes.registry import mode_named
from solidcopy.trials.condition import Condition
from solidcopy.trials.identity import MAKER_RECIPE


def recipe_numbers(mode: str, conditions: Iterable[Condition]) -> dict[str, int]:
    """Number by "mode ft8", "making of recordings", "impairment carrier" and their like."""
    numbers = {f"mode {mode}": mode_named(mode).facts.recipe, "making of recordings": MAKER_RECIPE}
    for condition in conditions:
        for impairment in condition.impairments:
            numbers[f"impairment {impairment.kind}"] = impairment.recipe
            if isinstance(impairment, SlotStation | SlotCrowd):
                numbers[f"mode {impairment.mode}"] = mode_named(impairment.mode).facts.recipe
    return numbers
