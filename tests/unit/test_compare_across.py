"""Curves of two campaigns against each other: in pairs, apart, or refused with the reason."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from types import SimpleNamespace
from typing import Any

import pytest
from typer.testing import CliRunner

from report_examples import PLACE_OF, outcome_of, two_conditions, write_campaign
from solidcopy.actions.compare import compare
from solidcopy.actions.compare_across import Across, Asked, compare_across
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.cli.main import app
from solidcopy.errors import PlanError
from solidcopy.impairments.added.gaussian_noise import GaussianNoise
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.reports.measured import Estimate
from solidcopy.trials import identity
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import SENT

QUIET = {"name": "quiet", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]}
OURS = {"kind": "builtin", "name": "ours"}
QUICK = {"kind": "builtin", "name": "quick", "effort": "belief-propagation"}


def folder() -> Path:
    return Path(mkdtemp(prefix="solidcopy-")) / "bench"


def plan_of(*receivers: dict[str, Any], **changes: Any) -> Plan:
    settings = {
        "conditions": [QUIET],
        "receivers": list(receivers) or [OURS],
        "title": "",
        **changes,
    }
    return two_conditions(**settings)


def campaign(
    midpoint: float,
    *receivers: dict[str, Any],
    shift: float = 0.0,
    is_falling: bool = False,
    **changes: Any,
) -> Path:
    """A journal that decodes half at `midpoint`, further receivers `shift` farther right."""
    place, plan = folder(), plan_of(*receivers, **changes)
    midpoints = [midpoint] * len(plan.conditions)
    write_campaign(place, plan, midpoints, n_silent=0, receiver_shift=shift, is_falling=is_falling)
    return place


@cache
def ours() -> Path:
    return campaign(-21.0, OURS)


def across(a: Path, b: Path, *, of: tuple[Any, Any] = (None, None), **settings: Any) -> Across:
    return compare_across(Asked(a, of[0]), Asked(b, of[1]), **settings)


def refusal(a: Path, b: Path, **settings: Any) -> str:
    with pytest.raises(PlanError) as refused:
        across(a, b, **settings)
    return str(refused.value)


@pytest.mark.derived
def test_two_campaigns_of_one_seed_say_exactly_what_one_campaign_says() -> None:
    together = campaign(-21.0, OURS, QUICK, shift=0.7)
    within = compare(together, "quick", "ours").penalty
    found = across(campaign(-20.3, QUICK), ours()).facts
    assert found.is_paired
    assert isinstance(within.shift, Estimate) and within.shift == found.penalties[0].shift
    assert within.pairs == found.penalties[0].pairs and within.pairs.n_pairs > 0
    with JournalReader(together) as reader:
        assert found.a.curve.n_trials == sum(t.n_trials for t in reader.tallies(0, 1).values())


@pytest.mark.derived
def test_other_seeds_are_judged_apart_and_with_less_certainty() -> None:
    paired = across(campaign(-20.3, QUICK), ours())
    apart = across(campaign(-20.3, QUICK, root_seed=7), ours())
    assert not apart.facts.is_paired and "Not paired: their root seeds are 7" in apart.text
    shifts = [found.facts.penalties[0].shift for found in (paired, apart)]
    assert all(isinstance(shift, Estimate) for shift in shifts)
    # The same luck makes a difference between two curves surer than other luck does.
    assert shifts[1].interval.half_width > 1.3 * shifts[0].interval.half_width
    pairs = apart.facts.penalties[0].pairs
    assert pairs.n_pairs == 0 and pairs.p_value is None
    assert "exact test" in paired.text and "exact test" not in apart.text
    assert shifts[1].interval.method == "joined profile likelihoods"


def test_without_a_common_axis_value_nothing_is_paired() -> None:
    shifted = {"start": -24.5, "stop": -14.5, "step": 1}
    found = across(campaign(-20.3, QUICK, axis=shifted), ours())
    assert not found.facts.is_paired and "no axis value in common" in found.text


def test_every_setting_that_differs_is_listed_and_nothing_else() -> None:
    hum = {
        "name": "hum",
        "sending": {"audio_hz": 700.0},
        "impairments": [
            {"kind": "gaussian-noise", "snr_db": "axis"},
            {"kind": "carrier", "interference_to_noise_db": -6.0, "offset_hz": 18.0},
        ],
    }
    other = campaign(-20.0, QUICK, conditions=[hum], audio={"sample_rate_hz": 48_000})
    found = across(other, ours())
    carrier, rest = sorted(found.facts.differences)[1], found.facts.differences
    assert len(rest) == 4, rest
    assert carrier.startswith("Carrier: only in A (") and "18 Hz" in carrier
    assert (
        "Sending, frequency of the lowest tone: 700 Hz in A, drawn evenly from 500 to 2300 Hz"
        in rest[0]
    )
    assert any("effort: belief-propagation in A, ordered-statistics in B" in one for one in rest)
    assert any("sample rate of the recordings: 48000 Hz in A, 12000 Hz in B" in one for one in rest)
    assert "Same in everything else." in found.text.replace("\n  ", " ")


def test_equal_settings_are_said_to_be_equal() -> None:
    found = across(campaign(-21.0, OURS, root_seed=8), ours())
    assert found.facts.differences == () and "No setting differs" in found.text


def test_an_snr_is_never_printed_without_its_bandwidth() -> None:
    text = across(campaign(-20.3, QUICK), ours()).text.replace("\n  ", " ")
    assert text.count("SNR in 2500 Hz") == text.count("SNR") >= 2


def carrier_at(**fields: Any) -> dict[str, Any]:
    noise = {"kind": "gaussian-noise", "snr_db": -12.0}
    return {"name": "carrier", "impairments": [noise, {"kind": "carrier", **fields}]}


def test_equal_recipes_with_other_samples_are_pointed_out() -> None:
    # The helper's recordings have a digest of zeros; this one says that its samples are others.
    other = with_quantity("SNR in 2500 Hz", digest="11" * 32)
    found = across(other, ours())
    assert found.facts.is_paired and "at 11 of them the first recordings" in found.facts.pairing
    assert "But" not in across(campaign(-20.3, QUICK), ours()).facts.pairing


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"mode": "ft4"}, "other mode: ft4 in A, ft8 in B"),
        (
            {"conditions": [carrier_at(offset_hz=18.0, signal_to_interference_db="axis")]},
            "other axis: S/I of the carrier, dB (field signal_to_interference_db",
        ),
        (
            {"conditions": [carrier_at(offset_hz="axis", interference_to_noise_db=0.0)]},
            "other axis, in “Hz” and “dB”: carrier's offset from the lowest tone, Hz",
        ),
        (
            {"conditions": [{**QUIET, "sending": {"message": "CQ Q1ABC FN42"}}]},
            'other kind of message: always "CQ Q1ABC FN42" in A, a new one in each trial in B',
        ),
    ],
)
def test_unlike_curves_are_refused_with_the_reason(changes: dict[str, Any], reason: str) -> None:
    other = campaign(-20.0, OURS, **changes)
    assert reason in refusal(other, ours())
    # What was heard would not mean the same: nobody can answer for that.
    assert reason in refusal(other, ours(), anyway="I want to")


@pytest.mark.derived
def test_a_level_means_the_same_in_any_disturbance() -> None:
    noise = {"kind": "gaussian-noise", "snr_db": -10.0}
    disturbances = (
        {"kind": "carrier", "offset_hz": 18.0, "signal_to_interference_db": "axis"},
        {
            "kind": "band-noise",
            "width_hz": 200,
            "offset_hz": 0,
            "signal_to_interference_db": "axis",
        },
    )
    a, b = (
        campaign(-20.0, OURS, conditions=[{"name": "one", "impairments": [noise, disturbance]}])
        for disturbance in disturbances
    )
    found = across(a, b)
    assert found.facts.axis.quantity == "S/I of the disturbance"
    assert "higher S/I of the disturbance" in found.text.replace("\n  ", " ")


@pytest.mark.derived
def test_where_right_is_harder_the_better_side_stands_more_interference() -> None:
    harder = {
        "conditions": [carrier_at(offset_hz=18.0, interference_to_noise_db="axis")],
        "axis": {"start": 0, "stop": 12, "step": 1},
        "is_falling": True,
    }
    found = across(campaign(7.0, QUICK, **harder), campaign(5.0, OURS, **harder))
    shift = found.facts.penalties[0].shift
    assert isinstance(shift, Estimate) and shift.interval.holds(2.0) and shift.value > 1.0
    assert "dB more interference than in B" in found.text.replace("\n  ", " ")
    assert found.facts.penalties[0].pairs.n_only_first == 0


def test_an_unfinished_side_is_said_to_be_so() -> None:
    found = across(with_quantity("SNR in 2500 Hz"), ours())
    assert not found.facts.a.is_finished and found.facts.b.is_finished
    assert "(110 trials, not finished)" in found.text.replace("\n  ", " ")


def with_quantity(quantity: str, digest: str = "00" * 32) -> Path:
    """A campaign whose journal says that its noise was measured as `quantity`."""
    place, plan = folder(), plan_of(OURS)
    finished = []
    for value in plan.axis.points():
        for index in range(10):
            key = TrialKey(0, SENT, value, index)
            outcome = outcome_of(plan, key, is_decoded=value > -21.0, is_real=False)
            assert outcome.readings is not None
            level = replace(outcome.readings.levels[0], quantity=quantity)
            readings = replace(outcome.readings, levels=(level,))
            finished.append(Finished(key, 0, replace(outcome, readings=readings, digest=digest)))
    with JournalWriter(place, plan, PLACE_OF) as journal:
        journal.append(finished)
        journal.settle()
    return place


def test_another_reference_bandwidth_is_refused() -> None:
    said = refusal(with_quantity("SNR in 500 Hz"), ours())
    assert "other reference bandwidth of the SNR: 500 Hz in A, 2500 Hz in B" in said


def test_readings_of_another_definition_are_refused() -> None:
    said = refusal(with_quantity("peak SNR in 2500 Hz"), ours())
    assert "A was measured by other definitions" in said and "“peak SNR in 2500 Hz”" in said


@pytest.mark.parametrize(
    ("target", "name", "value", "reason"),
    [
        (GaussianNoise, "recipe", GaussianNoise.recipe + 1, "impairment gaussian-noise: 2 in A, 1"),
        (identity, "MAKER_RECIPE", identity.MAKER_RECIPE + 1, "making of recordings: 2 in A, 1"),
        (
            identity,
            "mode_named",
            lambda _: SimpleNamespace(facts=SimpleNamespace(recipe=2)),
            "mode ft8: 2 in A, 1 in B",
        ),
    ],
)
def test_another_recipe_is_refused_and_named(
    monkeypatch: pytest.MonkeyPatch, target: Any, name: str, value: Any, reason: str
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(target, name, value)
        other = campaign(-20.0, OURS)
    assert f"other recipe number of {reason}" in refusal(other, ours())
    assert reason in refusal(other, ours(), anyway="I want to")
    # It can be read all the same.
    with JournalReader(other) as reader:
        assert reader.tally(0, 0, -14.0).n_decoded > 0


def test_a_recipe_that_cannot_be_told_is_no_reason_to_guess(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(GaussianNoise, "recipe", 40)
        other = campaign(-20.0, OURS)
    assert "A cannot be checked: another version made it" in refusal(other, ours())


def test_two_versions_of_a_receiver_are_compared_only_with_a_stated_reason(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before, now = BuiltinSettings.recipe - 1, BuiltinSettings.recipe
    with monkeypatch.context() as patch:
        patch.setattr(BuiltinSettings, "recipe", before)
        old = campaign(-20.4, OURS)
    said = refusal(ours(), old)
    assert f"other recipe number of receiver builtin: {now} in A, {before} in B" in said
    assert "--anyway REASON" in said
    found = across(ours(), old, anyway="what did the change do?")
    assert found.facts.is_paired
    assert found.facts.overruled is not None
    assert found.facts.overruled.because == "what did the change do?"
    assert found.as_dict()["overruled"]["reasons"] == list(found.facts.overruled.reasons)
    assert found.text.startswith("Compared against the rules")
    assert dict(found.facts.b.recipes)["receiver builtin"] == before
    # Both old and alike: nothing speaks against it.
    with monkeypatch.context() as patch:
        patch.setattr(BuiltinSettings, "recipe", before)
        older = campaign(-20.6, OURS, root_seed=3)
    assert across(old, older).facts.overruled is None


def test_a_side_is_named_by_condition_and_receiver() -> None:
    names = [{**QUIET, "name": "day/night"}, {**QUIET, "name": "calm"}]
    both = campaign(-21.0, OURS, {**QUICK, "name": "a/b"}, conditions=names, shift=0.5)
    found = across(both, both, of=("day/night/a/b", "calm/ours")).facts
    assert (found.a.curve.condition, found.a.curve.receiver) == ("day/night", "a/b")
    assert (found.b.curve.condition, found.b.curve.receiver) == ("calm", "ours")
    assert across(both, both, of=("1/2", "2/1")).facts == found
    said = refusal(both, both, of=("calm", "calm"))
    assert '--a CONDITION/RECEIVER: say which receiver, it has "ours", "a/b"' in said
    assert "say which condition" in refusal(both, both)
    assert "is no condition" in refusal(both, both, of=("storm/ours", "calm/ours"))


def test_the_command_prints_for_people_and_for_programs() -> None:
    other, runner = campaign(-20.3, QUICK), CliRunner()
    shown = runner.invoke(app, ["compare", str(other), str(ours())])
    assert shown.exit_code == 0 and all(len(line) <= 80 for line in shown.output.splitlines())
    assert "more signal" in shown.output and "Paired" in shown.output
    printed = runner.invoke(app, ["compare", str(other), str(ours()), "--json"])
    data = json.loads(printed.output)
    assert data["axis"]["quantity"] == "SNR in 2500 Hz" and data["is_paired"]
    assert data["penalties"][0]["shift"]["interval"]["method"] == "paired profile likelihood"


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["x", "y", "--a", "quiet"], "--a has no meaning here"),
        (["x", "y", "--anyway", "so"], "--anyway has no meaning here"),
        (["--within", "ours", "{other}"], "--within has no meaning here"),
        (["nowhere"], "nowhere: no campaign was begun there"),
        (["quiet"], '"quiet" is of this campaign: say what to compare it with'),
        (["{other}", "--anyway", " "], "--anyway needs a reason"),
    ],
)
def test_mistaken_commands_are_one_sentence(arguments: list[str], sentence: str) -> None:
    filled = [argument.replace("{other}", str(ours())) for argument in arguments]
    failed = CliRunner().invoke(app, ["compare", str(ours()), *filled])
    assert failed.exit_code != 0 and sentence in str(failed.exception)
