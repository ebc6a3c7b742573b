"""The figures of a campaign in a file beside its journal, so that a server that has just started
need not fit all curves again.

The file only spares work: it carries the stamp of the journal that it was made from and the
program's version, and is forgotten if it does not hold together. It may be removed at any time.
"""

import contextlib
from functools import cache
from pathlib import Path

from pydantic import TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass
from pydantic_core import to_json

from solidcopy import __version__
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.whole_file import put_bytes

KEPT_FILE = "kept-figures.json"


@dataclass(frozen=True)
class KeptFigures:
    """What the file holds.

    Args:
        program: version that made it.
        stamp: of the journal.
        facts: from `gather_figures`.
    """

    program: str
    stamp: str
    facts: CampaignFacts


@cache
def _adapter() -> TypeAdapter[KeptFigures]:
    return TypeAdapter(KeptFigures)


def keep_figures(folder: Path, stamp: str, facts: CampaignFacts) -> None:
    """Write the file; where the folder cannot be written nothing is kept."""
    content = to_json(KeptFigures(__version__, stamp, facts), inf_nan_mode="constants")
    with contextlib.suppress(OSError):
        put_bytes(folder / KEPT_FILE, content)


def kept_figures(folder: Path) -> tuple[str, CampaignFacts] | None:
    """Stamp and facts; None if there are none, or those of another version."""
    try:
        kept = _adapter().validate_json((folder / KEPT_FILE).read_bytes())
    except (OSError, ValidationError):
        return None
    return (kept.stamp, kept.facts) if kept.program == __version__ else None
