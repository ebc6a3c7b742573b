"""The words and starting values of the form, from the files beside this module."""

import tomllib
from copy import deepcopy
from functools import cache
from importlib.resources import files
from typing import Any

from solidcopy.trials.field_words import SHORT_WORDS, split_unit

ANY = "any"
"""Section for fields of whatever table."""


@cache
def _file(name: str) -> dict[str, Any]:
    text = (files(__package__) / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _said(section: str, table: str, field: str) -> str | None:
    said = _file("words")[section]
    found = said.get(table, {}).get(field, said[ANY].get(field))
    return None if found is None else str(found)


def label_of(table: str, field: str) -> str:
    """What stands beside a field, without its unit."""
    words = SHORT_WORDS.get(field) or split_unit(field)[0].removeprefix("n ")
    return _said("label", table, field) or words.capitalize()


def help_of(table: str, field: str) -> str:
    """What a field means to somebody who never read a manual. One without is an error of ours."""
    return _said("help", table, field) or f"(no words for {table}.{field} in words.toml yet)"


def name_of(table: str) -> str:
    """What a table is called."""
    return str(_file("words")["name"].get(table, table))


def says_of(table: str) -> str:
    """What it stands for."""
    return str(_file("words")["says"].get(table, ""))


def choice_words(choice: object) -> str:
    """One of several values."""
    return str(_file("words")["choice"].get(str(choice), choice))


def presets(list_name: str) -> list[dict[str, Any]]:
    """Named starting values: "impairments", "receivers" or "stops", each with what it means."""
    return list(deepcopy(_file("presets").get(list_name, [])))


def preset(list_name: str, name: str) -> dict[str, Any] | None:
    """The values of one of them."""
    found = (one["values"] for one in presets(list_name) if one["name"] == name)
    return next(found, None)


def sweep_of(field: str) -> dict[str, Any] | None:
    """The values that a field runs over when it is swept anew."""
    found = _file("presets")["sweeps"].get(field)
    return None if found is None else dict(deepcopy(found))


def start_of(field: str) -> Any:
    """What an empty field begins with; None if nothing is known."""
    return deepcopy(_file("presets")["starts"].get(field))


def start_of_kind(kind: str) -> Any:
    """What a table of a kind begins with; None if nothing is known."""
    return deepcopy(_file("presets")["starts_of_kinds"].get(kind))
