"""Compare two recordings: check that they were taken alike, measure, say it in one sentence."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from solidcopy import units
from solidcopy.actions.noise_parts import part_dict
from solidcopy.errors import AudioFileError
from solidcopy.noise.before_after.by_part import LONGEST_S, PartChange, changes_by_part
from solidcopy.noise.before_after.compare import BeforeAfter, Change, compare_recordings
from solidcopy.noise.features.figure import CannotTell
from solidcopy.noise.health.health import Verdict, measure_health
from solidcopy.noise.reading import Sound, mono, open_sound
from solidcopy.reports.noise_change_words import NOTE, part_lines, parts_sentence
from solidcopy.reports.noise_words import part_name
from solidcopy.signals.waveform import Waveform

if TYPE_CHECKING:
    from solidcopy.reports.noise_change_page import ChangePage

MAX_HEARD_S = 3600.0
DETECTOR = "rms (mean power), Hann window of 1 s, half overlapping"
CAUTIONS = (
    "It says what differs between these minutes, not why: record several times by turns, switched "
    "on and off, before anyone is told.",
    "Levels are those of the recorder; a receiver's gain control must be off in both.",
)


@dataclass(frozen=True, slots=True)
class CompareRequest:
    """Two recordings, and how they were taken.

    Args:
        before, after: sound files.
        band: "300-2700" or its like; empty: what both have of it.
        gain_change_db: known change of gain from the first to the second; None: not said.
        channel: of both.
    """

    before: Path
    after: Path
    band: str = ""
    gain_change_db: float | None = None
    channel: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """The answer with what it rests on."""

    request: CompareRequest
    found: BeforeAfter
    by_part: tuple[PartChange, ...]
    waveforms: tuple[Waveform, Waveform]
    taken: str
    """How both were recorded."""

    def sentence(self) -> str:
        """The answer."""
        return answer_of(self.found.in_band)

    def assumption(self) -> str:
        """What is said, or taken, of the gain."""
        if self.request.gain_change_db is None:
            return (
                "The gain is taken to be the same in both, which no file can prove; if it was "
                "changed, give --gain-change-db."
            )
        return (
            f"A change of gain of {self.request.gain_change_db:+g} dB, as given, is taken off the "
            "second."
        )

    def text(self) -> str:
        """For people: the sentence first."""
        found = self.found
        lines = [self.sentence(), parts_sentence(self.by_part), self.assumption(), ""]
        lines.append(f"{'':24s}  before    after   difference (95 %)")
        lines += [_row(one) for one in (found.in_band, found.whole, *found.parts)]
        for one in (found.floor, found.impulse_rate, found.impulse_level):
            lines.append(f"{'':24s}  {one.reason}" if isinstance(one, CannotTell) else _row(one))
        lines += ["", "by part:"]
        for change in self.by_part:
            lines += part_lines(change)
        lines += [NOTE, *self.notes()]
        lines += [
            "",
            f"levels in dBFS; detector: {DETECTOR}; {self.taken}",
            f"lengths: {found.durations_s[0]:.1f} s and {found.durations_s[1]:.1f} s, worth "
            f"{found.in_band.n_effective[0]:.0f} and {found.in_band.n_effective[1]:.0f} "
            "independent stretches",
            *CAUTIONS,
        ]
        return "\n".join(lines)

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        found = self.found
        return {
            "before": str(self.request.before),
            "after": str(self.request.after),
            "sentence": self.sentence(),
            "gain": self.assumption(),
            "gain_change_db": found.gain_change_db,
            "detector": DETECTOR,
            "taken": self.taken,
            "band_hz": list(found.band_hz),
            "passbands_hz": [list(one) for one in found.passbands_hz],
            "durations_s": list(found.durations_s),
            "in_band": _change_dict(found.in_band),
            "whole": _change_dict(found.whole),
            "weakest_fifth": _change_dict(found.floor),
            "bands": [_change_dict(one) for one in found.parts],
            "parts": [_part_change_dict(one) for one in self.by_part],
            "notes": list(self.notes()),
            "impulses_a_minute": _change_dict(found.impulse_rate),
            "impulse_level": _change_dict(found.impulse_level),
            "cautions": list(CAUTIONS),
        }

    def page(self) -> "ChangePage":
        """The page and its picture."""
        # Drawing takes a second to import, and most calls only print.
        from solidcopy.reports.noise_change_page import ChangeFacts, change_page  # noqa: PLC0415

        return change_page(
            ChangeFacts(
                title=f"{self.request.before.name} and {self.request.after.name}",
                sentence=self.sentence(),
                supports=(self.assumption(), *self.notes()),
                found=self.found,
                changes=self.by_part,
                waveforms=self.waveforms,
                cautions=CAUTIONS,
            )
        )

    def write(self, folder: Path) -> tuple[Path, ...]:
        """A page with a picture, and the figures as JSON; older ones are written over."""
        page = self.page()
        folder.mkdir(parents=True, exist_ok=True)
        written = []
        for name, content in (
            ("noise-change.html", page.html),
            (f"{page.picture.name}.svg", page.picture.labelled()),
            ("noise-change.json", json.dumps(self.as_dict(), indent=2, ensure_ascii=False) + "\n"),
        ):
            (folder / name).write_text(content, encoding="utf-8")
            written.append(folder / name)
        return tuple(written)

    def notes(self) -> tuple[str, ...]:
        """What else the reader should know."""
        if max(self.found.durations_s) <= LONGEST_S:
            return ()
        return (f"Parts are those of the first {LONGEST_S:g} s of each recording.",)


def compare_noise(request: CompareRequest) -> Compared:
    """The difference of two recordings.

    Raises: AudioFileError, one sentence: a file that is not fit for measuring, or two that were
        not taken alike.
    """
    with (
        open_sound(request.before, channel=request.channel) as before,
        open_sound(request.after, channel=request.channel) as after,
    ):
        _refuse_unlike(before, after)
        waveforms = [fit_for_measuring(sound) for sound in (before, after)]
        facts = before.facts
        taken = (
            f"both {facts.container} {facts.encoding}, {facts.sample_rate_hz} samples per second"
        )
    found = compare_recordings(
        waveforms[0],
        waveforms[1],
        band_hz=_band(request.band),
        gain_change_db=request.gain_change_db or 0.0,
    )
    by_part = changes_by_part(
        waveforms[0], waveforms[1], gain=units.ratio_from_db(request.gain_change_db or 0.0)
    )
    return Compared(request, found, by_part, (waveforms[0], waveforms[1]), taken)


def answer_of(change: Change) -> str:
    """E.g. "The second is 6.2 dB quieter in 300-2700 Hz (95 %: 5.8 to 6.6)."."""
    if isinstance(change.interval, CannotTell):
        return (
            f"Cannot tell how sure a difference of {change.difference:+.1f} dB in {change.name} "
            f"is: {change.interval.reason}."
        )
    low, high = change.interval
    if not change.is_shown:
        return (
            f"No difference is shown in {change.name}: {change.difference:+.2f} dB (95 %: "
            f"{low:+.2f} to {high:+.2f})."
        )
    side = "louder" if change.difference > 0.0 else "quieter"
    ends = sorted((abs(low), abs(high)))
    n_digits = 1 if high - low >= 0.2 else 2
    return (
        f"The second is {abs(change.difference):.{n_digits}f} dB {side} in {change.name} (95 %: "
        f"{ends[0]:.{n_digits}f} to {ends[1]:.{n_digits}f})."
    )


def _refuse_unlike(before: Sound, after: Sound) -> None:
    for what, first, second in (
        ("sample rate", before.facts.sample_rate_hz, after.facts.sample_rate_hz),
        ("word length", before.facts.encoding, after.facts.encoding),
        ("number of channels", before.facts.n_channels, after.facts.n_channels),
    ):
        if first != second:
            raise AudioFileError(
                f"{before.path} and {after.path} cannot be compared: their {what} differs "
                f"({first} and {second}); record both the same way"
            )


def fit_for_measuring(sound: Sound) -> Waveform:
    """Its first hour, one channel. Raises AudioFileError if it is not fit for measuring."""
    health = measure_health(sound)
    if health.verdict is not Verdict.MEASURING:
        raise AudioFileError(
            f"{sound.path} is not fit for measuring: {'; '.join(health.reasons)} "
            f"(`solidcopy inspect {sound.path}` says more)"
        )
    return mono(sound, 0.0, min(sound.duration_s, MAX_HEARD_S))


def _band(text: str) -> tuple[float, float] | None:
    """A band as typed. Raises AudioFileError."""
    if not text:
        return None
    low, _, high = text.partition("-")
    try:
        return float(low), float(high)
    except ValueError:
        raise AudioFileError(f'--band: give two frequencies like 300-2700, not "{text}"') from None


def _row(change: Change) -> str:
    interval = (
        change.interval.reason
        if isinstance(change.interval, CannotTell)
        else f"{change.interval[0]:+.2f} to {change.interval[1]:+.2f}"
    )
    return (
        f"{change.name:24s}  {change.before:7.2f}  {change.after:7.2f}  {change.difference:+7.2f} "
        f"{change.unit} ({interval})"
    )


def _change_dict(change: Change | CannotTell) -> dict[str, Any]:
    if isinstance(change, CannotTell):
        return {"cannot_tell": change.reason}
    fields = asdict(change)
    if isinstance(change.interval, CannotTell):
        fields |= {"interval": None, "cannot_tell": change.interval.reason}
    return fields


def _part_change_dict(change: PartChange) -> dict[str, Any]:
    interval = change.interval_db
    return {
        "kind": str(change.part.kind),
        "name": part_name(change.part),
        "fate": str(change.fate),
        "before": None if change.before is None else part_dict(change.before),
        "after": None if change.after is None else part_dict(change.after),
        "difference_db": change.difference_db,
        "interval_db": None if isinstance(interval, CannotTell) else list(interval),
        "cannot_tell": interval.reason if isinstance(interval, CannotTell) else None,
    }
