"""Differences of a campaign in watts and antennas, for people who do not speak dB."""

from solidcopy.reports.comparing import directions
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.map_facts import folded
from solidcopy.reports.measured import Estimate, PenaltyFacts
from solidcopy.reports.wording import number, plain, quoted, rough, two_digits
from solidcopy.translate.power import Ends, Translated, translated

WATTS_NOW = 5.0
"""Of the example; 1.0 would say no more than the ratio does."""
MORE_SIGNAL = "more signal"

WATTS_NOTE = (
    "A dB of antenna gain toward the other station does as much as a dB of power. An S-unit is "
    "nominally 6 dB; real meters differ by far. Equal distance: in free space half the distance "
    "for each 6 dB; on any other path it depends on the path."
)


def in_power(penalty: PenaltyFacts, watts_now: float = WATTS_NOW) -> Translated | None:
    """What a difference in signal means; None if there is no figure."""
    if not isinstance(penalty.shift, Estimate):
        return None
    shift = penalty.shift
    return translated(Ends(shift.value, shift.interval.low, shift.interval.high), watts_now)


def watts_sentences(facts: CampaignFacts, watts_now: float = WATTS_NOW) -> tuple[str, ...]:
    """One for each difference in signal, conditions of maps left out; none on other axes."""
    single_ones = folded(facts)
    if single_ones.axis.step_unit != "dB":
        return ()
    said = []
    for penalty in single_ones.penalties:
        found = in_power(penalty, watts_now)
        if found is not None and directions(single_ones, penalty)[0] == MORE_SIGNAL:
            said.append(f"{_subject(single_ones, penalty)}: {power_words(found)}.")
    return tuple(said)


def _subject(facts: CampaignFacts, penalty: PenaltyFacts) -> str:
    several = facts.receivers if penalty.compares == "condition" else facts.conditions
    within = f", {quoted(penalty.within)}" if len(several) > 1 else ""
    share = f"{100.0 * penalty.p:g} % of the messages"
    return f"{quoted(penalty.name)} against {quoted(penalty.against)}{within}, {share}"


def power_words(found: Translated) -> str:
    """E.g. "about 2.6 times the power (2.3 to 2.9), e.g. 13 W instead of 5 W; or 4.1 dB more
    antenna gain; nominally 0.7 S-units"; no full stop at the end."""
    now = plain(found.watts_now)
    ratio, ends, n_digits = _figures(found.power_ratio)
    low, watts, high = (
        rough(w, n_digits) for w in (found.watts.low, found.watts.value, found.watts.high)
    )
    if found.shift_db.holds(0.0):
        return (
            f"no difference is shown{ends}: {low} to {high} W instead of {now} W would do the same"
        )
    gain = "more" if found.shift_db.value > 0.0 else "less"
    return (
        f"about {ratio} times the power{ends}, e.g. {watts} W instead of {now} W; or "
        f"{_size(found)} dB {gain} antenna gain; nominally "
        f"{number(abs(found.s_units.value), 1)} S-units"
    )


def distance_words(found: Translated) -> str:
    """What the difference is worth in distance, with the model that holds for."""
    far, ends, _ = _figures(found.free_space_distance)
    return (
        f"At unchanged power, in free space only, it is {far} times the distance{ends}; by sky "
        "wave or along the ground it depends on the path, and no figure is given"
    )


def _figures(ratio: Ends) -> tuple[str, str, int]:
    """Value, " (low to high)" and the digits needed to tell the ends apart; no ends where they are
    not known."""
    if ratio.low == ratio.high:
        return two_digits(ratio.value), "", 2
    n_digits = next(n for n in (2, 3, 4) if rough(ratio.low, n) != rough(ratio.high, n) or n == 4)
    ends = f" ({rough(ratio.low, n_digits)} to {rough(ratio.high, n_digits)})"
    return rough(ratio.value, n_digits), ends, n_digits


def _size(found: Translated) -> str:
    places = 1 if found.shift_db.high - found.shift_db.low > 0.19 else 2
    return number(abs(found.shift_db.value), places)
