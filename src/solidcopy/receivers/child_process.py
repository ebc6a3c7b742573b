"""A process of our own that answers one request after another over its standard input and output.

An answer is its length (`ANSWER`), then JSON. The process must end when its input ends, so that
nobody is needed to get rid of it.
"""

import contextlib
import json
import os
import signal
import struct
import subprocess
import sys
import threading
from collections.abc import Sequence
from typing import Any

ANSWER = struct.Struct("<I")
TOO_LATE = "no answer within {:g} s"


class NoAnswerError(Exception):
    """The process gave no answer; the message says why."""


class ChildProcess:
    """One process. Not to be shared between threads."""

    def __init__(
        self,
        command: Sequence[str],
        *,
        called: str,
        kept_open: Sequence[int] = (),
        grace_s: float = 0.0,
    ) -> None:
        """Start it.

        Args:
            command: program and arguments.
            called: how a message names it, e.g. "the receiver's process".
            kept_open: descriptors that it inherits.
            grace_s: for ending by itself when its input ends, before it is killed.
        """
        self._called = called
        self._grace_s = grace_s
        self._process = subprocess.Popen(
            list(command),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            pass_fds=tuple(kept_open),
            # A group of its own: what it starts can be ended with it.
            start_new_session=sys.platform != "win32",
        )

    @property
    def pid(self) -> int:
        """Process id."""
        return self._process.pid

    def ask(self, request: bytes, limit_s: float) -> dict[str, Any]:
        """What it answers; after anything else it is ended. Raises NoAnswerError."""
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
            said = TOO_LATE.format(limit_s) if is_late.is_set() else self._how_it_ended()
            self.end()
            raise NoAnswerError(said) from None
        except BaseException:
            self.end()
            raise
        finally:
            timer.cancel()

    def end(self) -> None:
        """End the process and what it started, and forget it."""
        if self._grace_s == 0.0:
            self._kill()
        self._close(self._process.stdin)
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(self._grace_s)
        self._kill()
        self._close(self._process.stdout)
        self._process.wait()

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
            return f"{self._called} closed its output without an answer"
        return f"{self._called} {ending_words(code)}"

    def _kill(self) -> None:
        if self._process.returncode is not None:
            return  # its number may be another's by now
        if sys.platform == "win32":
            self._process.kill()
            return
        with contextlib.suppress(ProcessLookupError, PermissionError):  # it has ended already
            os.killpg(self._process.pid, signal.SIGKILL)

    @staticmethod
    def _close(pipe: Any) -> None:
        assert pipe is not None
        with contextlib.suppress(OSError):  # samples that nobody reads any more
            pipe.close()


def ending_words(code: int) -> str:
    """How a process ended: "ended with exit code 3", "was ended by SIGSEGV"."""
    if code >= 0:
        return f"ended with exit code {code}"
    try:
        return f"was ended by {signal.Signals(-code).name}"
    except ValueError:
        return f"was ended by signal {-code}"
