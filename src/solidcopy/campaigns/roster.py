"""Workers behind a scheduler: who is there, who may work, who has gone or stands still."""

import time
from collections.abc import Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any

from distributed import Client

from solidcopy.campaigns.admission import Admit, GoneError, Member, RefusedError

LOOK_EVERY_S = 0.25
"""The scheduler is asked so often who is there, and at most a hundredth as often as it has
workers: its answer names each."""
FROZEN_S = 90.0
"""A worker that has not given a sign of life for so long is taken for gone until it does. It
gives one every few seconds, but a busy machine may be late."""


@dataclass(slots=True)
class Seen:
    """A worker as the scheduler knows it."""

    name: str
    sign: float
    """Last sign of life, on the scheduler's clock."""
    since: float
    """When that sign was first seen here, on this machine's steady clock."""
    asked: "Future[Member]"
    """Its answer, once it has given one."""

    @property
    def error(self) -> BaseException | None:
        """Why it may not work; None as long as it has not answered."""
        return self.asked.exception() if self.asked.done() else None


class Roster:
    """Keeps up with the workers of a scheduler. For one thread."""

    def __init__(self, client: Client, admit: Admit, *, frozen_s: float = FROZEN_S) -> None:
        self._client = client
        self._admit = admit
        self._frozen_s = frozen_s
        self._looked_at = float("-inf")
        self._seen: dict[str, Seen] = {}

    @property
    def members(self) -> dict[str, Member]:
        """Those that may work now, by address."""
        now = time.monotonic()
        return {
            address: seen.asked.result()
            for address, seen in self._seen.items()
            if self._may_work(seen, now)
        }

    @property
    def refusals(self) -> list[str]:
        """One sentence for each worker that may not work."""
        return [
            f"worker {seen.name}: {seen.error}"
            for seen in self._seen.values()
            if isinstance(seen.error, RefusedError)
        ]

    @property
    def n_asked(self) -> int:
        """Workers that have not answered yet."""
        return sum(not seen.asked.done() for seen in self._seen.values())

    def strike(self, address: str) -> None:
        """A worker is known to have died; the scheduler may not know yet."""
        self._seen.pop(address, None)
        self._looked_at = float("-inf")

    def look(self) -> None:
        """Ask the scheduler again who is there, unless that was just done."""
        now = time.monotonic()
        if now - self._looked_at < max(LOOK_EVERY_S, 0.01 * len(self._seen)):
            return
        self._looked_at = now
        there = self._client.scheduler_info(n_workers=-1)["workers"]
        for address in self._seen.keys() - there.keys():
            del self._seen[address]
        for address, told in there.items():
            self._note(address, told, now)

    def _note(self, address: str, told: Mapping[str, Any], now: float) -> None:
        seen = self._seen.get(address)
        if seen is None:
            name = str(told["name"])
            shown = address if name in ("", address) else f"{name} ({address})"
            seen = Seen(shown, told["last_seen"], now, self._ask(address, told["nthreads"]))
            self._seen[address] = seen
        elif told["last_seen"] != seen.sign:
            seen.sign, seen.since = told["last_seen"], now
        if isinstance(seen.error, GoneError):  # it is there all the same
            seen.asked = self._ask(address, told["nthreads"])
        elif seen.error is not None and not isinstance(seen.error, RefusedError):
            raise seen.error

    def _ask(self, address: str, n_threads: int) -> "Future[Member]":
        """Receivers are not made for threads: one process runs one batch at a time."""
        if n_threads == 1:
            return self._admit(address)
        refused: Future[Member] = Future()
        refused.set_exception(
            RefusedError(
                f"has {n_threads} threads; start it with `--nthreads 1`, and with `--nworkers` "
                "for as many processes as it may use"
            )
        )
        return refused

    def _may_work(self, seen: Seen, now: float) -> bool:
        is_admitted = seen.asked.done() and seen.error is None
        return is_admitted and now - seen.since < self._frozen_s
