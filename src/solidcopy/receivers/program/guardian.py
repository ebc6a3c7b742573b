"""The process that starts an outside program, watches over it and ends all that is left of it.

It needs the standard library only, so that it starts quickly and stays small, and is kept between
trials. It is told one order after another and answers each:

- order: length (`LENGTH`), then JSON with the fields of `Order`;
- answer: length, then JSON with the fields of `Ended`.

It ends when its input ends, that is, whenever the process that started it is gone, and takes the
program, whatever the program started, and the folder given on its command line with it. On Linux
orphans of the program become its own children, so none can slip away by leaving its group.
"""

import contextlib
import json
import os
import resource
import selectors
import signal
import struct
import subprocess
import sys
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from solidcopy.receivers.program.processes import (
    PR_SET_CHILD_SUBREAPER,
    PR_SET_PDEATHSIG,
    Prctl,
    below,
    end_all,
    linux_prctl,
    remove_tree,
    resident_bytes,
)

LENGTH = struct.Struct("<I")
TAIL_BYTES = 4096
"""Kept of the standard error."""
LOOK_EVERY_S = 0.02
"""At memory and the answer file: what is taken within such a time may pass a limit unseen."""
CHUNK_BYTES = 1 << 16
EXPENDABLE = b"1000"
"""If the machine runs out of memory, the program goes first (proc(5), oom_score_adj)."""


@dataclass(frozen=True, slots=True)
class Order:
    """One start of the program."""

    command: list[str]
    environment: dict[str, str]
    folder: str
    input_file: str | None
    answer_file: str | None
    """Counts towards `output_limit_bytes` if there is one."""
    time_limit_s: float
    output_limit_bytes: int
    memory_limit_bytes: int


@dataclass(frozen=True, slots=True)
class Ended:
    """How it went. Bytes are written as Latin-1 text, one letter each."""

    not_started: str = ""
    limit: str = ""
    """Which limit it was ended for: "time", "output" or "memory"; empty if it ended by itself."""
    exit_code: int = 0
    """Negative: ended by the signal of this number."""
    elapsed_s: float = 0.0
    cpu_s: float = 0.0
    """Of the program and all that it started."""
    stdout: str = ""
    stderr_tail: str = ""
    most_memory_bytes: int = 0
    """Largest resident memory seen, all its processes together; 0 if it ended too soon."""
    n_left_running: int = 0
    """Processes that it had started and left behind; they were ended."""


class _ParentGoneError(Exception):
    """Nobody waits for an answer any more."""


class Watch:
    """One running program: takes what it says, and ends it at a limit."""

    def __init__(self, order: Order, process: "subprocess.Popen[bytes]") -> None:
        self._order = order
        self._process = process
        self._selector = selectors.DefaultSelector()
        self._n_bytes = 0
        self.stdout, self.stderr_tail = bytearray(), bytearray()
        self.most_memory_bytes = 0
        for stream in (process.stdout, process.stderr):
            assert stream is not None
            os.set_blocking(stream.fileno(), False)
            self._selector.register(stream, selectors.EVENT_READ, stream)
        self._selector.register(0, selectors.EVENT_READ)
        self._end = self._end_event()

    def _end_event(self) -> int | None:
        """A descriptor that becomes readable when the program ends, where the system has it."""
        try:
            descriptor = os.pidfd_open(self._process.pid)  # type: ignore[attr-defined,unused-ignore]
        except (AttributeError, OSError):
            return None
        self._selector.register(descriptor, selectors.EVENT_READ)
        return int(descriptor)

    def wait(self) -> str:
        """Until the program ends or passes a limit; returns which. Raises _ParentGoneError."""
        deadline = time.monotonic() + self._order.time_limit_s
        while True:
            left_s = deadline - time.monotonic()
            for key, _ in self._selector.select(max(0.0, min(left_s, LOOK_EVERY_S))):
                if key.fd == 0:
                    raise _ParentGoneError
                if key.data is not None:
                    self._take(key.data)
            has_ended = self._process.poll() is not None
            if self._is_output_over():
                return "output"
            if has_ended:
                return ""
            if time.monotonic() >= deadline:
                return "time"
            memory_bytes = resident_bytes(below(os.getpid()))
            self.most_memory_bytes = max(self.most_memory_bytes, memory_bytes)
            if memory_bytes > self._order.memory_limit_bytes:
                return "memory"

    def finish(self) -> bool:
        """Take what is still in the pipes once nobody writes into them any more; returns whether
        the limit of output holds."""
        for stream in (self._process.stdout, self._process.stderr):
            assert stream is not None
            while not self._is_output_over() and self._take(stream):
                pass
            stream.close()
        self._selector.close()
        if self._end is not None:
            os.close(self._end)
        return not self._is_output_over()

    def _take(self, stream: Any) -> bool:
        """Read what is there; False if there is nothing."""
        try:
            chunk = os.read(stream.fileno(), CHUNK_BYTES)
        except BlockingIOError:
            return False
        if not chunk:
            with contextlib.suppress(KeyError):
                self._selector.unregister(stream)
            return False
        self._n_bytes += len(chunk)
        if stream is self._process.stdout:
            self.stdout += chunk[: self._order.output_limit_bytes - len(self.stdout)]
        else:
            self.stderr_tail += chunk
            del self.stderr_tail[:-TAIL_BYTES]
        return True

    def _is_output_over(self) -> bool:
        n_bytes = self._n_bytes
        if self._order.answer_file is not None:
            with contextlib.suppress(OSError):
                n_bytes += os.stat(self._order.answer_file).st_size
        return n_bytes > self._order.output_limit_bytes


