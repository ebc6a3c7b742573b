"""The page of a recorded noise: one self-contained HTML file, no network, no script."""

from dataclasses import dataclass
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from solidcopy.noise.clues.match import Clue
from solidcopy.noise.parts.part import Part, PartKind, PartsList
from solidcopy.reports.noise_pictures import noise_pictures
from solidcopy.reports.noise_words import (
    CONFIDENCE,
    balance_words,
    cautions_of,
    headline,
    level_words,
    part_facts,
    part_name,
)
from solidcopy.reports.picture import Picture
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import capital, glued, small_percent
from solidcopy.signals.waveform import Waveform


@dataclass(frozen=True, slots=True)
class ShownPart:
    """One part as the page shows it."""

    name: str
    facts: tuple[str, ...]
    clues: tuple[Clue, ...]
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NoisePage:
    """The finished page and the pictures in it."""

    html: str
    pictures: tuple[Picture, ...]


def noise_page(
    name: str,
    waveform: Waveform,
    whole: PartsList,
    clues: tuple[tuple[Clue, ...], ...],
    notes: tuple[str, ...],
) -> NoisePage:
    """HTML and pictures of a recording's parts and clues."""
    environment = Environment(
        loader=PackageLoader("solidcopy.reports", "template"),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    environment.filters["glued"] = glued
    pictures = noise_pictures(waveform, whole)
    html = environment.get_template("noise.html.j2").render(
        title=name,
        css=Markup((files(__package__) / "template" / "page.css").read_text(encoding="utf-8")),
        headline=headline(whole),
        supports=supports(whole, notes),
        pictures=pictures,
        sheet=parts_sheet(whole),
        parts=shown_parts(whole, clues),
        doubts=whole.cannot_tell,
        confidence=CONFIDENCE,
        cautions=cautions_of(clues),
    )
    return NoisePage(html, pictures)


def supports(whole: PartsList, notes: tuple[str, ...]) -> tuple[str, ...]:
    """What the list of parts rests on."""
    return (
        f"{whole.duration_s:.1f} s at {whole.sample_rate_hz} samples a second; passband "
        f"{whole.passband_hz[0]:.0f} to {whole.passband_hz[1]:.0f} Hz.",
        balance_words(whole),
        *notes,
    )


def shown_parts(whole: PartsList, clues: tuple[tuple[Clue, ...], ...]) -> tuple[ShownPart, ...]:
    """Each part in words, with its clues."""
    return tuple(
        ShownPart(
            f"{place}. {capital(part_name(part))}",
            tuple(capital(fact) + "." for fact in part_facts(part, whole)),
            of_part if part.power > 0.0 else (),
            part.cannot_tell,
        )
        for place, (part, of_part) in enumerate(zip(whole.parts, clues, strict=True), start=1)
    )


def parts_sheet(whole: PartsList) -> Sheet:
    """The parts as a table."""
    rows = tuple(
        (
            f"{place}. {part_name(part)}",
            level_words(part),
            small_percent(whole.share(part)),
            f"{part.band_hz[0]:.0f} to {part.band_hz[1]:.0f} Hz",
            part.itu_class,
            _confidence(part),
        )
        for place, part in enumerate(whole.parts, start=1)
    )
    return Sheet(
        "The parts, the strongest first",
        ("part", "level", "of the power", "where", "in ITU terms", "how surely there"),
        rows,
        "Level: mean power over the whole recording, pauses included; 0 dBFS is a full-scale sine; "
        "± is the 95 % interval of the reading. Classes by ITU-R SM.1753.",
        n_heads=1,
    )


def _confidence(part: Part) -> str:
    is_found = part.kind not in (PartKind.FLOOR, PartKind.REST)
    return part.confidence_word if is_found else DASH
