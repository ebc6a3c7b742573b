"""Plans about one's own noise in a bench folder, and what their campaigns answer."""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from solidcopy.actions.cost_answer import read_cost
from solidcopy.actions.cost_plan import GAUSSIAN, OWN
from solidcopy.actions.kept import stamp_of
from solidcopy.actions.list_recordings import campaigns_of, plans_of
from solidcopy.actions.looks.answer import TWIN_PLAN
from solidcopy.actions.looks.store import file_of_look
from solidcopy.actions.noise_cost import CostRequest, cost_plan
from solidcopy.actions.noise_twin import read_over_floor_db
from solidcopy.actions.served import served
from solidcopy.actions.twin_answer import read_twin
from solidcopy.actions.twin_plan import TWIN
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import PlanError, SolidcopyError
from solidcopy.receivers.builtin.settings import Effort
from solidcopy.reports.write import put_text

FIT_SUFFIX = ".fit.json"


@dataclass(frozen=True, slots=True)
class CostAsked:
    """What is asked about the cost of a recorded noise; as `solidcopy noise cost`."""

    recording: str
    plan: str
    """Name of the plan that is written."""
    mode: Literal["ft8", "ft4"] = "ft8"
    n_trials: int = 400
    has_remedies: bool = False
    efforts: tuple[Effort, ...] = ()
    audio_hz: float | None = None
    channel: int | None = None


@served
@dataclass(frozen=True, slots=True)
class OwnNoiseAnswer:
    """What a campaign says about a recording, as far as it has come."""

    campaign: str
    """Its name."""
    sentences: tuple[str, ...]
    """The answer first."""


def begin_cost(space: Workspace, asked: CostAsked) -> None:
    """Write the plan that measures what a recorded noise costs.

    Raises: PlanError if the name is taken; AudioFileError or CalibrationError if the recording is
        not fit for it.
    """
    file = _new_plan(space, asked.plan)
    recording = space.recording(asked.recording)
    request = CostRequest(
        recording=recording,
        out=space.folder,
        mode=asked.mode,
        n_trials=asked.n_trials,
        receivers=asked.efforts,
        has_remedies=asked.has_remedies,
        audio_hz=asked.audio_hz,
        channel=asked.channel,
    )
    try:
        text = cost_plan(request).text()
    except SolidcopyError as error:
        raise type(error)(str(error).replace(str(recording), recording.name)) from None
    put_text(file, text)


def keep_twin(space: Workspace, key: str, name: str) -> None:
    """Keep the plan that a look wrote for a twin, under a new name.

    Raises: PlanError if the name is taken, NotThereError if the look is not kept.
    """
    file = _new_plan(space, name)
    plan = file_of_look(space, key, TWIN_PLAN)
    fit = file_of_look(space, key, str(Path(TWIN_PLAN).with_suffix(FIT_SUFFIX)))
    put_text(file.with_suffix(FIT_SUFFIX), fit.read_text(encoding="utf-8"))
    put_text(file, plan.read_text(encoding="utf-8"))


def _new_plan(space: Workspace, name: str) -> Path:
    file = space.plan(name)
    if file.exists():
        raise PlanError(f"a plan {name!r} is there already: choose another name")
    return file


def plans_beside(space: Workspace, recording: str) -> tuple[str, ...]:
    """Plans that name a recording and were not begun yet."""
    begun = set(space.campaigns())
    return tuple(name for name in plans_of(space, space.recording(recording)) if name not in begun)


def own_noise_answers(space: Workspace, recording: str) -> list[OwnNoiseAnswer]:
    """What the campaigns with a recording answer, the one written last first.

    Those that set it beside Gaussian noise, or beside its twin, say what it costs or how like it
    the twin is; of others there is only the name.
    """
    names = campaigns_of(space, space.recording(recording))
    return [
        OwnNoiseAnswer(name, _sentences(space.campaign(name), stamp_of(space.campaign(name))))
        for name in names
    ]


@lru_cache(maxsize=64)
def _sentences(folder: Path, _stamp: str) -> tuple[str, ...]:
    """Worked out once for each state of a journal: it takes seconds."""
    try:
        with JournalReader(folder) as reader:
            names = {condition.name for condition in reader.plan.conditions}
        if {OWN, GAUSSIAN} <= names:
            found = read_cost(folder)
            return (*found.sentences(), *found.notes())
        if {OWN, TWIN} <= names:
            over_floor_db = read_over_floor_db(folder.with_suffix(".toml"))
            return tuple(read_twin(folder, over_floor_db).text().split("\n"))
    except SolidcopyError as error:
        return (str(error),)
    return ()
