"""`python -m solidcopy.actions.looks.work FOLDER`: carry out the look that a folder asks for.

The answer is written last and in one step: where it lies, the look is done; where it does not, it
is not, whoever was killed.
"""

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

from solidcopy.actions.before_after import CompareRequest, compare_noise
from solidcopy.actions.find_slots import find_slots_in, start_of_recording
from solidcopy.actions.inspect_recording import inspect_recording
from solidcopy.actions.looks.answer import ANSWER, ANSWERED, ASKED, FACTS, PLAN, LookAnswer
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
from solidcopy.actions.looks.words import (
    campaign_answer,
    change_answer,
    cost_plan_answer,
    health_answer,
    parts_answer,
    slots_answer,
    twin_answer,
)
from solidcopy.actions.noise_cost import CostRequest, cost_plan
from solidcopy.actions.noise_parts import Stretch, noise_parts
from solidcopy.actions.noise_twin import TwinRequest, write_twin
from solidcopy.errors import SolidcopyError
from solidcopy.noise.slots.find import SlotHints
from solidcopy.reports.picture import Picture
from solidcopy.reports.write import put_text


def carry_out(folder: Path, asked: LookAsked, files: tuple[Path, ...]) -> None:
    """Look, and write the answer into the folder; a refusal is an answer as well."""
    try:
        answer = _look(folder, asked, files)
    except SolidcopyError as error:
        answer = LookAnswer(_without_folders(str(error), files), is_refusal=True)
    put_text(folder / ANSWERED, ANSWER.dump_json(answer).decode())


def _look(folder: Path, asked: LookAsked, files: tuple[Path, ...]) -> LookAnswer:
    match asked:
        case HealthAsked():
            inspected = inspect_recording(files[0], asked.answers())
            return _kept(folder, health_answer(inspected), inspected.as_dict())
        case PartsAsked():
            parts = noise_parts(files[0], asked.answers(), Stretch(asked.start_s, asked.length_s))
            answer, pictures = parts_answer(parts)
            return _kept(folder, answer, parts.as_dict(), pictures)
        case SlotsAsked():
            starts = None if asked.start is None else start_of_recording(asked.start)
            hints = SlotHints(asked.reference_hz, starts)
            slots = find_slots_in(files[0], asked.mode, hints, channel=asked.channel)
            return _kept(folder, slots_answer(slots), slots.as_dict())
        case ChangeAsked():
            before, after = files
            change = compare_noise(
                CompareRequest(before, after, asked.band, asked.gain_change_db, asked.channel)
            )
            answer, pictures = change_answer(change)
            return _kept(folder, answer, change.as_dict(), pictures)
        case CostAsked() | AnswerAsked() | TwinAsked():
            return _look_with_plan(folder, asked, files)


def _look_with_plan(
    folder: Path, asked: CostAsked | AnswerAsked | TwinAsked, files: tuple[Path, ...]
) -> LookAnswer:
    """Looks that write a plan, or read what a campaign made of one."""
    match asked:
        case CostAsked():
            plan = cost_plan(_cost_request(folder, asked, files[0]))
            put_text(folder / PLAN, plan.text())
            return cost_plan_answer(plan)
        case AnswerAsked():
            return _kept(folder, *campaign_answer(files[1]))
        case TwinAsked():
            twin = _twin_request(folder, asked, files[0])
            fitted = write_twin(twin)
            return _kept(folder, twin_answer(twin, fitted), fitted.as_dict())


def _kept(
    folder: Path, answer: LookAnswer, facts: dict[str, Any], pictures: tuple[Picture, ...] = ()
) -> LookAnswer:
    put_text(folder / FACTS, json.dumps(facts, indent=1, ensure_ascii=False) + "\n")
    for picture in pictures:
        put_text(folder / f"{picture.name}.svg", picture.labelled())
    return replace(answer, files=(*answer.files, FACTS))


def _twin_request(folder: Path, asked: TwinAsked, file: Path) -> TwinRequest:
    return TwinRequest(
        recording=file,
        plan_file=folder / PLAN,
        mode=asked.mode,
        n_trials=asked.n_trials,
        is_each=asked.is_each,
        audio_hz=asked.audio_hz,
        channel=asked.channel,
        root_seed=asked.root_seed,
        may_replace=True,
    )


def _cost_request(folder: Path, asked: CostAsked, file: Path) -> CostRequest:
    return CostRequest(
        recording=file,
        out=folder,
        mode=asked.mode,
        n_trials=asked.n_trials,
        receivers=asked.efforts,
        has_remedies=asked.has_remedies,
        audio_hz=asked.audio_hz,
        channel=asked.channel,
        root_seed=asked.root_seed,
    )


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
