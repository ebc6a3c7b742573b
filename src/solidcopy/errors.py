"""Errors a user can meet. Each message says what was asked, what is allowed and what to do.

Programmer mistakes stay ValueError and TypeError. Every class carries the exit code that the
command line ends with.
"""

from collections.abc import Iterable
from dataclasses import dataclass


class SolidcopyError(Exception):
    """Something the user can understand and mend."""

    exit_code = 1


@dataclass(frozen=True, slots=True)
class Fault:
    """One field of a plan that holds what it may not.

    Args:
        place: keys and places (from 0) that lead to it in the plan file; empty: the whole plan.
        field: the same as a user counts, e.g. "conditions[2].name".
        sentence: what is allowed, and what was given.
    """

    place: tuple[str | int, ...]
    field: str
    sentence: str


class PlanError(SolidcopyError):
    """A plan (or a value in it) asks for something impossible; the message names the field.

    Args:
        message: of all faults together.
        faults: field by field, where they are known so.
    """

    exit_code = 3

    def __init__(self, message: str, faults: Iterable[Fault] = ()) -> None:
        super().__init__(message)
        self.faults = tuple(faults)


class MessageError(PlanError):
    """A text that the mode cannot carry; the message names the character, field or length."""


class CalibrationError(SolidcopyError):
    """An asked level was not met by the samples: clipping, an empty band, a difference."""

    exit_code = 4


class AudioFileError(SolidcopyError):
    """A sound file that cannot be read as audio fit for measuring."""

    exit_code = 5


class JournalError(SolidcopyError):
    """The record of a campaign cannot be used as asked (locked, damaged, another plan's)."""

    exit_code = 7


class LogError(SolidcopyError):
    """A decode log, or what was said about it, cannot be used as asked."""

    exit_code = 8


class WorkspaceError(SolidcopyError):
    """A name or a folder that the bench in the browser cannot use."""

    exit_code = 9


class NotThereError(WorkspaceError):
    """A campaign, plan or recording of that name is not in the bench folder."""


class WorkersError(SolidcopyError):
    """The scheduler of workers on other machines, or one of them, cannot be used as asked."""

    exit_code = 16


class PackageError(SolidcopyError):
    """A package of a campaign that cannot be made, or is not fit to be opened."""

    exit_code = 14


class DeviceError(SolidcopyError):
    """A sound device, or a clock that was named, cannot be used as asked."""

    exit_code = 10


class ChangedError(WorkspaceError):
    """A plan was changed on disk since it was opened in the browser; nothing was overwritten."""


class FigureError(SolidcopyError):
    """A figure given by hand, or a campaign, from which no watts, chances or minutes follow."""

    exit_code = 17


class EvidenceError(SolidcopyError):
    """A description of a noise measurement from which no sheet can be made as asked."""

    exit_code = 18


class ExportError(SolidcopyError):
    """A table of outcomes for other programs that cannot be written as asked."""

    exit_code = 15
