"""What is confirmed of an output is kept in the plan, and a station is left out of `run`."""

import platform

import pytest

from solidcopy.actions.check_plan import check_plan
from solidcopy.actions.edit_plan import begin_plan, save_plan
from solidcopy.actions.live_bench import LiveBench, LiveRequest
from solidcopy.actions.live_plan import keep_confirmation
from solidcopy.actions.run import RunOptions, read_status, run_campaign
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import PlanError
from solidcopy.trials.identity import curve_identity
from solidcopy.trials.live_setup import LiveSetUp
from solidcopy.trials.plan import read_plan

PLAN = """# an evening by the harbour
mode = "ft4"
root_seed = 5
axis = { values = [-30, -8] } # both ends
stop = { trials_per_point = 2 }

[[conditions]]
name = "noise"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]

[[receivers]]
kind = "station"
listener = "the club's program"
"""
BUILTIN = """
[[receivers]]
kind = "builtin"
"""


@pytest.fixture
def plan(tmp_path):
    file = tmp_path / "evening.toml"
    file.write_text(PLAN)
    return file


def test_a_confirmation_is_kept_and_comments_stay(plan, tmp_path):
    before = read_plan(plan)
    kept = keep_confirmation(plan, LiveSetUp(output="cable", every=2))
    assert kept.is_confirmed
    text = plan.read_text()
    assert "# an evening by the harbour" in text and "# both ends" in text
    assert read_plan(plan).live == kept
    after = read_plan(plan)
    assert [curve_identity(after, one) for one in after.conditions] == [
        curve_identity(before, one) for one in before.conditions
    ]
    again = LiveBench(LiveRequest(plan, log=tmp_path / "station.log"))
    assert again.set_up.is_confirmed


def test_another_output_is_to_be_confirmed_anew(plan, tmp_path):
    keep_confirmation(plan, LiveSetUp(output="cable"))
    bench = LiveBench(LiveRequest(plan, log=tmp_path / "station.log", output="loudspeaker"))
    assert not bench.set_up.is_confirmed
    assert "loudspeaker" in bench.statement()
    with pytest.raises(PlanError, match="not confirmed"):
        next(bench.carry_out())


@pytest.mark.parametrize("ears", [{}, {"own_ear": "", "log": "station.log"}])
def test_one_ear_is_asked_for(plan, ears):
    with pytest.raises(PlanError, match="where the decodes come from"):
        LiveBench(LiveRequest(plan, **ears))


def test_a_plan_from_another_machine_is_to_be_confirmed_anew(plan, tmp_path, monkeypatch):
    keep_confirmation(plan, LiveSetUp(output="cable"))
    monkeypatch.setattr(platform, "node", lambda: "somebody-elses")
    assert not LiveBench(LiveRequest(plan, log=tmp_path / "station.log")).set_up.is_confirmed


def test_run_leaves_the_station_out(plan):
    with pytest.raises(PlanError, match="solidcopy play"):
        list(run_campaign(plan, RunOptions(n_workers=1)))
    plan.write_text(PLAN + BUILTIN)
    *_, last = run_campaign(plan, RunOptions(n_workers=1))
    assert last.is_finished
    status = read_status(plan)
    assert not status.is_finished
    scored = {curve.receiver_name: sum(p.n_scored for p in curve.points) for curve in status.curves}
    assert scored == {"station": 0, "builtin": 4}


def test_the_cost_of_playing_is_told(plan):
    """Derived: 4 trials and the usual 100 slots without a message, of 7.5 s, are 780 s."""
    assert 'played to "station": 13 minutes at most' in check_plan(plan).text()


def test_a_page_may_name_a_station(tmp_path):
    space = Workspace.at(tmp_path / "bench")
    begin_plan(space, "evening", "noise")
    assert save_plan(space, "evening", PLAN).receivers[0].kind == "station"
