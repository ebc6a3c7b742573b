"""A path's budget and what it is worth, in words and tables."""

from dataclasses import dataclass

from solidcopy.reports.delivery_page import chance_text, question_text, share_text
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import number, plain
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.translate.delivery import Question
from solidcopy.translate.link import Budget
from solidcopy.translate.link_chances import OuterNoise, UncertainLink
from solidcopy.translate.link_outcome import HOURS, LinkOutcome
from solidcopy.translate.surroundings import UPPER_DECILE

WORTH_SAYING = 0.05
"""Share of stations and hours beyond the tested levels that is pointed out."""


@dataclass(frozen=True, slots=True)
class LinkFacts:
    """Everything that is said of a path."""

    name: str
    """Of the curve."""
    basis: str
    path: UncertainLink
    loss_words: str
    """Where the path's loss comes from."""
    budget: Budget
    asked: tuple[Question, ...]
    outcome: LinkOutcome
    tested: tuple[float, float]


def link_sentences(facts: LinkFacts) -> list[str]:
    """The answer, and what it rests on."""
    found = facts.outcome
    snr, one = found.snr_db, found.over_hours[0]
    said = "nothing can be said" if isinstance(one, NoEvidence) else chance_text(one)
    quiet, _, noisy = (chance_text(chance) for chance in found.by_hour)
    sentences = [
        f"With {plain(facts.path.link.watts)} W one attempt gets through with {said}, as a mean "
        f"over the hours; the SNR in 2500 Hz is {number(snr.value, 1)} dB in the middle, and in 8 "
        f"of 10 cases {number(snr.low, 0)} to {number(snr.high, 0)} dB.",
        "In brackets: 8 of 10 stations of which no more is known than was given here.",
    ]
    if facts.path.noise.kind is not None:
        sentences.append(f"In quiet hours (one in ten) {quiet}, in noisy ones {noisy}.")
    sentences += _beyond(facts)
    return [*sentences, *_noise_words(facts.path.noise), facts.basis]


def budget_sheet(facts: LinkFacts) -> Sheet:
    """Line by line, as one would add it up by hand."""
    link, sums = facts.path.link, facts.budget
    error_db = UPPER_DECILE * facts.path.loss_error_db
    off = f", 8 of 10 times within ± {plain(error_db)} dB" if error_db else ""
    own = f"{plain(link.noise_figure_db)} dB behind {plain(link.receive_loss_db)} dB of loss"
    rows = (
        ("transmitter", f"{plain(link.watts)} W", _dbm(sums.transmitted_dbm)),
        ("loss on the way to the antenna", f"{plain(-link.transmit_loss_db)} dB", ""),
        ("transmitting antenna", f"{_signed(link.transmit_gain_dbi)} dBi", _dbm(sums.radiated_dbm)),
        (f"path ({facts.loss_words}{off})", f"{number(-link.path_loss_db, 1)} dB", ""),
        ("receiving antenna", f"{_signed(link.receive_gain_dbi)} dBi", _dbm(sums.received_dbm)),
        (
            "outer noise",
            f"Fa {number(facts.path.noise.middle_fa_db, 1)} dB",
            _dbm(sums.outer_noise_dbm),
        ),
        ("with the receiver's own noise", own, _dbm(sums.total_noise_dbm)),
        ("SNR in 2500 Hz", "signal less noise", f"{number(sums.snr_db, 1)} dB"),
    )
    return Sheet(
        "The budget, every number in its middle",
        ("line", "given", "sum"),
        rows,
        "Levels at the terminals of a lossless receiving antenna; noise in 2500 Hz.",
        n_heads=1,
    )


def link_sheet(facts: LinkFacts) -> Sheet:
    """Chances, as a mean over the hours."""
    rows = [
        (question_text(question), DASH if isinstance(cell, NoEvidence) else chance_text(cell))
        for question, cell in zip(facts.asked, facts.outcome.over_hours, strict=True)
    ]
    if facts.path.noise.kind is not None:
        rows += [
            (f"one attempt in {name}", chance_text(chance))
            for (name, _), chance in zip(HOURS, facts.outcome.by_hour, strict=True)
        ]
    reasons = [c.reason for c in facts.outcome.over_hours if isinstance(c, NoEvidence)]
    why = f" {DASH}: {reasons[-1]}." if reasons else ""
    return Sheet(
        "How surely it gets through",
        ("what", "chance"),
        tuple(rows),
        "The outer noise keeps its level over all attempts of a line, so repeats do not mend a "
        f"noisy hour.{why}",
        n_heads=1,
    )


def _dbm(level: float) -> str:
    return f"{number(level, 1)} dBm"


def _signed(gain: float) -> str:
    return plain(gain) if gain < 0.0 else f"+{plain(gain)}"


def _beyond(facts: LinkFacts) -> list[str]:
    """Where the curve is asked outside its trials."""
    sides = zip(("below", "above"), facts.tested, facts.outcome.share_beyond, strict=True)
    return [
        f"{share_text(share)} of the cases lie {way} {number(end, 1)} dB, where nothing was "
        "tested: the fitted curve is drawn on there."
        for way, end, share in sides
        if share > WORTH_SAYING
    ]


def _noise_words(noise: OuterNoise) -> list[str]:
    said = []
    if noise.measured_fa_db is None and noise.kind is not None:
        where = noise.kind.name
        spread = plain(noise.kind.location_decile_db)
        said.append(
            f"Outer noise: {where} surroundings after ITU-R P.372, a tenth of such places lie more "
            f"than {spread} dB above their middle and a tenth more below; measure your own noise "
            "to be surer."
        )
    elif noise.kind is None:
        said.append("Outer noise: as measured, and taken to be the same at all hours.")
    else:
        said.append(
            f"Outer noise: as measured, taken as the middle of the hours; its change in time is "
            f"that of {noise.kind.name} surroundings after ITU-R P.372."
        )
    if noise.kind is not None and not noise.kind.has_own_deciles:
        said.append("For quiet rural places P.372 gives no deciles: those of rural ones are taken.")
    return said
