"""A noise measurement on two pages: hear the recordings, compare them, write the sheet."""

import json
from dataclasses import asdict, dataclass
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from textwrap import shorten
from typing import Any

from solidcopy import __version__
from solidcopy.actions.before_after import (
    MAX_HEARD_S,
    Compared,
    CompareRequest,
    compare_noise,
    fit_for_measuring,
)
from solidcopy.actions.folder import existing_folder
from solidcopy.actions.noise_parts import part_dict
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import AudioFileError, EvidenceError
from solidcopy.noise.before_after.course import passband_of
from solidcopy.noise.before_after.levels import Level, levels_of, usual_band
from solidcopy.noise.features.figure import CannotTell
from solidcopy.noise.parts.listing import list_parts
from solidcopy.noise.parts.part import PartsList
from solidcopy.noise.reading import open_sound
from solidcopy.receivers.program.finding import sha256_of
from solidcopy.reports.answer import answer
from solidcopy.reports.evidence.description import Description, read_description
from solidcopy.reports.evidence.facts import Comparison, Cost, EvidenceFacts, Heard, Origin
from solidcopy.reports.evidence.page import evidence_html, evidence_pdf, evidence_sheet
from solidcopy.reports.gather import gather_figures
from solidcopy.reports.whole_file import put_bytes, put_text
from solidcopy.reports.wording import counted
from solidcopy.signals.waveform import Waveform

MOST_SIGNS = 900
"""Of what a campaign says: two pages hold no more."""
MOST_TITLE_SIGNS = 120
FIELD_OF_OPTION = (
    ("with --band LOW-HIGH", "as band_hz = [LOW, HIGH]"),
    ("--band: give", "band_hz: give"),
    ("like 300-2700", "like [300, 2700]"),
    ("--channel", "channel"),
    ("--iq upper or lower", "not supported here"),
)
"""Refusals of the noise lab name options; here the same are fields of the description."""


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """A measured sheet, ready to be written."""

    facts: EvidenceFacts
    compared: Compared | None

    def as_dict(self) -> dict[str, Any]:
        """Every figure for a program; names of files without their folders."""
        facts = self.facts
        sheet: dict[str, Any] = {
            "made_by": f"solidcopy {facts.origin.version}",
            "description": facts.description.model_dump(mode="json"),
            "description_sha256": facts.origin.description_sha256,
            "band_hz": list(facts.band_hz),
            "recordings": [_heard_dict(one) for one in facts.heard],
            "cost": None if facts.cost is None else asdict(facts.cost),
        }
        if self.compared is not None:
            found = self.compared.as_dict()
            return sheet | {
                "comparison": {k: v for k, v in found.items() if k not in ("before", "after")}
            }
        assert isinstance(facts.outcome, PartsList)
        return sheet | {"parts": [part_dict(part) for part in facts.outcome.parts]}

    def write(self, folder: Path) -> tuple[Path, ...]:
        """Page, PDF and figures, each whole or not at all; older ones are replaced.

        Raises: EvidenceError if the folder cannot be written.
        """
        shown = evidence_sheet(self.facts)
        html, pdf = evidence_html(shown), evidence_pdf(shown)
        figures = json.dumps(self.as_dict(), indent=2, ensure_ascii=False) + "\n"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            return (
                put_bytes(folder / "evidence.pdf", pdf),
                put_text(folder / "evidence.html", html),
                put_text(folder / "evidence.json", figures),
            )
        except OSError as error:
            raise EvidenceError(
                f"{folder}: the sheet cannot be written ({error.strerror}); choose another folder"
            ) from None


def measure_evidence(path: Path) -> Evidence:
    """Hear what a description names, and gather all that its sheet says.

    Raises: EvidenceError for the description; AudioFileError for a recording that is not fit, or
        for two that were not taken alike; JournalError for the campaign. One sentence each.
    """
    said = read_description(path)
    files = [path.parent / taken.file for taken in said.recordings]
    for file in files:
        if not file.is_file():
            raise EvidenceError(f"{path}: there is no recording {file}; give its file")
    digests = [sha256_of(file) for file in files]
    if len(set(digests)) < len(digests):
        raise EvidenceError(f"{path}: both recordings are the same; give two different ones")
    cost = None if said.campaign is None else cost_of(path.parent / said.campaign)
    try:
        _refuse_overlap(path, said, files)
        compared, outcome, waveforms, recorder = _hear(said, files)
        band_hz = band_of(said, compared, waveforms)
        heard = _heard(said, tuple(zip(files, digests, waveforms, strict=True)), recorder, band_hz)
    except AudioFileError as error:
        raise AudioFileError(_as_fields(str(error))) from None
    facts = EvidenceFacts(
        description=said,
        heard=heard,
        band_hz=band_hz,
        passband_hz=_passband(waveforms),
        outcome=outcome,
        cost=cost,
        notes=_notes(compared, waveforms),
        origin=Origin(__version__, path.name, sha256_of(path)),
    )
    return Evidence(facts, compared)


