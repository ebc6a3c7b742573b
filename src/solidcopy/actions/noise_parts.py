"""Look at a recorded noise: its parts, what may have made them, and a page with pictures."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from solidcopy.actions.noise_parts_words import parts_text
from solidcopy.noise.clues.match import Clue, clues_for
from solidcopy.noise.features.figure import Figure, Reading
from solidcopy.noise.parts.listing import list_parts
from solidcopy.noise.parts.part import Part, PartsList
from solidcopy.noise.reading import Answers, mono, open_sound
from solidcopy.signals.waveform import Waveform

if TYPE_CHECKING:
    from solidcopy.reports.noise_page import NoisePage

LONGEST_S = 600.0
"""Of a longer recording the first so many seconds are looked at, unless asked otherwise."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Which seconds of a file."""

    start_s: float = 0.0
    length_s: float = LONGEST_S


@dataclass(frozen=True, slots=True, eq=False)
class NoiseParts:
    """What a recording holds and what kinds of source that hints at."""

    path: Path
    stretch: Stretch
    waveform: Waveform
    parts: PartsList
    clues: tuple[tuple[Clue, ...], ...]
    """For each part, in the same order."""
    file_duration_s: float
    notes: tuple[str, ...]
    """What was odd about the file."""

    def text(self) -> str:
        """For a person."""
        return parts_text(self.path.name, self.parts, self.clues, self.all_notes())

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        whole = self.parts
        return {
            "file": self.path.name,
            "start_s": self.stretch.start_s,
            "duration_s": whole.duration_s,
            "sample_rate_hz": whole.sample_rate_hz,
            "passband_hz": list(whole.passband_hz),
            "unbalanced_db": whole.unbalanced_db,
            "parts": [
                _part_dict(part, whole, clues)
                for part, clues in zip(whole.parts, self.clues, strict=True)
            ],
            "cannot_tell": list(whole.cannot_tell),
            "notes": list(self.all_notes()),
        }

    def page(self) -> "NoisePage":
        """The page and its pictures."""
        # Drawing takes a second to import, and most calls only print.
        from solidcopy.reports.noise_page import noise_page  # noqa: PLC0415

        return noise_page(self.path.name, self.waveform, self.parts, self.clues, self.all_notes())

    def write(self, folder: Path) -> tuple[Path, ...]:
        """A page with pictures, and the figures as JSON; older ones are written over."""
        page = self.page()
        folder.mkdir(parents=True, exist_ok=True)
        written = []
        for name, content in (
            ("noise-parts.html", page.html),
            *((f"{picture.name}.svg", picture.labelled()) for picture in page.pictures),
            ("noise-parts.json", json.dumps(self.as_dict(), indent=2, ensure_ascii=False) + "\n"),
        ):
            (folder / name).write_text(content, encoding="utf-8")
            written.append(folder / name)
        return tuple(written)

    def all_notes(self) -> tuple[str, ...]:
        """What was odd about the file, and what of it was looked at."""
        notes = self.notes
        end_s = self.stretch.start_s + self.parts.duration_s
        if self.parts.duration_s < self.file_duration_s - 0.01:
            notes += (
                f"Looked at {self.stretch.start_s:g} to {end_s:g} s of "
                f"{self.file_duration_s:.0f} s; --start-s and --length-s choose others.",
            )
        return notes


def noise_parts(
    path: Path, answers: Answers | None = None, stretch: Stretch | None = None
) -> NoiseParts:
    """Parts and clues of a recording.

    Args:
        path: any sound file.
        answers: which channel is meant, where the file leaves it open.
        stretch: which seconds; the first ten minutes if left out.
    Raises: AudioFileError, one sentence.
    """
    stretch = stretch or Stretch()
    asked = answers or Answers()
    with open_sound(path, channel=asked.channel, iq=asked.iq, join=asked.join) as sound:
        waveform = mono(sound, stretch.start_s, stretch.length_s)
        notes = tuple(f"{finding.sentence}." for finding in sound.findings)
        duration_s = sound.duration_s
    parts = list_parts(waveform)
    clues = tuple(clues_for(part) for part in parts.parts)
    return NoiseParts(path, stretch, waveform, parts, clues, duration_s, notes)


def _part_dict(part: Part, whole: PartsList, clues: tuple[Clue, ...]) -> dict[str, Any]:
    return {
        **part_dict(part),
        "share": whole.share(part),
        "clues": [
            {
                "name": clue.name,
                "likely": clue.likely,
                "confirm": list(clue.confirm),
                "cautions": list(clue.cautions),
                "source": clue.source,
            }
            for clue in clues
        ],
    }


def part_dict(part: Part) -> dict[str, Any]:
    """One part for a program."""
    is_there = part.power > 0.0
    return {
        "kind": str(part.kind),
        "itu_class": part.itu_class,
        "level_dbfs": part.level_dbfs if is_there else None,
        "level_error_db": part.level_error_db if is_there else None,
        "band_hz": list(part.band_hz),
        "rhythm_hz": _reading_dict(part.rhythm_hz),
        "period_s": _reading_dict(part.period_s),
        "frequencies_hz": list(part.frequencies_hz),
        "first_s": part.times.first_s,
        "last_s": part.times.last_s,
        "share_on": part.times.share_on,
        "n_impulses": part.n_impulses,
        "p_chance": part.p_chance,
        "confidence": part.confidence_word,
        "cannot_tell": list(part.cannot_tell),
    }


def _reading_dict(reading: Reading | None) -> dict[str, Any] | None:
    if reading is None:
        return None
    if isinstance(reading, Figure):
        return {"value": reading.value, "standard_error": reading.standard_error}
    return {"cannot_tell": reading.reason}
