"""The page that lies on top in a package: what it answers, what is in it, how to check it."""

import textwrap
from dataclasses import dataclass

from solidcopy import __version__
from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.package.members import (
    ENVIRONMENT,
    RECORDINGS,
    REPORT,
    SUMS,
    VERSIONS,
)
from solidcopy.receivers.catalogue import OUR_OWN
from solidcopy.reports import texts
from solidcopy.reports.write import Report
from solidcopy.trials.plan import Plan

WIDTH = 78


@dataclass(frozen=True, slots=True)
class Told:
    """What the page tells of."""

    name: str
    plan: Plan
    report: Report
    n_recordings: int


def readme_text(told: Told) -> str:
    """Plain text, lines of at most 78 letters but for commands."""
    name, facts = told.name, told.report.facts
    title = facts.title or f"Noise immunity of {facts.mode.name.upper()}"
    extent = facts.extent
    done = f"{extent.n_done} of {extent.n_planned} outcomes" + (
        "" if extent.is_finished else ", not finished"
    )
    lines = [
        title,
        "=" * min(len(title), WIDTH),
        "",
        *_wrapped(told.report.headline),
        "",
        *_wrapped(
            f"This package holds the whole campaign ({done}), so that somebody else can check it "
            "and run it again. It was made by solidcopy from the campaign's journal."
        ),
        "",
        "Check it",
        "--------",
        f"Install solidcopy {__version__} or newer, then give one command:",
        "",
        f"    solidcopy unpack {name}.zip",
        "",
        *_wrapped(
            "It checks every file by its sum, makes some of the trials again from their recipes, "
            "has the built-in receiver hear them, and says what agreed. With --whole it makes all "
            "of them again and compares outcome by outcome."
        ),
        "",
        *_wrapped(f"Fingerprint of all outcomes: {facts.fingerprint}"),
        "",
        "Go on with it",
        "-------------",
        f"    solidcopy run {name}/{name}.toml",
        "",
        *_receivers(told.plan),
        "What lies here",
        "--------------",
        *_row(f"{name}.toml", "the plan: the question, with every number"),
        *_row(f"{name}{SUFFIX}/journal.sqlite", "the journal: every outcome (SQLite)"),
        *_row(f"{name}{SUFFIX}/{REPORT}/", "the report: report.html, report.pdf, tables (CSV),"),
        *_row("", "figures (SVG), every number (facts.json)"),
        *(_row(f"{RECORDINGS}/", _recordings(told.n_recordings)) if told.n_recordings else []),
        *_row(ENVIRONMENT, "machines and versions of every run"),
        *_row(VERSIONS, "versions of the libraries, for pip install --constraint"),
        *_row(SUMS, "SHA-256 of every other file (sha256sum -c reads it)"),
        "",
        *_wrapped(
            "Before you hand it on: the journal keeps the kind of processor and system it ran on "
            "and the paths of files as they were there."
        ),
        "",
        "Cautions",
        "--------",
        *(line for caution in texts.CAUTIONS for line in _wrapped(caution, "- ")),
        "",
    ]
    return "\n".join(lines)


def _recordings(n: int) -> str:
    return "the recording that the plan uses" if n == 1 else f"the {n} recordings that it uses"


def _receivers(plan: Plan) -> list[str]:
    """What cannot be packed: somebody else's program stays where it is."""
    outside = [one for one in plan.receivers if not isinstance(one, OUR_OWN)]
    if not outside:
        return []
    names = ", ".join(f'"{one.name}" ({one.kind})' for one in outside)
    return [
        *_wrapped(
            f"Not in here: the programs behind {names}. `unpack` starts none of them, and "
            "compares the answers of the built-in receiver only. Look at the plan before you run "
            "it: it names programs that would be started."
        ),
        "",
    ]


def _wrapped(text: str, mark: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=mark,
        subsequent_indent=" " * len(mark),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _row(what: str, words: str) -> list[str]:
    if len(what) < 26:
        return [f"{what:<26}{words}"]
    return [what, f"{'':<26}{words}"]
