"""What is exported is what the journal holds, as other programs read it: pandas, pyarrow and
statsmodels know nothing of ours.
"""

import math
import resource
import sys
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow.parquet as pq
import pytest
from journal_samples import ENVIRONMENT, finished, outcome_of, plan_with
from statsmodels.stats.proportion import proportion_confint
from typer.testing import CliRunner

from solidcopy.actions.export import export
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.cli.main import app
from solidcopy.errors import ExportError, SolidcopyError
from solidcopy.reports.gather import gather_counts
from solidcopy.reports.trial_columns import TRIAL_COLUMNS, trial_values
from solidcopy.trials.expand import TrialKey, parse_trial_key
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.trial import SENT

N = 70
PLAN = plan_with(
    stop={"trials_per_point": N, "nothing_sent": 5},
    receivers=[
        {"kind": "builtin", "name": "ours"},
        {"kind": "builtin", "name": '=quick, "so-called"', "effort": "belief-propagation"},
    ],
)
ENDS = (None, None, Verdict.MISSED, Verdict.FAILED, None, Verdict.DECODED, None)


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every kind of outcome: right, missed, failed, false decodes, nothing sent."""
    folder = tmp_path_factory.mktemp("exported") / "fence.campaign"
    rows = [
        Finished(
            item.key,
            item.receiver,
            outcome_of(
                item.key,
                ENDS[(item.key.trial_index + item.receiver) % 7] if item.key.arm == SENT else None,
                n_false=2 if item.key.trial_index % 11 == 3 else 0,
                elapsed_s=1.0 / 3.0 + item.key.trial_index,
            ),
        )
        for item in finished(PLAN)
    ]
    with JournalWriter(folder, PLAN, ENVIRONMENT) as writer:
        writer.append(rows)
    return folder


def said_by(campaign: Path) -> list[tuple[Any, ...]]:
    with JournalReader(campaign) as reader:
        return [tuple(trial_values(row, reader.axis_unit)) for row in reader.rows()]


def plain(frame: pd.DataFrame) -> list[tuple[Any, ...]]:
    """Rows of a frame, with None where there is nothing."""
    return [
        tuple(None if isinstance(v, float) and math.isnan(v) else v for v in row)
        for row in frame.astype(object).itertuples(index=False)
    ]


@pytest.mark.authority
def test_a_parquet_file_reads_back_as_the_journal(campaign: Path, tmp_path: Path) -> None:
    """Read by pyarrow and by pandas."""
    written = export(campaign, tmp_path / "out.parquet")
    table = pq.read_table(tmp_path / "out.parquet")
    assert table.column_names == [column.name for column in TRIAL_COLUMNS]
    assert [tuple(row.values()) for row in table.to_pylist()] == said_by(campaign)
    assert table.num_rows == written.n_outcomes == 2 * 2 * (3 * N + 5)
    assert (
        table.schema.field("mix_peak_dbfs").metadata[b"meaning"] == b"highest peak of the recording"
    )
    assert plain(pd.read_parquet(tmp_path / "out.parquet")) == said_by(campaign)


@pytest.mark.authority
def test_a_csv_file_reads_back_as_the_journal(campaign: Path, tmp_path: Path) -> None:
    """Read by pandas, by its engine that reads numbers to the last digit; names that a
    spreadsheet takes for formulas have an apostrophe in front.
    """
    export(campaign, tmp_path / "out.csv")
    frame = pd.read_csv(tmp_path / "out.csv", engine="python")
    assert set(frame["receiver"]) == {"ours", '\'=quick, "so-called"'}
    frame["receiver"] = frame["receiver"].str.removeprefix("'")
    assert plain(frame) == said_by(campaign)
    with JournalReader(campaign) as reader:
        keys = [row.key for row in reader.rows()]
    assert [parse_trial_key(trial, PLAN) for trial in frame["trial"]] == keys


@pytest.mark.authority
def test_counts_and_intervals_of_the_export_are_those_of_the_report(
    campaign: Path, tmp_path: Path
) -> None:
    """Counted by pandas; Wilson's interval by statsmodels' proportion_confint."""
    export(campaign, tmp_path / "out.parquet")
    frame = pd.read_parquet(tmp_path / "out.parquet")
    sent = frame[frame["arm"] == "sent"]
    by_point = sent.groupby(["condition", "receiver", "axis_value"])["verdict"]
    counts = by_point.value_counts().unstack(fill_value=0)
    with JournalReader(campaign) as reader:
        facts = gather_counts(reader)
    n_points = 0
    for curve in facts.curves:
        for point in curve.points:
            own = counts.loc[(curve.condition, curve.receiver, point.axis_value)]
            n_scored = own["decoded"] + own["missed"]
            assert (point.n_decoded, point.n_missed) == (own["decoded"], own["missed"])
            assert (point.n_failed, point.n_trials) == (own["failed"], N)
            low, high = proportion_confint(own["decoded"], n_scored, 0.05, "wilson")
            assert point.p_decoded.interval.low == pytest.approx(low, abs=1e-12)
            assert point.p_decoded.interval.high == pytest.approx(high, abs=1e-12)
            n_points += 1
    assert n_points == len(counts) == 12


@pytest.mark.derived
def test_the_ending_and_a_file_that_is_there_are_minded(campaign: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    with pytest.raises(ExportError, match=r"allowed are \.csv and \.parquet"):
        export(campaign, tmp_path / "out.xlsx")
    out.write_text("mine")
    with pytest.raises(ExportError, match=r"exists: choose another file, or add --replace"):
        export(campaign, out)
    assert out.read_text() == "mine"
    ended = CliRunner().invoke(app, ["export", str(campaign), str(out), "--replace"])
    assert ended.exit_code == 0 and f"{2 * 2 * (3 * N + 5)} outcomes" in ended.output
    assert out.read_text().startswith("trial,condition,receiver,arm,axis_value,")
    with pytest.raises(SolidcopyError, match="no campaign was begun there"):
        export(tmp_path / "nowhere", out)


@pytest.mark.derived
@pytest.mark.parametrize("name", ["out.csv", "out.parquet"])
def test_no_room_is_a_sentence_and_leaves_nothing(
    name: str, campaign: Path, tmp_path: Path
) -> None:
    """No file may grow beyond 4 kB: the system's limit stands for a full disk."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, before[1]))
    try:
        with pytest.raises(ExportError, match=r"cannot be written .*make room"):
            export(campaign, tmp_path / name)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(ExportError, match="No such file"):
        export(campaign, tmp_path / "not there" / name)


@pytest.mark.derived
def test_without_the_library_a_sentence_says_how_to_get_it(
    campaign: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(ExportError, match=r"pip install 'solidcopy\[parquet\]'"):
        export(campaign, tmp_path / "out.parquet")
    assert list(tmp_path.iterdir()) == []
    assert export(campaign, tmp_path / "out.csv").n_outcomes > 0


@pytest.mark.derived
def test_an_export_beside_a_run_is_of_one_moment(tmp_path: Path) -> None:
    """A row that is written between the first line and the last is not in it."""
    key = TrialKey(0, SENT, -22.0, 0)
    with JournalWriter(tmp_path / "c", PLAN, ENVIRONMENT) as writer:
        writer.append([Finished(key, 0, outcome_of(key))])
        with JournalReader(tmp_path / "c") as reader, reader.snapshot():
            rows = reader.rows()
            first = next(rows)
            writer.append([Finished(key, 1, outcome_of(key))])
            assert [first.receiver, *(row.receiver for row in rows)] == [0]
    assert export(tmp_path / "c", tmp_path / "out.csv").n_outcomes == 2
