"""A receiver written in Python by the user, named in a plan.

The callable takes `(samples, sample_rate_hz)`: (n_samples,) float32, full scale ±1.0, first
sample at the slot's edge, and the rate as int. It returns a list of decodes; each is a text, a
dict with `text` and, where known, `audio_hz`, `time_offset_s`, `snr_db`, or a `Decode`.

It runs in a process of its own that is kept between calls, so a crash or a hang costs one trial.
Its module is looked for in the folders given when the receiver is built (a campaign gives the
current directory and the folder of the plan file), then among the installed packages.
"""

import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from solidcopy.errors import PlanError
from solidcopy.receivers.child_process import ChildProcess, NoAnswerError
from solidcopy.receivers.python_child import REQUEST
from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.signals.waveform import Waveform

START_LIMIT_S = 120.0
"""For starting Python and importing the user's module, on a slow machine."""


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
        self._child: ChildProcess | None = None
        try:
            self._child = self._started()
        except NoAnswerError as error:
            raise PlanError(f"receivers: {settings.load} cannot be loaded ({error})") from None

    def receive(self, waveform: Waveform) -> Reception:
        """Decode one slot; a crash, an exception, a wrong type or a late answer is a failure."""
        start = time.perf_counter()
        samples = np.ascontiguousarray(waveform.samples, "<f4")
        head = REQUEST.pack(waveform.sample_rate_hz, samples.size)
        try:
            if self._child is None:
                self._child = self._started()
            answer = self._child.ask(head + samples.tobytes(), self._settings.time_limit_s)
        except (NoAnswerError, PlanError) as error:
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

    def _started(self) -> ChildProcess:
        """A process with the callable loaded. Raises PlanError, NoAnswerError."""
        settings, folders = self._settings, [str(folder) for folder in self._import_folders]
        child = ChildProcess(
            [
                sys.executable,
                "-m",
                "solidcopy.receivers.python_child",
                settings.load,
                str(settings.time_limit_s),
                *folders,
            ],
            called="the receiver's process",
        )
        loaded = child.ask(b"", START_LIMIT_S)
        if "failure" in loaded:
            child.end()
            raise PlanError(
                f"receivers: {settings.load} cannot be loaded ({loaded['failure']}); it was "
                f"looked for in {', '.join(folders) or 'the packages'}"
            )
        return child
