"""The sentence: yes, no, not yet, and why there is no figure."""

from dataclasses import replace

import pytest

from report_facts import (
    condition,
    curve,
    estimate,
    facts_of,
    false_decodes,
    penalty,
)
from solidcopy.reports.answer import answer
from solidcopy.reports.measured import (
    Estimate,
    FailureFacts,
    Line,
    MoreTrials,
    PairsFacts,
    PointFacts,
)
from solidcopy.statistics.evidence import NoThreshold
from solidcopy.statistics.interval import wilson

MORE = estimate(4.12, 3.71, 4.49)
LESS = estimate(-1.31, -1.69, -0.92)
UNDECIDED = estimate(0.21, -0.82, 1.24)
CLOSE = estimate(0.08, -0.21, 0.37)

# The forms of the sentence are ours; DESIGN's example has "at 4.1 dB more signal (95 %: 3.7 to
# 4.5)". Expected digits are the estimates above, rounded by hand.


@pytest.mark.derived
def test_more_signal() -> None:
    said = answer(facts_of(penalties=(penalty(MORE),)))
    assert said.headline == (
        "With “fence”, the same share gets through at 4.1 dB more signal than with “quiet” "
        "(95 %: 3.7 to 4.5)."
    )


@pytest.mark.derived
def test_less_signal_turns_the_interval_round() -> None:
    said = answer(facts_of(penalties=(penalty(LESS),)))
    assert "at 1.3 dB less signal than with “quiet” (95 %: 0.9 to 1.7)." in said.headline


@pytest.mark.derived
def test_a_signal_level_axis_is_signal_too() -> None:
    said = answer(facts_of("level", penalties=(penalty(MORE),)))
    assert "4.1 dBFS more signal" not in said.headline, "a difference of levels is in dB"
    assert "at 4.1 dB more signal than" in said.headline


@pytest.mark.derived
def test_a_disturbance_tied_to_the_signal_asks_for_a_better_snr() -> None:
    tied = (condition("quiet"), condition("fence", has_fixed_ratio=True))
    said = answer(facts_of(conditions=tied, penalties=(penalty(MORE),)))
    assert "at 4.1 dB better SNR than" in said.headline
    assert "signal than" not in said.headline
    assert not any("power" in support for support in said.supports)


@pytest.mark.derived
def test_a_ratio_axis_names_its_ratio() -> None:
    said = answer(facts_of("ratio", penalties=(penalty(MORE),)))
    assert "at 4.1 dB higher S/I of the carrier than" in said.headline


@pytest.mark.derived
def test_an_interference_axis_speaks_of_interference() -> None:
    said = answer(facts_of("interference", penalties=(penalty(LESS),)))
    assert "at 1.3 dB less interference than" in said.headline


@pytest.mark.derived
def test_no_difference_is_said_with_its_bound() -> None:
    said = answer(facts_of(penalties=(penalty(CLOSE),)))
    assert said.headline == (
        "Between “fence” and “quiet” no difference larger than 0.4 dB is shown "
        "(95 %: 0.2 dB less signal to 0.4 dB more signal)."
    )


@pytest.mark.derived
def test_not_yet_says_how_much_more() -> None:
    more = MoreTrials(half_width=0.5, n_trials=1234, seconds=540.0)
    said = answer(facts_of(penalties=(penalty(UNDECIDED, more=more),)))
    assert said.headline == (
        "Not yet: no difference between “fence” and “quiet” is shown (95 %: 0.8 dB less signal to "
        "1.2 dB more signal), and a small one is not ruled out; about 1200 more trials, 9 minutes, "
        "would narrow it to ±0.5 dB."
    )


@pytest.mark.derived
def test_not_yet_without_a_known_pace_gives_no_time() -> None:
    more = MoreTrials(half_width=0.5, n_trials=40, seconds=None)
    said = answer(facts_of(penalties=(penalty(UNDECIDED, more=more),)))
    assert "about 40 more trials would narrow it" in said.headline


@pytest.mark.derived
def test_an_end_that_is_not_zero_is_never_printed_as_zero() -> None:
    said = answer(facts_of(penalties=(penalty(estimate(0.21, 0.012, 0.41)),)))
    assert "(95 %: 0.01 to 0.41)" in said.headline
    assert "0.21 dB more signal" in said.headline


