"""A tiny real campaign with a recording of its own, and packages made and spoilt from it."""

import shutil
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np

from report_examples import PLACE_OF
from solidcopy.actions.package.pack import pack
from solidcopy.campaigns.journal import JournalWriter
from solidcopy.campaigns.workers import Batch, Job, run_jobs
from solidcopy.signals.audio_file import write_audio
from solidcopy.trials.expand import TrialKey, nothing_sent_value
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT

RATE_HZ = 12_000


def pump_recording(folder: Path) -> Path:
    """Three seconds of an invented pump motor: a hum and its brushes."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "pump motor.wav"
    time_s = np.arange(3 * RATE_HZ) / RATE_HZ
    hum = 0.1 * np.sin(2 * np.pi * 600.0 * time_s) + 0.02 * np.random.default_rng(3).normal(
        size=time_s.size
    )
    write_audio(file, hum, sample_rate_hz=RATE_HZ, subtype="PCM_16")
    return file


def tiny_plan(recording: Path, **changes: Any) -> Plan:
    noise = {"kind": "gaussian-noise", "snr_db": "axis"}
    pump = {"kind": "recording", "file": str(recording), "interference_to_noise_db": 3.0}
    data: dict[str, Any] = {
        "title": "What does the pump cost?",
        "mode": "ft8",
        "root_seed": 77,
        "axis": {"values": [-19, -16]},
        "stop": {"trials_per_point": 2, "nothing_sent": 1},
        "conditions": [
            {"name": "quiet", "impairments": [noise]},
            {"name": "pump", "impairments": [noise, pump]},
        ],
        "receivers": [{"kind": "builtin", "effort": "belief-propagation", "passes": 1}],
    }
    return parse_plan(data | changes)


def run_here(plan: Plan, folder: Path, *, heard: tuple[int, ...] = (0,)) -> Path:
    """All trials of a plan, in this process."""
    keys = [
        TrialKey(place, SENT, value, index)
        for place in range(len(plan.conditions))
        for value in plan.axis.points()
        for index in range(plan.stop.limit_per_point)
    ]
    keys += [
        TrialKey(place, NOTHING_SENT, nothing_sent_value(plan), index)
        for place in range(len(plan.conditions))
        for index in range(plan.stop.nothing_sent)
    ]
    jobs = [Job(key, heard) for key in keys]
    with JournalWriter(folder, plan, PLACE_OF) as journal:
        journal.append(run_jobs(Batch(plan.model_dump_json(), ()), jobs))
        journal.settle()
    return folder


@cache
def pump_campaign() -> Path:
    """The folder of a finished campaign; not to be changed."""
    folder = Path(mkdtemp(prefix="solidcopy-"))
    return run_here(tiny_plan(pump_recording(folder / "sounds")), folder / "pump.campaign")


@cache
def pump_package() -> Path:
    """Its package."""
    return pack(pump_campaign(), pump_campaign().parent / "pump.zip").path


Change = Callable[[dict[str, bytes]], None]


def respelt(out: Path, change: Change) -> Path:
    """The package again with other members, by a plain zip writer."""
    with zipfile.ZipFile(pump_package()) as package:
        members = {name: package.read(name) for name in package.namelist()}
    change(members)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in members.items():
            package.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return out


def emptied(folder: Path) -> Path:
    """A new empty folder."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder
