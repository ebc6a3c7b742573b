"""A part of a plan's trials, for one of several machines that do not know of each other."""

import re
from dataclasses import dataclass

from solidcopy.errors import PlanError
from solidcopy.trials.plan import Plan

MOST_SHARES = 1000


@dataclass(frozen=True, slots=True)
class Share:
    """Every so manieth trial index, the same at every axis value.

    Args:
        number: which of them, from 1.
        of: how many there are.
    """

    number: int
    of: int

    def __post_init__(self) -> None:
        if not 1 <= self.number <= self.of <= MOST_SHARES:
            raise PlanError(
                f"--share {self} cannot be: the first number is 1 to the second, and that is "
                f"{MOST_SHARES} at most, as in 2/3"
            )

    def __str__(self) -> str:
        return f"{self.number}/{self.of}"

    def holds(self, trial_index: int) -> bool:
        """Whether trials with this index belong to it."""
        return trial_index % self.of == self.number - 1

    def refuse_open_end(self, plan: Plan) -> None:
        """PlanError unless a plan's trials are known before any was run: where outcomes decide
        which are wanted, no machine can tell from its own.
        """
        if plan.stop.trials_per_point is None or plan.axis.placement != "even":
            raise PlanError(
                f"--share {self} needs a plan with stop.trials_per_point and evenly placed axis "
                "values: in this one outcomes decide which trials are wanted, and this machine "
                "sees its own only; use --scheduler to work on one campaign together"
            )


def share_of(text: str) -> Share:
    """From "2/3". Raises PlanError."""
    found = re.fullmatch(r"\s*(\d{1,6})\s*/\s*(\d{1,6})\s*", text)
    if found is None:
        raise PlanError(f'--share "{text}" is not understood: give two numbers, as in 2/3')
    return Share(int(found[1]), int(found[2]))
