"""Limits of numbers that a plan may also sweep."""


def refuse_outside(value: float | str | None, *, field: str, low: float, high: float) -> None:
    """ValueError for a number beyond its limits; the axis and a field left out pass."""
    if isinstance(value, str) or value is None:
        return
    if not low <= value <= high:
        raise ValueError(f"{field} is {value:g}; it may be {low:g} to {high:g}")
