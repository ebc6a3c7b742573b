"""The set-up that a plan is played with, and the one thing a person must confirm before a sound."""

import textwrap
from pathlib import Path

import tomlkit

from solidcopy.errors import PlanError
from solidcopy.reports.whole_file import put_text
from solidcopy.trials.live_setup import LiveSetUp
from solidcopy.trials.plan import plan_of_text, read_plan

POINTS = (
    "It leads into a cable, a dummy load or another program. No transmitter that can radiate hangs "
    "on it.",
    "If a transmitter stands on the bench, its keying is off, voice control included, and there "
    "are attenuators and a dummy load behind it. Nothing here keys a transmitter.",
    "Headphones are off your ears, and every volume is at its lowest; turn it up from there. A "
    "loud signal can hurt ears and receiver inputs.",
    "Your licence and the local rules allow what you are about to do.",
)
"""What a person confirms once for each output, before the first sound."""


def statement(output: str | None) -> str:
    """The same for a terminal; `output` empty or None: the system's own."""
    points = (
        textwrap.fill(f"{number}. {point}", 96, initial_indent="  ", subsequent_indent="     ")
        for number, point in enumerate(POINTS, 1)
    )
    return "\n".join(
        [f'Before the first sound, for the output "{output or "of the system"}":', *points]
    )


def keep_confirmation(file: Path, set_up: LiveSetUp) -> LiveSetUp:
    """Write into a plan file with which set-up it is played, and that it was confirmed.

    Args:
        file: the plan.
        set_up: as it is to be played.
    Returns: the set-up as kept.
    Raises: PlanError if the file is no plan, or cannot be written.
    """
    confirmed = set_up.model_copy(update={"confirmed_for": set_up.here})
    _keep(file, confirmed)
    return confirmed


def keep_level(file: Path, *, output: str | None, gain_db: float) -> None:
    """Write into a plan file at what level it is played, and into which output.

    Args:
        file: the plan.
        output: sound device by number or name; None: what the plan says.
        gain_db: 0 or less.
    Raises: PlanError if the file is no plan, or cannot be written.
    """
    before = read_plan(file).live or LiveSetUp()
    changed = {"output": output or before.output, "gain_db": gain_db}
    _keep(file, before.model_copy(update=changed))


def _keep(file: Path, set_up: LiveSetUp) -> None:
    """Remarks and everything else in the file stay as they are."""
    try:
        document = tomlkit.parse(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise PlanError(f"{file}: cannot be read ({error.strerror})") from None
    document["live"] = set_up.model_dump(exclude_none=True)
    text = tomlkit.dumps(document)
    plan_of_text(text, file)
    put_text(file, text)
