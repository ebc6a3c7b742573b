"""What a field may hold, from its part of the JSON schema."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field as Said

from solidcopy.actions.plan_form.words import choice_words
from solidcopy.actions.schema_words import type_words
from solidcopy.impairments.level import AXIS, MAP

LARGEST_END = 1e12
"""An upper end beyond says nothing to a person."""

FormName = Literal[
    "number", "numbers", "text", "choice", "switch", "word", "axis", "map", "table", "kinds", "list"
]


@dataclass(frozen=True, slots=True)
class Choice:
    """One value to choose."""

    value: str | int
    words: str


@dataclass(frozen=True, slots=True)
class Shape:
    """One way in which a field may be filled."""

    form: Annotated[
        FormName,
        Said(
            description='"word": a fixed word; "axis", "map": swept; "table": fields of its own; '
            '"kinds": one of several tables; "list": a list of tables'
        ),
    ]
    words: Annotated[str, Said(description="as a choice, where a field has several shapes")] = ""
    allowed: Annotated[str, Said(description="the range in words; empty: any")] = ""
    choices: tuple[Choice, ...] = ()
    tables: Annotated[tuple[str, ...], Said(description="names of the tables it may hold")] = ()


def choice(choices: Iterable[Choice]) -> Shape:
    """One of some values."""
    return Shape("choice", "a choice", choices=tuple(choices))


def is_nullable(said: dict[str, Any]) -> bool:
    """Whether a field may be left out without a default."""
    return any(member.get("type") == "null" for member in said.get("anyOf", ()))


def shapes_of(said: dict[str, Any]) -> tuple[Shape, ...]:
    """All that a field may hold; nothing at all left aside."""
    if said.get("type") == "string" and "examples" in said:
        return (choice(Choice(value, value) for value in said["examples"]),)
    members = said.get("anyOf")
    if members is None:
        return tuple(_plain_shapes(said))
    if any("examples" in part for part in (said, *members)):
        text = {"type": "string", "examples": said.get("examples") or members[0]["examples"]}
        return shapes_of(text)
    found = [shape for member in members for shape in shapes_of(member)]
    return tuple({shape.form: shape for shape in reversed(found)}.values())[::-1]


def _plain_shapes(said: dict[str, Any]) -> list[Shape]:
    if said.get("enum") == [AXIS, MAP]:
        return [Shape("axis", "swept along the axis"), Shape("map", "run over by the map")]
    if "enum" in said:
        return [choice(Choice(value, choice_words(value)) for value in said["enum"])]
    if "const" in said:
        value = said["const"]
        return [Shape("word", choice_words(value), choices=(Choice(value, choice_words(value)),))]
    if "$ref" in said:
        return [Shape("table", "drawn between two ends", tables=_tables(said))]
    if "oneOf" in said:
        return [Shape("kinds", tables=_tables(said))]
    return _typed_shapes(said)


def _typed_shapes(said: dict[str, Any]) -> list[Shape]:
    match said.get("type"):
        case "number" | "integer":
            return [Shape("number", "one number", allowed=_range(said))]
        case "boolean":
            return [Shape("switch")]
        case "string":
            return [Shape("text", "a text")]
        case "array" if _tables(said["items"]):
            return [Shape("list", tables=_tables(said["items"]))]
        case "array":
            return [Shape("numbers", "a list of numbers")]
    return []


def _tables(said: dict[str, Any]) -> tuple[str, ...]:
    references = [member["$ref"] for member in (said, *said.get("oneOf", ())) if "$ref" in member]
    return tuple(str(reference).rsplit("/", 1)[-1] for reference in references)


def _range(said: dict[str, Any]) -> str:
    """E.g. "0 to 10", "> 0"."""
    if "minimum" in said and "maximum" in said:
        return f"{said['minimum']:,.10g} to {said['maximum']:,.10g}".replace(",", " ")
    if said.get("exclusiveMaximum", 0) > LARGEST_END:
        said = {key: end for key, end in said.items() if key != "exclusiveMaximum"}
    return type_words(said).partition(" ")[2]
