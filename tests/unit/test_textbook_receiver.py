"""The textbook receivers on whole trials: they find, print, and keep silent in noise."""

import pytest

from solidcopy.actions.decide.delivery import Wishes, delivery_by_chance
from solidcopy.actions.decide.subject import subject_by_hand
from solidcopy.actions.trial_view import view_of
from solidcopy.errors import PlanError
from solidcopy.modes.registry import PLAIN_NAMES, mode_named
from solidcopy.noise.slots.listen import listener_of
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.receivers.textbook.settings import TextbookSettings
from solidcopy.reports.axis import axis_facts
from solidcopy.reports.axis_scales import axis_scales, scale_named
from solidcopy.trials.character_errors import character_error_rate, edit_distance
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make, make_in_parts
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.score import score
from solidcopy.trials.trial import NOTHING_SENT, SENT
from unit.test_plain_text_modes import texts_of

NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}


def plan_for(mode: str, *impairments: dict, message: str = "random", **receiver) -> Plan:
    return parse_plan(
        {
            "mode": mode,
            "root_seed": 7,
            "axis": {"values": [20.0]},
            "stop": {"trials_per_point": 10},
            "conditions": [
                {
                    "name": "one",
                    "sending": {"message": message},
                    "impairments": [NOISE, *impairments],
                }
            ],
            "receivers": [receiver or {"kind": "textbook"}],
        }
    )


def outcome_of(plan: Plan, index: int = 0, arm: str = SENT) -> Outcome:
    recording, truth = make(trial_of(plan, TrialKey(0, arm, 20.0, index)))
    receiver = build_receiver(TextbookSettings(), mode_named(plan.mode))
    return score(receiver.receive(recording.waveform), truth, recording)


@pytest.mark.derived
@pytest.mark.parametrize("mode", PLAIN_NAMES)
def test_every_character_is_printed_through_weak_noise(mode: str) -> None:
    for text in texts_of(mode):
        outcome = outcome_of(plan_for(mode, message=text))
        assert outcome.verdict is Verdict.DECODED, (text, outcome.false)
        assert outcome.readings is not None
        assert outcome.readings.levels[0].got_db == pytest.approx(20.0, abs=0.1)


@pytest.mark.derived
@pytest.mark.parametrize("mode", PLAIN_NAMES)
def test_drawn_messages_are_found_at_their_place(mode: str) -> None:
    for index in range(3):
        outcome = outcome_of(plan_for(mode), index)
        assert outcome.verdict is Verdict.DECODED
        assert not outcome.false


@pytest.mark.derived
@pytest.mark.parametrize("mode", PLAIN_NAMES)
def test_noise_alone_prints_nothing(mode: str) -> None:
    for index in range(3):
        outcome = outcome_of(plan_for(mode), index, NOTHING_SENT)
        assert outcome.verdict is Verdict.NOTHING_SENT
        assert not outcome.false


@pytest.mark.derived
@pytest.mark.parametrize("mode", PLAIN_NAMES)
@pytest.mark.parametrize(
    "impairment",
    [
        {"kind": "two-path-fading", "preset": "mid-latitude quiet"},
        {"kind": "carrier", "audio_hz": 400.0, "signal_to_interference_db": 10.0},
        {"kind": "sample-clock", "error_ppm": 50.0},
    ],
    ids=lambda impairment: impairment["kind"],
)
def test_impairments_apply(mode: str, impairment: dict) -> None:
    """Levels are met, or making the trial would have raised CalibrationError."""
    assert outcome_of(plan_for(mode, impairment)).verdict in (Verdict.DECODED, Verdict.MISSED)


def test_silence_holds_nothing_and_a_wrong_pair_is_refused() -> None:
    with pytest.raises(PlanError, match='kind "builtin" decodes ft8, ft4; for rtty give'):
        plan_for("rtty", kind="builtin")
    with pytest.raises(PlanError, match='kind "textbook" decodes morse, rtty, psk31; for ft8'):
        plan_for("ft8", kind="textbook")
    with pytest.raises(PlanError, match="high_hz"):
        plan_for("rtty", kind="textbook", low_hz=900.0, high_hz=901.0)


@pytest.mark.derived
@pytest.mark.parametrize(
    ("sent", "read", "n"),
    # By hand; the first is the usual example of textbooks.
    [("KITTEN", "SITTING", 3), ("Q1ABC", "Q1ABC", 0), ("Q1ABC", "", 5), ("AB", "BA", 2)],
)
def test_edits_between_texts(sent: str, read: str, n: int) -> None:
    assert edit_distance(sent, read) == n


@pytest.mark.derived
def test_character_error_rate_counts_the_best_text_and_silence_as_all_wrong() -> None:
    assert character_error_rate("Q1ABC", ["Q1ABD", "ZZZ"]) == pytest.approx(0.2)
    assert character_error_rate("Q1ABC", []) == 1.0
    assert character_error_rate("AB", ["XXXXXXX"]) == 1.0


@pytest.mark.parametrize("mode", PLAIN_NAMES)
def test_a_trial_is_viewed_without_symbols(mode: str) -> None:
    plan, key = plan_for(mode), TrialKey(0, SENT, 20.0, 0)
    making = make_in_parts(trial_of(plan, key))
    view = view_of(plan, key, making, frozenset())
    assert view.symbols is None
    assert "without a code" in view.no_symbols
    assert view.sent is not None and making.truth.message is not None
    lasts_s = mode_named(mode).lasts_s(making.truth.message)
    assert view.sent.stop_s - view.sent.start_s == pytest.approx(lasts_s, abs=1e-3)


def test_an_axis_of_snr_is_read_per_symbol_but_not_per_bit() -> None:
    for mode in PLAIN_NAMES:
        scales = axis_scales(axis_facts(plan_for(mode)), mode_named(mode).facts)
        assert [scale.key for scale in scales][-1] == "es-n0"
    # FACTS E1: Es/N0 is SNR + 19.03 dB in PSK31, + 17.40 dB in RTTY.
    for mode, shift_db in (("psk31", 19.03), ("rtty", 17.40)):
        scale = scale_named("es-n0", axis_facts(plan_for(mode)), mode_named(mode).facts)
        assert scale.shift_db == pytest.approx(shift_db, abs=0.005)


@pytest.mark.parametrize("mode", PLAIN_NAMES)
def test_parts_that_count_slots_refuse_in_one_sentence(mode: str) -> None:
    with pytest.raises(PlanError, match=f"counts slots, and {mode} keeps to none"):
        subject_by_hand(mode, -12.0, -10.0)
    with pytest.raises(PlanError, match=f"counts slots, and {mode} keeps to none"):
        delivery_by_chance(mode, 0.5, Wishes())
    with pytest.raises(PlanError, match=f"search for slots is for ft8, ft4, not for {mode}"):
        listener_of(mode)
