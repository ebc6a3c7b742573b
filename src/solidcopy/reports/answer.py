"""The sentence that answers the plan's question. A pure function of facts."""

from dataclasses import dataclass

from solidcopy import units
from solidcopy.reports.comparing import HALF, comparison_sentence, directions, has_no_direction
from solidcopy.reports.decision_facts import DecisionFacts
from solidcopy.reports.decision_words import (
    decision_sentence,
    doubts_after_a_stop,
    map_decision_sentences,
)
from solidcopy.reports.facts import AxisFacts, CampaignFacts
from solidcopy.reports.fading import fades_sentences
from solidcopy.reports.map_answer import map_sentences
from solidcopy.reports.map_facts import folded
from solidcopy.reports.measured import (
    CurveFacts,
    Estimate,
    Line,
    PenaltyFacts,
    ThresholdFacts,
)
from solidcopy.reports.wording import (
    capital,
    confidence_word,
    counted,
    listed,
    number,
    percent,
    places_of,
    plain,
    quoted,
    share_word,
    span,
    whole,
)
from solidcopy.statistics.evidence import NoThreshold

MOST = 0.9


@dataclass(frozen=True, slots=True)
class Answer:
    """The headline, and what stands under it."""

    headline: str
    supports: tuple[str, ...]


def answer(facts: CampaignFacts) -> Answer:
    """Answer of a campaign, finished or not, in plain words."""
    if facts.extent.n_done == 0:
        return Answer(
            "Nothing has been measured yet: no trial of this campaign has been run.",
            (f"The plan holds up to {counted(facts.extent.n_planned, 'outcome')}.",),
        )
    single_ones = folded(facts)
    sentences = [*map_decision_sentences(facts), *map_sentences(facts)]
    sentences += _sentences_of_single(single_ones)
    # What maps have in common with the rest is said of all together.
    for sentences_of in (_doubts, fades_sentences):
        sentences += sentences_of(single_ones)
    for sentences_of in (_false_sentences, _failure_sentences, _unfinished):
        sentences += sentences_of(facts)
    return Answer(sentences[0], tuple(sentences[1:]))


def _sentences_of_single(facts: CampaignFacts) -> list[str]:
    """Decisions and comparisons, and the first threshold, of the conditions that are on no map."""
    if not facts.conditions:
        return []
    sentences: list[str] = []
    beside: list[PenaltyFacts] = []
    is_only = len(facts.decisions) == 1 and not facts.maps
    for decision in facts.decisions:
        own = [p for p in facts.penalties if p.p == HALF and _is_of_same_pair(p, decision)]
        sentences.append(decision_sentence(decision, is_only=is_only))
        sentences += [comparison_sentence(facts, penalty) for penalty in own]
        beside += own
    compared = _compared(facts)
    sentences += [comparison_sentence(facts, p) for p in compared if p not in beside]
    sentences += _power_sentence(facts, compared[0]) if compared else []
    sentences += doubts_after_a_stop(facts)
    first = facts.curve(facts.conditions[0].name, facts.receivers[0].name)
    return [*sentences, threshold_sentence(facts, first)]


def _is_of_same_pair(penalty: PenaltyFacts, decision: DecisionFacts) -> bool:
    return (penalty.compares, penalty.name, penalty.against, penalty.within) == (
        decision.compares,
        decision.second,
        decision.first,
        decision.within,
    )


def _compared(facts: CampaignFacts) -> list[PenaltyFacts]:
    """The comparisons that deserve a sentence: each with one thing changed from the first."""
    first = {"condition": facts.receivers[0].name, "receiver": facts.conditions[0].name}
    return [
        penalty
        for penalty in facts.penalties
        if penalty.p == HALF and penalty.within == first[penalty.compares]
    ]


def threshold_sentence(facts: CampaignFacts, curve: CurveFacts) -> str:
    """Where half and 90 % of the messages get through, or why that cannot be said."""
    half, most = curve.threshold(HALF), curve.threshold(MOST)
    under = _setting(facts, curve)
    if has_no_direction(facts, curve) and has_answers(curve):
        return _range_sentence(facts, curve, under)
    if isinstance(half.at, NoThreshold):
        sentence = f"No 50 % point can be given{under}: {half.at.reason}."
        if isinstance(most.at, Estimate):
            sentence += f" {_gets_through(facts.axis, most)}."
        return sentence
    sentence = _gets_through(facts.axis, half)
    if under:
        sentence = f"{capital(under.strip())}, " + (sentence[:1].lower() + sentence[1:])
    if isinstance(most.at, Estimate):
        places = places_of(most.at.interval)
        return (
            f"{sentence}, 90 % at {number(most.at.value, places)} {facts.axis.unit}".strip() + "."
        )
    return f"{sentence}. For 90 %: {most.at.reason}."


def has_answers(curve: CurveFacts) -> bool:
    """Whether any trial of the curve was answered."""
    return any(isinstance(point.p_decoded, Estimate) for point in curve.points)


