"""A duel by the command: hidden names, revealing, allowed losses, bad input. No audio."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from duel_campaigns import NEW, OLD, Truth, plan_of_two, write_campaign
from solidcopy.actions.duel_arms import with_same_message
from solidcopy.actions.duel_record import drawn_places, read_record
from solidcopy.campaigns.journal import JournalReader
from solidcopy.cli.main import app
from solidcopy.errors import SolidcopyError
from solidcopy.reports.duel_arms import arm_places
from solidcopy.trials.condition import MAX_NAME
from solidcopy.trials.plan import Plan

pytestmark = pytest.mark.derived

RUNNER = CliRunner()
BETTER = {(0, 0): Truth(-20.5), (0, 1): Truth(-21.5, cpu_s=0.25)}
ALIKE = {(0, 0): Truth(), (0, 1): Truth()}


def duel(*arguments: object) -> tuple[int, str]:
    """Exit code and what was printed (or the sentence of the error)."""
    ran = RUNNER.invoke(app, ["duel", *map(str, arguments)])
    if isinstance(ran.exception, SolidcopyError):
        return ran.exception.exit_code, str(ran.exception)
    if ran.exception is not None and not isinstance(ran.exception, SystemExit):
        raise ran.exception
    return ran.exit_code, ran.stdout


@pytest.fixture(scope="module")
def better(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The new one needs 1 dB less and five times the processor time."""
    return write_campaign(tmp_path_factory.mktemp("better"), BETTER)


def written(folder: Path, name: str = "duel") -> dict:
    return json.loads((folder / name / "duel.json").read_text(encoding="utf-8"))


def test_names_stay_hidden_until_they_are_revealed(tmp_path: Path) -> None:
    folder = write_campaign(tmp_path / "run", BETTER)
    code, said = duel(folder)
    assert code == 0
    for text in (said, *(file.read_text("utf-8") for file in (folder / "duel").iterdir())):
        assert OLD not in text and NEW not in text
        assert "phase-trellis" not in text and "builtin" not in text
    assert not (folder / "report").exists()  # it would name them
    letter = "A" if drawn_places(plan_of_two(), (0, 1))[0] == 1 else "B"
    other = "B" if letter == "A" else "A"
    assert said.startswith(f"{letter} gets the same share through at ")
    assert f" dB less signal than {other} (95 %: " in said
    assert f"{letter} takes 5.0 times the processor time" in said
    assert "Blind: " in said

    blind = written(folder)["sentence"]
    assert duel(folder)[1] == said  # a second look tells nothing new
    assert len(written(folder)["record"]["events"]) == 1

    said = duel(folder, "--reveal")[1]
    assert f"“{NEW}” ({letter}) gets the same share through at " in said
    assert "Decided blind: this verdict was written down on " in said
    events = written(folder)["record"]["events"]
    assert [event["kind"] for event in events] == ["look", "reveal"]
    assert events[0]["verdict"] == blind
    assert f"“{NEW}” ({letter})" in duel(folder)[1]  # once seen, seen


def test_trials_added_after_the_revealing_are_told(tmp_path: Path) -> None:
    write_campaign(tmp_path, BETTER, plan_of_two(n=40))
    duel(tmp_path)
    duel(tmp_path, "--reveal")
    write_campaign(tmp_path, BETTER, plan_of_two(n=60))
    said = duel(tmp_path)[1]
    assert "Decided blind: the verdict “" in said
    assert "Outcomes were added after the names were revealed" in said


def test_a_duel_seen_at_the_first_look_is_not_called_blind(better: Path) -> None:
    said = duel(better, "--reveal")[1]
    assert "Not blind: names were shown from the first look on" in said


def test_letters_follow_the_seed_and_not_the_order_of_naming() -> None:
    orders = {drawn_places(plan_of_two(seed=seed), (0, 1)) for seed in range(20)}
    assert orders == {(0, 1), (1, 0)}
    for seed in range(20):
        plan = plan_of_two(seed=seed)
        assert drawn_places(plan, (0, 1)) == drawn_places(plan, (1, 0))
    n_first = sum(drawn_places(plan_of_two(seed=seed), (0, 1))[0] == 0 for seed in range(400))
    assert abs(n_first - 200) < 60  # six standard deviations of a fair draw


def test_a_receiver_that_answers_alike_shows_no_difference(tmp_path: Path) -> None:
    plan = plan_of_two()
    write_campaign(tmp_path, ALIKE, plan, shared=1.0)
    code, said = duel(tmp_path)
    assert code == 0
    assert said.startswith("Between A and B no difference is shown; one larger than ±0.0")
    assert "is ruled out (95 %)" in said
    assert "only A 0, only B 0" in said


