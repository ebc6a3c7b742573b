"""Plans written in the browser: checked before they are kept, and held to the bench folder."""

from pathlib import Path

from solidcopy.actions.new_plan import Question, starting_plan
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import PlanError
from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.reports.write import put_text
from solidcopy.trials.plan import Plan, plan_of_text, read_plan


def begin_plan(
    workspace: Workspace, name: str, question: Question, *, recording: str | None = None
) -> Path:
    """A starting plan for a question, under a new name.

    Args:
        recording: of the bench folder; for the question "recording" only.
    Raises: PlanError if the name is taken, WorkspaceError, NotThereError.
    """
    file = workspace.plan(name)
    if file.exists():
        raise PlanError(f"a plan {name!r} is there already: choose another name")
    sound = None if recording is None else workspace.recording(recording)
    put_text(file, starting_plan(question, recording=sound))
    return file


def save_plan(workspace: Workspace, name: str, text: str) -> Plan:
    """Keep the text of a plan if it is a plan, and one that a page may write.

    A page may not name programs or Python code of this machine as receivers, nor sound files
    outside the bench folder; those of the plan as it lies there may stay.

    Raises: PlanError with the field and what is allowed.
    """
    file = workspace.existing_plan(name)
    plan = plan_of_text(text, file)
    _refuse_foreign(plan, _kept(file), workspace)
    put_text(file, text)
    return plan


def _kept(file: Path) -> Plan | None:
    try:
        return read_plan(file)
    except PlanError:
        return None


def _refuse_foreign(plan: Plan, kept: Plan | None, workspace: Workspace) -> None:
    known = kept.receivers if kept else ()
    for place, receiver in enumerate(plan.receivers):
        if not isinstance(receiver, BuiltinSettings) and receiver not in known:
            raise PlanError(
                f'receivers[{place}]: kind "{receiver.kind}" can be set from the command line '
                "only; write it into the plan file there, then open the plan here"
            )
    known_files = set(_sound_files(kept)) if kept else set()
    for sound in _sound_files(plan):
        if workspace.folder not in Path(sound).resolve().parents and sound not in known_files:
            raise PlanError(
                f"recording {Path(sound).name!r} lies outside the bench folder: drop it into the "
                "noise lab and name it from there"
            )


def _sound_files(plan: Plan) -> list[str]:
    return [
        impairment.file
        for condition in plan.conditions
        for impairment in condition.impairments
        if isinstance(impairment, OwnRecording)
    ]
