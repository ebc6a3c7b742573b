"""Estimates as they stand in tables: value, then interval."""

from solidcopy.reports.measured import Estimate
from solidcopy.reports.wording import number, places_of, signed, span


def signed_estimate(estimate: Estimate) -> str:
    """A shift for a table: "+4.1 (+3.7 to +4.5)"."""
    places = places_of(estimate.interval)
    low, high = estimate.interval.low, estimate.interval.high
    return f"{signed(estimate.value, places)} ({signed(low, places)} to {signed(high, places)})"


def unsigned_estimate(estimate: Estimate) -> str:
    """A value for a table: "−21.3 (−21.5 to −21.1)"."""
    places = places_of(estimate.interval)
    interval = estimate.interval
    return f"{number(estimate.value, places)} ({span(interval.low, interval.high, places)})"
