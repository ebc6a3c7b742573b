"""The fields of a plan as a form shows them, made from the plan's own schema."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Annotated, Any, Literal, get_args

from pydantic import Field as Said

from solidcopy.actions.list_impairments import FAMILIES
from solidcopy.actions.plan_form import words
from solidcopy.actions.plan_form.shapes import Choice, Shape, choice, is_nullable, shapes_of
from solidcopy.actions.schema_words import default_words
from solidcopy.modes.registry import MODE_NAMES
from solidcopy.receivers.catalogue import NAME_NO_PROGRAM, AnyReceiver
from solidcopy.trials.field_words import split_unit
from solidcopy.trials.plan import Plan

ROOT = "Plan"
EITHER_OF = {
    "Where": ("audio_hz", "centre_hz", "offset_hz"),
    "How strong": (
        "snr_db",
        "signal_to_interference_db",
        "interference_to_noise_db",
        "as_recorded",
    ),
}
"""Fields that say the same in different ways, in whatever table has several of them."""
OTHER_WAYS: dict[str, tuple[str, dict[str, tuple[str, ...]]]] = {
    "Axis": (
        "Values",
        {"even steps": ("start", "stop", "step"), "a list of values": ("values",)},
    ),
    "StopRule": (
        "It ends with",
        {
            "a number at each value": ("trials_per_point",),
            "a precision": ("threshold_half_width_db",),
            "a decision": ("until",),
        },
    ),
    "TwoPathFading": (
        "How it fades",
        {
            "a published condition": ("preset",),
            "numbers of your own": ("delay_ms", "spread_hz"),
        },
    ),
}
GO_WITH = {
    "threshold_half_width_db": ("p", "at_most"),
    "until": ("risk", "at_most"),
}
"""Fields that matter only beside one that is the first of a way."""
SET_WHERE = (
    "Only the command line can set this one, as it runs programs of this machine or comes from an "
    "import. It stays as it is: change it in the plan file, then open the plan here again."
)


@dataclass(frozen=True, slots=True)
class Way:
    """One of several ways to say the same."""

    words: Annotated[str, Said(description="as a choice")]
    fields: Annotated[tuple[str, ...], Said(description="given in this way, and in no other")]
    beside: Annotated[tuple[str, ...], Said(description="fields that matter beside these only")]


@dataclass(frozen=True, slots=True)
class Ways:
    """A group of which one way is taken."""

    label: str
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class FormField:
    """One field."""

    name: Annotated[str, Said(description="as in a plan file")]
    label: Annotated[str, Said(description="in words, without the unit")]
    unit: str
    help: Annotated[str, Said(description="what it means, in plain words")]
    is_required: bool
    default_words: Annotated[str, Said(description="what holds where it is left out")]
    shapes: Annotated[tuple[Shape, ...], Said(description="what it may hold")]


@dataclass(frozen=True, slots=True)
class Table:
    """A part of a plan: fields that belong together."""

    name: str
    title: Annotated[str, Said(description="in plain words")]
    says: Annotated[str, Said(description="what it stands for")]
    kind: Annotated[str | None, Said(description="its `kind`, where several are told apart")]
    family: Annotated[str, Said(description="of an impairment: added, path or chain")]
    locked: Annotated[str, Said(description="why the page may not set it; empty: it may")]
    fields: tuple[FormField, ...]
    ways: Annotated[tuple[Ways, ...], Said(description="of each group, one is taken")]

    def field(self, name: str) -> FormField | None:
        """The field of a name."""
        return next((field for field in self.fields if field.name == name), None)


@dataclass(frozen=True, slots=True)
class Preset:
    """A named starting value."""

    list: Annotated[
        Literal["impairments", "receivers", "stops"], Said(description="what it can be put into")
    ]
    name: str
    means: Annotated[str, Said(description="what it is, and why these numbers")]
    kind: Annotated[str | None, Said(description="the kind of impairment or receiver")]


@dataclass(frozen=True, slots=True)
class PlanForm:
    """All that a form of plans has to know."""

    tables: Annotated[dict[str, Table], Said(description='by name; the whole plan is "Plan"')]
    presets: tuple[Preset, ...]
    families: Annotated[dict[str, str], Said(description="what each family of impairments does")]


def plan_form(recordings: Sequence[str] = ()) -> PlanForm:
    """The form of plans.

    Args:
        recordings: to choose from, as paths from the bench folder.
    """
    form = _plan_form()
    table = form.tables["OwnRecording"]
    files = tuple(Choice(name, name.rpartition("/")[2]) for name in recordings)
    fields = tuple(
        replace(field, shapes=(choice(files),)) if field.name == "file" else field
        for field in table.fields
    )
    return replace(form, tables={**form.tables, table.name: replace(table, fields=fields)})


@cache
def _plan_form() -> PlanForm:
    schema = Plan.model_json_schema()
    parts = {ROOT: schema, **schema["$defs"]}
    tables: dict[str, Table] = {}
    waiting = [ROOT]
    while waiting:
        name = waiting.pop()
        if name not in tables:
            tables[name] = _table(name, parts[name])
            shapes = [shape for field in tables[name].fields for shape in field.shapes]
            waiting += [inner for shape in shapes for inner in shape.tables]
    return PlanForm(
        tables=tables,
        presets=tuple(_presets()),
        families={family: said for family, (said, _) in FAMILIES.items()},
    )


def _table(name: str, part: dict[str, Any]) -> Table:
    properties = part.get("properties", {})
    required = part.get("required", ())
    return Table(
        name=name,
        title=words.name_of(name),
        says=words.says_of(name),
        kind=properties.get("kind", {}).get("const"),
        family=_family_of(name),
        locked=SET_WHERE if name in _locked() else "",
        fields=tuple(
            _field(name, field, said, is_required=field in required)
            for field, said in properties.items()
            if field not in ("kind", "mapped") and name not in _locked()
        ),
        ways=tuple(_ways(name, properties)),
    )


def _field(table: str, name: str, said: dict[str, Any], *, is_required: bool) -> FormField:
    shapes = shapes_of(said)
    if (table, name) == (ROOT, "mode"):
        shapes = (choice(Choice(mode, words.choice_words(mode)) for mode in MODE_NAMES),)
    return FormField(
        name=name,
        label=words.label_of(table, name),
        unit=split_unit(name)[1],
        help=words.help_of(table, name),
        is_required=is_required,
        default_words="" if said.get("default") is None else default_words(said).strip("`"),
        shapes=shapes,
    )


def _ways(table: str, properties: dict[str, Any]) -> Iterator[Ways]:
    for label, group in EITHER_OF.items():
        found = [name for name in group if is_nullable(properties.get(name, {}))]
        if len(found) > 1:
            found += [name for name in group if name in properties and name not in found]
            yield Ways(label, tuple(_way(words.label_of(table, name), (name,)) for name in found))
    if table in OTHER_WAYS:
        label, ways = OTHER_WAYS[table]
        yield Ways(label, tuple(_way(said, fields) for said, fields in ways.items()))


def _way(said: str, fields: tuple[str, ...]) -> Way:
    return Way(said, fields, GO_WITH.get(fields[0], ()))


def _family_of(table: str) -> str:
    for family, (_, union) in FAMILIES.items():
        if table in {member.__name__ for member in get_args(union)}:
            return family
    return ""


def _locked() -> set[str]:
    members = get_args(get_args(AnyReceiver)[0])
    receivers = {member.__name__ for member in members if member not in NAME_NO_PROGRAM}
    return receivers | {"LiveSetUp"}


def _presets() -> Iterator[Preset]:
    lists: tuple[Literal["impairments", "receivers", "stops"], ...]
    lists = ("impairments", "receivers", "stops")
    for name in lists:
        for one in words.presets(name):
            yield Preset(name, one["name"], one["means"], one["values"].get("kind"))
