"""What a run was made with: numbers depend on it, so every journal keeps it."""

import os
import platform
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import Any

LIBRARIES = ("solidcopy", "numpy", "scipy", "numba", "soxr", "distributed")
"""Libraries that a sample, a decode or the course of a run can depend on."""


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine that lent workers to a run, and how alike it is.

    Args:
        host: its own name.
        n_workers: that were admitted, later ones included.
        n_trials: recordings that it made for comparison.
        n_other_sound: of those, how many differ in some sample.
        n_answers: answers of receivers compared; only where some sound differs.
        n_other_answers: of those, how many differ in verdict or in a decoded text.
    """

    host: str
    cpu: str
    platform: str
    n_workers: int
    n_trials: int
    n_other_sound: int
    n_answers: int
    n_other_answers: int


@dataclass(frozen=True, slots=True)
class Environment:
    """Versions and machine of one run."""

    python: str
    libraries: dict[str, str]
    """Version by name."""
    platform: str
    cpu: str
    n_cpus: int
    started_utc: str
    """ISO 8601."""
    import_folders: tuple[str, ...] = ()
    """Where the modules of Python receivers were looked for first."""
    machines: tuple[Machine, ...] = ()
    """Where the workers were, if not on this machine alone."""


def this_environment(*, import_folders: tuple[str, ...] = ()) -> Environment:
    """Of this process, now."""
    return Environment(
        python=f"{platform.python_implementation()} {platform.python_version()}",
        libraries={name: _version(name) for name in LIBRARIES},
        platform=platform.platform(),
        cpu=_cpu_name(),
        n_cpus=os.cpu_count() or 1,
        started_utc=datetime.now(UTC).isoformat(timespec="seconds"),
        import_folders=import_folders,
    )


def differences(one: Mapping[str, Any], other: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Library or property, its value in one environment and in the other, where they differ and a
    sample or a decode may depend on it.

    Args:
        one, other: as journals keep them; names that one lacks are "unknown" there.
    """
    here, there = one.get("libraries", {}), other.get("libraries", {})
    values = [(name, here.get(name), there.get(name)) for name in sorted({*here, *there})]
    values += [(name, one.get(name), other.get(name)) for name in ("python", "platform", "cpu")]
    for name, a, b in values:
        if a != b:
            yield name, str(a or "unknown"), str(b or "unknown")


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed as a package"


def _cpu_name() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        lines = []
    for line in lines:
        name, _, value = line.partition(":")
        if name.strip() == "model name":
            return value.strip()
    return platform.processor() or platform.machine()
