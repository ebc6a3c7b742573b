"""A receiver written in Python by the user, named in a plan.

The callable takes `(samples, sample_rate_hz)`: (n_samples,) float32, full scale ±1.0, first
sample at the slot's edge, and the rate as int. It returns a list of decodes; each is a text, a
dict with `text` and, where known, `audio_hz`, `time_offset_s`, `snr_db`, or a `Decode`.

It runs in a process of its own that is kept between calls, so a crash or a hang costs one trial.
Its module is looked for in the folders given when the receiver is built (a campaign gives the
current directory and the folder of the plan file), then among the installed packages.
"""

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from solidcopy.errors import PlanError
from solidcopy.receivers.python_child import ANSWER, REQUEST
from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.signals.waveform import Waveform

START_LIMIT_S = 120.0
"""For starting Python and importing the user's module, on a slow machine."""
_TOO_LATE = "no answer within {:g} s"


class PythonSettings(BaseModel):
    """A callable that takes (samples, sample_rate_hz) and returns decodes; runs in a process of
    its own, so that a crash or a hang costs one trial only."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    recipe: ClassVar[int] = 1
    added_later: ClassVar[frozenset[str]] = frozenset()
    takes_many: ClassVar[bool] = False

    kind: Literal["python"] = "python"
    name: str = Field(min_length=1, max_length=80)
    load: str = Field(
        pattern=r"^[A-Za-z_][\w.]*:[A-Za-z_]\w*$",
        description='where to find the callable: "package.module:name"',
    )
    time_limit_s: float = Field(30.0, gt=0, le=3600, description="a slower answer is a failure")
    version: str = Field(
        "1", description="change it when the callable changes: old trials no longer count"
    )


class _NoAnswerError(Exception):
    """The process gave no answer; the message says why."""


class _Child:
    """One process with the user's callable loaded. Raises PlanError if it cannot be loaded."""

    def __init__(self, settings: PythonSettings, import_folders: Sequence[Path]) -> None:
        self._process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "solidcopy.receivers.python_child",
                settings.load,
                str(settings.time_limit_s),
                *(str(folder) for folder in import_folders),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            # A group of its own: whatever the user's code starts can be ended with it.
            start_new_session=sys.platform != "win32",
        )
        try:
            loaded = self._ask(b"", START_LIMIT_S)
        except BaseException:
            self.end()
            raise
        if "failure" in loaded:
            self.end()
            raise PlanError(
                f"receivers: {settings.load} cannot be loaded ({loaded['failure']}); it was "
                f"looked for in {', '.join(str(f) for f in import_folders) or 'the packages'}"
            )

    def answer(self, waveform: Waveform, limit_s: float) -> dict[str, Any]:
        """What the child sent back. Raises _NoAnswerError after ending the process."""
        samples = np.ascontiguousarray(waveform.samples, "<f4")
        head = REQUEST.pack(waveform.sample_rate_hz, samples.size)
        try:
            return self._ask(head + samples.tobytes(), limit_s)
        except BaseException:
            self.end()
            raise

    def end(self) -> None:
        """Kill the process and what it started, and forget it."""
        self._kill()
        for pipe in (self._process.stdin, self._process.stdout):
            assert pipe is not None
            with contextlib.suppress(OSError):  # samples that nobody reads any more
                pipe.close()
        self._process.wait()

    def _ask(self, request: bytes, limit_s: float) -> dict[str, Any]:
        is_late = threading.Event()

        def end_late() -> None:
            is_late.set()
            self._kill()

        timer = threading.Timer(limit_s, end_late)
        timer.daemon = True
        timer.start()
        try:
            return self._exchange(request)
        except (OSError, EOFError, ValueError):
            if is_late.is_set():
                raise _NoAnswerError(_TOO_LATE.format(limit_s)) from None
            raise _NoAnswerError(self._how_it_ended()) from None
        finally:
            timer.cancel()

    def _exchange(self, request: bytes) -> dict[str, Any]:
        stdin, stdout = self._process.stdin, self._process.stdout
        assert stdin is not None and stdout is not None
        stdin.write(request)
        stdin.flush()
        head = stdout.read(ANSWER.size)
        if len(head) < ANSWER.size:
            raise EOFError
        answer: dict[str, Any] = json.loads(stdout.read(*ANSWER.unpack(head)))
        return answer

    def _how_it_ended(self) -> str:
        try:
            code = self._process.wait(timeout=5.0)
        except subprocess.TimeoutExpired:
            return "the receiver's process closed its output without an answer"
        if code < 0:
            return f"the receiver's process was ended by {signal.Signals(-code).name}"
        return f"the receiver's process ended with exit code {code}"

    def _kill(self) -> None:
        if sys.platform == "win32":
            self._process.kill()
            return
        with contextlib.suppress(ProcessLookupError, PermissionError):  # it has ended already
            os.killpg(self._process.pid, signal.SIGKILL)


class PythonReceiver:
    """The user's callable behind a process border. Not to be shared between threads."""

    def __init__(self, settings: PythonSettings, import_folders: Sequence[Path] = ()) -> None:
        """Start the process and load the callable.

        Args:
            settings: as in the plan.
            import_folders: searched for the module before the installed packages.
        Raises: PlanError if the callable cannot be loaded.
        """
        self._settings = settings
        self._import_folders = tuple(import_folders)
        self._child: _Child | None = None
        try:
            self._child = _Child(settings, self._import_folders)
        except _NoAnswerError as error:
            raise PlanError(f"receivers: {settings.load} cannot be loaded ({error})") from None

    def receive(self, waveform: Waveform) -> Reception:
        """Decode one slot; a crash, an exception, a wrong type or a late answer is a failure."""
        start = time.perf_counter()
        try:
            if self._child is None:
                self._child = _Child(self._settings, self._import_folders)
            answer = self._child.answer(waveform, self._settings.time_limit_s)
        except (_NoAnswerError, PlanError) as error:
            self._child = None
            return Reception((), time.perf_counter() - start, str(error))
        if "failure" in answer:
            return Reception((), time.perf_counter() - start, answer["failure"])
        decodes = tuple(Decode(**fields) for fields in answer["decodes"])
        return Reception(decodes, answer["elapsed_s"], cpu_s=answer["cpu_s"])

    def close(self) -> None:
        """End the process; the next call would start another."""
        if self._child is not None:
            self._child.end()
            self._child = None
