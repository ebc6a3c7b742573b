"""Duels of the bench: what a page may set against each other, and what it is shown meanwhile."""

import pytest

from duel_campaigns import NEW, OLD, Truth, plan_of_two, write_campaign
from solidcopy.actions.duel import conclude_duel
from solidcopy.actions.duel_plan import TwoSettings, begin_duel_plan, contenders
from solidcopy.actions.new_plan import Question, starting_plan
from solidcopy.actions.watch_duel import DuelAsked, reveal_duel, watch_duel
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import NotThereError, PlanError
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.statistics.sequential import decide
from solidcopy.trials.plan import read_plan


@pytest.fixture
def space(tmp_path):
    return Workspace.at(tmp_path / "bench")


@pytest.fixture
def duel(space):
    plan = plan_of_two(n=40)
    truths = {(0, 0): Truth(-20.0), (0, 1): Truth(-22.0)}
    write_campaign(space.folder / "two.campaign", truths, plan)
    return DuelAsked("two", (1, 2))


def test_a_look_tells_no_names_and_writes_nothing_down(space, duel):
    before = sorted(space.folder.rglob("*"))
    view = watch_duel(space, duel)
    assert (view.name_a, view.name_b, view.record, view.has_page) == (None, None, "", False)
    told = repr(view)
    assert OLD not in told and NEW not in told
    assert view.is_finished and not view.is_running
    assert sorted(space.folder.rglob("*")) == before


def test_the_words_are_those_of_the_command(space, duel):
    view = watch_duel(space, duel)
    concluded = conclude_duel(duel.request(space))
    assert view.sentence == concluded.sentence()
    assert "decodes more" in view.sentence or "fewer" in view.sentence or "dB" in view.sentence
    assert all(line in concluded.text() for line in view.supports)


def test_revealing_writes_the_verdict_down_first(space, duel):
    view = reveal_duel(space, duel)
    assert {view.name_a, view.name_b} == {OLD, NEW}
    assert "Decided blind" in view.record
    assert view.has_page
    assert watch_duel(space, duel).name_a == view.name_a


@pytest.mark.derived
def test_the_path_ends_where_the_decision_stands(space, duel):
    # The better one here is 2 dB ahead, so what only one decoded is nearly all its own.
    (condition,) = watch_duel(space, duel).conditions
    path = condition.path
    assert path.n_trials[-1] == 40
    assert list(path.n_trials) == sorted(set(path.n_trials))
    cells = condition.pairs.rows[-1]
    only_a, only_b = int(cells[2]), int(cells[3])
    assert path.p_values[-1] == pytest.approx(decide(only_a, only_b).p_value)
    assert path.p_values[0] > path.risk > path.p_values[-1]
    assert path.leads[-1] == ("A" if only_a > only_b else "B")


def test_a_duel_that_was_not_begun_is_not_there(space):
    with pytest.raises(NotThereError):
        watch_duel(space, DuelAsked("two"))


def test_nothing_that_a_page_sends_is_taken_for_an_option(space):
    (space.folder / "two.toml").write_text(starting_plan(Question.NOISE), encoding="utf-8")
    asked = DuelAsked("two", (2, 1), same_message="--reveal", difference=0.5)
    words = asked.words(space)
    assert words[0] == "duel" and words[1] == str(space.folder / "two.toml")
    assert words[2:] == ["--between", "2", "1", "--same-message=--reveal", "--difference-db=0.5"]
    assert "--reveal" not in words


def test_what_can_be_compared_is_listed_with_what_is_in_it(space, duel):
    (space.folder / "plan.toml").write_text(starting_plan(Question.NOISE), encoding="utf-8")
    (space.folder / "broken.toml").write_text("mode = 3", encoding="utf-8")
    found = {one.name: one for one in contenders(space)}
    assert found["two"].is_begun and found["two"].receivers == (OLD, NEW)
    assert not found["plan"].is_begun and found["plan"].receivers
    assert found["broken"].receivers == () and found["broken"].trouble


def settings(space, **changes):
    (space.folder / "base.toml").write_text(starting_plan(Question.CARRIER), encoding="utf-8")
    first = BuiltinSettings(effort="belief-propagation", passes=1)
    data = {"second": BuiltinSettings(effort="phase-trellis"), "at_most": 50, **changes}
    return TwoSettings("new", "base", first, **data)


def test_a_plan_for_two_settings_takes_over_the_conditions(space):
    begin_duel_plan(space, settings(space))
    made, base = (read_plan(space.folder / f"{name}.toml") for name in ("new", "base"))
    assert made.conditions == base.conditions
    assert (made.axis, made.root_seed) == (base.axis, base.root_seed)
    assert [one.name for one in made.receivers] == [
        "belief-propagation, 1 pass",
        "phase-trellis, 4 passes",
    ]
    assert (made.stop.until, made.stop.at_most) == ("decided", 50)
    with pytest.raises(PlanError, match="there already"):
        begin_duel_plan(space, settings(space))


def test_equal_settings_are_refused(space):
    same = BuiltinSettings(effort="belief-propagation", passes=1)
    with pytest.raises(PlanError, match="the same"):
        begin_duel_plan(space, settings(space, second=same))
    begin_duel_plan(space, settings(space, at_most=None))
    assert read_plan(space.folder / "new.toml").stop == read_plan(space.folder / "base.toml").stop
