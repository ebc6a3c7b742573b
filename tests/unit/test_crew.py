"""Which worker gets a batch, and what is known of it afterwards: scheduler and workers are played.

What is expected follows from the rules in `DaskCrew`.
"""

from collections.abc import Callable
from concurrent.futures import Future as Answer
from typing import Any

import pytest
from distributed.scheduler import KilledWorker

from solidcopy.campaigns.admission import GoneError, Member, RefusedError
from solidcopy.campaigns.crew import BATCHES_PER_WORKER, DaskCrew
from solidcopy.campaigns.roster import Roster
from solidcopy.campaigns.workers import Batch, BatchResult, Job
from solidcopy.errors import WorkersError
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.trial import SENT

pytestmark = pytest.mark.derived

DONE = BatchResult((), 1.0)


class PlayedFuture:
    """A batch at a worker, ended by the test."""

    def __init__(self, batch: Batch, address: str) -> None:
        self.batch, self.address = batch, address
        self.status = "pending"
        self._told: list[Callable[[Any], None]] = []
        self._error: Exception | None = None

    def add_done_callback(self, told: Callable[[Any], None]) -> None:
        self._told.append(told)

    def end(self, status: str = "finished", error: Exception | None = None) -> None:
        self.status, self._error = status, error
        for told in self._told:
            told(self)

    def cancel(self) -> None:
        self.end("cancelled")

    def result(self) -> BatchResult:
        return DONE

    def exception(self) -> Exception | None:
        return self._error


class PlayedClient:
    """A scheduler and its workers."""

    def __init__(self, *names: str) -> None:
        self.status = "running"
        self.told = {name: {"name": name, "nthreads": 1, "last_seen": 0.0} for name in names}
        self.at: list[PlayedFuture] = []

    def scheduler_info(self, n_workers: int) -> dict[str, Any]:
        for told in self.told.values():
            told["last_seen"] += 0.0 if told.get("frozen") else 1.0
        return {"workers": self.told}

    def submit(self, function: Any, batch: Batch, *, workers: list[str], **_: Any) -> PlayedFuture:
        (address,) = workers
        self.at.append(PlayedFuture(batch, address))
        return self.at[-1]

    def pending(self, address: str) -> list[PlayedFuture]:
        return [one for one in self.at if one.address == address and one.status == "pending"]


def admit_as(name: str) -> "Answer[Member]":
    """By its name: admitted, refused, or gone."""
    answer: Answer[Member] = Answer()
    if name.startswith("other"):
        answer.set_exception(RefusedError("has numpy 1.0"))
    elif name.startswith("silent"):
        answer.set_exception(GoneError())
    else:
        answer.set_result(Member(plan_json=f"plan of {name}"))
    return answer


def crew_of(client: PlayedClient, *, frozen_s: float = 1e9, patience_s: float = 1e9) -> DaskCrew:
    roster = Roster(client, admit_as, frozen_s=frozen_s)  # type: ignore[arg-type]
    crew = DaskCrew(client, roster, patience_s=patience_s)  # type: ignore[arg-type]
    crew.wait(0.0)
    return crew


def look_again(crew: DaskCrew) -> None:
    """As if time had passed since the scheduler was asked last."""
    crew._roster._looked_at = float("-inf")


def batch(number: int) -> Batch:
    return Batch("plan", (Job(TrialKey(0, SENT, -20.0, number), (0,)),))


def test_no_worker_is_given_more_than_it_can_run_soon() -> None:
    client = PlayedClient("one", "two")
    crew = crew_of(client)
    for number in range(7):
        crew.submit(batch(number))
    assert [len(client.pending(name)) for name in client.told] == [BATCHES_PER_WORKER] * 2
    assert crew.n_running == 7
    assert {one.batch.plan_json for one in client.pending("two")} == {"plan of two"}
    client.pending("one")[0].end()
    (ended,) = crew.wait(0.0)
    assert ended.result is DONE and ended.batch.plan_json == "plan"
    crew.wait(0.0)
    assert [len(client.pending(name)) for name in client.told] == [BATCHES_PER_WORKER] * 2