@pytest.mark.derived
def test_never_reached_gives_a_one_sided_figure() -> None:
    reason = "0.5 was never reached: highest 0.2 at −14 dB; add higher values"
    lost = NoThreshold(reason, "above", -13.0)
    curves = (curve("quiet"), curve("fence", half=lost, most=lost))
    said = answer(facts_of(curves=curves, penalties=(penalty(NoThreshold("side b: x")),)))
    # −13 − (−21.16) = 8.16, rounded down; the careful end of the first one's interval.
    start = "With “fence”, fewer than half of the messages got through everywhere: it takes "
    assert said.headline.startswith(start)
    assert "8.1 dB more signal than “quiet” (95 % sure)" in said.headline
    assert said.headline.endswith(f"; {reason}.")


@pytest.mark.derived
def test_always_reached_gives_the_other_side() -> None:
    lost = NoThreshold("never below 0.5", "below", -25.0)
    curves = (curve("quiet"), curve("fence", half=lost))
    said = answer(facts_of(curves=curves, penalties=(penalty(NoThreshold("x")),)))
    # −21.52 − (−25) = 3.48, rounded down
    assert "it gets by with at least 3.4 dB less signal than “quiet”" in said.headline


@pytest.mark.derived
def test_a_first_condition_without_threshold_is_named() -> None:
    lost = NoThreshold("no message was decoded (0 of 90)")
    curves = (curve("quiet", half=lost), curve("fence"))
    said = answer(facts_of(curves=curves, penalties=(penalty(NoThreshold("x")),)))
    assert said.headline.startswith(
        "No comparison with “quiet” can be given yet: there, no message"
    )


@pytest.mark.derived
def test_one_condition_gets_its_threshold() -> None:
    said = answer(facts_of(conditions=(condition("quiet"),)))
    assert said.headline == (
        "Half of the messages get through at SNR −21.3 dB in 2500 Hz (95 %: −21.5 to −21.2), "
        "90 % at −20.2 dB."
    )


@pytest.mark.derived
def test_one_condition_on_a_ratio_axis() -> None:
    said = answer(facts_of("ratio", conditions=(condition("quiet"),)))
    assert said.headline.startswith(
        "Half of the messages get through where the S/I of the carrier is −21.3 dB (95 %:"
    )


@pytest.mark.derived
def test_one_condition_without_a_90_percent_point() -> None:
    lost = NoThreshold("0.9 was never reached: highest 0.8 at −18 dB; add higher values")
    said = answer(facts_of(conditions=(condition("quiet"),), curves=(curve(most=lost),)))
    assert said.headline.endswith(f"For 90 %: {lost.reason}.")


@pytest.mark.derived
def test_one_condition_without_any_threshold() -> None:
    lost = NoThreshold("no message was decoded (0 of 30), even at −18 dB: add higher values")
    only = (curve(half=lost, most=lost),)
    said = answer(facts_of(conditions=(condition("quiet"),), curves=only))
    assert said.headline == f"No 50 % point can be given: {lost.reason}."


@pytest.mark.derived
def test_receivers_are_compared_under_the_first_condition_only() -> None:
    kept = penalty(LESS, compares="receiver", name="patient", against="builtin", within="quiet")
    left = penalty(MORE, compares="receiver", name="patient", against="builtin", within="fence")
    said = answer(facts_of(receivers=("builtin", "patient"), penalties=(left, kept)))
    assert said.headline == (
        "Receiver “patient” gets the same share through with “quiet” at 1.3 dB less signal than "
        "receiver “builtin” (95 %: 0.9 to 1.7)."
    )
    assert not any("4.1" in support for support in said.supports)


@pytest.mark.authority
def test_a_difference_is_said_as_power_too() -> None:
    # 3 dB is twice the power (common practice); 10^0.3 = 1.995, 10^0.28 = 1.905, 10^0.32 = 2.089.
    said = answer(facts_of(penalties=(penalty(estimate(3.0, 2.8, 3.2)),)))
    assert "In power: “fence” takes 2.0 times the power of “quiet” (1.9 to 2.1)." in said.supports


@pytest.mark.derived
def test_the_first_one_is_told_under_the_headline() -> None:
    said = answer(facts_of(penalties=(penalty(MORE),)))
    assert any(s.startswith("With “quiet”, half of the messages") for s in said.supports)


