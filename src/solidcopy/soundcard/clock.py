"""What time it is, how sure that is, and whether the clock was set in the middle of things."""

import time
from typing import Protocol

STEP_S = 0.02
"""A clock that is disciplined is slewed by at most 0.5 ms a second (RFC 5905, section 12, from
memory); what moves farther between two looks a second apart was set."""


class Clock(Protocol):
    """A clock that can be waited on; tests have their own."""

    def utc_s(self) -> float:
        """Seconds since 1970-01-01 UTC, as the operating system has them."""

    def steady_s(self) -> float:
        """Seconds of a clock that is never set; its zero means nothing."""

    def sleep(self, seconds: float) -> None:
        """Wait."""


class SystemClock:
    """The clocks of this machine."""

    def utc_s(self) -> float:
        """See `Clock`."""
        return time.time()

    def steady_s(self) -> float:
        """See `Clock`."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """See `Clock`."""
        time.sleep(seconds)


class StepWatch:
    """Notices that UTC was set, by a clock that is not."""

    def __init__(self, clock: Clock) -> None:
        """Begin to watch."""
        self._clock = clock
        self._difference_s = self._now()

    def look(self) -> float | None:
        """By how many seconds it was set since the last look (positive: forward); None: it was not.
        Ask about once a second.
        """
        difference_s = self._now()
        by_s = difference_s - self._difference_s
        self._difference_s = difference_s
        return None if abs(by_s) < STEP_S else by_s

    def _now(self) -> float:
        """UTC less the steady clock, both taken at one moment."""
        before_s = self._clock.steady_s()
        utc_s = self._clock.utc_s()
        return utc_s - (before_s + self._clock.steady_s()) / 2.0
