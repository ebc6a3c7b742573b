"""A duel that carries its plan out: real audio, resumed, with a second arm."""

from pathlib import Path

import pytest
import tomli_w
from typer.testing import CliRunner

from example_plans import changed, condition
from solidcopy.campaigns.journal import JournalReader
from solidcopy.cli.main import app

pytestmark = pytest.mark.derived

RUNNER = CliRunner()
TEXT = "CQ Q1ABC JO62"


def test_a_plan_is_carried_out_as_far_as_needed(tmp_path: Path) -> None:
    plan = changed(
        axis={"values": [-24.0, -21.0, -17.0]},
        stop={"trials_per_point": 3, "nothing_sent": 2},
        conditions=[condition("quiet band")],
        receivers=[
            {"kind": "builtin", "name": "quick", "effort": "belief-propagation"},
            {"kind": "builtin", "name": "thorough"},
        ],
    )
    file, folder = tmp_path / "two.toml", tmp_path / "two.campaign"
    file.write_text(tomli_w.dumps(plan), encoding="utf-8")

    ran = RUNNER.invoke(app, ["duel", str(file), "--workers", "1"])
    assert ran.exit_code == 0, ran.exception
    assert "quick" not in ran.output and "thorough" not in ran.output  # progress included
    with JournalReader(folder) as reader:
        before = reader.fingerprint()
        outcomes = [row.outcome for row in reader.rows()]
    assert len(outcomes) == 2 * (3 * 3 + 2)
    assert all(outcome.cpu_s is not None and outcome.cpu_s > 0.0 for outcome in outcomes)
    assert not (folder / "report").exists()

    ran = RUNNER.invoke(app, ["duel", str(folder), "--same-message", TEXT, "--workers", "1"])
    assert ran.exit_code == 0, ran.exception
    assert "With the same message every time (“quiet band, same message”" in ran.stdout
    with JournalReader(folder) as reader:
        assert [c.sending.message for c in reader.plan.conditions] == ["random", TEXT]
        assert {
            row.outcome.right.text
            for row in reader.rows()
            if row.outcome.right and row.key.condition == 1
        } == {TEXT}
        assert len(list(reader.rows())) == 2 * len(outcomes)
        assert reader.runs()[-1].n_outcomes == len(outcomes)  # nothing was run twice

    # The plan alone asks for the first arm only, and finds it done.
    ran = RUNNER.invoke(app, ["duel", str(file), "--workers", "1"])
    assert ran.exit_code == 0, ran.exception
    with JournalReader(folder) as reader:
        assert reader.fingerprint() == before
