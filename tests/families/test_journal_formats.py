"""Journals that earlier versions of the program wrote are read, brought up and gone on with; what a
later version wrote is refused.
"""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from journal_samples import ENVIRONMENT, outcome_of

from solidcopy.actions.export import export
from solidcopy.actions.merge import merge
from solidcopy.actions.prune import PruneWishes, prune
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.campaigns.journal.schema import (
    APPLICATION_ID,
    FORMAT_VERSION,
    close_writing,
    open_for_writing,
)
from solidcopy.campaigns.progress import progress_of
from solidcopy.errors import JournalError
from solidcopy.statistics.tally import Tally
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

KEPT = Path(__file__).with_name("old_journals")
FORMATS = {"format-1-first": 1, "format-1-last": 1, "format-2": 2}
FINGERPRINT = "294e21fc0fc5bdac44a46e19d21697733fb7394535e89c1bebdbceff9015f590"
"""As the programs gave it that wrote the files."""


@pytest.fixture(params=FORMATS)
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A campaign folder with one of the kept journals."""
    return put_together(request.param, tmp_path / "old")


def put_together(name: str, folder: Path) -> Path:
    folder.mkdir()
    with closing(sqlite3.connect(folder / "journal.sqlite")) as connection:
        connection.executescript((KEPT / f"{name}.sql").read_text(encoding="utf-8"))
        connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version={FORMATS[name]}")
    return folder


def check_content(folder: Path) -> None:
    """As the programs of the time gave it: six trials a point, the sixth failed for one."""
    with JournalReader(folder) as reader:
        assert reader.fingerprint() == FINGERPRINT
        for value in (-22.0, -20.0, -18.0):
            assert reader.tally(0, 1, value) == Tally(3, 2, 1, 1, 1)
            assert reader.tally(1, 0, value) == Tally(3, 3, 0, 1, 1)
        state = progress_of(reader)
        assert (state.n_done, state.n_planned, state.n_failed) == (80, 80, 6)
        assert [run.n_outcomes for run in reader.runs()][:2] == [40, 40]


def test_the_newest_kept_format_is_todays() -> None:
    assert max(FORMATS.values()) == FORMAT_VERSION, "keep a journal of this format, too"
    assert {path.stem for path in KEPT.glob("*.sql")} == set(FORMATS)


def test_it_is_read_as_it_is(old: Path) -> None:
    content = (old / "journal.sqlite").read_bytes()
    check_content(old)
    assert (old / "journal.sqlite").read_bytes() == content


def test_it_is_brought_up_and_then_is_as_one_made_today(old: Path, tmp_path: Path) -> None:
    close_writing(open_for_writing(old / "journal.sqlite"))
    check_content(old)
    made_today = tmp_path / "today" / "journal.sqlite"
    made_today.parent.mkdir()
    close_writing(open_for_writing(made_today))
    assert layout(old / "journal.sqlite") == layout(made_today)


def layout(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Tables and their columns but for the notes, and the file's marks."""
    with closing(sqlite3.connect(path)) as connection:
        tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        found = {
            name: connection.execute(f"PRAGMA table_info({name})").fetchall()
            for (name,) in sorted(tables.fetchall())
        }
        for mark in ("application_id", "user_version"):
            found[mark] = connection.execute(f"PRAGMA {mark}").fetchall()
    return found


def test_it_is_gone_on_with(old: Path) -> None:
    """What is there stays. Of the first one, the receivers' recipes have risen since: by today's
    plan, their answers are others' and do not count.
    """
    with JournalReader(old) as reader:
        plan, key = reader.plan, TrialKey(0, SENT, -20.0, 6)
        receiver = reader.identities(0, 0)[1]
    with JournalWriter(old, plan, ENVIRONMENT) as writer:
        writer.append([Finished(key, 0, outcome_of(key))])
    with JournalReader(old) as reader:
        assert reader.outcome(key, 0) == outcome_of(key)
        assert [run.n_outcomes for run in reader.runs()] == [40, 40, 1]
        is_other = reader.identities(0, 0)[1] != receiver
        assert reader.tally(0, 0, -20.0) == (Tally() if is_other else Tally(3, 3, 0, 1, 1))


def test_it_is_exported_merged_and_pruned(old: Path, tmp_path: Path) -> None:
    assert export(old, tmp_path / "out.csv").n_outcomes == 80
    second = Path(shutil.copytree(old, tmp_path / "second"))
    merged = merge([old, second], tmp_path / "merged")
    assert [part.taken_in.n_added for part in merged.parts] == [80, 0]
    with JournalReader(tmp_path / "merged") as reader:
        assert reader.fingerprint() == FINGERPRINT
    prune(old, PruneWishes(unasked=True))
    check_content(old)


def test_a_later_format_is_refused_and_left_alone(old: Path, tmp_path: Path) -> None:
    with JournalReader(old) as reader:
        plan = reader.plan
    with closing(sqlite3.connect(old / "journal.sqlite")) as connection:
        connection.execute(f"PRAGMA user_version={FORMAT_VERSION + 1}")
    content = (old / "journal.sqlite").read_bytes()
    said = f"has journal format {FORMAT_VERSION + 1}, this program reads 1 to {FORMAT_VERSION}; use"
    for use in (
        lambda: JournalReader(old),
        lambda: JournalWriter(old, plan, ENVIRONMENT),
        lambda: export(old, tmp_path / "out.csv"),
        lambda: prune(old, PruneWishes()),
        lambda: merge([old, put_together("format-2", tmp_path / "other")], tmp_path / "merged"),
    ):
        with pytest.raises(JournalError, match=said):
            use()
    assert (old / "journal.sqlite").read_bytes() == content
    assert not (tmp_path / "merged").exists()
