"""Machines that do not know of each other each carry out a share; merged, it is the whole."""

from pathlib import Path

import pytest
from journal_samples import plan_with
from test_campaign_engine import PLACED, RULES, fingerprint, run

from solidcopy.actions.merge import merge
from solidcopy.campaigns.engine import EngineSettings
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.share import Share, share_of
from solidcopy.errors import PlanError

pytestmark = pytest.mark.derived

PLAN = plan_with(stop={"trials_per_point": 7, "nothing_sent": 5})


@pytest.mark.parametrize("n_machines", [2, 3, 9])
def test_shares_merge_into_the_whole(n_machines: int, tmp_path: Path) -> None:
    """No trial twice, none left out; nine machines for seven trials: two have little to do."""
    run(PLAN, tmp_path / "whole")
    parts, trials = [], []
    for number in range(1, n_machines + 1):
        settings = EngineSettings(share=Share(number, n_machines))
        seen, crew = run(PLAN, tmp_path / f"{number}", seed=number, settings=settings)
        assert seen[-1].is_finished
        parts.append(tmp_path / f"{number}")
        trials += [job.key for batch in crew.submitted for job in batch.jobs]
        _, crew = run(PLAN, tmp_path / f"{number}", settings=settings)
        assert crew.submitted == [], "a share that is done stays done"
    assert len(trials) == len(set(trials)) == 2 * (3 * 7 + 5)
    merged = merge(parts, tmp_path / "merged")
    assert merged.n_outcomes == 2 * len(trials)
    assert fingerprint(tmp_path / "merged") == fingerprint(tmp_path / "whole")
    with JournalReader(tmp_path / "merged") as reader:
        assert reader.is_finished(1, 1)


def test_a_share_can_be_completed_alone(tmp_path: Path) -> None:
    run(PLAN, tmp_path / "whole")
    run(PLAN, tmp_path / "part", settings=EngineSettings(share=Share(2, 3)))
    _, crew = run(PLAN, tmp_path / "part")
    assert all(job.key.trial_index % 3 != 1 for batch in crew.submitted for job in batch.jobs)
    assert fingerprint(tmp_path / "part") == fingerprint(tmp_path / "whole")


@pytest.mark.parametrize("rule", sorted(RULES))
def test_outcomes_that_decide_cannot_be_shared(rule: str, tmp_path: Path) -> None:
    axis = {"axis": PLACED} if rule == "placed" else {}
    plan = plan_with(stop=RULES[rule], **axis)
    settings = EngineSettings(share=Share(1, 2))
    if plan.stop.trials_per_point is not None and plan.axis.placement == "even":
        run(plan, tmp_path, settings=settings)
        return
    with pytest.raises(PlanError, match="this machine sees its own only; use --scheduler"):
        run(plan, tmp_path, settings=settings)
    assert not (tmp_path / "journal.sqlite").exists()


@pytest.mark.parametrize("text", ["0/2", "3/2", "1/1001", "1/0"])
def test_shares_that_cannot_be(text: str) -> None:
    with pytest.raises(PlanError, match=f"--share {text} cannot be"):
        share_of(text)


@pytest.mark.parametrize("text", ["", "2", "1/2/3", "a/b", "-1/2"])
def test_words_that_are_no_share(text: str) -> None:
    with pytest.raises(PlanError, match="give two numbers, as in 2/3"):
        share_of(text)


def test_words_of_a_share() -> None:
    assert share_of(" 2 / 3 ") == Share(2, 3)
    assert str(Share(2, 3)) == "2/3"