def test_a_batch_that_must_be_alone_has_a_worker_to_itself() -> None:
    client = PlayedClient("one", "two")
    crew = crew_of(client)
    for number in range(4):
        crew.submit(batch(number))
    crew.submit(batch(9), alone=True)
    crew.submit(batch(10))
    for _ in range(BATCHES_PER_WORKER):
        client.pending("one")[0].end()
        crew.wait(0.0)
        crew.wait(0.0)
    assert [one.batch.jobs for one in client.pending("one")] == [batch(9).jobs]
    client.pending("two")[0].end()
    crew.wait(0.0)
    crew.wait(0.0)
    assert [one.batch.jobs for one in client.pending("one")] == [batch(9).jobs]
    assert batch(10).jobs in [one.batch.jobs for one in client.pending("two")]


def test_what_was_at_a_dead_worker_comes_back_without_a_result() -> None:
    client = PlayedClient("one", "two")
    crew = crew_of(client)
    for number in range(4):
        crew.submit(batch(number))
    lost = {one.batch.jobs for one in client.pending("one")}
    del client.told["one"]
    look_again(crew)
    ended = crew.wait(0.0)
    assert {one.batch.jobs for one in ended} == lost
    assert all(one.result is None for one in ended)
    client.pending("two")[0].end("error", KilledWorker("task", "two", 0))
    (ended_too,) = crew.wait(0.0)
    assert ended_too.result is None


def test_a_frozen_worker_counts_as_dead_until_it_moves() -> None:
    client = PlayedClient("one")
    crew = crew_of(client, frozen_s=0.05)
    crew.submit(batch(0))
    client.told["one"]["frozen"] = True
    (ended,) = (found for _ in range(100) for found in crew.wait(0.01))
    assert ended.result is None
    crew.submit(batch(1))
    assert client.pending("one") == [] and crew.remark == "no worker is there; waiting for one"
    client.told["one"]["frozen"] = False
    look_again(crew)
    crew.wait(0.0)
    assert len(client.pending("one")) == 1 and crew.remark == ""


def test_nobody_is_blamed_for_a_broken_connection() -> None:
    client = PlayedClient("one")
    crew = crew_of(client)
    crew.submit(batch(0))
    client.status = "connecting"
    client.at[0].end("cancelled")
    assert crew.wait(0.0) == []
    assert crew.n_running == 1 and client.pending("one") == []
    client.status = "running"
    crew.wait(0.0)
    assert [one.batch.jobs for one in client.pending("one")] == [batch(0).jobs]
    client.status = "closed"
    with pytest.raises(WorkersError, match="the scheduler of the workers is gone"):
        crew.wait(0.0)


def test_a_worker_that_comes_later_and_differs_is_told_and_gets_nothing() -> None:
    client = PlayedClient("one")
    crew = crew_of(client)
    client.told["other"] = {"name": "other", "nthreads": 1, "last_seen": 0.0}
    client.told["wide"] = {"name": "wide", "nthreads": 4, "last_seen": 0.0}
    look_again(crew)
    for number in range(9):
        crew.submit(batch(number))
    assert {one.address for one in client.at} == {"one"}
    assert crew.n_workers == 1
    assert crew.remark.startswith("worker other: has numpy 1.0; worker wide: has 4 threads")


def test_without_a_worker_for_long_the_run_ends() -> None:
    with pytest.raises(WorkersError, match=r"no worker for 0.05 s: none is there"):
        crew_of(PlayedClient(), patience_s=0.05).wait(1.0)
    with pytest.raises(WorkersError, match=r"worker other: has numpy 1.0; then give"):
        crew_of(PlayedClient("one", "other")).await_one()
