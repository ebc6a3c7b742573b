"""A package from somebody else: looked at before anything is written, checked before it is used."""

import json
import os
import re
import shutil
import tempfile
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.package.members import ENVIRONMENT, FORMAT, SUMS, refuse_unfit
from solidcopy.actions.package.plan_text import placed_files
from solidcopy.actions.package.zip_file import refuse_full_disk, unpack_one
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.journal.copy import refuse_strange
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.errors import JournalError, PackageError, PlanError
from solidcopy.trials.plan import Plan, read_plan
from solidcopy.trials.sound_files import sound_files, with_files

_SUM_LINE = re.compile(r"([0-9a-f]{64})  (.+)")


@dataclass(frozen=True, slots=True)
class Unpacked:
    """A package as it lies in a folder, every file as its sum says."""

    folder: Path
    name: str
    n_files: int
    plan: Plan
    """With the recordings where they lie now."""
    environment: dict[str, Any]

    @property
    def campaign(self) -> Path:
        """Folder of the campaign."""
        return self.folder / f"{self.name}{SUFFIX}"

    @property
    def plan_file(self) -> Path:
        """Its plan."""
        return self.folder / f"{self.name}.toml"


def unpack(package: Path, into: Path) -> Unpacked:
    """Unpack a package into a new folder, named like its campaign. All of it, or nothing.

    Nothing in it is run, and no path leads out of the folder; `members` has the limits.

    Args:
        package: a zip that `pack` wrote, or claims to be one.
        into: folder to make the new one in.
    Raises: PackageError with the first thing that is not as it should be.
    """
    try:
        return _unpacked(package, into)
    except PackageError as error:
        raise PackageError(f"{package}: {error}") from None
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise PackageError(f"{package}: is no whole zip file ({error})") from None
    except OSError as error:
        raise PackageError(
            f"{error.filename or package}: cannot be used ({error.strerror})"
        ) from None


def _unpacked(package: Path, into: Path) -> Unpacked:
    with zipfile.ZipFile(package) as opened:
        name = refuse_unfit(opened, package.stat().st_size)
        target = into / name
        if os.path.lexists(target):
            raise PackageError(f"{target} is there already; move it away, or name another --folder")
        into.mkdir(parents=True, exist_ok=True)
        refuse_full_disk(into, sum(member.file_size for member in opened.infolist()))
        beside = Path(tempfile.mkdtemp(prefix=".unpacking-", dir=into))
        try:
            found = {
                member.filename: unpack_one(opened, member, beside / member.filename)
                for member in opened.infolist()
            }
            _refuse_wrong_sums(beside / name, found, name)
            _looked_at(beside / name, name, len(found))
            os.rename(beside / name, target)
        finally:
            shutil.rmtree(beside, ignore_errors=True)
    return _looked_at(target, name, len(found))


def _refuse_wrong_sums(folder: Path, found: dict[str, str], name: str) -> None:
    """PackageError unless the sums speak of exactly the files that are there, and are right."""
    try:
        lines = (folder / SUMS).read_text("utf-8").splitlines()
    except FileNotFoundError:
        raise PackageError(f"holds no {SUMS}: nothing in it can be checked") from None
    except UnicodeDecodeError:
        raise PackageError(f"{SUMS} in it is no text") from None
    stated: dict[str, str] = {}
    for line in lines:
        match = _SUM_LINE.fullmatch(line)
        if match is None or match[2] in stated:
            raise PackageError(f"{SUMS} in it has a line that is no sum: {line[:80]!r}")
        stated[match[2]] = match[1]
    own = {path.removeprefix(f"{name}/"): digest for path, digest in found.items()}
    del own[SUMS]
    unlike = sorted(set(own) ^ set(stated))
    if unlike:
        raise PackageError(f"files and sums do not belong together: {unlike[0]!r}")
    wrong = sorted(path for path in own if own[path] != stated[path])
    if wrong:
        raise PackageError(
            f"{wrong[0]!r} in it is not as it was packed (its sum differs"
            + (f", and {len(wrong) - 1} more)" if len(wrong) > 1 else ")")
        )


def _looked_at(folder: Path, name: str, n_files: int) -> Unpacked:
    """What lies there, once journal and plan are known to be such and to belong together."""
    journal = folder / f"{name}{SUFFIX}"
    try:
        refuse_strange(journal / JOURNAL_FILE)
        plan = read_plan(folder / f"{name}.toml")
        placed_files(plan, folder)
        with JournalReader(journal) as reader:
            _refuse_another_plan(plan, reader.plan)
    except (JournalError, PlanError) as error:
        said = str(error).replace(f"{folder}{os.sep}", "")
        raise PackageError(f"holds no campaign that this program can use: {said}") from None
    return Unpacked(folder, name, n_files, plan, _environment(folder / ENVIRONMENT))


def _refuse_another_plan(plan: Plan, kept: Plan) -> None:
    """PackageError unless the plan file asks what the journal answered."""
    ours, theirs = sound_files(plan), sound_files(kept)
    if len(ours) != len(theirs) or with_files(kept, dict(zip(theirs, ours, strict=True))) != plan:
        raise PackageError("its plan file is not the plan of its journal")


def _environment(file: Path) -> dict[str, Any]:
    try:
        data = json.loads(file.read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise PackageError(f"{file.name} in it cannot be read ({error})") from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise PackageError(f"{file.name} in it is of another format than {FORMAT!r}")
    return data
