"""What an evidence sheet says: what was found, how sure it is, and what it does not say.

It speaks of devices that are on or off, never of whose they are.
"""

from solidcopy import units
from solidcopy.noise.before_after.by_part import Fate
from solidcopy.noise.before_after.levels import Level
from solidcopy.noise.features.figure import CannotTell
from solidcopy.reports.evidence.facts import Comparison, EvidenceFacts, Heard
from solidcopy.reports.noise_change_words import parts_sentence
from solidcopy.reports.noise_words import headline as parts_headline
from solidcopy.reports.wording import counted, number, plain, quoted, signed, span, two_digits

MOST_PARTS = 8
WHAT_IS_DB = (
    "dB (decibel) counts ratios of power: 3 dB is twice the power, 10 dB ten times, 20 dB a "
    "hundred times."
)
NO_COST = "Not measured here; trials of a receiver in this very noise would tell."
CAUTIONS = (
    "Do not open, move or switch what is not yours. Mains, fences, motors, masts and roofs can "
    "injure: leave work on them to those who know it.",
    "A recording may hold transmissions of other people; local law says what may be kept or "
    "passed on.",
    "Licence conditions and local rules come before anything said here.",
)
NEXT = (
    "First, in a friendly way, whoever uses the device: without a radio its noise cannot be "
    "noticed. Agree on times at which it may be switched for a test.",
    "Then a radio club nearby or the national society of radio amateurs: somebody with another "
    "receiver can repeat the measurement, and may know a remedy.",
    "If that leads nowhere, the radio authority of the country. It measures for itself and "
    "decides by its own rules, not by this sheet.",
)


def headline(facts: EvidenceFacts) -> str:
    """What was found, in one sentence."""
    if isinstance(facts.outcome, Comparison):
        return _difference_sentence(facts, facts.outcome)
    (only,) = facts.heard
    level = only.levels.mean
    return (
        f"In the recording {quoted(only.taken.state)} the noise has a mean power of "
        f"{number(facts.shown(level.dbfs), 1)} {facts.unit} in "
        f"{plain(units.REFERENCE_BANDWIDTH_HZ)} Hz{_confidence(facts, level)}."
    )


def _difference_sentence(facts: EvidenceFacts, outcome: Comparison) -> str:
    change = outcome.found.in_band
    first, second = (quoted(heard.taken.state) for heard in facts.heard)
    where = f"from {facts.band_hz[0]:.0f} to {facts.band_hz[1]:.0f} Hz"
    size = abs(change.difference)
    if change.difference > 0.0:
        louder, weaker = second, first
    else:
        louder, weaker = first, second
    if isinstance(change.interval, CannotTell):
        return (
            f"In the recording {louder} the noise {where} is {number(size, 1)} dB stronger than in "
            f"{weaker}; how sure that is cannot be told: {change.interval.reason}."
        )
    low, high = change.interval
    if not change.is_shown:
        return (
            f"No difference is shown between {first} and {second}: {signed(change.difference, 1)} "
            f"dB {where} (95 %: {signed(low, 1)} to {signed(high, 1)})."
        )
    ends = sorted((abs(low), abs(high)))
    return (
        f"In the recording {louder} the noise {where} is {number(size, 1)} dB stronger than in "
        f"{weaker} (95 %: {span(ends[0], ends[1], 1)}): {two_digits(units.ratio_from_db(size))} "
        "times the power."
    )


def supports(facts: EvidenceFacts) -> tuple[str, ...]:
    """What stands under the headline."""
    said = facts.description
    if isinstance(facts.outcome, Comparison):
        first, second = (quoted(heard.taken.state) for heard in facts.heard)
        return (
            f"Switched between the recordings: {said.switched}.",
            f"Part by part, from {first} to {second}. {_parts_sentence(facts.outcome)}",
            WHAT_IS_DB,
        )
    return (f"Switched: {said.switched}.", parts_headline(facts.outcome), WHAT_IS_DB)


def _parts_sentence(outcome: Comparison) -> str:
    """What became of the strongest parts; a page has no room for dozens."""
    changed = [one for one in outcome.by_part if one.fate not in (Fate.SAME, Fate.UNSURE)]
    sentence = parts_sentence(tuple(changed[:MOST_PARTS]))
    n_more = len(changed) - MOST_PARTS
    if n_more <= 0:
        return sentence
    return f"{sentence} {counted(n_more, 'weaker part')} changed besides."


def level_text(facts: EvidenceFacts, level: Level) -> str:
    """E.g. "−39.2 (−40.1 to −38.4)", in the sheet's unit."""
    text = number(facts.shown(level.dbfs), 1)
    if isinstance(level.interval, CannotTell):
        return text
    low, high = (facts.shown(end) for end in level.interval)
    return f"{text} ({span(low, high, 1)})"


def _confidence(facts: EvidenceFacts, level: Level) -> str:
    if isinstance(level.interval, CannotTell):
        return f"; how sure that is cannot be told: {level.interval.reason}"
    low, high = (facts.shown(end) for end in level.interval)
    return f" (95 %: {span(low, high, 1)})"


def uncertainty(facts: EvidenceFacts) -> tuple[str, ...]:
    """How sure the figures are."""
    return (_chance_sentence(facts.heard), *_gain_sentence(facts), calibration_sentence(facts))


def _chance_sentence(heard: tuple[Heard, ...]) -> str:
    lengths = " and ".join(f"{one.waveform.duration_s:.0f} s" for one in heard)
    worth = " and ".join(f"{one.levels.n_effective:.0f}" for one in heard)
    return (
        f"Brackets are 95 % intervals of chance. They allow for neighbouring seconds being alike: "
        f"{lengths} of sound are worth {worth} independent stretches."
    )


def _gain_sentence(facts: EvidenceFacts) -> tuple[str, ...]:
    if len(facts.heard) == 1:
        return ()
    change = facts.description.gain_change_db
    if change is None:
        return (
            "The gain is taken to be the same in both recordings, which no file can prove; by so "
            "much as it was not, the difference is off.",
        )
    way = "more" if change >= 0.0 else "less"
    return (
        f"The second was taken with {number(abs(change), 1)} dB {way} gain, as stated; that is "
        "taken off.",
    )


def calibration_sentence(facts: EvidenceFacts) -> str:
    """What is known of absolute levels."""
    calibration = facts.description.calibration
    if calibration is None:
        return (
            "There is no calibration: only relative levels are known. 0 dBFS is a sine that "
            "touches the recorder's full scale; differences need no more."
        )
    return (
        f"0 dBFS of the recorder is {number(calibration.dbm_at_0_dbfs, 1)} dBm at the antenna "
        f"socket, give or take {plain(calibration.error_db)} dB ({calibration.how}). An error of "
        "it shifts every level alike and no difference."
    )


def limits(facts: EvidenceFacts) -> tuple[str, ...]:
    """What the measurement does not say."""
    low_hz, high_hz = facts.passband_hz
    of_pair = (
        "One pair of recordings shows that these minutes differ, not what made them differ. To "
        "make sure, record by turns, on and off several times, and on another day."
        if len(facts.heard) > 1
        else "One recording shows what was there in these minutes, not what made it. To find out, "
        "record by turns with one thing switched on and off."
    )
    return (
        of_pair,
        f"Measured at the audio output of a receiver, {low_hz:.0f} to {high_hz:.0f} Hz: not a "
        "field strength, and not with the quasi-peak detector of CISPR 16-1-1 on which many "
        "limits for appliances rest. No limit can be checked by it.",
        "It does not say that any device is out of order, nor whose it is.",
        *facts.notes,
    )
