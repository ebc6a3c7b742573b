"""The page: what a report shows, and one self-contained HTML file of it.

The file needs no network and no script.
"""

import math
from dataclasses import dataclass, fields
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup

from solidcopy.reports import level_sheets, sheets, texts
from solidcopy.reports.answer import Answer, answer
from solidcopy.reports.axis import kind_words
from solidcopy.reports.curve_figures import curves_picture
from solidcopy.reports.decision_words import decisions_sheet
from solidcopy.reports.facts import CampaignFacts, Described
from solidcopy.reports.map_facts import folded, hardest, map_rows
from solidcopy.reports.map_figures import shares_picture, thresholds_picture
from solidcopy.reports.map_tables import map_sheet
from solidcopy.reports.penalty_figure import penalties_picture
from solidcopy.reports.picture import Picture
from solidcopy.reports.reported_page import ShownReports, shown_reports
from solidcopy.reports.sample_figures import sample_picture
from solidcopy.reports.samples import SampleFacts
from solidcopy.reports.sheet import Sheet
from solidcopy.reports.watts import WATTS_NOTE, watts_sentences
from solidcopy.reports.wording import capital, counted, glued, number, plain, quoted
from solidcopy.statistics.evidence import NoEvidence


@dataclass(frozen=True, slots=True)
class ShownSample:
    """One re-made trial as the page shows it."""

    condition: str
    words: str
    picture: Picture | None


@dataclass(frozen=True, slots=True)
class ShownMap:
    """One map as the page shows it."""

    condition: str
    parts: tuple[Described, ...]
    places: str
    pictures: tuple[Picture, ...]
    sheet: Sheet


@dataclass(frozen=True, slots=True)
class ShownPage:
    """Everything that a page says, in its order; nothing of how it is drawn on screen or paper."""

    title: str
    facts: CampaignFacts
    """Without the conditions of maps."""
    answer: Answer
    maps: tuple[ShownMap, ...]
    decisions: Sheet | None
    curves: Picture | None
    thresholds: Sheet
    penalties_picture: Picture | None
    penalties: Sheet
    watts: tuple[str, ...]
    """Differences as power; none where the axis is not one of signal."""
    watts_note: str
    reported: ShownReports | None
    false_decodes: Sheet
    failures: Sheet | None
    levels: Sheet
    samples: tuple[ShownSample, ...]
    elapsed: Sheet | None
    method: tuple[str, ...]
    words: tuple[tuple[str, str], ...]
    counts: Sheet
    remake: str
    record: Sheet
    cautions: tuple[str, ...]

    @property
    def pictures(self) -> tuple[Picture, ...]:
        """All figures."""
        drawn = (
            self.curves,
            self.penalties_picture,
            *(picture for a_map in self.maps for picture in a_map.pictures),
            *(receiver.picture for receiver in (self.reported.receivers if self.reported else ())),
            *(sample.picture for sample in self.samples),
        )
        return tuple(picture for picture in drawn if picture is not None)


def shown_page(
    facts: CampaignFacts,
    samples: tuple[SampleFacts | NoEvidence, ...],
    *,
    folder_name: str = "CAMPAIGN-FOLDER",
) -> ShownPage:
    """Words, tables and figures of a campaign.

    Args:
        facts: of the campaign.
        samples: one for each of `sampled`, in order.
        folder_name: written into the command that makes a trial again.
    """
    whole, facts = facts, folded(facts)
    return ShownPage(
        title=facts.title or f"Noise immunity of {facts.mode.name.upper()}",
        facts=facts,
        answer=answer(whole),
        maps=tuple(_shown_map(whole, place) for place in range(len(whole.maps))),
        decisions=decisions_sheet(whole),
        curves=curves_picture(facts) if facts.curves else None,
        thresholds=sheets.thresholds_sheet(facts),
        penalties_picture=penalties_picture(facts),
        penalties=sheets.penalties_sheet(facts),
        watts=watts_sentences(facts),
        watts_note=WATTS_NOTE,
        reported=shown_reports(facts),
        false_decodes=sheets.false_sheet(facts),
        failures=sheets.failures_sheet(facts),
        levels=level_sheets.levels_sheet(facts),
        samples=tuple(
            _shown(whole, name, place, sample)
            for place, (name, sample) in enumerate(zip(sampled(whole), samples, strict=True))
        ),
        elapsed=level_sheets.elapsed_sheet(facts),
        method=texts.method(whole),
        words=texts.WORDS,
        counts=sheets.counts_sheet(facts),
        remake=f"solidcopy remake {folder_name} {_example_key(samples)}",
        record=_record(facts),
        cautions=texts.CAUTIONS,
    )


