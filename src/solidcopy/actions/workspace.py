"""The bench folder: plans, campaigns and recordings that the browser page works on, by name.

A name is one part of a path, so a page can never reach outside the folder.
"""

import contextlib
import os
import re
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from solidcopy.actions.folder import SUFFIX
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.errors import NotThereError, WorkspaceError

RECORDINGS = "recordings"
"""Sub-folder of the recordings that were dropped in."""
KEY_FILE = ".bench-key"
KEY_LENGTH = 43
"""Letters of 32 random bytes."""
SOUND_SUFFIXES = (".wav", ".wave", ".w64", ".rf64", ".flac", ".aif", ".aiff", ".ogg", ".mp3")

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.-]{0,79}")


def checked_name(name: str) -> str:
    """The name, if it can be that of a file here. Raises WorkspaceError."""
    if not _NAME.fullmatch(name) or name.endswith((".", " ")):
        raise WorkspaceError(
            f"{name[:80]!r} cannot be a name here: up to 80 letters, digits, blanks and the signs "
            ". _ - are allowed, the first a letter or a digit"
        )
    return name


@dataclass(frozen=True, slots=True)
class Workspace:
    """One folder and what lies in it.

    Args:
        folder: absolute, existing.
        station_log: of the station that campaigns are played to; it may lie anywhere, as only the
            command line names it.
    """

    folder: Path
    station_log: Path | None = None

    @classmethod
    def at(cls, folder: Path, *, station_log: Path | None = None) -> "Workspace":
        """The workspace of a folder; made if missing. Raises WorkspaceError if it cannot be."""
        try:
            (folder / RECORDINGS).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise WorkspaceError(
                f"{folder}: cannot be used as bench folder ({error.strerror}); name another one"
            ) from None
        return cls(folder.resolve(), station_log and station_log.resolve())

    def key(self) -> str:
        """Secret of this folder's pages; kept, so that an open page outlives its server."""
        file = self.folder / KEY_FILE
        with contextlib.suppress(FileExistsError):
            descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with open(descriptor, "w", encoding="utf-8") as out:
                out.write(secrets.token_urlsafe(32))
        kept = file.read_text(encoding="utf-8")
        if len(kept) < KEY_LENGTH:
            raise WorkspaceError(f"{file}: holds no whole key; remove it, then start again")
        return kept

    def campaign(self, name: str) -> Path:
        """Folder of a campaign that was begun. Raises NotThereError."""
        folder = self._inside(self.folder / f"{checked_name(name)}{SUFFIX}")
        if not (folder / JOURNAL_FILE).is_file():
            raise NotThereError(f"no campaign {name!r} here; begin it from its plan")
        for file in _links(folder):  # reports and logs are written there, too
            self._inside(file)
        return folder

    def plan(self, name: str) -> Path:
        """Plan file of a name, there or not."""
        return self._inside(self.folder / f"{checked_name(name)}.toml")

    def existing_plan(self, name: str) -> Path:
        """Plan file that is there. Raises NotThereError."""
        file = self.plan(name)
        if not file.is_file():
            raise NotThereError(f"no plan {name!r} here; make one from a question on the home page")
        return file

    def new_recording(self, name: str) -> Path:
        """Where a recording of this name goes. Raises WorkspaceError for a suffix of no sound."""
        if Path(checked_name(name)).suffix.lower() not in SOUND_SUFFIXES:
            raise WorkspaceError(
                f"{name!r} is no sound file by its name: {', '.join(SOUND_SUFFIXES)} are read"
            )
        return self._inside(self.folder / RECORDINGS / name)

    def recording(self, name: str) -> Path:
        """A recording that is there. Raises NotThereError."""
        for folder in (self.folder / RECORDINGS, self.folder):
            file = self._inside(folder / checked_name(name))
            if file.is_file():
                return file
        raise NotThereError(f"no recording {name!r} here; drop it into the noise lab")

    def campaigns(self) -> list[str]:
        """Names, the one written last first."""
        found = [
            folder
            for folder in self.folder.glob(f"*{SUFFIX}")
            if (folder / JOURNAL_FILE).is_file()
            and self._is_listed(folder)
            and all(self._is_inside(file) for file in _links(folder))
        ]
        found.sort(key=lambda folder: -(folder / JOURNAL_FILE).stat().st_mtime)
        return [folder.name.removesuffix(SUFFIX) for folder in found]

    def plans(self) -> list[str]:
        """Names in order of the alphabet."""
        return sorted(file.stem for file in self.folder.glob("*.toml") if self._is_listed(file))

    def recordings(self) -> list[str]:
        """Names of files in order of the alphabet."""
        return sorted(set(self._sounds()))

    def _sounds(self) -> Iterator[str]:
        for folder in (self.folder, self.folder / RECORDINGS):
            for file in folder.iterdir():
                if file.suffix.lower() in SOUND_SUFFIXES and self._is_listed(file):
                    yield file.name

    def _is_listed(self, path: Path) -> bool:
        name = path.name.removesuffix(SUFFIX)
        return _NAME.fullmatch(name) is not None and self._is_inside(path)

    def _is_inside(self, path: Path) -> bool:
        return self.folder in path.resolve().parents

    def _inside(self, path: Path) -> Path:
        """The path, unless a link leads it outside."""
        if not self._is_inside(path):
            raise WorkspaceError(f"{path.name!r} leads out of the bench folder")
        return path


def _links(folder: Path) -> Iterator[Path]:
    return (file for file in folder.iterdir() if file.is_symlink())
