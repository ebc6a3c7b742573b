"""What a plan can do to a signal: every impairment with its numbers, an example and its source."""

from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter

from solidcopy.actions.schema_words import default_words, first_paragraph, type_words
from solidcopy.actions.toml_text import toml_value
from solidcopy.errors import PlanError
from solidcopy.impairments.cards import CARDS, Card
from solidcopy.impairments.catalogue import AnyAdded, AnyChainBlock, AnyPath

FAMILIES: dict[str, tuple[str, Any]] = {
    "added": ("is added to the wanted signal", AnyAdded),
    "path": ("acts on the wanted signal alone", AnyPath),
    "chain": ("acts on the sum, inside the receiver", AnyChainBlock),
}


@dataclass(frozen=True, slots=True)
class Parameter:
    """One field of an impairment."""

    name: str
    allowed: str
    default: str
    """As it would stand in a plan; empty where it must be given."""
    meaning: str


@dataclass(frozen=True, slots=True)
class Listed:
    """One impairment as a user chooses it."""

    kind: str
    family: str
    description: str
    parameters: tuple[Parameter, ...]
    source: str
    """Where its law and its numbers come from."""
    example: dict[str, Any]
    """As it would stand in a plan."""

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {
            "kind": self.kind,
            "family": self.family,
            "description": self.description,
            "parameters": [
                {"name": p.name, "allowed": p.allowed, "default": p.default, "meaning": p.meaning}
                for p in self.parameters
            ],
            "source": self.source,
            "example": self.example,
        }

    def example_lines(self) -> list[str]:
        """The example as lines of a plan file."""
        return ["[[conditions.impairments]]", *_toml_lines(self.example, "conditions.impairments")]


def list_impairments() -> list[Listed]:
    """All of them, family by family."""
    listed = []
    for family, (_, union) in FAMILIES.items():
        adapter: TypeAdapter[Any] = TypeAdapter(union)
        schema = adapter.json_schema()
        parts = schema.get("$defs", {}) | ({} if "anyOf" in schema else {"": schema})
        by_kind = {
            part["properties"]["kind"]["const"]: part
            for part in parts.values()
            if "kind" in part.get("properties", {}) and _is_member(part, union)
        }
        listed += [_listed(kind, family, part) for kind, part in sorted(by_kind.items())]
    return listed


def listed_impairment(kind: str) -> Listed:
    """One of them. Raises PlanError naming those that there are."""
    found = {listed.kind: listed for listed in list_impairments()}
    if kind not in found:
        raise PlanError(f'"{kind}" is no impairment; there are {", ".join(sorted(found))}')
    return found[kind]


def _is_member(part: dict[str, Any], union: Any) -> bool:
    """Whether a part of the schema is an impairment and not something inside one."""
    members = getattr(union, "__args__", (union,))
    return part["title"] in {member.__name__ for member in members}


def _listed(kind: str, family: str, part: dict[str, Any]) -> Listed:
    card = card_of(kind)
    return Listed(
        kind=kind,
        family=family,
        description=first_paragraph(part),
        parameters=tuple(
            Parameter(name, type_words(field), default_words(field), _one_line(field))
            for name, field in part["properties"].items()
            if name != "kind"
        ),
        source=card.source,
        example={"kind": kind, **card.example},
    )


def card_of(kind: str) -> Card:
    """Source and example of a kind. A kind without one is an error of ours."""
    return CARDS[kind]


def _one_line(field: dict[str, Any]) -> str:
    return " ".join(str(field.get("description", "")).split())


def _toml_lines(table: dict[str, Any], path: str) -> list[str]:
    plain = {name: value for name, value in table.items() if not isinstance(value, dict)}
    lines = [f"{name} = {toml_value(value)}" for name, value in plain.items()]
    for name, value in table.items():
        if isinstance(value, dict):
            lines += [f"[{path}.{name}]", *_toml_lines(value, f"{path}.{name}")]
    return lines
