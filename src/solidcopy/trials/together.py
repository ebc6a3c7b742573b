"""Trials that share their luck."""

import math

from solidcopy.trials.condition import Condition


def n_together(condition: Condition) -> int:
    """Trials in a row that meet one run of a path's process; 1: all trials are independent."""
    return math.lcm(*(path.n_together for path in condition.paths()))