@pytest.mark.derived
def test_false_decodes_of_both_arms_are_told() -> None:
    false = (false_decodes(2, 900, "sent"), false_decodes(0, 100))
    said = answer(facts_of(false=false))
    assert (
        "False decodes: 2 in 900 slots with a message sent and 0 in 100 slots with nothing sent."
        in said.supports
    )


@pytest.mark.derived
def test_false_decodes_are_told_of_each_receiver_only_if_there_are_any() -> None:
    clean = facts_of(receivers=("builtin", "patient"), false=(false_decodes(0, 100),))
    assert "False decodes: 0 in 100 slots with nothing sent." in answer(clean).supports
    dirty = facts_of(receivers=("builtin", "patient"), false=(false_decodes(1, 100),))
    assert "False decodes by builtin: 1 in 100 slots with nothing sent." in answer(dirty).supports


@pytest.mark.derived
def test_failures_are_told() -> None:
    failures = (FailureFacts("quiet", "builtin", "crash", 12),)
    said = answer(facts_of(failures=failures))
    assert any(s.startswith("12 trials failed") for s in said.supports)


@pytest.mark.derived
def test_an_unfinished_campaign_says_so() -> None:
    said = answer(facts_of(n_done=340, is_finished=False))
    assert said.supports[-1].startswith(
        "This campaign is not finished: 340 of at most 1000 outcomes"
    )


@pytest.mark.derived
def test_an_empty_campaign_says_so() -> None:
    said = answer(facts_of(n_done=0, is_finished=False))
    assert said.headline.startswith("Nothing has been measured yet")


def points(*shares: tuple[float, int, int]) -> tuple[PointFacts, ...]:
    return tuple(
        PointFacts(value, k, n - k, 0, 0, Estimate(k / n, wilson(k, n))) for value, k, n in shares
    )


FALLING = NoThreshold("the share of decodes does not rise along the axis")


@pytest.mark.derived
def test_an_axis_without_direction_tells_least_and_most() -> None:
    only = replace(
        curve(half=FALLING, most=FALLING),
        points=points((-50.0, 10, 10), (0.0, 2, 10), (50.0, 9, 10)),
    )
    said = answer(facts_of("offset", conditions=(condition("quiet"),), curves=(only,)))
    # Wilson intervals of 2/10 and 10/10: 5.7 to 51.0 % and 72.2 to 100 % (FACTS E5's method).
    assert said.headline == (
        "The share of messages that get through depends on the carrier's offset from the lowest "
        "tone: least 20 % at 0 Hz (95 %: 6 to 51 %), most 100 % at −50 Hz (95 %: 72 to 100 %)."
    )


@pytest.mark.derived
@pytest.mark.parametrize(
    ("pairs", "start", "end"),
    [
        (PairsFacts(300, 5, 60, 1e-9), "With “fence”, fewer messages get through", "p < 0.0001)."),
        (PairsFacts(300, 30, 6, 0.0001), "With “fence”, more messages get through", "p = 0.0001)."),
        (PairsFacts(300, 5, 8, 0.58), "Between “fence” and “quiet” no difference", "p = 0.58)."),
    ],
)
def test_an_axis_without_direction_compares_pairs(pairs: PairsFacts, start: str, end: str) -> None:
    compared = replace(penalty(FALLING), pairs=pairs)
    curves = tuple(curve(name, half=FALLING, most=FALLING) for name in ("quiet", "fence"))
    said = answer(facts_of("offset", curves=curves, penalties=(compared,)))
    assert said.headline.startswith(start)
    assert said.headline.endswith(end)


@pytest.mark.derived
def test_a_doubtful_fit_is_pointed_out() -> None:
    line = Line((0.0,), (0.5,), (0.0,), (0.4,), (0.6,), "cumulative normal", 0.95, "x", 1e-5)
    doubtful = replace(curve(), line=line)
    sound = replace(curve(), line=replace(line, p_fit=0.3))
    for made, is_told in ((doubtful, True), (sound, False)):
        said = answer(facts_of(conditions=(condition("quiet"),), curves=(made,)))
        assert any("hardly" in support for support in said.supports) == is_told
