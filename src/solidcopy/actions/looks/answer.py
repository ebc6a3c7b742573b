"""What a look found, in the words of the commands and their pages, ready to be shown."""

from dataclasses import dataclass

from pydantic import TypeAdapter

from solidcopy.actions.served import served
from solidcopy.reports.sheet import Sheet

ASKED, ANSWERED, FACTS = "asked.json", "answer.json", "facts.json"
"""Files in the folder of a look; facts as the command prints them for a program."""
PLAN, FIT = "plan.toml", "plan.fit.json"
"""A plan that a look wrote, and what was fitted for it, where something was."""


@served
@dataclass(frozen=True, slots=True)
class Shown:
    """A picture that lies beside the answer."""

    file: str
    """Name of the file."""
    title: str
    description: str
    """For a reader who cannot see it."""
    caption: str
    """What a reader who sees it needs besides."""


@served
@dataclass(frozen=True, slots=True)
class Hint:
    """A kind of source that fits, and what would confirm it."""

    likely: str
    """Kind of source."""
    steps: tuple[str, ...]
    """What would confirm it."""
    source: str
    """Where that is known from."""


@served
@dataclass(frozen=True, slots=True)
class Detail:
    """More about one thing that was found."""

    title: str
    """Which one."""
    lines: tuple[str, ...]
    """What was measured of it."""
    hints: tuple[Hint, ...] = ()
    """Kinds of source that fit, the most particular first."""
    doubts: tuple[str, ...] = ()
    """What the recording does not tell of it."""


@served
@dataclass(frozen=True, slots=True)
class LookAnswer:
    """An answer, or the sentence that says why there is none."""

    sentence: str
    """The answer, or why there is none."""
    is_refusal: bool = False
    """Whether it is the reason why there is none."""
    supports: tuple[str, ...] = ()
    """What it rests on."""
    question: str = ""
    """What the person should say about the file."""
    sheets: tuple[Sheet, ...] = ()
    """Tables."""
    pictures: tuple[Shown, ...] = ()
    """Pictures beside it."""
    details: tuple[Detail, ...] = ()
    """More, thing by thing."""
    limits: tuple[str, ...] = ()
    """What cannot be told."""
    cautions: tuple[str, ...] = ()
    """What to beware of."""
    files: tuple[str, ...] = ()
    """Files beside the answer that are worth keeping."""


ANSWER: TypeAdapter[LookAnswer] = TypeAdapter(LookAnswer)
