"""Who may work on a campaign: a worker elsewhere is asked what it is made of, gets the recordings
of the plan, and makes a few trials, before it is given any work.
"""

import asyncio
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from distributed import Client
from distributed.scheduler import KilledWorker

from solidcopy.campaigns.machine import (
    MISSING,
    Tried,
    file_digests,
    keep_piece,
    shared_facts,
    try_out,
)
from solidcopy.campaigns.reference import (
    MOST_HEARD,
    Answer,
    Compared,
    Reference,
    compare_answers,
    compare_sound,
)
from solidcopy.campaigns.workers import Batch, BatchResult, Job, run_batch
from solidcopy.errors import AudioFileError, SolidcopyError
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome
from solidcopy.trials.plan import Plan
from solidcopy.trials.sound_files import sound_files, with_files

ASK_S = 60.0
"""For a worker to import the program and tell of itself, on a slow and busy machine."""
TRY_S = 300.0
"""To get ready the plan's receivers and make a few trials: loops may have to be compiled first."""
LOOK_EVERY_S = 0.2
PIECE_BYTES = 4_000_000
"""Recordings travel in pieces, so that neither end nor the scheduler holds a whole one."""
MOST_NAMED = 4
"""Differences that a sentence names."""


@dataclass(frozen=True, slots=True)
class Member:
    """A worker that may work.

    Args:
        plan_json: the plan with the paths that its recordings have there; None: as they are here.
        tried: what it is, and the sound it makes; None on this machine, where nothing was asked.
        compared: its reference trials beside those of the others.
    """

    plan_json: str | None = None
    tried: Tried | None = None
    compared: Compared | None = None


class RefusedError(Exception):
    """Why a worker may not work: what it has, what is needed and what to do."""


class GoneError(Exception):
    """The worker has ended meanwhile, or does not answer."""


Admit = Callable[[str], "Future[Member]"]
"""Asks the worker at an address. The future raises RefusedError or GoneError."""


def admit_unasked(address: str) -> "Future[Member]":
    """Of this machine: it was started from this very program."""
    future: Future[Member] = Future()
    future.set_result(Member())
    return future