def page_html(shown: ShownPage) -> str:
    """The page as one HTML file."""
    css = (files(__package__) / "template" / "page.css").read_text(encoding="utf-8")
    values = {field.name: getattr(shown, field.name) for field in fields(shown)}
    return _template().render(css=Markup(css), **values)


def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("solidcopy.reports", "template"),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    environment.filters["glued"] = glued
    return environment.get_template("page.html.j2")


def _example_key(samples: tuple[SampleFacts | NoEvidence, ...]) -> str:
    keys = [sample.key for sample in samples if isinstance(sample, SampleFacts)]
    return keys[-1] if keys else "TRIAL"


def sampled(facts: CampaignFacts) -> tuple[str, ...]:
    """Conditions of which a sample is shown: of a map only the most harmful, or its first."""
    names = [condition.name for condition in folded(facts).conditions]
    for a_map in facts.maps:
        rows = map_rows(facts, a_map, facts.receivers[0].name)
        names.append((hardest(facts, rows) or rows[0]).curve.condition)
    return tuple(names)


def _shown_map(facts: CampaignFacts, place: int) -> ShownMap:
    a_map = facts.maps[place]
    values = [plain(at.value) for at in a_map.places]
    ends = values[0] if len(values) == 1 else f"{values[0]} to {values[-1]}"
    return ShownMap(
        condition=a_map.condition,
        parts=a_map.parts,
        places=f"{a_map.label}: {ends} ({counted(len(values), 'value')})",
        pictures=(
            thresholds_picture(facts, a_map, place),
            *(shares_picture(facts, a_map, place, heard) for heard in range(len(facts.receivers))),
        ),
        sheet=map_sheet(facts, a_map),
    )


def _shown(
    facts: CampaignFacts, name: str, place: int, sample: SampleFacts | NoEvidence
) -> ShownSample:
    if isinstance(sample, NoEvidence):
        return ShownSample(name, sample.reason[:1].upper() + sample.reason[1:], None)
    return ShownSample(name, _sample_words(facts, sample), sample_picture(sample, place))


def _sample_words(facts: CampaignFacts, sample: SampleFacts) -> str:
    """What was sent, whether it is proved, and the levels of this very trial."""
    at = f"{plain(sample.axis_value)} {facts.axis.unit}".strip()
    sentences = [
        f"Trial {sample.key} ({facts.axis.quantity} {at}) sends {quoted(sample.message)} at "
        f"{sample.audio_hz:.1f} Hz.",
        _proof(sample.is_proved, sample.digest),
    ]
    for level in sample.levels:
        name = capital(kind_words(level.name))
        got = _got(level.got_db)
        if level.asked_db is None:
            sentences.append(f"{name}: as recorded; SNR in 2500 Hz got {got}.")
        else:
            asked = f"asked {number(level.asked_db, 2)} dB, got {got}"
            sentences.append(f"{name}: {level.quantity} {asked}.")
    return " ".join(sentences)


def _got(level_db: float) -> str:
    """A measured ratio; a disturbance of which nothing fell into the slot has none."""
    return f"{number(level_db, 2)} dB" if math.isfinite(level_db) else "nothing in this slot"


def _proof(is_proved: bool | None, digest: str) -> str:
    start = digest[:12]
    if is_proved is None:
        return f"The journal holds no outcome of it yet (samples {start}…)."
    if is_proved:
        return f"Proved: its samples are those of the campaign (SHA-256 {start}…)."
    return (
        f"NOT the same samples as in the campaign (SHA-256 now {start}…): another version or "
        "machine made them, so the picture only resembles what the receivers heard."
    )


def _record(facts: CampaignFacts) -> Sheet:
    """Seeds, identities, versions and machine."""
    rows = [
        ("root seed", str(facts.root_seed)),
        ("mode", f"{facts.mode.name}, recipe {facts.mode.recipe}"),
        ("fingerprint of all outcomes", facts.fingerprint),
        *((f"condition {quoted(c.name)}", c.identity) for c in facts.conditions),
        *((f"receiver {quoted(r.name)}", r.identity) for r in facts.receivers),
        *facts.environment,
    ]
    return Sheet(
        "Seeds, identities, versions and machine",
        ("what", "value"),
        tuple(rows),
        "An identity is the SHA-256 of everything that can alter a result. Campaigns with the same "
        "fingerprint are equal, outcome by outcome, apart from the time they took.",
        n_heads=1,
    )
