"""From a recipe back to samples, and where the recordings lie that it needs."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from solidcopy.actions.certificate import CertifiedSlot, FenceRecipe, NeededFile, TrialsRecipe
from solidcopy.actions.certify import certified_slot
from solidcopy.actions.harbour import fence_recording
from solidcopy.errors import PlanError, SolidcopyError
from solidcopy.impairments.added.recording_source import content_digest
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.make import make
from solidcopy.trials.recipe_numbers import recipe_numbers
from solidcopy.trials.trial import Trial

OpenRecipe = TrialsRecipe | FenceRecipe
"""A recipe that is not sealed."""


class OtherRecipeError(SolidcopyError):
    """This program makes other samples from such a recipe, or knows no such thing."""


class MissingPartError(SolidcopyError):
    """The making needs something that is not here."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Samples that belong at one place of the file; silence lies between pieces."""

    starts_at_sample: int
    samples: NDArray[np.floating[Any]]
    """(n,) full scale ±1.0, before any rounding."""
    said: CertifiedSlot | None
    """What a certificate ought to say of it; None for what is no trial."""


def pieces_of(recipe: OpenRecipe, folders: Sequence[Path]) -> Iterator[Piece]:
    """Make everything anew, in the order of the file.

    Args:
        recipe: of this program's numbers; others are refused before anything is made.
        folders: where recordings are looked for, by content.
    Raises: OtherRecipeError, MissingPartError; PlanError, CalibrationError or AudioFileError from
        the making.
    """
    if isinstance(recipe, FenceRecipe):
        _refuse_other({"demo's fence": recipe.recipe}, {"demo's fence": fence_recording.RECIPE})
        yield Piece(0, fence_recording.fence_of_seed(recipe.seed), None)
        return
    conditions = _conditions(recipe, folders)
    _refuse_other(recipe.recipes, _numbers_here(recipe.mode, conditions.values()))
    for slot in recipe.slots:
        trial = Trial(
            mode=recipe.mode,
            condition=conditions[slot.condition].at(slot.axis_value),
            sample_rate_hz=recipe.sample_rate_hz,
            level_dbfs=recipe.level_dbfs,
            chance=Chance(recipe.root_seed, slot.arm, slot.trial_index, slot.axis_value),
            internal_rate_hz=recipe.internal_rate_hz,
        )
        made = make(trial)
        key = TrialKey(0, slot.arm, slot.axis_value, slot.trial_index)
        said = certified_slot(slot.condition, key, made, starts_at_sample=slot.starts_at_sample)
        yield Piece(slot.starts_at_sample, made[0].waveform.samples, said)


def _numbers_here(mode: str, conditions: Iterable[Condition]) -> dict[str, int]:
    try:
        return recipe_numbers(mode, conditions)
    except PlanError as error:
        raise OtherRecipeError(f"{error}; so a newer version made it") from None


def _refuse_other(stated: dict[str, int], ours: dict[str, int]) -> None:
    """Older is said of a lower number, newer of a higher one or of what is not known here."""
    unlike = []
    for owner, number in stated.items():
        here = ours.get(owner)
        if here != number:
            age = "newer" if here is None or number > here else "older"
            unlike.append(f"{owner}: recipe {number}, {age} than this program's {here or 'none'}")
    if unlike:
        raise OtherRecipeError("; ".join(unlike))


def _conditions(recipe: TrialsRecipe, folders: Sequence[Path]) -> dict[str, Condition]:
    """The recipe's conditions, with recordings where they lie here."""
    needed = iter(recipe.files)
    missing: list[str] = []
    found = {}
    for name, stated in recipe.conditions.items():
        impairments = [dict(impairment) for impairment in stated.get("impairments", ())]
        for impairment in impairments:
            if impairment.get("kind") == "recording":
                impairment["file"] = _place_of(
                    next(needed, None), str(impairment.get("file")), folders, missing
                )
        found[name] = _condition({**stated, "impairments": impairments})
    if missing:
        raise MissingPartError("; ".join(dict.fromkeys(missing)))
    return found


def _condition(stated: dict[str, Any]) -> Condition:
    try:
        return Condition.model_validate(stated)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        raise OtherRecipeError(
            f'condition "{stated.get("name")}" says what this program does not know, so it is of '
            f"another version ({where}: {first['msg']})"
        ) from None


def _place_of(
    needed: NeededFile | None, name: str, folders: Sequence[Path], missing: list[str]
) -> str:
    """Path of a recording, known by its content; by its name alone where that is all we have."""
    if needed is None:
        places = [Path(name), *(folder / Path(name).name for folder in folders)]
        for place in places:
            if place.is_file():
                return str(place)
        missing.append(f"the recording {Path(name).name} is needed")
        return name
    for folder in folders:
        for place in sorted(folder.iterdir()) if folder.is_dir() else ():
            if (
                place.is_file()
                and place.stat().st_size == needed.n_bytes
                and content_digest(str(place)) == needed.sha256
            ):
                return str(place)
    missing.append(f"the recording {needed.name} is needed (SHA-256 {needed.sha256})")
    return needed.name


def untrue_words(stated: CertifiedSlot, is_so: CertifiedSlot, *, tolerance_db: float) -> list[str]:
    """What a certificate says of a slot and is not so, e.g. "SNR stated -10, is -14"."""
    words = []
    for field in ("text", "lowest_tone_hz", "start_after_nominal_s", "n_clipped"):
        said, got = getattr(stated, field), getattr(is_so, field)
        is_number = isinstance(said, float) and isinstance(got, float)
        if said != got and not (is_number and math.isclose(said, got, abs_tol=1e-3)):
            words.append(f"{field.replace('_', ' ')}: stated {said}, is {got}")
    if len(stated.levels) != len(is_so.levels):
        return [*words, f"{len(stated.levels)} levels stated, there are {len(is_so.levels)}"]
    for said_level, got_level in zip(stated.levels, is_so.levels, strict=True):
        for field in ("name", "quantity", "asked_db", "got_db", "drawn_db"):
            said, got = getattr(said_level, field), getattr(got_level, field)
            is_number = isinstance(said, float) and isinstance(got, float)
            if said != got and not (is_number and math.isclose(said, got, abs_tol=tolerance_db)):
                words.append(f"{said_level.name}, {field}: stated {said}, is {got}")
    return words
