"""What a package from elsewhere may not be: nothing of it is kept, and nothing lands outside.

Kinds of attack after the sections "Security considerations" of the zip format's description
(APPNOTE, 4.4.17 on names) and common practice on hostile archives (no source).
"""

import hashlib
import sqlite3
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from packed_campaigns import pump_package, respelt
from solidcopy.actions.package import members
from solidcopy.actions.package.unpack import unpack
from solidcopy.errors import PackageError

Members = dict[str, bytes]


def summed(package: Members) -> Members:
    """With sums that fit."""
    package["pump/SHA256SUMS"] = "".join(
        f"{hashlib.sha256(content).hexdigest()}  {name.removeprefix('pump/')}\n"
        for name, content in package.items()
        if name != "pump/SHA256SUMS"
    ).encode()
    return package


def refused(package: Path, tmp_path: Path, words: str) -> None:
    """Says why, and leaves nothing behind."""
    into = tmp_path / "into"
    into.mkdir()
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(PackageError, match=words):
        unpack(package, into)
    assert sorted(tmp_path.rglob("*")) == before


NAMES = [
    "../outside.txt",
    "pump/../../outside.txt",
    "/tmp/outside.txt",
    "pump//report.html",
    "pump\\..\\outside.txt",
    "C:/outside.txt",
    "pump/recordings/..",
    "pump/recordings/NUL.wav",
    "pump/recordings/deep/er.wav",
    "pump/pump.campaign/other.sqlite",
    "pump/.bashrc",
    "pump/other.toml",
    "pump/recordings/",
    "other/README.txt",
    "pump/recordings/PUMP motor.wav",
]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_that_packages_do_not_have_is_refused(tmp_path: Path, name: str) -> None:
    package = respelt(tmp_path / "p.zip", lambda held: held.update({name: b"x"}))
    refused(package, tmp_path, "no place|folders lie|there twice")


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR, stat.S_IFDIR])
def test_what_is_no_plain_file_is_refused(tmp_path: Path, kind: int) -> None:
    package = respelt(tmp_path / "p.zip", lambda held: None)
    info = zipfile.ZipInfo("pump/recordings/link.wav")
    info.external_attr = (kind | 0o777) << 16
    with zipfile.ZipFile(package, "a") as opened:
        opened.writestr(info, "/etc/hostname")
    refused(package, tmp_path, "link or a device")


def test_two_of_one_name_are_refused(tmp_path: Path) -> None:
    package = respelt(tmp_path / "p.zip", lambda held: None)
    with zipfile.ZipFile(package, "a") as opened, pytest.warns(UserWarning, match="Duplicate"):
        opened.writestr("pump/README.txt", "another")
    refused(package, tmp_path, "there twice")


def test_unusual_and_secret_packing_are_refused(tmp_path: Path) -> None:
    package = respelt(tmp_path / "p.zip", lambda held: None)
    with zipfile.ZipFile(package, "a", zipfile.ZIP_BZIP2) as opened:
        opened.writestr("pump/recordings/b.wav", b"x" * 100, zipfile.ZIP_BZIP2)
    refused(package, tmp_path, "unusual way")
    content = bytearray(respelt(package, lambda held: None).read_bytes())
    content[content.index(b"PK\x01\x02") + 8] |= 1  # APPNOTE 4.4.4: bit 0, encrypted
    package.write_bytes(content)
    (tmp_path / "into").rmdir()
    refused(package, tmp_path, "encrypted")


def test_a_bomb_is_not_unpacked(tmp_path: Path) -> None:
    zeros = bytes(220_000_000)
    package = respelt(
        tmp_path / "p.zip", lambda held: held.update({"pump/recordings/zeros.wav": zeros})
    )
    assert package.stat().st_size < 2_000_000
    allowed = members.MOST_GROWTH * package.stat().st_size + members.FREE_GROWTH_BYTES
    assert allowed < len(zeros)
    refused(package, tmp_path, "would grow")


