"""Values as TOML text, in the style of the starting plans."""

import re
from datetime import date, time
from typing import Any

from solidcopy.errors import PlanError

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\r": "\\r", "\t": "\\t"}


def toml_value(value: Any) -> str:
    """A value on one line: tables inline. Raises PlanError for what TOML cannot hold."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return '"' + "".join(_escaped(letter) for letter in value) + '"'
        case int() | float():
            return f"{value}"  # "inf" and "nan" too
        case date() | time():
            return value.isoformat()
        case list() | tuple():
            return "[" + ", ".join(toml_value(item) for item in value) + "]"
        case dict():
            inner = [f"{toml_key(key)} = {toml_value(item)}" for key, item in value.items()]
            return f"{{ {', '.join(inner)} }}" if inner else "{}"
    raise PlanError(f"a plan cannot hold {value!r}; give a number, a text, true or false")


def toml_key(key: str) -> str:
    """A key, in quotes where it must be."""
    return key if _BARE_KEY.fullmatch(key) else toml_value(key)


def plan_toml(values: dict[str, Any]) -> str:
    """A whole plan: plain values first, then a head for each table and each item of a list."""
    plain = {key: value for key, value in values.items() if not _has_head(value)}
    blocks = ["\n".join(_lines(plain))] if plain else []
    for key, value in values.items():
        if _has_head(value):
            items, head = ([value], "[{}]") if isinstance(value, dict) else (value, "[[{}]]")
            blocks += ["\n".join([head.format(toml_key(key)), *_lines(item)]) for item in items]
    return "\n\n".join(blocks) + "\n"


def _has_head(value: Any) -> bool:
    is_list = isinstance(value, list) and value and all(isinstance(item, dict) for item in value)
    return isinstance(value, dict) or bool(is_list)


def _lines(table: dict[str, Any]) -> list[str]:
    lines = []
    for key, value in table.items():
        if isinstance(value, list) and _has_head(value):
            lines += [f"{toml_key(key)} = [", *(f"    {toml_value(item)}," for item in value), "]"]
        else:
            lines.append(f"{toml_key(key)} = {toml_value(value)}")
    return lines


def _escaped(letter: str) -> str:
    if letter in _STRING_ESCAPES:
        return _STRING_ESCAPES[letter]
    return f"\\u{ord(letter):04x}" if ord(letter) < 0x20 or ord(letter) == 0x7F else letter