def _hear(
    said: Description, files: list[Path]
) -> tuple[Compared | None, Comparison | PartsList, tuple[Waveform, ...], str]:
    """Comparison or parts, the waveforms, and how they were recorded."""
    if len(files) > 1:
        band = "" if said.band_hz is None else f"{said.band_hz[0]:g}-{said.band_hz[1]:g}"
        request = CompareRequest(files[0], files[1], band, said.gain_change_db, said.channel)
        compared = compare_noise(request)
        taken = compared.taken.removeprefix("both ")
        return compared, Comparison(compared.found, compared.by_part), compared.waveforms, taken
    with open_sound(files[0], channel=said.channel) as sound:
        facts = sound.facts
        recorder = f"{facts.container} {facts.encoding}, {facts.sample_rate_hz} samples per second"
        waveform = fit_for_measuring(sound)
    usual_band(waveform)  # what is too short, silent or outside is refused before the long look
    band_of(said, None, (waveform,))
    return None, list_parts(waveform), (waveform,), recorder


def band_of(
    said: Description, compared: Compared | None, waveforms: tuple[Waveform, ...]
) -> tuple[float, float]:
    """The band of the answer. Raises AudioFileError for one that the recordings do not fill: what
    is referred to 2500 Hz would be too little."""
    if said.band_hz is None:
        return usual_band(waveforms[0]) if compared is None else compared.found.band_hz
    passbands = [passband for one in waveforms if (passband := passband_of(one)) is not None]
    low_hz, high_hz = max(low for low, _ in passbands), min(high for _, high in passbands)
    if not low_hz <= said.band_hz[0] < said.band_hz[1] <= high_hz:
        raise AudioFileError(
            f"band_hz: the recordings hold {low_hz:.0f} to {high_hz:.0f} Hz; name a band inside"
        )
    return said.band_hz


def _heard(
    said: Description,
    recordings: tuple[tuple[Path, str, Waveform], ...],
    recorder: str,
    band_hz: tuple[float, float],
) -> tuple[Heard, ...]:
    gains_db = (0.0, said.gain_change_db or 0.0)
    return tuple(
        Heard(
            taken=taken,
            name=file.name,
            sha256=digest,
            recorder=recorder,
            waveform=waveform,
            gain_db=gain_db,
            levels=levels_of(waveform, band_hz, gain_db),
        )
        for taken, (file, digest, waveform), gain_db in zip(
            said.recordings, recordings, gains_db[: len(recordings)], strict=True
        )
    )


def _passband(waveforms: tuple[Waveform, ...]) -> tuple[float, float]:
    """What all recordings hold together; none is silent here."""
    found = [passband for one in waveforms if (passband := passband_of(one)) is not None]
    return min(low for low, _ in found), max(high for _, high in found)


def _refuse_overlap(path: Path, said: Description, files: list[Path]) -> None:
    """Two recordings of one receiver cannot be of the same time."""
    lasting = []
    for taken, file in zip(said.recordings, files, strict=True):
        with open_sound(file, channel=said.channel) as sound:
            lasting.append((taken.start, sound.duration_s, taken.state))
    lasting.sort()
    for (start, duration_s, state), (next_start, _, next_state) in pairwise(lasting):
        if next_start < start + timedelta(seconds=duration_s):
            raise EvidenceError(
                f'{path}: "{next_state}" starts before "{state}" ends ({duration_s:.0f} s after '
                "its start), so one start is wrong"
            )


def _notes(compared: Compared | None, waveforms: tuple[Waveform, ...]) -> tuple[str, ...]:
    notes = () if compared is None else compared.notes()
    if max(one.duration_s for one in waveforms) >= MAX_HEARD_S:
        notes += (f"Of longer recordings the first {MAX_HEARD_S:g} s were measured.",)
    return notes


def cost_of(source: Path) -> Cost:
    """The answer of a campaign, as far as two pages hold it. Raises JournalError."""
    folder = existing_folder(source)
    with JournalReader(folder) as reader:
        facts = gather_figures(reader)
        fingerprint = reader.fingerprint()
    said = answer(facts)
    kept, n_signs = [said.headline], len(said.headline)
    for sentence in said.supports:
        n_signs += len(sentence)
        if n_signs > MOST_SIGNS:
            break
        kept.append(sentence)
    n_left = 1 + len(said.supports) - len(kept)
    if n_left:
        unfinished = "" if facts.extent.is_finished else "The campaign is not finished. "
        more = counted(n_left, "more sentence stands", "more sentences stand")
        kept.append(f"{unfinished}{more} in the campaign's own report.")
    name = folder.resolve().name
    title = shorten(facts.title, MOST_TITLE_SIGNS, placeholder="…")
    return Cost(title or name, name, fingerprint, tuple(kept))


def _as_fields(message: str) -> str:
    for option, field in FIELD_OF_OPTION:
        message = message.replace(option, field)
    return message


def _heard_dict(one: Heard) -> dict[str, Any]:
    levels = one.levels
    return {
        "file": one.name,
        "sha256": one.sha256,
        "recorder": one.recorder,
        "duration_s": one.waveform.duration_s,
        "state": one.taken.state,
        "mean_in_2500_hz": _level_dict(levels.mean),
        "weakest_fifth_in_2500_hz": _level_dict(levels.weakest_fifth),
        "all_frequencies": _level_dict(levels.whole),
        "peak_dbfs": levels.peak_dbfs,
        "impulses_a_minute": _told(levels.impulses_per_minute),
    }


def _level_dict(level: Level | CannotTell) -> dict[str, Any]:
    if isinstance(level, CannotTell):
        return {"cannot_tell": level.reason}
    return {"dbfs": level.dbfs, "interval": _told(level.interval)}


def _told(value: float | tuple[float, float] | CannotTell) -> Any:
    return {"cannot_tell": value.reason} if isinstance(value, CannotTell) else value
