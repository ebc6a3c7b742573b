"""Look through a recording and say what was found, before anything is measured with it."""

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from solidcopy import __version__, units
from solidcopy.noise.health import ChannelHealth, Health, Verdict, measure_health
from solidcopy.noise.reading import Answers, Question, Side, open_sound
from solidcopy.reports.wording import MINUS, number
from solidcopy.signals.sound_file.facts import SoundFacts
from solidcopy.signals.sound_file.findings import grouped, lasting

NEGATIVE = re.compile(r"(?<![\w.-])-(?=\d)")
"""A hyphen that stands for a minus sign; not that of "24-bit" or of a date."""
VERDICTS = {
    Verdict.MEASURING: "fit for measuring",
    Verdict.SOURCES_ONLY: "fit for finding sources only",
    Verdict.NOT_FIT: "not fit",
}


@dataclass(frozen=True, slots=True)
class Inspection:
    """A recording that was looked through."""

    file: Path
    facts: SoundFacts
    health: Health
    question: Question | None

    @property
    def is_usable(self) -> bool:
        """Whether there is anything to work with."""
        return self.health.verdict is not Verdict.NOT_FIT

    def as_dict(self) -> dict[str, Any]:
        """For a program; docs/howto/inspect-a-recording.md says what the fields mean."""
        facts, starts = self.facts, self.facts.starts
        return {
            "made_by": f"solidcopy {__version__}",
            "file": str(self.file),
            "verdict": str(self.health.verdict),
            "reasons": list(self.health.reasons),
            "question": self.question
            and {"sentence": self.question.sentence, "option": self.question.option},
            "container": facts.container,
            "encoding": facts.encoding,
            "sample_rate_hz": facts.sample_rate_hz,
            "n_channels": facts.n_channels,
            "n_samples": facts.n_samples,
            "duration_s": facts.duration_s,
            "starts_at": starts and starts.moment.isoformat(timespec="milliseconds"),
            "findings": [
                {
                    "kind": finding.kind,
                    "sentence": finding.sentence,
                    "weight": finding.weight.name.lower().replace("_", "-"),
                    "places_s": list(finding.places_s),
                }
                for finding in self.health.findings
            ],
            "channels": [_channel(one, facts) for one in self.health.channels],
            "repeats": [
                {
                    "start_s": repeat.start / facts.sample_rate_hz,
                    "length_s": (repeat.end - repeat.start) / facts.sample_rate_hz,
                    "lag_s": repeat.lag / facts.sample_rate_hz,
                }
                for repeat in self.health.repeats[:100]
            ],
        }

    def text(self) -> str:
        """For a person."""
        facts, health = self.facts, self.health
        channels = "1 channel" if facts.n_channels == 1 else f"{facts.n_channels} channels"
        briefs = [finding.brief for finding in health.findings if finding.brief]
        lines = [
            f"{facts.container}, {grouped(facts.sample_rate_hz)} Hz, "
            + ", ".join((facts.encoding, channels, lasting(facts.duration_s), *briefs)),
            *(_level_line(channel) for channel in health.channels),
        ]
        if health.findings:
            lines.append("found:")
            lines += [f"  {finding.sentence}" for finding in health.findings]
        if self.question is not None:
            lines += [
                f"question: {self.question.sentence}",
                f"  answer with {self.question.option}",
            ]
        reasons = "; ".join(health.reasons)
        lines.append(f"verdict: {VERDICTS[health.verdict]}" + (f": {reasons}" if reasons else ""))
        return f"{self.file}: " + NEGATIVE.sub(MINUS, "\n".join(lines))


def inspect_recording(file: Path, answers: Answers) -> Inspection:
    """Open a file, look through all of it once, and judge it.

    Args:
        file: of any kind that can be read.
        answers: what the user says about it.
    Raises: AudioFileError, one sentence, if it cannot be read or holds NaN.
    """
    with open_sound(file, channel=answers.channel, iq=answers.iq, join=answers.join) as sound:
        return Inspection(file, sound.facts, measure_health(sound), sound.question)


def answered(answers: Answers, question: Question, answer: str) -> Answers:
    """The answers with one more put in. Raises AudioFileError if it cannot be one."""
    word = answer.strip().lower()
    match question.option:
        case "--join":
            return replace(answers, join=word in ("y", "yes", "join"))
        case "--iq" | "--channel" if word in set(Side):
            return replace(answers, iq=Side(word))
    return replace(answers, channel=word)


def _channel(channel: ChannelHealth, facts: SoundFacts) -> dict[str, Any]:
    levels, clipping, rate_hz = channel.levels, channel.clipping, facts.sample_rate_hz
    hum = channel.hum
    return {
        "name": channel.name,
        "is_silent": channel.is_silent,
        "power_dbfs": None if channel.is_silent else levels.power_dbfs,
        "peak_dbfs": None if levels.peak == 0.0 else units.peak_dbfs(levels.peak),
        "offset": levels.offset,
        "n_over_full_scale": levels.n_over_full_scale,
        "n_clipped": clipping.n_samples,
        "n_clipped_runs": clipping.n_runs,
        "longest_clipped_run_samples": clipping.longest_samples,
        "first_clipped_s": [start / rate_hz for start in clipping.starts],
        "still": [
            {
                "start_s": stretch.start / rate_hz,
                "length_s": stretch.n_samples / rate_hz,
                "value": stretch.value,
            }
            for stretch in channel.still[:100]
        ],
        "hum": hum
        and {
            "mains_hz": hum.mains_hz,
            "n_lines": hum.n_lines,
            "power_dbfs": hum.power_dbfs,
            "power_share": hum.share,
        },
    }


def _level_line(channel: ChannelHealth) -> str:
    if channel.is_silent:
        return f"  {channel.name}: silent"
    levels = channel.levels
    peak_dbfs = units.peak_dbfs(levels.peak)
    return (
        f"  {channel.name}: level {number(levels.power_dbfs, 2)} dBFS, peak "
        f"{number(peak_dbfs, 2)} dB from full scale"
    )