class Admission:
    """Asks workers behind a scheduler. All but the beginning runs in the engine's own loop."""

    def __init__(self, client: Client, reference: Reference) -> None:
        """Find out what every worker must have. Raises AudioFileError if a recording has gone."""
        batch = reference.batch
        self._client = client
        self._batch = batch
        self._known = reference.known
        self._standard = reference.digests
        self._first: tuple[str, Batch] | None = None
        """Address and batch of the worker with which others are compared, if the journal knows
        nothing yet."""
        self._needed = shared_facts(batch.plan_json, batch.import_folders)
        self._plan = Plan.model_validate_json(batch.plan_json)
        self._recordings: dict[str, str] = {}
        for path, digest in file_digests(sound_files(self._plan)).items():
            if digest is None:
                raise AudioFileError(f"{path}: cannot be read; put it back where the plan has it")
            self._recordings[path] = digest

    def __call__(self, address: str) -> "Future[Member]":
        """Begin to ask a worker."""
        loop: Any = self._client.loop
        return asyncio.run_coroutine_threadsafe(self._ask(address), loop.asyncio_loop)

    async def _ask(self, address: str) -> Member:
        batch = self._batch
        facts = await self._call(address, shared_facts, batch.plan_json, batch.import_folders)
        refuse_unlike(facts, self._needed)
        if self._recordings:
            plan_json = await self._with_recordings(address)
            batch = replace(batch, plan_json=plan_json)
        tried: Tried = await self._have_run(address, try_out, batch)
        for key, digest in tried.digests.items():
            self._standard.setdefault(key, digest)
        if self._first is None:
            self._first = address, batch
        return Member(batch.plan_json, tried, await self._compared(address, batch, tried.digests))

    async def _compared(
        self, address: str, batch: Batch, digests: Mapping[TrialKey, str]
    ) -> Compared:
        """Where some sound differs, what receivers make of it is compared as well."""
        compared = compare_sound(digests, self._standard)
        if compared.n_other_sound == 0:
            return compared
        unlike = [job for job in batch.jobs if digests[job.key] != self._standard[job.key]]
        jobs = tuple(unlike[:MOST_HEARD])
        standard = await self._answers_of_standard(jobs)
        found: BatchResult = await self._have_run(address, run_batch, replace(batch, jobs=jobs))
        answers = [item for item in found.finished if (item.key, item.receiver) in standard]
        n_other = compare_answers(answers, standard)
        return replace(compared, n_answers=len(answers), n_other_answers=n_other)

    async def _answers_of_standard(self, jobs: tuple[Job, ...]) -> Mapping[Answer, Outcome]:
        if self._known or self._first is None:
            return self._known
        address, batch = self._first
        found: BatchResult = await self._have_run(address, run_batch, replace(batch, jobs=jobs))
        return {(item.key, item.receiver): item.outcome for item in found.finished}

    async def _with_recordings(self, address: str) -> str:
        """The plan as it is to be read there, once its recordings are there."""
        found = await self._call(address, file_digests, list(self._recordings))
        places = {}
        for path, digest in self._recordings.items():
            is_there = found[path] == digest
            places[path] = path if is_there else await self._send(address, path, digest)
        return with_files(self._plan, places).model_dump_json()

    async def _send(self, address: str, path: str, digest: str) -> str:
        """Send a recording into a worker's own folder. Returns its path there."""
        name, start, there = digest + Path(path).suffix, 0, ""
        with Path(path).open("rb") as stream:
            while content := stream.read(PIECE_BYTES):
                there = await self._call(address, keep_piece, name, start, content)
                start += len(content)
        if (await self._call(address, file_digests, [there]))[there] != digest:
            raise RefusedError(
                f"did not get the recording {path} whole; see that its disk has room, and that "
                "the file is not being written"
            )
        return there

    async def _call(self, address: str, function: Callable[..., Any], *args: Any) -> Any:
        """Call a quick function in a worker, whatever work it has."""
        calling = self._client.run(function, *args, workers=[address], on_error="return")
        try:
            answer = (await asyncio.wait_for(calling, ASK_S))[address]
        except (TimeoutError, OSError, KeyError):
            raise GoneError from None
        if isinstance(answer, OSError):
            raise GoneError from answer
        if isinstance(answer, Exception):
            raise RefusedError(
                f"cannot load solidcopy as this run has it ({_short(answer)}); install the same "
                "version there, in the environment from which `dask worker` is started"
            )
        return answer

    async def _have_run(self, address: str, function: Callable[[Batch], Any], batch: Batch) -> Any:
        """Have a worker run a function as it runs batches."""
        future = self._client.submit(
            function, batch, pure=False, workers=[address], allow_other_workers=False
        )
        deadline = time.monotonic() + TRY_S
        scheduler: Any = self._client.scheduler
        while not future.done():
            there = (await scheduler.identity(n_workers=-1))["workers"]
            if address not in there or time.monotonic() > deadline:
                await self._client.cancel([future], asynchronous=True)
                raise GoneError
            await asyncio.sleep(LOOK_EVERY_S)
        try:
            return await self._client.gather(future, asynchronous=True)
        except (KilledWorker, asyncio.CancelledError, OSError):
            raise GoneError from None
        except SolidcopyError as error:
            raise RefusedError(f"cannot work on this plan ({error})") from None


def refuse_unlike(there: Mapping[str, str], needed: Mapping[str, str]) -> None:
    """Compare what a worker has with what is needed. Raises RefusedError naming what differs."""
    unlike = []
    for name, value in needed.items():
        found = there.get(name, MISSING)
        if found != value:
            has = f"no {name}" if found == MISSING else f"{name} {found}"
            unlike.append(f"{has} ({value} is needed)")
    if unlike:
        more = f" and {len(unlike) - MOST_NAMED} more" if len(unlike) > MOST_NAMED else ""
        raise RefusedError(
            f"has {', '.join(unlike[:MOST_NAMED])}{more}; bring it to what is needed, or stop that "
            "worker"
        )


def _short(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"[:200]
