"""Processor time of pieces of work, and how it is printed."""

import os
import platform
import time
from collections.abc import Callable
from typing import Any

import numpy as np

Times = dict[str, list[float]]


def machine() -> str:
    """What the figures were taken on, and how busy it was."""
    return (
        f"{platform.processor() or platform.machine()}, {os.cpu_count()} processors, "
        f"Python {platform.python_version()}, load {os.getloadavg()[0]:.1f}"
    )


def lap(times: Times, stage: str, work: Callable[[], Any]) -> Any:
    """Run a stage and note its milliseconds."""
    started = time.thread_time()
    result = work()
    times.setdefault(stage, []).append(1e3 * (time.thread_time() - started))
    return result


def print_times(times: Times) -> None:
    """Median and range of every stage."""
    for stage, values in times.items():
        print(
            f"  {stage:28s} {np.median(values):8.2f}   {np.min(values):8.2f} – {np.max(values):.2f}"
        )
