"""Answers of the noise commands, put into the one shape that is kept and shown."""

from pathlib import Path
from typing import Any

from solidcopy.actions.before_after import CAUTIONS, Compared
from solidcopy.actions.cost_answer import read_cost
from solidcopy.actions.cost_plan import GAUSSIAN, OWN, CostPlan
from solidcopy.actions.find_slots import SlotsOf
from solidcopy.actions.inspect_recording import NEGATIVE, VERDICTS, Inspection
from solidcopy.actions.looks.answer import PLAN, Detail, Hint, LookAnswer, Shown
from solidcopy.actions.noise_parts import NoiseParts
from solidcopy.actions.noise_twin import FittedTwin, TwinRequest, read_over_floor_db
from solidcopy.actions.twin_answer import read_twin
from solidcopy.actions.twin_plan import TWIN
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import PlanError
from solidcopy.noise.health import ChannelHealth
from solidcopy.reports.noise_change_page import levels_sheet
from solidcopy.reports.noise_change_page import parts_sheet as changes_sheet
from solidcopy.reports.noise_change_words import parts_sentence
from solidcopy.reports.noise_page import parts_sheet, shown_parts, supports
from solidcopy.reports.noise_words import CONFIDENCE, cautions_of, headline
from solidcopy.reports.picture import Picture
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import MINUS, capital, listed, number, signed
from solidcopy.units import peak_dbfs


def health_answer(found: Inspection) -> LookAnswer:
    """What a recording is fit for."""
    health = found.health
    reasons = f": {'; '.join(health.reasons)}" if health.reasons else ""
    first, *_ = found.text().split("\n")
    return LookAnswer(
        sentence=_minus(f"{capital(VERDICTS[health.verdict])}{reasons}."),
        supports=(
            _without_file(first, found.file),
            *(_minus(f"{capital(finding.sentence)}.") for finding in health.findings),
        ),
        question=found.question.sentence if found.question else "",
        sheets=(_channels_sheet(health.channels),),
    )


def _channels_sheet(channels: tuple[ChannelHealth, ...]) -> Sheet:
    return Sheet(
        "Channels",
        ("channel", "mean level, dBFS", "peak, dB of full scale", "clipped samples", "mains hum"),
        tuple(_channel_row(channel) for channel in channels),
        "0 dBFS is the mean power of a sine that touches full scale.",
        n_heads=1,
    )


def _channel_row(channel: ChannelHealth) -> tuple[str, ...]:
    if channel.is_silent:
        return channel.name, "silent", DASH, DASH, DASH
    levels, hum = channel.levels, channel.hum
    heard = DASH
    if hum is not None:
        heard = f"{hum.mains_hz:g} Hz, {number(hum.power_dbfs, 1)} dBFS"
    return (
        channel.name,
        number(levels.power_dbfs, 2),
        number(peak_dbfs(levels.peak), 2),
        str(channel.clipping.n_samples),
        heard,
    )


def parts_answer(found: NoiseParts) -> tuple[LookAnswer, tuple[Picture, ...]]:
    """What a noise is made of, and its pictures."""
    whole, pictures = found.parts, found.page().pictures
    answer = LookAnswer(
        sentence=headline(whole),
        supports=(*supports(whole, found.all_notes()), CONFIDENCE),
        sheets=(parts_sheet(whole),),
        pictures=_shown(pictures),
        details=tuple(
            Detail(
                part.name,
                part.facts,
                tuple(Hint(clue.likely, clue.confirm, clue.source) for clue in part.clues),
                part.doubts,
            )
            for part in shown_parts(whole, found.clues)
        ),
        limits=whole.cannot_tell,
        cautions=cautions_of(found.clues),
    )
    return answer, pictures


def slots_answer(found: SlotsOf) -> LookAnswer:
    """Where slots lie."""
    said = [line.strip() for line in found.text().split("\n")]
    facts = said[: next((n for n, line in enumerate(said) if line.startswith("heard")), len(said))]
    sheet = Sheet(
        "Transmissions that were heard",
        ("start, s", "frequency, Hz", "SNR, dB", "text"),
        tuple(
            (
                number(item.start_s, 4),
                number(item.audio_hz, 2),
                DASH if item.snr_db is None else signed(item.snr_db, 1),
                item.text,
            )
            for item in found.found.heard
        ),
        "SNR in 2500 Hz as the receiver reports it.",
        n_heads=1,
    )
    return LookAnswer(
        sentence=_without_file(facts[0], found.file),
        supports=tuple(f"{capital(line)}." for line in facts[1:]),
        sheets=(sheet,) if found.found.heard else (),
    )