def test_a_file_longer_than_it_says_is_refused(tmp_path: Path) -> None:
    package = respelt(tmp_path / "p.zip", lambda held: None)
    content = bytearray(package.read_bytes())
    name = b"pump/pump.campaign/report/report.html"
    at = content.rindex(name) - 46  # APPNOTE 4.3.12: the name follows 46 bytes of its entry
    assert content[at : at + 4] == b"PK\x01\x02"
    content[at + 24 : at + 28] = (100).to_bytes(4, "little")  # uncompressed size
    package.write_bytes(content)
    refused(package, tmp_path, "longer than it says|no whole zip|sum differs")


def test_too_many_files_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(members, "MOST_MEMBERS", 5)
    refused(pump_package(), tmp_path, "1 to 5 are allowed")


@pytest.mark.parametrize("keep", [0, 10, 1000, -30])
def test_half_a_package_is_refused(tmp_path: Path, keep: int) -> None:
    (tmp_path / "p.zip").write_bytes(pump_package().read_bytes()[:keep])
    refused(tmp_path / "p.zip", tmp_path, "no whole zip")


def flip(held: Members) -> None:
    content = bytearray(held["pump/pump.campaign/report/curves.csv"])
    content[-3] ^= 1
    held["pump/pump.campaign/report/curves.csv"] = bytes(content)


def no_sums(held: Members) -> None:
    del held["pump/SHA256SUMS"]


def one_less(held: Members) -> None:
    del held["pump/recordings/pump motor.wav"]


def one_more(held: Members) -> None:
    held["pump/recordings/other.wav"] = b"x"


def no_sum_line(held: Members) -> None:
    held["pump/SHA256SUMS"] += b"hello\n"


def other_plan(held: Members) -> None:
    held["pump/pump.toml"] = held["pump/pump.toml"].replace(b"root_seed = 77", b"root_seed = 78")
    summed(held)


def outside_recording(held: Members) -> None:
    held["pump/pump.toml"] = held["pump/pump.toml"].replace(b"recordings/", b"../../etc/")
    summed(held)


def no_plan(held: Members) -> None:
    held["pump/pump.toml"] = b"\xff\xfe"
    summed(held)


def no_journal(held: Members) -> None:
    held["pump/pump.campaign/journal.sqlite"] = b"hello"
    summed(held)


def other_format(held: Members) -> None:
    held["pump/environment.json"] = b"[]"
    summed(held)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (flip, "sum differs"),
        (no_sums, "nothing in it can be checked"),
        (one_less, "do not belong together"),
        (one_more, "do not belong together"),
        (no_sum_line, "no sum"),
        (other_plan, "not the plan of its journal"),
        (outside_recording, "recording outside the package"),
        (no_plan, "UTF-8"),
        (no_journal, "no campaign that this program can use"),
        (other_format, "another format"),
    ],
)
def test_what_does_not_belong_together_is_refused(
    tmp_path: Path, change: Callable[[Members], None], words: str
) -> None:
    refused(respelt(tmp_path / "p.zip", change), tmp_path, words)


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE VIEW outcomes AS SELECT * FROM outcome",
        "CREATE TRIGGER late AFTER INSERT ON run BEGIN DELETE FROM outcome; END",
        "CREATE TABLE other (a)",
    ],
)
def test_a_journal_with_more_in_it_is_refused(tmp_path: Path, statement: str) -> None:
    def more(held: Members) -> None:
        file = tmp_path / "journal.sqlite"
        file.write_bytes(held["pump/pump.campaign/journal.sqlite"])
        with sqlite3.connect(file) as journal:
            journal.execute(statement)
        journal.close()
        held["pump/pump.campaign/journal.sqlite"] = file.read_bytes()
        summed(held)

    refused(respelt(tmp_path / "p.zip", more), tmp_path, "what no journal does")


def test_nothing_is_put_over_what_is_there(tmp_path: Path) -> None:
    (tmp_path / "pump").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(PackageError, match="there already"):
        unpack(pump_package(), tmp_path)
    assert not (tmp_path / "elsewhere").exists()
    with pytest.raises(PackageError, match=r"no whole zip|cannot be used"):
        unpack(tmp_path / "missing.zip", tmp_path)