def test_not_yet_says_what_it_would_take(tmp_path: Path) -> None:
    folder = write_campaign(tmp_path, ALIKE, plan_of_two(n=10), shared=0.3, seed=4)
    said = duel(folder, "--difference-db", "0.1")[1]
    assert said.startswith("Not yet: between A and B no difference is shown, and one larger than ±")
    assert "to find one of 0.1 dB in four duels of five, about " in said
    wide = duel(folder, "--difference-db", "3")[1]
    assert wide.startswith("Between A and B no difference is shown; one larger than ±")


def test_builds_fail_only_on_a_shown_loss(better: Path, tmp_path: Path) -> None:
    code, said = duel(better, "--between", OLD, NEW, "--allowed-loss-db", "0.2", "--require-proof")
    assert code == 0 and "Proved: the new one" in said
    code, said = duel(better, "--between", NEW, OLD, "--allowed-loss-db", "0.2", "--json")
    assert code == 10
    figures = json.loads(said)
    assert figures["loss_beyond_allowed"] == "shown"
    assert figures["names"].keys() == {"A", "B"}

    small = write_campaign(tmp_path, ALIKE, plan_of_two(n=10), shared=0.3, seed=2)
    code, said = duel(small, "--allowed-loss-db", "0.05")
    assert code == 0 and "neither shown nor ruled out" in said
    assert duel(small, "--allowed-loss-db", "0.05", "--require-proof")[0] == 11


def test_builds_fail_on_more_false_decodes_and_on_failures(tmp_path: Path) -> None:
    noisy = {(0, 0): Truth(), (0, 1): Truth(p_false=0.06)}
    folder = write_campaign(tmp_path / "false", noisy)
    assert duel(folder, "--allowed-false-rate", "0.01")[0] == 10
    assert duel(folder, "--allowed-false-rate", "0.2", "--require-proof")[0] == 0
    silent = {(0, 0): Truth(), (0, 1): Truth(p_failed=1.0)}
    folder = write_campaign(tmp_path / "silent", silent)
    code, said = duel(folder, "--allowed-loss-db", "0.5")
    assert code == 10 and "trials without an answer" in said
    now_and_then = {(0, 0): Truth(), (0, 1): Truth(p_failed=0.003)}
    folder = write_campaign(tmp_path / "once", now_and_then, seed=5)
    code, said = duel(folder, "--allowed-loss-db", "0.5")
    assert code == 0 and "trials without an answer" in said
    assert duel(folder, "--allowed-loss-db", "0.5", "--require-proof")[0] == 11


def test_a_receiver_that_decodes_nothing_any_more_fails(tmp_path: Path) -> None:
    deaf = {(0, 0): Truth(), (0, 1): Truth(+10.0)}
    code, said = duel(write_campaign(tmp_path, deaf), "--allowed-loss-db", "0.5")
    assert code == 10
    assert "loss at least" in said


def test_one_that_remembers_is_found_out(tmp_path: Path) -> None:
    noise = [{"kind": "gaussian-noise", "snr_db": "axis"}]
    plan = plan_of_two(
        [
            {"name": "new", "impairments": noise},
            {"name": "same", "sending": {"message": "CQ Q1ABC JO62"}, "impairments": noise},
        ]
    )
    remembering = {(0, 0): Truth(), (1, 0): Truth(), (0, 1): Truth(), (1, 1): Truth(-22.5)}
    honest = {(0, 0): Truth(), (1, 0): Truth(-22.5), (0, 1): Truth(), (1, 1): Truth(-22.5)}
    folder = write_campaign(tmp_path / "remembering", remembering, plan)
    letter = "A" if drawn_places(plan, (0, 1))[0] == 1 else "B"
    start = "With the same message every time (“same” beside “new”)"
    said = duel(folder)[1]
    assert f"{start}, {letter} gains " in said and "it may be remembering" in said
    folder = write_campaign(tmp_path / "honest", honest, plan)
    said = duel(folder)[1]
    assert f"{start}, neither is shown to gain more" in said and "remembering." not in said


def map_plan(name: str, values: list[float]) -> Plan:
    carrier = {"kind": "carrier", "offset_hz": "map", "interference_to_noise_db": 0.0}
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    return plan_of_two([{"name": name, "impairments": [noise, carrier]}], map={"values": values})