def change_answer(found: Compared) -> tuple[LookAnswer, tuple[Picture, ...]]:
    """What differs between two recordings, and its picture."""
    pictures = (found.page().picture,)
    answer = LookAnswer(
        sentence=found.sentence(),
        supports=(parts_sentence(found.by_part), found.assumption(), *found.notes()),
        sheets=(changes_sheet(found.by_part), levels_sheet(found.found)),
        pictures=_shown(pictures),
        cautions=CAUTIONS,
    )
    return answer, pictures


def cost_plan_answer(plan: CostPlan) -> LookAnswer:
    """How a cost will be measured."""
    first_db, last_db = plan.axis_db
    low_hz, high_hz = plan.audio_hz
    where = f"at {low_hz:g} Hz" if low_hz == high_hz else f"between {low_hz:g} and {high_hz:g} Hz"
    beside = listed(["Gaussian noise of equal power", *(remedy.name for remedy in plan.remedies)])
    return LookAnswer(
        sentence=(
            f"{plan.mode.name.upper()} sent {where} in this noise, at SNRs from {first_db} to "
            f"{last_db} dB, beside {beside}."
        ).replace(" -", f" {MINUS}"),
        files=(PLAN,),
    )


def campaign_answer(folder: Path) -> tuple[LookAnswer, dict[str, Any]]:
    """What a campaign on a recording says as far as it has come, and its facts.

    Raises: PlanError if it sets the recording neither beside Gaussian noise nor beside its twin;
        JournalError.
    """
    with JournalReader(folder) as reader:
        names = {condition.name for condition in reader.plan.conditions}
    if {OWN, GAUSSIAN} <= names:
        cost = read_cost(folder)
        first, *more = (*cost.sentences(), *cost.notes())
        facts = cost.as_dict()
    elif {OWN, TWIN} <= names:
        over_floor_db = read_over_floor_db(folder.with_suffix(".toml"))
        twin = read_twin(folder, over_floor_db)
        first, *more = twin.text().split("\n")
        facts = twin.as_dict()
    else:
        raise PlanError(
            f"campaign {folder.stem!r} asks something else than cost or twin: its page answers it"
        )
    return LookAnswer(sentence=first, supports=tuple(more)), facts


def twin_answer(request: TwinRequest, fitted: FittedTwin) -> LookAnswer:
    """Which impairments stand for a noise, and how like it they are."""
    twin = fitted.twin
    parts = Sheet(
        "Parts of the twin",
        ("part", "I/N in 2500 Hz, dB", "where it came from", "how surely there"),
        tuple(
            (part.group, number(twin.level_db(part), 1), part.comment, str(part.sureness))
            for part in twin.parts
        ),
        "I/N: mean power over that of the twin's white floor in 2500 Hz.",
        n_heads=1,
    )
    likeness = Sheet(
        "The recording beside its twin",
        ("what", "recording", "twin", "difference"),
        tuple(
            (
                row.what,
                number(row.recording, 1),
                number(row.twin, 1),
                signed(row.difference, 1),
            )
            for row in fitted.likeness.rows()
        ),
        "Level and spectrum in dBFS; envelope in 2500 Hz over the recording's rms, dB.",
        n_heads=1,
    )
    n_parts = len(twin.parts)
    words = "none: this is Gaussian noise" if not n_parts else f"{n_parts} beside a white floor"
    return LookAnswer(
        sentence=f"Impairments that stand for the noise: {words}.",
        supports=(
            "A twin knows what its features know: rhythm, strength, place. It does not know what "
            "the recording did at which moment.",
        ),
        sheets=(*((parts,) if n_parts else ()), likeness),
        files=(request.plan_file.name, request.fit_file.name),
    )


def _shown(pictures: tuple[Picture, ...]) -> tuple[Shown, ...]:
    return tuple(
        Shown(f"{picture.name}.svg", picture.title, picture.description, picture.caption)
        for picture in pictures
    )


def _without_file(line: str, file: Path) -> str:
    return capital(line.removeprefix(f"{file}: "))


def _minus(text: str) -> str:
    return NEGATIVE.sub(MINUS, text)
