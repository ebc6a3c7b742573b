"""The generated page on the interface of the bench: what its pages ask of their server."""

from collections.abc import Iterator
from typing import Any

from solidcopy.actions.schema_words import default_words, first_paragraph, type_words
from solidcopy.web.app import bare_app

HEAD = """# The interface of the bench

What the pages of `solidcopy web` ask of their server, and any other program on this machine may
ask: addresses under `/api/`, by subject. The same in the form of OpenAPI 3.1 is at
`/api/openapi.json` of a running bench.

- A request that changes something (POST, PUT, DELETE) carries the header `x-bench-key` with the
  key that every page of the bench holds in `<meta name="bench-key">`.
- Every refusal has one shape, `Problem` below, whatever refuses.
"""


def interface_page(note: str) -> str:
    """Markdown of every path by subject, then of every shape."""
    description = bare_app().openapi()
    lines = [note, HEAD, "| status of a refusal | meaning |", "|---|---|"]
    lines += [f"| {status} | {words} |" for status, words in _refusals(description).items()]
    by_subject: dict[str, list[str]] = {}
    for path, methods in sorted(description["paths"].items()):
        for method, operation in methods.items():
            told = by_subject.setdefault(operation["tags"][0], [])
            told += _operation_lines(f"{method.upper()} {path}", operation)
    for subject, told in sorted(by_subject.items()):
        lines += [f"\n## {subject.replace('_', ' ').capitalize()}", *told]
    lines.append("\n## Shapes")
    for name, shape in sorted(description["components"]["schemas"].items()):
        lines += _shape_lines(name, shape)
    return "\n".join(lines) + "\n"


def _refusals(description: dict[str, Any]) -> dict[str, str]:
    """Status and meaning, the same of all paths."""
    found: dict[str, str] = {}
    for methods in description["paths"].values():
        for operation in methods.values():
            for status, answer in operation["responses"].items():
                if status >= "400":
                    found.setdefault(status, answer["description"])
    return dict(sorted(found.items()))


def _operation_lines(title: str, operation: dict[str, Any]) -> Iterator[str]:
    yield f"\n### {title}\n"
    yield first_paragraph(operation)
    parameters = operation.get("parameters", [])
    if parameters:
        yield "\n| parameter | in | type | default | meaning |\n|---|---|---|---|---|"
    for one in parameters:
        meaning = " ".join(str(one.get("description", "")).split())
        schema = one["schema"]
        yield (
            f"| `{one['name']}` | {one['in']} | {type_words(schema)} | {default_words(schema)} "
            f"| {meaning} |"
        )
    body = operation.get("requestBody")
    if body:
        yield f"\nBody: {_content_words(body)}."
    for status, answer in operation["responses"].items():
        if status < "400":
            yield f"\nAnswer {status}: {_content_words(answer)}."


def _content_words(part: dict[str, Any]) -> str:
    """Kind of content and its shape; linked where it is one of ours."""
    told = []
    for kind, content in part.get("content", {}).items():
        schema = content.get("schema", {})
        link = _link(schema.get("items", schema))
        list_words = "list of " if "items" in schema else ""
        told.append(f"{list_words}{link}" if link else f"`{kind}`")
    return " or ".join(told) or "nothing"


def _link(schema: dict[str, Any]) -> str:
    if "$ref" not in schema:
        return ""
    name = str(schema["$ref"]).rsplit("/", 1)[-1]
    return f"[{name}](#{name.lower()})"


def _shape_lines(name: str, shape: dict[str, Any]) -> Iterator[str]:
    yield f"\n### {name}\n"
    yield first_paragraph(shape)
    if "properties" not in shape:
        yield f"\n{type_words(shape)}"
        return
    yield "\n| field | type | default | meaning |\n|---|---|---|---|"
    for key, field in shape["properties"].items():
        meaning = " ".join(str(field.get("description", "")).replace("|", "\\|").split())
        yield f"| `{key}` | {type_words(field)} | {default_words(field)} | {meaning} |"