def _range_sentence(facts: CampaignFacts, curve: CurveFacts, under: str) -> str:
    """Along an axis that no curve need rise on: where most and where fewest get through."""
    shares = [
        (p.p_decoded, p.axis_value) for p in curve.points if isinstance(p.p_decoded, Estimate)
    ]
    said = []
    for share, value in (
        min(shares, key=lambda s: s[0].value),
        max(shares, key=lambda s: s[0].value),
    ):
        low, high = percent(share.interval.low), percent(share.interval.high)
        at = f"{plain(value)} {facts.axis.unit}".strip()
        said.append(f"{percent(share.value)} at {at} (95 %: {low.removesuffix(' %')} to {high})")
    return (
        f"The share of messages that get through{under} depends on the {facts.axis.quantity}: "
        f"least {said[0]}, most {said[1]}."
    )


def _setting(facts: CampaignFacts, curve: CurveFacts) -> str:
    """ " with “quiet”, heard by builtin" as far as there is a choice."""
    parts = []
    if len(facts.conditions) > 1:
        parts.append(f"with {quoted(curve.condition)}")
    if len(facts.receivers) > 1:
        parts.append(f"heard by {quoted(curve.receiver)}")
    return f" {', '.join(parts)}" if parts else ""


def _gets_through(axis: AxisFacts, threshold: ThresholdFacts) -> str:
    """E.g. "Half of the messages get through at SNR −21.3 dB in 2500 Hz (95 %: a to b)"."""
    assert isinstance(threshold.at, Estimate)
    interval = threshold.at.interval
    places = places_of(interval)
    value = f"{number(threshold.at.value, places)} {axis.unit}".strip()
    where = (
        f"at SNR {value} in 2500 Hz"
        if axis.sense == "snr"
        else (f"where the {axis.quantity} is {value}")
    )
    ends = span(interval.low, interval.high, places)
    confidence = confidence_word(interval.confidence)
    return f"{share_word(threshold.p)} get through {where} ({confidence}: {ends})"


def _doubts(facts: CampaignFacts) -> list[str]:
    """Curves whose points hardly follow them."""
    return [
        f"The points of {quoted(curve.condition)} (receiver {quoted(curve.receiver)}) hardly "
        "follow a curve of this form: look at the figure before using its thresholds."
        for curve in facts.curves
        if isinstance(curve.line, Line) and curve.line.is_doubtful
    ]


def _power_sentence(facts: CampaignFacts, penalty: PenaltyFacts) -> list[str]:
    """What a shown difference in signal means as transmitter power."""
    shift = penalty.shift
    if isinstance(shift, NoThreshold) or facts.axis.step_unit != "dB":
        return []
    low, high = shift.interval.low, shift.interval.high
    if directions(facts, penalty)[0] != "more signal" or low <= 0.0 <= high:
        return []
    way = "takes" if low > 0.0 else "gets by with"
    ratio, ratio_low, ratio_high = (units.ratio_from_db(db) for db in (shift.value, low, high))
    places = max(0, min(2, 1 if ratio >= 1.0 else 2))
    return [
        f"In power: {quoted(penalty.name)} {way} {number(ratio, places)} times the power of "
        f"{quoted(penalty.against)} ({span(ratio_low, ratio_high, places)})."
    ]


def _false_sentences(facts: CampaignFacts) -> list[str]:
    """False decodes of both arms as counts; of each receiver where there are any."""
    names = [receiver.name for receiver in facts.receivers]
    has_any = any(false.n_false_decodes for false in facts.false_decodes)
    groups = [[name] for name in names] if has_any else [names]
    sentences = []
    for group in groups:
        said = [
            _false_count(facts, group, arm, words)
            for arm, words in (
                ("sent", "with a message sent"),
                ("nothing-sent", "with nothing sent"),
            )
        ]
        whose = f" by {group[0]}" if len(names) > len(group) else ""
        if any(said):
            sentences.append(f"False decodes{whose}: {listed([text for text in said if text])}.")
    return sentences


def _false_count(facts: CampaignFacts, receivers: list[str], arm: str, words: str) -> str:
    mine = [f for f in facts.false_decodes if f.receiver in receivers and f.arm == arm]
    n_trials = sum(false.n_trials for false in mine)
    n_false = sum(false.n_false_decodes for false in mine)
    return f"{whole(n_false)} in {counted(n_trials, 'slot')} {words}" if n_trials else ""


def _failure_sentences(facts: CampaignFacts) -> list[str]:
    n_failed = sum(failure.n_trials for failure in facts.failures)
    if not n_failed:
        return []
    return [
        f"{counted(n_failed, 'trial')} failed (the receiver gave no answer); failures are left out "
        "of every share and shown on their own."
    ]


def _unfinished(facts: CampaignFacts) -> list[str]:
    extent = facts.extent
    if extent.is_finished:
        return []
    return [
        f"This campaign is not finished: {whole(extent.n_done)} of at most "
        f"{counted(extent.n_planned, 'outcome')} are there. The figures may still move."
    ]
