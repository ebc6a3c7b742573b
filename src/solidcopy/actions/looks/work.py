"""`python -m solidcopy.actions.looks.work FOLDER`: carry out the look that a folder asks for.

The answer is written last and in one step: where it lies, the look is done; where it does not, it
is not, whoever was killed.
"""

import json
import sys
from dataclasses import replace
from pathlib import Path

from solidcopy.actions.looks.answer import ANSWER, ANSWERED, ASKED, FACTS, LookAnswer
from solidcopy.actions.looks.found import Found
from solidcopy.actions.looks.request import (
    LOOK,
    AnswerAsked,
    ChangeAsked,
    CostAsked,
    HealthAsked,
    LookAsked,
    PartsAsked,
    SlotsAsked,
    TwinAsked,
)
from solidcopy.errors import SolidcopyError
from solidcopy.reports.whole_file import put_text


def carry_out(folder: Path, asked: LookAsked, files: tuple[Path, ...]) -> None:
    """Look, and write the answer into the folder; a refusal is an answer as well."""
    try:
        answer = _kept(folder, _look(folder, asked, files))
    except SolidcopyError as error:
        answer = LookAnswer(_without_folders(str(error), files), is_refusal=True)
    put_text(folder / ANSWERED, ANSWER.dump_json(answer).decode())


def _look(folder: Path, asked: LookAsked, files: tuple[Path, ...]) -> Found:
    # Each look imports what it needs and no more: all together take seconds.
    match asked:
        case HealthAsked():
            from solidcopy.actions.looks.of_health import look_at_health  # noqa: PLC0415

            return look_at_health(asked, files[0])
        case PartsAsked():
            from solidcopy.actions.looks.of_parts import look_at_parts  # noqa: PLC0415

            return look_at_parts(asked, files[0])
        case SlotsAsked():
            from solidcopy.actions.looks.of_slots import look_at_slots  # noqa: PLC0415

            return look_at_slots(asked, files[0])
        case ChangeAsked():
            from solidcopy.actions.looks.of_change import look_at_change  # noqa: PLC0415

            return look_at_change(asked, *files)
        case CostAsked() | AnswerAsked() | TwinAsked():
            return _look_with_plan(folder, asked, files)


def _look_with_plan(
    folder: Path, asked: CostAsked | AnswerAsked | TwinAsked, files: tuple[Path, ...]
) -> Found:
    """Looks that write a plan, or read what a campaign made of one."""
    match asked:
        case CostAsked():
            from solidcopy.actions.looks.of_cost import look_for_cost  # noqa: PLC0415

            return look_for_cost(asked, files[0])
        case AnswerAsked():
            from solidcopy.actions.looks.of_campaign import look_at_campaign  # noqa: PLC0415

            return look_at_campaign(files[1])
        case TwinAsked():
            from solidcopy.actions.looks.of_twin import look_for_twin  # noqa: PLC0415

            return look_for_twin(asked, files[0], folder)


def _kept(folder: Path, found: Found) -> LookAnswer:
    """Write what belongs to an answer, and name it there."""
    for name, text in found.texts.items():
        put_text(folder / name, text)
    if found.facts is None:
        return found.answer
    put_text(folder / FACTS, json.dumps(found.facts, indent=1, ensure_ascii=False) + "\n")
    return replace(found.answer, files=(*found.answer.files, FACTS))


def _without_folders(words: str, files: tuple[Path, ...]) -> str:
    for file in files:
        words = words.replace(str(file), file.name)
    return words


def main(folder: Path) -> None:
    """Read what is asked, and carry it out."""
    order = json.loads((folder / ASKED).read_text(encoding="utf-8"))
    files = tuple(Path(file) for file in order["files"])
    carry_out(folder, LOOK.validate_python(order["look"]), files)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
