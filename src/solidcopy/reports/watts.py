"""Differences of a campaign in watts and antennas, for people who do not speak dB."""

from solidcopy.reports.comparing import directions
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.map_facts import folded
from solidcopy.reports.measured import Estimate, PenaltyFacts
from solidcopy.reports.wording import number, plain, quoted, two_digits
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
    """E.g. "about 2.6 times the power (2.3 to 2.9), e.g. 13 W instead of 5 W; or 4.1 dB of antenna
    gain; nominally 0.7 S-units"; no full stop at the end."""
    ratio, watts, now = found.power_ratio, found.watts, plain(found.watts_now)
    ends = f"{two_digits(ratio.low)} to {two_digits(ratio.high)}"
    if found.shift_db.holds(0.0):
        return (
            f"no difference is shown; {ends} times the power, that is {two_digits(watts.low)} to "
            f"{two_digits(watts.high)} W instead of {now} W"
        )
    size = _size(found)
    gain = "more" if found.shift_db.value > 0.0 else "less"
    return (
        f"about {two_digits(ratio.value)} times the power ({ends}), e.g. "
        f"{two_digits(watts.value)} W instead of {now} W; or {size} dB {gain} antenna gain; "
        f"nominally {number(abs(found.s_units.value), 1)} S-units"
    )


def distance_words(found: Translated) -> str:
    """What the difference is worth in distance, with the model that holds for."""
    far = found.free_space_distance
    return (
        f"At unchanged power, in free space only, it is {two_digits(far.value)} times the distance "
        f"({two_digits(far.low)} to {two_digits(far.high)}); by sky wave or along the ground it "
        "depends on the path, and no figure is given"
    )


def _size(found: Translated) -> str:
    places = 1 if found.shift_db.high - found.shift_db.low > 0.19 else 2
    return number(abs(found.shift_db.value), places)
