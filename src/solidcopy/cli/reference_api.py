"""The generated page on what a Python program may call: signatures and first lines."""

import ast
from collections.abc import Iterator
from pathlib import Path

import solidcopy

PACKAGE = Path(solidcopy.__file__).parent
ROOMS = ("units", "seeds", "signals", "modes", "impairments", "receivers", "trials", "campaigns")
ROOMS_ABOVE = ("statistics", "translate", "reports", "actions")


def api_page(note: str) -> str:
    """Markdown of every public function and class, module by module; nothing is imported."""
    lines = [note, "# What a Python program may call\n"]
    lines.append("Docstrings in the code give shapes, units, errors and sources.")
    for room in (*ROOMS, *ROOMS_ABOVE):
        folder = PACKAGE / room
        files = sorted(folder.rglob("*.py")) if folder.is_dir() else [folder.with_suffix(".py")]
        for file in files:
            lines += _module_lines(file)
    return "\n".join(lines) + "\n"


def _module_lines(file: Path) -> list[str]:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    rows = [row for node in tree.body for row in _rows(node)]
    if not rows:
        return []
    name = ".".join(file.relative_to(PACKAGE.parent).with_suffix("").parts)
    return [f"\n## `{name}`\n", _first_line(tree), "", *rows]


def _rows(node: ast.stmt) -> Iterator[str]:
    """One row for a public function; one for a public class and each of its public methods."""
    if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
        yield f"- `{_signature(node)}`: {_first_line(node)}"
    if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
        yield f"- `class {node.name}`: {_first_line(node)}"
        for child in node.body:
            if isinstance(child, ast.FunctionDef) and not child.name.startswith("_"):
                yield f"  - `.{_signature(child)}`: {_first_line(child)}"


def _signature(node: ast.FunctionDef) -> str:
    arguments = ast.unparse(node.args).removeprefix("self, ").removeprefix("self")
    result = f" -> {ast.unparse(node.returns)}" if node.returns else ""
    return f"{node.name}({arguments}){result}"


def _first_line(node: ast.Module | ast.FunctionDef | ast.ClassDef) -> str:
    """First sentence of a docstring, on one line."""
    text = ast.get_docstring(node) or ""
    return " ".join(text.split("\n\n")[0].split())
