"""What does a noise cost? The plan that measures it."""

from pathlib import Path

from solidcopy.actions.cost_plan import CostPlan
from solidcopy.actions.looks.answer import PLAN, LookAnswer
from solidcopy.actions.looks.found import Found
from solidcopy.actions.looks.request import CostAsked
from solidcopy.actions.noise_cost import CostRequest, cost_plan
from solidcopy.reports.wording import MINUS, listed


def look_for_cost(asked: CostAsked, file: Path) -> Found:
    """The plan of `solidcopy noise cost`."""
    request = CostRequest(
        recording=file,
        out=file.parent,
        mode=asked.mode,
        n_trials=asked.n_trials,
        receivers=asked.efforts,
        has_remedies=asked.has_remedies,
        audio_hz=asked.audio_hz,
        channel=asked.channel,
        root_seed=asked.root_seed,
    )
    plan = cost_plan(request)
    return Found(_answer(plan), texts={PLAN: plan.text()})


def _answer(plan: CostPlan) -> LookAnswer:
    """How a cost will be measured."""
    first_db, last_db = plan.axis_db
    low_hz, high_hz = plan.audio_hz
    where = f"at {low_hz:g} Hz" if low_hz == high_hz else f"between {low_hz:g} and {high_hz:g} Hz"
    beside = listed(["Gaussian noise of equal power", *(remedy.name for remedy in plan.remedies)])
    return LookAnswer(
        sentence=(
            f"{plan.mode.name.upper()} sent {where} in this noise, at SNRs from {first_db} to "
            f"{last_db} dB, beside {beside}."
        ).replace(" -", f" {MINUS}"),
        files=(PLAN,),
    )
