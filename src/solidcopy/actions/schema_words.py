"""JSON Schema in words: types, ranges and defaults as a person reads them."""

import json
from typing import Any


def type_words(field: dict[str, Any]) -> str:
    """Words for a JSON Schema type, with its range."""
    if "$ref" in field:
        return str(field["$ref"]).rsplit("/", 1)[-1]
    if "const" in field:
        return f"`{json.dumps(field['const'])}`"
    if "enum" in field:
        return " or ".join(f"`{json.dumps(choice)}`" for choice in field["enum"])
    members = field.get("anyOf") or field.get("oneOf")
    if members:
        words = dict.fromkeys(type_words(member) for member in members)
        if "number" in words:
            words.pop("integer", None)
        return " or ".join(words)
    name = str(field.get("type", "any"))
    if name == "array":
        return f"list of {type_words(field['items'])}" if "items" in field else "list"
    limits = [
        f"{sign} {field[key]:g}"
        for key, sign in (
            ("minimum", "≥"),
            ("exclusiveMinimum", ">"),
            ("maximum", "≤"),
            ("exclusiveMaximum", "<"),
        )
        if key in field
    ]
    return f"{name} {', '.join(limits)}".strip()


def default_words(field: dict[str, Any]) -> str:
    """The default as it would stand in a plan; empty where the field must be given."""
    return f"`{json.dumps(field['default'])}`" if "default" in field else ""


def first_paragraph(part: dict[str, Any]) -> str:
    """The first paragraph of a description, on one line."""
    return " ".join(str(part.get("description", "")).split("\n\n")[0].split())
