"""Where the outcomes of one series are kept."""

from typing import NamedTuple

SERIES = "curve = ? AND receiver = ? AND arm = ? AND axis_value = ?"
"""Condition on a row, with a `Place` as its parameters."""


class Place(NamedTuple):
    """One series of trials in the database: all key columns but the trial index."""

    curve: int
    receiver: int
    arm: int
    axis_value: float