def _start(order: Order, prctl: Prctl | None) -> "subprocess.Popen[bytes]":
    guardian = os.getpid()

    def before_start() -> None:
        signal.pthread_sigmask(signal.SIG_SETMASK, ())
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))  # no dump of memory on the disk
        if prctl is not None:
            prctl(PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
            if os.getppid() != guardian:
                os._exit(127)
            with contextlib.suppress(OSError), open("/proc/self/oom_score_adj", "wb") as file:
                file.write(EXPENDABLE)

    with open(order.input_file or os.devnull, "rb") as given:
        return subprocess.Popen(
            order.command,
            env=order.environment,
            cwd=order.folder,
            stdin=given,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
            preexec_fn=before_start,  # noqa: PLW1509  (this process has one thread)
        )


def _children_cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def carry_out(order: Order, prctl: Prctl | None = None) -> Ended:
    """Run the program once, to its end. Raises _ParentGoneError after ending it."""
    cpu_s, start = _children_cpu_s(), time.perf_counter()
    try:
        process = _start(order, prctl)
    except (OSError, ValueError, subprocess.SubprocessError) as error:
        return Ended(not_started=getattr(error, "strerror", None) or str(error))
    watch = Watch(order, process)
    limit = "?"
    try:
        limit = watch.wait()
        elapsed_s = time.perf_counter() - start
    finally:
        n_others = end_all(process)
        is_output_within = watch.finish()
    return Ended(
        limit=limit or ("" if is_output_within else "output"),
        exit_code=process.returncode if process.returncode is not None else 0,
        elapsed_s=elapsed_s,
        cpu_s=_children_cpu_s() - cpu_s,
        stdout=watch.stdout.decode("latin-1"),
        stderr_tail=watch.stderr_tail.decode("latin-1"),
        most_memory_bytes=watch.most_memory_bytes,
        n_left_running=0 if limit else n_others,
    )


def _read_exactly(n_bytes: int) -> bytes:
    """From the standard input. Raises _ParentGoneError at its end."""
    parts = bytearray()
    while len(parts) < n_bytes:
        part = os.read(0, n_bytes - len(parts))
        if not part:
            raise _ParentGoneError
        parts += part
    return bytes(parts)


def _send(answer: dict[str, Any]) -> None:
    body = json.dumps(answer).encode()
    message = memoryview(LENGTH.pack(len(body)) + body)
    while message:
        message = message[os.write(1, message) :]


def main(folder: str) -> None:
    """Carry out orders until the input ends; then remove the folder."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when to end
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGCHLD})
    prctl = linux_prctl()
    if prctl is not None:
        prctl(PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)
    try:
        while True:
            order = json.loads(_read_exactly(*LENGTH.unpack(_read_exactly(LENGTH.size))))
            _send(asdict(carry_out(Order(**order), prctl)))
    except (_ParentGoneError, BrokenPipeError):
        pass
    finally:
        remove_tree(Path(folder))


if __name__ == "__main__":
    main(sys.argv[1])
