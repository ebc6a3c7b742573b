"""Plans written in the browser: checked before they are kept, and held to the bench folder."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

from solidcopy.actions.new_plan import Question, starting_plan
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import ChangedError, Fault, PlanError
from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.catalogue import NAME_NO_PROGRAM
from solidcopy.reports.whole_file import put_text
from solidcopy.trials.faults import Place, explain, field_words
from solidcopy.trials.plan import Plan, plan_of_text, read_plan


def begin_plan(
    workspace: Workspace, name: str, question: Question, *, recording: str | None = None
) -> Path:
    """A starting plan for a question, under a new name.

    Args:
        recording: of the bench folder; for the question "recording" only.
    Raises: PlanError if the name is taken, WorkspaceError, NotThereError.
    """
    sound = None if recording is None else workspace.recording(recording)
    return put_new_plan(workspace, name, starting_plan(question, recording=sound))


def digest_of(text: str) -> str:
    """What tells whether a text is the one that was opened."""
    return hashlib.sha256(text.encode()).hexdigest()


def plan_text(workspace: Workspace, name: str) -> str:
    """The text of a plan. Raises NotThereError, and PlanError if it is no text."""
    try:
        return workspace.existing_plan(name).read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise PlanError(f"plan {name!r} is not UTF-8 text; save it as UTF-8") from None


def checked_plan(workspace: Workspace, name: str, text: str) -> Plan:
    """The plan that a text is, if a page may write it under that name.

    A page may not name programs or Python code of this machine as receivers, nor sound files
    outside the bench folder; those of the plan as it lies there may stay.

    Raises: PlanError with the fields and what is allowed.
    """
    file = workspace.existing_plan(name)
    plan = plan_of_text(text, file)
    try:
        mode_named(plan.mode)
    except PlanError as error:
        sentence = str(error)
        raise PlanError(sentence, [Fault(("mode",), "mode", sentence)]) from None
    _refuse_foreign(plan, _kept(file), workspace)
    return plan


def save_plan(workspace: Workspace, name: str, text: str, *, opened: str | None = None) -> Plan:
    """Keep the text of a plan if it is one that a page may write.

    Args:
        opened: digest of the text that was opened and changed; None: whatever lies there goes.
    Raises: PlanError with the fields and what is allowed; ChangedError if what lies there is
        not what was opened.
    """
    plan = checked_plan(workspace, name, text)
    if opened is not None and digest_of(plan_text(workspace, name)) != opened:
        raise ChangedError(
            f"plan {name!r} was changed on disk since it was opened here; nothing was written, and "
            "your text stays on this page: keep it under another name, or read the plan again"
        )
    put_text(workspace.existing_plan(name), text)
    return plan


def copy_plan(workspace: Workspace, name: str, new_name: str) -> None:
    """The plan as it lies there under a new name. Raises PlanError if that is taken."""
    put_new_plan(workspace, new_name, plan_text(workspace, name))


def keep_plan_as(workspace: Workspace, name: str, new_name: str, text: str) -> None:
    """A changed text of a plan under a new name. Raises PlanError as `save_plan` does."""
    checked_plan(workspace, name, text)
    put_new_plan(workspace, new_name, text)


def delete_plan(workspace: Workspace, name: str) -> None:
    """Take a plan's file away; a campaign begun from it stays, with the plan inside it."""
    workspace.existing_plan(name).unlink()


def put_new_plan(workspace: Workspace, name: str, text: str) -> Path:
    """Keep a text under a new name. Raises PlanError if it is taken, WorkspaceError."""
    file = workspace.plan(name)
    if file.exists():
        raise PlanError(f"a plan {name!r} is there already: choose another name")
    return put_text(file, text)


def _kept(file: Path) -> Plan | None:
    try:
        return read_plan(file)
    except PlanError:
        return None


def _refuse_foreign(plan: Plan, kept: Plan | None, workspace: Workspace) -> None:
    known = kept.receivers if kept else ()
    known_files = {sound for _, sound in _sound_files(kept)} if kept else set()
    found = [
        _fault(
            ("receivers", place),
            f'kind "{receiver.kind}" can be set from the command line only; write it into the plan '
            "file there, then open the plan here",
        )
        for place, receiver in enumerate(plan.receivers)
        if not isinstance(receiver, NAME_NO_PROGRAM) and receiver not in known
    ]
    found += [
        _fault(
            place,
            f"recording {Path(sound).name!r} lies outside the bench folder: drop it into the "
            "noise lab and name it from there",
        )
        for place, sound in _sound_files(plan)
        if workspace.folder not in Path(sound).resolve().parents and sound not in known_files
    ]
    if found:
        raise PlanError(explain(found), found)


def _fault(place: Place, sentence: str) -> Fault:
    return Fault(place, field_words(place), sentence)


def _sound_files(plan: Plan) -> Iterator[tuple[Place, str]]:
    """Place and path of each recording; conditions of a map are one in the file."""
    names = list(dict.fromkeys(condition.as_written().name for condition in plan.conditions))
    for condition in plan.conditions:
        for place, impairment in enumerate(condition.impairments):
            if isinstance(impairment, OwnRecording):
                number = names.index(condition.as_written().name)
                yield ("conditions", number, "impairments", place, "file"), impairment.file
