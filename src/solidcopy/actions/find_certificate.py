"""Where a certificate stands: in the sound file, in the JSON beside it, or in a key."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from solidcopy import units
from solidcopy.actions.certificate import (
    FORMAT,
    AskedAndGot,
    Certificate,
    CertifiedSlot,
    SealedRecipe,
    StatedSamples,
    TrialsRecipe,
)
from solidcopy.actions.recipe_pieces import MissingPartError, OpenRecipe, OtherRecipeError
from solidcopy.campaigns.journal.coding import decode_readings
from solidcopy.errors import AudioFileError, LogError, SolidcopyError
from solidcopy.logs.schedule import Key, Slot, read_key
from solidcopy.signals import riff
from solidcopy.trials.expand import parse_trial_key
from solidcopy.trials.plan import parse_plan


class NotOursError(SolidcopyError):
    """A file that carries no recipe of ours."""


@dataclass(frozen=True, slots=True)
class Found:
    """A certificate, or what does for one."""

    where: str
    """For people."""
    made_by: str | None
    libraries: dict[str, str]
    samples: StatedSamples | None
    """None: only a key is there."""
    recipe: OpenRecipe


def find_certificate(file: Path, *, given: Path | None) -> Found:
    """The certificate of a sound file.

    Args:
        file: the sound.
        given: a file named by the user: a description beside another copy, or a key.
    Raises: NotOursError; OtherRecipeError for a format that this program does not read;
        MissingPartError for slots whose key is not there; AudioFileError for what is damaged.
    """
    stated = _in_comment(file)
    where = "in the file"
    if given is not None:
        content = _json_of(given)
        if content.get("kind") == "solidcopy slot key":
            return _with_key(file, stated, given)
        stated, where = content.get("certificate", content), str(given)
    elif stated is None:
        beside = file.with_suffix(".json")
        content = _json_of(beside) if beside.is_file() else {}
        stated, where = content.get("certificate"), str(beside)
    if not isinstance(stated, dict) or stated.get("kind") != "solidcopy certificate":
        key = file.parent / "key.json"
        if given is None and key.is_file():
            return _with_key(file, None, key)
        raise NotOursError("it carries no recipe of ours, and no description lies beside it")
    certificate = _parsed(stated, where)
    if isinstance(certificate.recipe, SealedRecipe):
        return _with_key(file, stated, _key_beside(file, certificate.recipe))
    return Found(
        where,
        certificate.made_by,
        certificate.libraries,
        certificate.samples,
        certificate.recipe,
    )


def _in_comment(file: Path) -> dict[str, Any] | None:
    for text in riff.read_comments(file):
        try:
            content = json.loads(text)
        except ValueError:
            continue
        if isinstance(content, dict) and content.get("kind") == "solidcopy certificate":
            return content
    return None


def _json_of(path: Path) -> dict[str, Any]:
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise AudioFileError(f"{path}: cannot be read ({error.strerror})") from None
    except ValueError:
        raise AudioFileError(f"{path}: is no JSON file that solidcopy wrote") from None
    return content if isinstance(content, dict) else {}


def _parsed(stated: dict[str, Any], where: str) -> Certificate:
    number = stated.get("format")
    if isinstance(number, int) and number > FORMAT:
        raise OtherRecipeError(
            f"its certificate has format {number}, newer than this program's {FORMAT}; use the "
            f"version that made it ({stated.get('made_by')}) or a later one"
        )
    try:
        return Certificate.model_validate(stated)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(step) for step in first["loc"])
        raise AudioFileError(
            f"the certificate {where} is damaged ({place}: {first['msg']})"
        ) from None


def _key_beside(file: Path, sealed: SealedRecipe) -> Path:
    for folder in (file.resolve().parent, file.resolve().parent.parent):
        if (folder / sealed.key).is_file():
            return folder / sealed.key
    raise MissingPartError(
        f"its content is sealed: the key {sealed.key} is needed; give it with --recipe"
    )


def _with_key(file: Path, stated: dict[str, Any] | None, path: Path) -> Found:
    """A sealed file with its key, or one that carries nothing but lies beside a key."""
    certificate = None if stated is None else _parsed(stated, "in the file")
    try:
        key = read_key(path)
    except LogError as error:
        raise AudioFileError(str(error)) from None
    sealed = certificate.recipe if certificate is not None else None
    name = sealed.file if isinstance(sealed, SealedRecipe) else file.name
    slots = [slot for slot in key.slots if slot.file == name]
    if not slots:
        raise NotOursError(f"the key {path} knows no file {name}")
    return Found(
        where=f"in the key {path}",
        made_by=key.made_by,
        libraries={} if certificate is None else certificate.libraries,
        samples=None if certificate is None else certificate.samples,
        recipe=_recipe_of(key, slots),
    )


def _recipe_of(key: Key, slots: list[Slot]) -> TrialsRecipe:
    """A key holds no recipe numbers and no digests of recordings; samples prove themselves."""
    plan = parse_plan(key.plan)
    level = plan.audio.level_dbfs
    certified = []
    for slot in slots:
        trial = parse_trial_key(slot.trial, plan)
        readings = decode_readings(json.dumps(slot.readings))
        levels = tuple(
            AskedAndGot(
                name=item.name,
                quantity=item.quantity,
                asked_db=item.asked_db,
                got_db=_finite(item.got_db),
                drawn_db=_finite(item.drawn_db),
            )
            for item in readings.levels
        )
        certified.append(
            CertifiedSlot(
                starts_at_sample=round(slot.starts_at_s * plan.audio.sample_rate_hz),
                condition=plan.conditions[trial.condition].name,
                axis_value=trial.axis_value,
                arm=trial.arm,
                trial_index=trial.trial_index,
                text=slot.text,
                lowest_tone_hz=slot.lowest_tone_hz,
                start_after_nominal_s=slot.start_after_nominal_s,
                levels=levels,
                n_clipped=readings.n_clipped,
                digest_sha256_float32le=slot.digest_sha256_float32le,
            )
        )
    return TrialsRecipe(
        mode=plan.mode,
        root_seed=plan.root_seed,
        sample_rate_hz=plan.audio.sample_rate_hz,
        level_dbfs=None if level == "auto" else float(level),
        internal_rate_hz=plan.audio.internal_rate_hz,
        reference_bandwidth_hz=units.REFERENCE_BANDWIDTH_HZ,
        recipes={},
        conditions={c.name: c.model_dump(mode="json") for c in plan.conditions},
        files=(),
        slots=tuple(certified),
    )


def _finite(value: float) -> float | None:
    return value if abs(value) != float("inf") else None
