"""Write a commented starting plan for a named question."""

from enum import StrEnum
from importlib import resources
from pathlib import Path
from string import Template

from solidcopy.errors import PlanError
from solidcopy.signals.audio_file import read_audio


class Question(StrEnum):
    """What a person may want to know."""

    NOISE = "noise"
    CARRIER = "carrier"
    BAND_NOISE = "band-noise"
    IMPULSES = "impulses"
    PROTECTION = "protection"
    RECORDING = "recording"


QUESTIONS = {
    Question.NOISE: "how much Gaussian noise does the signal stand?",
    Question.CARRIER: "what does a carrier inside the signal cost?",
    Question.BAND_NOISE: "what does band-limited noise from somebody else's signal cost?",
    Question.IMPULSES: "what do impulses cost, beside Gaussian noise?",
    Question.PROTECTION: "how strong may a carrier be, at each distance from the signal?",
    Question.RECORDING: "what does your own noise cost, beside Gaussian noise of equal power?",
}


def starting_plan(question: Question, *, recording: Path | None = None) -> str:
    """Text of a commented plan (TOML).

    Args:
        question: see `QUESTIONS`.
        recording: the user's sound file; needed for, and only for, the question "recording".
    Raises: PlanError if the recording is missing or not wanted.
    """
    if (recording is not None) != (question is Question.RECORDING):
        raise PlanError(
            f'the question "{question}" takes no --recording'
            if recording
            else 'the question "recording" needs your sound file: add --recording FILE'
        )
    folder = resources.files("solidcopy.actions") / "starting_plans"
    template = Template((folder / f"{question}.toml").read_text(encoding="utf-8"))
    return template.substitute(recording=_toml_string(recording) if recording else "")


def _toml_string(path: Path) -> str:
    """A path inside a basic TOML string."""
    return str(path.resolve()).replace("\\", "\\\\").replace('"', '\\"')


def write_new_plan(
    question: Question, out: Path, *, recording: Path | None = None, may_replace: bool = False
) -> tuple[str, ...]:
    """Write `starting_plan` to a file.

    Returns: what is odd about the recording, one sentence each.
    Raises: PlanError rather than overwrite one; AudioFileError if the recording is not fit.
    """
    if out.exists() and not may_replace:
        raise PlanError(f"{out} exists: choose another --out, or add --replace")
    text = starting_plan(question, recording=recording)
    notes = read_audio(recording).notes if recording is not None else ()
    try:
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PlanError(f"{out}: cannot be written ({error.strerror})") from None
    return notes
