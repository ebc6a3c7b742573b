"""What lies in a package, and where: known to the packing and to the opening side."""

import re
import stat
import zipfile
from pathlib import PureWindowsPath
from typing import Final

from solidcopy.actions.folder import SUFFIX
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.errors import PackageError

FORMAT: Final = "solidcopy package 1"
"""Raised whenever an older program could misread a package."""
README, SUMS, ENVIRONMENT, VERSIONS = (
    "README.txt",
    "SHA256SUMS",
    "environment.json",
    "versions.txt",
)
RECORDINGS, REPORT = "recordings", "report"

MOST_MEMBERS = 5_000
MOST_BYTES = 40_000_000_000
"""Of all members together, unpacked."""
MOST_SMALL_BYTES = 5_000_000
"""Of the plan, the sums and the other texts that are read whole."""
MOST_GROWTH, FREE_GROWTH_BYTES = 200, 10_000_000
"""A package may grow to so many times its size, and so much besides: text of tables and figures
shrinks to a twentieth, silence to a thousandth."""

_PART = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.()+-]{0,119}")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.-]{0,79}")


def safe_part(name: str, *, fallback: str) -> str:
    """A name for a file on any system, made of `name` as far as its letters allow."""
    kept = re.sub(r"[^A-Za-z0-9 _.()+-]+", "-", name)[-100:].strip(" .-")
    return kept if _is_part(kept) else fallback


def campaign_name(folder_name: str) -> str:
    """Of a package, after its campaign's folder."""
    kept = safe_part(folder_name.removesuffix(SUFFIX), fallback="campaign")[:80].strip(" .-")
    return kept if _NAME.fullmatch(kept) else "campaign"


def name_of(members: list[str]) -> str:
    """The one folder that all members lie in. Raises PackageError."""
    heads = {member.split("/", 1)[0] for member in members}
    if len(heads) != 1:
        raise PackageError(f"is no package of a campaign: {len(heads)} folders lie in it, not one")
    (name,) = heads
    if not _NAME.fullmatch(name) or not _is_part(name):
        raise PackageError(f"is no package of a campaign: its folder is named {name[:80]!r}")
    return name


def is_known(member: str, name: str) -> bool:
    """Whether a member is one that packages have, by its place."""
    parts = member.split("/")
    if parts[0] != name or not all(_is_part(part) for part in parts):
        return False
    match parts[1:]:
        case [one]:
            return one in (README, SUMS, ENVIRONMENT, VERSIONS, f"{name}.toml")
        case [folder, file] if folder == f"{name}{SUFFIX}":
            return file == JOURNAL_FILE
        case [folder, inner, _]:
            return folder == f"{name}{SUFFIX}" and inner == REPORT
        case [folder, _]:
            return folder == RECORDINGS
    return False


def refuse_unfit(package: zipfile.ZipFile, size_bytes: int) -> str:
    """PackageError for anything that a package of ours does not have; nothing is unpacked yet.

    Paths out of the folder, links, folders, unknown files, two names that some system takes for
    one, unusual or secret packing, and more bytes than allowed, as the package states them.

    Returns: name of the campaign.
    """
    members = package.infolist()
    if not 0 < len(members) <= MOST_MEMBERS:
        raise PackageError(f"holds {len(members)} files; 1 to {MOST_MEMBERS} are allowed")
    name = name_of([member.filename for member in members])
    folded = [member.filename.casefold() for member in members]
    for member in members:
        reason = _why_unfit(member, name, folded)
        if reason:
            raise PackageError(f"{member.filename[:120]!r} in it {reason}; nothing was unpacked")
    total = sum(member.file_size for member in members)
    allowed = min(MOST_BYTES, MOST_GROWTH * size_bytes + FREE_GROWTH_BYTES)
    if total > allowed:
        raise PackageError(
            f"would grow from {size_bytes / 1e6:.1f} to {total / 1e6:.0f} MB; at most "
            f"{allowed / 1e6:.0f} MB are allowed; nothing was unpacked"
        )
    return name


def _why_unfit(member: zipfile.ZipInfo, name: str, folded: list[str]) -> str:
    kind = stat.S_IFMT(member.external_attr >> 16)
    small = (README, SUMS, ENVIRONMENT, VERSIONS, f"{name}.toml")
    rules = (
        (not is_known(member.filename, name), "has no place in a package"),
        (kind not in (0, stat.S_IFREG), "is a link or a device, not a file"),
        (folded.count(member.filename.casefold()) > 1, "is there twice"),
        (bool(member.flag_bits & 1), "is encrypted"),
        (
            member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED),
            "is packed in an unusual way",
        ),
        (
            member.filename.split("/")[-1] in small and member.file_size > MOST_SMALL_BYTES,
            f"is larger than {MOST_SMALL_BYTES} bytes",
        ),
    )
    return next((reason for is_broken, reason in rules if is_broken), "")


def _is_part(part: str) -> bool:
    return (
        _PART.fullmatch(part) is not None
        and not part.endswith((".", " "))
        and not PureWindowsPath(part).is_reserved()
    )
