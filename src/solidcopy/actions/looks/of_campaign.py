"""What does a campaign about a recorded noise answer?"""

from pathlib import Path
from typing import Any

from solidcopy.actions.cost_answer import read_cost
from solidcopy.actions.cost_plan import GAUSSIAN, OWN
from solidcopy.actions.folder import plan_of
from solidcopy.actions.looks.answer import LookAnswer
from solidcopy.actions.looks.found import Found
from solidcopy.actions.noise_twin import read_over_floor_db
from solidcopy.actions.twin_answer import read_twin
from solidcopy.actions.twin_plan import TWIN
from solidcopy.errors import PlanError


def look_at_campaign(folder: Path) -> Found:
    """What `solidcopy noise cost` and `twin` end with, as far as it has come.

    Raises: PlanError if it sets the recording neither beside Gaussian noise nor beside its twin;
        JournalError.
    """
    names = {condition.name for condition in plan_of(folder).conditions}
    if {OWN, GAUSSIAN} <= names:
        cost = read_cost(folder)
        return _found([*cost.sentences(), *cost.notes()], cost.as_dict())
    if {OWN, TWIN} <= names:
        twin = read_twin(folder, read_over_floor_db(folder.with_suffix(".toml")))
        return _found(twin.text().split("\n"), twin.as_dict())
    raise PlanError(
        f"campaign {folder.stem!r} asks something else than cost or twin: its page answers it"
    )


def _found(sentences: list[str], facts: dict[str, Any]) -> Found:
    first, *more = sentences
    return Found(LookAnswer(sentence=first, supports=tuple(more)), facts)
