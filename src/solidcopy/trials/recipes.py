"""Which recipe numbers an identity was made with.

A journal keeps identities, which are hashes over contents and recipe numbers together. The contents
stand in its plan, and there are few recipe numbers, so they are found by trying.
"""

import math
from collections.abc import Iterator, Mapping
from itertools import product
from typing import Any

from solidcopy.errors import AudioFileError
from solidcopy.receivers.catalogue import AnyReceiver
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.trials.condition import Condition
from solidcopy.trials.identity import curve_contents, identity_of, receiver_contents
from solidcopy.trials.plan import Plan

NEWER = 1
"""So many numbers beyond those of this program are tried: a journal may come from a newer one."""
MOST_TRIES = 50_000

Recipes = Mapping[str, int]
"""What has a recipe -> its number, e.g. "impairment carrier" -> 1."""


def recipes_of_curve(plan: Plan, condition: Condition, identity: str) -> Recipes | NoEvidence:
    """Recipe numbers behind the identity of a condition's recordings.

    Returns: by "mode ft8", "making of recordings" and "impairment carrier" and their like; or why
        they cannot be told.
    """
    try:
        contents = curve_contents(plan, condition)
    except AudioFileError as error:
        return NoEvidence(f"a recording is needed to tell its recipe numbers ({error})")
    return _found(contents, dict(_curve_places(contents)), identity)


def recipes_of_receiver(receiver: AnyReceiver, identity: str) -> Recipes | NoEvidence:
    """Recipe number behind the identity of a receiver's answers, by "receiver builtin"."""
    contents = receiver_contents(receiver)
    return _found(contents, {("recipe",): f"receiver {receiver.kind}"}, identity)


Step = str | int


def _curve_places(contents: dict[str, Any]) -> Iterator[tuple[tuple[Step, ...], str]]:
    """Path of every recipe number in the contents of a curve, and whose it is."""
    yield ("mode_recipe",), f"mode {contents['mode']}"
    yield ("maker_recipe",), "making of recordings"
    for place, impairment in enumerate(contents["condition"]["impairments"]):
        path = ("condition", "impairments", place, "recipe")
        own = f"impairment {impairment['kind']}"
        if isinstance(impairment["recipe"], list):  # of another station, its mode's follows
            yield (*path, 0), own
            yield (*path, 1), f"mode {impairment['mode']}"
        else:
            yield path, own


def _found(
    contents: dict[str, Any], owners: dict[tuple[Step, ...], str], identity: str
) -> Recipes | NoEvidence:
    """Try all numbers, those of this program first."""
    now = {owner: int(_at(contents, path)) for path, owner in owners.items()}
    numbers = [[n, *(i for i in range(n + NEWER, 0, -1) if i != n)] for n in now.values()]
    if math.prod(map(len, numbers)) <= MOST_TRIES:
        for tried in product(*numbers):
            recipes = dict(zip(now, tried, strict=True))
            for path, owner in owners.items():
                _at(contents, path[:-1])[path[-1]] = recipes[owner]
            if identity_of(contents) == identity:
                return recipes
    return NoEvidence(
        "another version made it, with recipe numbers or settings that this one does not know; "
        "run its plan again"
    )


def _at(contents: Any, path: tuple[Step, ...]) -> Any:
    for step in path:
        contents = contents[step]
    return contents
