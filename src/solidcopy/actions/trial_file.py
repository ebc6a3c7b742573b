"""A campaign's trial as a file to take away: the audio with its certificate, or what is in it."""

import tempfile
from pathlib import Path
from typing import Literal

from solidcopy.actions.folder import plan_of
from solidcopy.actions.remake import remake
from solidcopy.actions.trial_asked import AskedTrial


class AskedFile(AskedTrial):
    """A trial, and which file of it."""

    kind: Literal["wav", "json"] = "wav"
    """The audio, which carries its certificate; or the description of what is in it."""


def trial_file(folder: Path, asked: AskedFile) -> tuple[str, bytes]:
    """Name and contents of one of the two files that `remake` writes.

    Args:
        folder: of the campaign.
        asked: which trial, and which of the two; whole, whatever is muted.
    Raises: as `remake`, also where the samples are not those of the campaign.
    """
    key = asked.key(plan_of(folder))
    with tempfile.TemporaryDirectory() as out:
        made = remake(folder, key, out=Path(out))
        file = made.audio if asked.kind == "wav" else made.sidecar
        return file.name, file.read_bytes()