def test_on_a_map_every_value_has_its_twin(tmp_path: Path) -> None:
    values, text = [-50.0, -25.0, 0.0, 25.0, 50.0], "CQ Q1ABC JO62"
    plan = with_same_message(map_plan("carrier", values), text)
    assert with_same_message(plan, text) == plan
    assert plan.conditions[5].name == "carrier, same message, offset -50 Hz"
    assert [c.mapped and c.mapped.condition for c in plan.conditions] == (
        ["carrier"] * 5 + ["carrier, same message"] * 5
    )
    # Each value meets its own twin, which differs in the message only.
    assert arm_places(plan) == [(place, place + 5) for place in range(5)]
    for place, twin in arm_places(plan):
        a, b = plan.conditions[place].identity(), plan.conditions[twin].identity()
        assert a["impairments"] == b["impairments"] and b["sending"].pop("message") == text
        assert a["sending"].pop("message") == "random" and a["sending"] == b["sending"]

    truths = {(place, receiver): Truth() for place in range(10) for receiver in (0, 1)}
    truths |= {(place, 1): Truth(-22.5) for place in range(5, 10)}
    folder = write_campaign(tmp_path, truths, plan)
    letter = "A" if drawn_places(plan, (0, 1))[0] == 1 else "B"
    said = duel(folder)[1]
    assert f"With the same message every time, mean over 5 conditions, {letter} gains " in said
    assert "it may be remembering. Of the 5, 5 show a difference each for itself" in said
    assert len(written(folder)["arms"]) == 5


def test_twins_of_long_names_still_fit() -> None:
    plan = with_same_message(map_plan("n" * 65, [-50.0, 100.0]), "CQ Q1ABC JO62")
    assert all(len(condition.name) <= MAX_NAME for condition in plan.conditions)
    assert len({c.mapped.condition for c in plan.conditions if c.mapped}) == 2


def test_two_of_three_have_a_folder_of_their_own(tmp_path: Path) -> None:
    data = plan_of_two().model_dump()
    data["receivers"] = [*data["receivers"], {**data["receivers"][0], "name": "third", "passes": 1}]
    plan = type(plan_of_two()).model_validate(data)
    truths = {**BETTER, (0, 2): Truth()}
    write_campaign(tmp_path, truths, plan)
    code, said = duel(tmp_path)
    assert code == 3 and "the plan has 3" in said and "--between" in said
    assert duel(tmp_path, "--between", "third", OLD)[0] == 0
    assert (tmp_path / "duel-1-3" / "duel.html").is_file()
    assert duel(tmp_path, "--between", "1", "2")[0] == 0
    assert (tmp_path / "duel-1-2" / "duel.html").is_file()


def test_old_journals_give_the_time_that_passed(tmp_path: Path) -> None:
    truths = {(0, 0): Truth(cpu_s=None), (0, 1): Truth(-21.0)}
    said = duel(write_campaign(tmp_path, truths))[1]
    assert "both take about the same elapsed time" in said


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--between", "no such", "1"], '"no such" is no receiver of this plan'),
        (["--between", "1", OLD], "twice"),
        (["--require-proof"], "--require-proof: of what?"),
        (["--allowed-loss-db", "-1"], "must be 0 or more"),
        (["--allowed-false-rate", "1.5"], "share from 0"),
        (["--allowed-loss-db", "1", "--risk", "0.5"], "--risk must lie between"),
        (["--difference-db", "0"], "--difference-db must be more than 0"),
        (["--workers", "0"], "--workers must be at least 1"),
        (["--same-message", "HELLO, WORLD, HOW ARE YOU"], "cannot be sent"),
    ],
)
def test_bad_input_is_one_sentence(better: Path, options: list[str], said: str) -> None:
    code, printed = duel(better, *options)
    assert code == 3
    assert said in printed


def test_a_foreign_file_in_the_record_s_place_is_not_overwritten(tmp_path: Path) -> None:
    folder = write_campaign(tmp_path, BETTER)
    (folder / "duel").mkdir()
    (folder / "duel" / "duel.json").write_text('{"record": 7}', encoding="utf-8")
    code, said = duel(folder)
    assert code == 7 and "no duel that this program wrote" in said
    assert read_record(folder / "none.json").events == ()


def test_the_same_journal_gives_the_same_page(better: Path) -> None:
    duel(better)
    page = (better / "duel" / "duel.html").read_bytes()
    duel(better)
    assert (better / "duel" / "duel.html").read_bytes() == page
    with JournalReader(better) as reader:
        assert len(reader.runs()) == 1  # a folder is read, not run
