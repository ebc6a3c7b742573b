"""A recorded noise as numbers: fit its twin, write it into a plan, and hold it to the recording."""

import json
from collections.abc import Generator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from solidcopy.actions.folder import folder_of
from solidcopy.actions.noise_cost import FEWEST_TRIALS, SAMPLE_RATE_HZ, noise_source
from solidcopy.actions.run import RunOptions, run_campaign
from solidcopy.actions.twin_plan import TwinPlan
from solidcopy.campaigns.progress import Progress
from solidcopy.errors import CalibrationError, PlanError
from solidcopy.impairments.added.recording_source import Source
from solidcopy.modes.registry import coded_mode, mode_named
from solidcopy.noise.twin.fit import fit_twin
from solidcopy.noise.twin.fitted import Twin
from solidcopy.noise.twin.likeness import Likeness, likeness
from solidcopy.noise.twin.loudness import find_floor, usual_range_hz
from solidcopy.noise.twin.sound import sound_of
from solidcopy.seeds import Chance, stream
from solidcopy.signals.waveform import Waveform

LONGEST_BESIDE_S = 120.0
"""So much of a recording is set beside its twin."""


@dataclass(frozen=True, slots=True)
class TwinRequest:
    """What a person asks."""

    recording: Path
    plan_file: Path
    mode: str = "ft8"
    n_trials: int = 400
    is_each: bool = False
    audio_hz: float | None = None
    channel: int | None = None
    root_seed: int = 1
    n_workers: int | None = None
    may_replace: bool = False

    @property
    def fit_file(self) -> Path:
        """What was fitted, for a program and for the comparison."""
        return self.plan_file.with_suffix(".fit.json")


@dataclass(frozen=True, slots=True)
class FittedTwin:
    """A twin and how like its recording it is."""

    twin: Twin
    likeness: Likeness

    def text(self) -> str:
        """For a person: the parts, then both side by side."""
        twin = self.twin
        lines = ["Parts of the twin, strongest group first as found (I/N in 2500 Hz of its floor):"]
        lines += [
            f"  {twin.level_db(part):6.1f} dB  {part.group}: {part.comment} ({part.sureness})"
            for part in twin.parts
        ] or ["  none: this is Gaussian noise"]
        lines.append(
            "Level and spectrum in dBFS; envelope in 2500 Hz over the recording's rms, dB:"
        )
        lines.append(f"  {'':30} recording    twin  difference")
        lines += [
            f"  {row.what:30} {row.recording:9.1f} {row.twin:7.1f} {row.difference:+11.1f}"
            for row in self.likeness.rows()
        ]
        return "\n".join(lines)

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        twin = self.twin
        return {
            "over_floor_db": twin.over_floor_db,
            "passband_hz": list(twin.passband_hz),
            "unexplained": twin.unexplained,
            "parts": [
                {
                    "group": part.group,
                    "impairment": twin.fields(part),
                    "from": part.comment,
                    "sureness": part.sureness.value,
                }
                for part in twin.parts
            ],
            "likeness": [asdict(row) for row in self.likeness.rows()],
        }


def write_twin(request: TwinRequest) -> FittedTwin:
    """Fit, and write the plan and what was fitted.

    Raises: AudioFileError, CalibrationError or PlanError, one sentence.
    """
    if request.plan_file.exists() and not request.may_replace:
        raise PlanError(f"{request.plan_file} exists: choose another --out, or add --replace")
    if request.n_trials < FEWEST_TRIALS:
        raise PlanError(f"--trials must be {FEWEST_TRIALS} or more, not {request.n_trials}")
    mode = coded_mode(mode_named(request.mode), "the twin of a noise").facts
    source = noise_source(request.recording, request.channel, mode, SAMPLE_RATE_HZ)
    try:
        fitted = _fitted(source, request.root_seed)
        audio_hz = (
            usual_range_hz(find_floor(source), mode.width_hz)
            if request.audio_hz is None
            else (request.audio_hz, request.audio_hz)
        )
    except CalibrationError as error:
        raise CalibrationError(f"{request.recording}: {error}") from None
    plan = TwinPlan(
        recording=request.recording,
        twin=fitted.twin,
        mode=mode,
        audio_hz=audio_hz,
        channel=request.channel,
        is_each=request.is_each,
        n_trials=request.n_trials,
        root_seed=request.root_seed,
    )
    try:
        request.plan_file.parent.mkdir(parents=True, exist_ok=True)
        request.plan_file.write_text(plan.text(), encoding="utf-8")
        request.fit_file.write_text(json.dumps(fitted.as_dict(), indent=1), encoding="utf-8")
    except OSError as error:
        raise PlanError(f"{request.plan_file}: cannot be written ({error.strerror})") from None
    return fitted


def _fitted(source: Source, root_seed: int) -> FittedTwin:
    """A twin, and one sound of it beside the beginning of the recording."""
    waveform = Waveform(source.samples, source.key.sample_rate_hz)
    twin = fit_twin(waveform)
    n_beside = round(LONGEST_BESIDE_S * waveform.sample_rate_hz)
    beside = Waveform(np.asarray(source.samples[:n_beside]), waveform.sample_rate_hz)
    sound = sound_of(
        twin,
        duration_s=beside.duration_s,
        sample_rate_hz=beside.sample_rate_hz,
        generator=stream(Chance(root_seed, "twin beside its recording", 0, 0.0), "sound"),
    )
    return FittedTwin(twin, likeness(beside, sound, twin.passband_hz))


def run_twin(request: TwinRequest) -> Generator[Progress]:
    """Run the receiver on the recording and on its twin; resumes as `run_campaign` does."""
    yield from run_campaign(request.plan_file, RunOptions(n_workers=request.n_workers))


def twin_folder(request: TwinRequest) -> Path:
    """Folder of the campaign."""
    return folder_of(request.plan_file)


def read_over_floor_db(plan_file: Path) -> float:
    """Mean power over the twin's floor, as it was fitted. Raises PlanError."""
    path = plan_file.with_suffix(".fit.json")
    try:
        return float(json.loads(path.read_text(encoding="utf-8"))["over_floor_db"])
    except (OSError, ValueError, KeyError, TypeError):
        raise PlanError(
            f"{path}: what was fitted cannot be read; write the twin anew with --replace"
        ) from None
