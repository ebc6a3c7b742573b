"""The files of a duel: a page, and everything on it for programs."""

import json
import os
from pathlib import Path
from typing import Any

from solidcopy.actions.duel_record import Record
from solidcopy.errors import JournalError
from solidcopy.reports.duel_facts import DuelFacts
from solidcopy.reports.duel_gate import GateFacts
from solidcopy.reports.duel_page import duel_page
from solidcopy.reports.duel_supports import supports
from solidcopy.reports.duel_words import Names, headline
from solidcopy.reports.facts import ReceiverFacts
from solidcopy.reports.tables import plain_data

FORMAT = "solidcopy duel 1"
"""Raised whenever a key changes its name or meaning."""

ABOUT = {
    "format": FORMAT,
    "differences": "B less A; of thresholds in axis.unit, positive: B needs more (along an axis of "
    "interference: B stands less)",
    "estimates": "an object with value and interval (low, high, confidence, method)",
    "missing": "an object with a reason stands where nothing could be measured; null: not asked",
    "names": "null as long as they are hidden",
    "who": "A and B with all their settings; empty as long as they are hidden",
    "record": "when the duel was looked at, and what its verdict was then; kept from look to look",
}


def write_duel(
    out: Path,
    facts: DuelFacts,
    record: Record,
    *,
    who: tuple[ReceiverFacts, ...],
    gate: GateFacts | None,
) -> tuple[Path, Path]:
    """Write duel.html and duel.json.

    Args:
        out: folder; made if missing; files of an earlier look are replaced.
        facts, record, gate: of the duel.
        who: A and B, as soon as they may be seen.
    Returns: paths of the page and of the JSON file.
    Raises: JournalError if the folder cannot be written.
    """
    names = Names(*(receiver.name for receiver in who))
    blind_words = record.sentence(headline(facts, Names()))
    page = duel_page(facts, names, blind_words=blind_words, who=who, gate=gate)
    data: dict[str, Any] = {
        "about": ABOUT,
        "sentence": headline(facts, names),
        "supports": supports(facts, names),
        "names": {"A": names.a, "B": names.b},
        "who": dict(zip("AB", plain_data(who), strict=False)),
        "record": record.model_dump(),
        "gate": None if gate is None else {"sentence": gate.sentence(), **plain_data(gate)},
        **plain_data(facts),
    }
    text = json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    try:
        out.mkdir(parents=True, exist_ok=True)
        return _put(out / "duel.html", page), _put(out / "duel.json", text)
    except OSError as error:
        raise JournalError(
            f"{out}: the duel cannot be written ({error.strerror}); check the folder"
        ) from None


def _put(path: Path, text: str) -> Path:
    """Write beside the path and rename, so that a reader never meets half a file."""
    beside = path.with_name(f".{path.name}-{os.getpid()}")
    try:
        beside.write_text(text, encoding="utf-8", newline="")
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    return path
