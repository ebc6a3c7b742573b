"""The plan of a journal as a plan file that finds its recordings beside itself."""

from collections.abc import Mapping
from pathlib import Path

import tomli_w

from solidcopy.errors import PackageError
from solidcopy.trials.condition import Condition
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.sound_files import sound_files, with_files


def plan_toml(plan: Plan, files: Mapping[str, str]) -> str:
    """The plan as TOML, conditions of maps as their author wrote them.

    Args:
        plan: as a journal keeps it.
        files: for each of its recordings, the path that stands in the text instead.
    Raises: PackageError if the text would not be the same plan.
    """
    data = with_files(plan, files).model_dump(mode="json", exclude_none=True)
    data["conditions"] = [
        condition.model_dump(mode="json", exclude_none=True)
        for condition in _as_written(with_files(plan, files))
    ]
    if parse_plan(data) != with_files(plan, files):
        raise PackageError("this plan cannot be written as a plan file")
    return tomli_w.dumps(data)


def _as_written(plan: Plan) -> list[Condition]:
    """Each condition once: those of one map are one condition that says "map"."""
    written = {condition.as_written().name: condition.as_written() for condition in plan.conditions}
    return list(written.values())


def placed_files(plan: Plan, folder: Path) -> dict[str, str]:
    """Absolute paths for recordings that are named relative to a folder.

    Raises: PackageError if one lies outside the folder.
    """
    placed = {}
    for file in sound_files(plan):
        path = (folder / file).resolve()
        if folder.resolve() not in path.parents:
            raise PackageError(f"its plan names a recording outside the package: {file[:120]!r}")
        placed[file] = str(path)
    return placed
