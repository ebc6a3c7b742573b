"""A campaign that runs until it is decided says its verdict wherever the reader looks first."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from duel_campaigns import ENVIRONMENT, NEW, OLD, Truth, finished_trials, plan_of_two
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.cli.main import app
from solidcopy.reports.answer import answer
from solidcopy.reports.decision_words import AFTER_A_STOP, STILL_ACROSS, STILL_OPEN
from solidcopy.reports.decisions import decisions
from solidcopy.reports.gather import gather
from solidcopy.statistics.evidence import Interval
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}
FADING = {"kind": "two-path-fading", "delay_ms": 1.0, "spread_hz": 0.5, "trials_together": 10}
QUIET, LOW = (
    {"name": name, "sending": {"audio_hz": audio_hz}, "impairments": [NOISE]}
    for name, audio_hz in (("quiet", 1500.0), ("low", 700.0))
)
ALIKE = {(0, 0): Truth(), (0, 1): Truth()}
APART = {(0, 0): Truth(), (0, 1): Truth(-20.5)}
ONE_RECEIVER = [{"kind": "builtin", "name": OLD}]
ENOUGH = 40


def until_decided(conditions=None, *, at_most=ENOUGH, **fields):
    stop = {"until": "decided", "at_most": at_most, "nothing_sent": 5}
    return plan_of_two(conditions, stop=stop, **fields)


def campaign(folder: Path, truths, plan, *, n: int = ENOUGH, **chance) -> Path:
    """A journal with the first n trials of each point, whatever the rule would have asked for."""
    fixed = {"trials_per_point": n, "nothing_sent": 5}
    there = plan_of_two(
        [c.model_dump() for c in plan.conditions],
        stop=fixed,
        receivers=[r.model_dump() for r in plan.receivers],
        map=None if plan.map is None else plan.map.model_dump(),
    )
    with JournalWriter(folder, there, ENVIRONMENT) as writer:
        writer.append(finished_trials(there, truths, **chance))
    with JournalWriter(folder, plan, ENVIRONMENT):
        return folder


def decided(folder: Path):
    with JournalReader(folder) as reader:
        return decisions(reader)


def said_by(*arguments: object) -> str:
    ran = CliRunner().invoke(app, [str(argument) for argument in arguments])
    assert ran.exit_code == 0, ran.exception
    return " ".join(ran.stdout.split())


def test_the_better_side_is_named_first_everywhere(tmp_path):
    folder = campaign(tmp_path, APART, until_decided(), n=20)
    (found,) = decided(folder)
    alone = [0, 0]
    with JournalReader(folder) as reader:
        facts = gather(reader)
        answers: dict[object, list[bool]] = {}
        for row in reader.rows():
            if row.key.arm == SENT:
                decoded = row.outcome.verdict is Verdict.DECODED
                answers.setdefault(row.key, []).append(decoded)
    for old, new in answers.values():
        alone[0] += old and not new
        alone[1] += new and not old
    assert [found.n_only_first, found.n_only_second] == alone
    assert found.n_pairs == len(answers) == 8 * found.n_per_point
    assert (found.first, found.second, found.better) == (OLD, NEW, "first")
    assert found.is_final and found.p_value <= found.risk == 0.05

    verdict = f"Decided: “{OLD}” decodes more than “{NEW}” ({found.n_pairs} trials that both "
    alike = f"{alone[0]} by “{OLD}”, {alone[1]} by “{NEW}”; risk 5 % of calling one better"
    said = answer(facts)
    assert said.headline.startswith(verdict) and alike in said.headline
    assert said.supports[0].startswith(f"Receiver “{NEW}” gets the same share through at ")
    assert AFTER_A_STOP in said.supports
    for command in ("report", "status"):
        printed = said_by(command, folder)
        assert verdict in printed and alike in printed
    html = (folder / "report" / "report.html").read_text(encoding="utf-8")
    assert f"decided: {OLD}" in html and "p at any look" in html
    written = json.loads((folder / "report" / "facts.json").read_text(encoding="utf-8"))
    assert written["decisions"][0]["better"] == "first"
    assert written["about"]["keys"].keys() >= {"decisions"}
    status = json.loads(said_by("status", folder, "--json"))
    assert status["decisions"] == written["decisions"]


def test_a_duel_says_it_by_letters(tmp_path):
    folder = campaign(tmp_path, APART, until_decided(), n=20)
    figures = json.loads(said_by("duel", folder, "--json"))
    (found,) = figures["decisions"]
    better = "A" if found["better"] == "first" else "B"
    other = "B" if better == "A" else "A"
    assert (found["first"], found["second"]) == ("A", "B")
    assert figures["sentence"].startswith(f"Decided: {better} decodes more than {other} (risk 5 %")
    assert f"; {better} gets the same share through at " in figures["sentence"]
    assert "The verdict rests on " in figures["supports"][0]
    assert "which holds at any look" in figures["supports"][0]
    assert AFTER_A_STOP in figures["supports"]


def test_not_yet_and_the_limit_are_no_verdict(tmp_path):
    folder = campaign(tmp_path / "open", ALIKE, until_decided(), n=10)
    (found,) = decided(folder)
    assert found.better is None and not found.is_final
    assert f"Not decided yet whether “{OLD}” or “{NEW}” decodes more (80 trials" in said_by(
        "status", folder
    )
    folder = campaign(tmp_path / "limit", ALIKE, until_decided())
    (found,) = decided(folder)
    assert found.better is None and found.is_final and found.n_per_point == ENOUGH
    printed = said_by("report", folder)
    assert "Not decided at the limit of 40 trials a point: whether " in printed
    assert "is not shown, nor that they are equal (320 trials" in printed


def test_no_verdict_under_another_rule(tmp_path):
    folder = tmp_path / "fixed"
    with JournalWriter(folder, plan_of_two(n=10), ENVIRONMENT) as writer:
        writer.append(finished_trials(plan_of_two(n=10), APART))
    assert decided(folder) == ()
    assert "ecided" not in said_by("status", folder)
    assert json.loads(said_by("duel", folder, "--json"))["decisions"] == []


def test_two_conditions_of_one_receiver(tmp_path):
    plan = until_decided([QUIET, LOW], receivers=ONE_RECEIVER)
    folder = campaign(tmp_path, {(0, 0): Truth(-20.5), (1, 0): Truth()}, plan)
    (found,) = decided(folder)
    assert (found.compares, found.within, found.better) == ("condition", OLD, "second")
    assert "Decided: more messages get through with “low” than with “quiet” (" in said_by(
        "report", folder
    )


def test_each_condition_is_decided_for_itself(tmp_path):
    plan = until_decided([QUIET, LOW])
    truths = {(0, 0): Truth(), (0, 1): Truth(-20.5), (1, 0): Truth(), (1, 1): Truth()}
    folder = campaign(tmp_path, truths, plan)
    assert [one.better for one in decided(folder)] == ["first", None]
    printed = said_by("status", folder)
    assert f"“quiet”: decided: “{OLD}” decodes more" in printed
    assert "“low”: not decided at the limit" in printed
    with JournalReader(folder) as reader:
        said = answer(gather(reader))
    # Each verdict has its difference in dB behind it.
    assert said.supports[0].startswith(f"Receiver “{NEW}” gets the same share through with “quiet”")
    assert said.supports[1].startswith("“low”: not decided")
    assert f"receivers “{NEW}” and “{OLD}” with “low”" in said.supports[2]
    figures = json.loads(said_by("duel", folder, "--json"))
    assert figures["sentence"].startswith("Of the conditions, ")
    assert "; over 2 conditions: " in figures["sentence"]
    assert "not decided at 1 (each for itself" in figures["sentence"]
    assert figures["supports"][0].startswith("“quiet”: decided: ")
    assert " at any look); " in figures["supports"][0]


def test_groups_count_once(tmp_path):
    plan = until_decided([{"name": "fading", "impairments": [FADING, NOISE]}])
    (found,) = decided(campaign(tmp_path, APART, plan))
    assert found.n_together == 10
    assert found.n_only_first + found.n_only_second <= found.n_pairs // 10


def test_values_of_a_map_are_counted(tmp_path):
    carrier = {"kind": "carrier", "offset_hz": "map", "interference_to_noise_db": 0.0}
    plan = until_decided(
        [{"name": "carrier", "impairments": [NOISE, carrier]}], map={"values": [-40.0, 0.0, 40.0]}
    )
    truths = {(place, 0): Truth() for place in range(3)}
    truths |= {(place, 1): Truth(-20.5 if place else -21.5) for place in range(3)}
    folder = campaign(tmp_path, truths, plan)
    with JournalReader(folder) as reader:
        said = answer(gather(reader))
    assert said.headline.startswith(
        f"“carrier”, values of the map: “{OLD}” decodes more at 2 of 3, “{NEW}” at 0, not decided "
        "at 1 (each for itself, risk 5 %"
    )


def test_an_interval_across_zero_beside_a_verdict_is_explained(tmp_path):
    folder = campaign(tmp_path, APART, until_decided(), n=20)
    with JournalReader(folder) as reader:
        facts = gather(reader)
    assert STILL_ACROSS not in answer(facts).supports
    first = facts.penalties[0]
    across = replace(first, shift=replace(first.shift, interval=Interval(-0.1, 1.0, 0.95, "any")))
    said = answer(replace(facts, penalties=(across, *facts.penalties[1:]))).supports
    assert said.index(STILL_ACROSS) + 1 == said.index(AFTER_A_STOP)
    open_yet = (replace(facts.decisions[0], better=None),)
    assert STILL_OPEN not in said
    assert STILL_OPEN in answer(replace(facts, decisions=open_yet)).supports
