"""The process in which a user's Python receiver runs: `python -m` this module.

It is told where the callable is, then answers one request after another:

- request: sample rate and number of samples (`REQUEST`), then the samples as float32;
- answer: length (`ANSWER`), then JSON: {"decodes": [...], "elapsed_s": ...,
  "cpu_s": ...} or {"failure": "..."}.

The first answer comes without a request and says whether the callable could be loaded. The
process ends when its input ends, and by itself if one call lasts far too long: no parent is
needed to get rid of it. Whatever the user's code prints is dropped.
"""

import faulthandler
import importlib
import json
import math
import numbers
import os
import queue
import signal
import struct
import sys
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any, BinaryIO

import numpy as np

from solidcopy.receivers.child_process import ANSWER
from solidcopy.receivers.failure import last_lines_of
from solidcopy.receivers.processor_time import processor_time_s
from solidcopy.receivers.receiver import Decode

REQUEST = struct.Struct("<IQ")
NUMBERS = ("audio_hz", "time_offset_s", "snr_db")
"""Fields of a reported decode besides its text."""
GRACE_S = 10.0
"""After the time limit, in which the parent should have ended this process."""

Request = tuple[np.ndarray, int]


def decode_of(item: object) -> dict[str, Any]:
    """A reported decode as JSON fields. Raises TypeError or ValueError with a sentence."""
    if isinstance(item, str):
        return {"text": item}
    if isinstance(item, Decode):
        item = {name: value for name, value in asdict(item).items() if name in ("text", *NUMBERS)}
    if not isinstance(item, Mapping):
        raise TypeError(f"a decode must be a text, a dict or a Decode, not {type(item).__name__}")
    unknown = sorted(str(name) for name in item if name not in ("text", *NUMBERS))
    if unknown:
        raise ValueError(f"a decode holds `text`, {', '.join(NUMBERS)}; unknown: {unknown[0]}")
    if not isinstance(item.get("text"), str):
        raise TypeError("a decode needs its `text`, a str")
    return {"text": item["text"], **{name: _number(item.get(name), name) for name in NUMBERS}}


def _number(value: object, name: str) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, numbers.Real):
        raise TypeError(f"`{name}` must be a number or None, not {type(value).__name__}")
    if not math.isfinite(value):
        raise ValueError(f"`{name}` must be finite; leave it out if it is not known")
    return float(value)


def decodes_of(answer: object) -> list[dict[str, Any]]:
    """All reported decodes. Raises TypeError or ValueError with a sentence."""
    if not isinstance(answer, list | tuple):
        raise TypeError(
            f"the callable must return a list of decodes (an empty one if nothing was heard), "
            f"not {type(answer).__name__}"
        )
    return [decode_of(item) for item in answer]


def answer_to(call: Callable[..., Any], request: Request) -> dict[str, Any]:
    """Run the user's callable once."""
    start, start_cpu_s = time.perf_counter(), processor_time_s()
    try:
        returned = call(*request)
    except Exception as error:
        return {"failure": last_lines_of(error)}
    took = {
        "elapsed_s": time.perf_counter() - start,
        "cpu_s": processor_time_s() - start_cpu_s,
    }
    try:
        return {"decodes": decodes_of(returned), **took}
    except (TypeError, ValueError) as error:
        return {"failure": str(error)}


def load(place: str) -> Callable[..., Any]:
    """The callable at "package.module:name". Raises whatever the import raises."""
    module_name, _, name = place.partition(":")
    found = getattr(importlib.import_module(module_name), name)
    if not callable(found):
        raise TypeError(f"{place} is a {type(found).__name__}, not a callable")
    return found  # type: ignore[no-any-return]


def _own_pipes() -> tuple[BinaryIO, BinaryIO]:
    """The pipes to the parent, out of reach of `print` and `input`."""
    requests = os.fdopen(os.dup(0), "rb")
    answers = os.fdopen(os.dup(1), "wb")
    nothing = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nothing, descriptor)
    return requests, answers


def _hear(requests: BinaryIO, waiting: "queue.SimpleQueue[Request]") -> None:
    """Read requests beside the user's code, so that the parent's end is noticed at once."""
    while True:
        head = requests.read(REQUEST.size)
        if len(head) == REQUEST.size:
            sample_rate_hz, n_samples = REQUEST.unpack(head)
            body = bytearray(requests.read(4 * n_samples))
            if len(body) == 4 * n_samples:
                waiting.put((np.frombuffer(body, np.float32), sample_rate_hz))
                continue
        os._exit(0)


def _send(answers: BinaryIO, answer: dict[str, Any]) -> None:
    body = json.dumps(answer).encode()
    answers.write(ANSWER.pack(len(body)) + body)
    answers.flush()


def main(place: str, time_limit_s: float, *import_folders: str) -> None:
    """Load the callable and answer until the input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when to end
    requests, answers = _own_pipes()
    waiting: queue.SimpleQueue[Request] = queue.SimpleQueue()
    threading.Thread(target=_hear, args=(requests, waiting), daemon=True).start()
    sys.path[:0] = import_folders
    try:
        call = load(place)
    except Exception as error:
        _send(answers, {"failure": last_lines_of(error)})
        return
    _send(answers, {"decodes": [], "elapsed_s": 0.0})
    while True:
        request = waiting.get()
        # Works even if the user's code never lets another thread run.
        faulthandler.dump_traceback_later(time_limit_s + GRACE_S, exit=True)
        answer = answer_to(call, request)
        faulthandler.cancel_dump_traceback_later()
        _send(answers, answer)


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]), *sys.argv[3:])
