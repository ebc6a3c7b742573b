"""Errors a user can meet. Each message says what was asked, what is allowed and what to do.

Programmer mistakes stay ValueError and TypeError. Every class carries the exit code that the
command line ends with.
"""


class SolidcopyError(Exception):
    """Something the user can understand and mend."""

    exit_code = 1


class PlanError(SolidcopyError):
    """A plan (or a value in it) asks for something impossible; the message names the field."""

    exit_code = 3


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
