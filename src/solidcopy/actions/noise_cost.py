"""What a recorded noise costs: write the plan, carry it out, and say the answer."""

import tomllib
from collections.abc import Generator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from solidcopy.actions.cost_plan import (
    AUTOMATIC_NOTCH,
    BLANKER,
    LIMITER,
    CostPlan,
    Remedy,
    notch_at,
)
from solidcopy.actions.folder import folder_of
from solidcopy.actions.run import RunOptions, run_campaign
from solidcopy.campaigns.progress import Progress
from solidcopy.errors import AudioFileError, CalibrationError, PlanError
from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.impairments.added.recording_source import Source
from solidcopy.modes.mode import ModeFacts
from solidcopy.modes.registry import coded_mode, mode_named
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.noise.features.measure import measure_features
from solidcopy.noise.twin.loudness import find_floor, measure_loudness, usual_range_hz
from solidcopy.receivers.builtin.settings import Effort
from solidcopy.signals.waveform import Waveform

PLAN_FILE = "cost.toml"
SAMPLE_RATE_HZ = 12_000
"""Of the trials; a plan's usual one."""
FEWEST_TRIALS = 20
LOWEST_NOTCH_HZ = 100.0


@dataclass(frozen=True, slots=True)
class CostRequest:
    """What a person asks."""

    recording: Path
    out: Path
    """Folder for the plan and its campaign."""
    mode: str = "ft8"
    n_trials: int = 400
    """Most trials of one curve."""
    receivers: tuple[str, ...] = ()
    """Efforts of the built-in receiver, or TOML files with [[receivers]]."""
    has_remedies: bool = False
    audio_hz: float | None = None
    channel: int | None = None
    root_seed: int = 1
    n_workers: int | None = None

    @property
    def plan_file(self) -> Path:
        """Written once; a file that is there is used as it is."""
        return self.out / PLAN_FILE


def prepare_cost(request: CostRequest) -> bool:
    """Write the plan into its folder, unless one is there.

    Returns: whether it was written now.
    Raises: AudioFileError, CalibrationError or PlanError with one sentence if the recording or the
        request is not fit for it.
    """
    if request.plan_file.exists():
        return False
    text = cost_plan(request).text()
    try:
        request.out.mkdir(parents=True, exist_ok=True)
        request.plan_file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PlanError(
            f"{request.plan_file}: cannot be written ({error.strerror}); choose another --out"
        ) from None
    return True


def run_cost(request: CostRequest) -> Generator[Progress]:
    """Prepare, then run all trials that have no outcome yet; as `run_campaign`."""
    prepare_cost(request)
    yield from run_campaign(request.plan_file, RunOptions(n_workers=request.n_workers))


def cost_folder(request: CostRequest) -> Path:
    """Folder of the campaign."""
    return folder_of(request.plan_file)


def cost_plan(request: CostRequest) -> CostPlan:
    """The plan of a request, from a look at the recording. Raises as `prepare_cost`."""
    mode = coded_mode(mode_named(request.mode), "the cost of a noise").facts
    if request.n_trials < FEWEST_TRIALS:
        raise PlanError(f"--trials must be {FEWEST_TRIALS} or more, not {request.n_trials}")
    source = noise_source(request.recording, request.channel, mode, SAMPLE_RATE_HZ)
    try:
        floor = find_floor(source)
        low_hz, high_hz = (
            usual_range_hz(floor, mode.width_hz)
            if request.audio_hz is None
            else (request.audio_hz, request.audio_hz)
        )
        loudness = measure_loudness(source, floor, (low_hz, high_hz + mode.width_hz))
    except CalibrationError as error:
        raise CalibrationError(f"{request.recording}: {error}") from None
    over = loudness.over_floor_db
    return CostPlan(
        recording=request.recording,
        mode=mode,
        audio_hz=(low_hz, high_hz),
        over_floor_db=over.value if isinstance(over, Figure) else 20.0,
        receivers=tuple(_receivers(request.receivers)),
        remedies=_remedies(source) if request.has_remedies else (),
        channel=request.channel,
        n_trials=request.n_trials,
        root_seed=request.root_seed,
    )


def noise_source(
    recording: Path, channel: int | None, mode: ModeFacts, sample_rate_hz: int
) -> Source:
    """A recording made ready as the noise of a mode's slots.

    Raises: AudioFileError if it is shorter than one slot, lossy, silent or no sound file.
    """
    noise = OwnRecording(file=str(recording.resolve()), channel=channel, snr_db=0.0)
    source = noise.source(sample_rate_hz, round(mode.slot_s * sample_rate_hz))
    if source.is_circle:
        raise AudioFileError(
            f"{recording}: lasts {source.samples.size / sample_rate_hz:.0f} s, less than one slot "
            f"of {mode.name} ({mode.slot_s:g} s); record a minute or more, better five"
        )
    return source


def _remedies(source: Source) -> tuple[Remedy, ...]:
    """All that act on any noise, and a notch if the recording holds a line."""
    strongest_hz = _strongest_line_hz(source)
    notch = () if strongest_hz is None else (notch_at(strongest_hz),)
    return (BLANKER, LIMITER, AUTOMATIC_NOTCH, *notch)


def _strongest_line_hz(source: Source) -> float | None:
    features = measure_features(
        Waveform(source.samples, source.key.sample_rate_hz), impulse_trains=False
    )
    lines = () if isinstance(features.lines, CannotTell) else features.lines
    inside = [line for line in lines if line.frequency_hz.value > LOWEST_NOTCH_HZ]
    if not inside:
        return None
    return max(inside, key=lambda line: line.level_dbfs.value).frequency_hz.value


def _receivers(asked: tuple[str, ...]) -> list[dict[str, Any]]:
    """Receivers as a plan holds them; none: the built-in one. Raises PlanError."""
    found: list[dict[str, Any]] = []
    for text in asked:
        if text in get_args(Effort):
            found.append({"kind": "builtin", "name": text, "effort": text})
        else:
            found += _receivers_in(text)
    return found


def _receivers_in(text: str) -> list[dict[str, Any]]:
    path = Path(text)
    allowed = f"--receiver takes {', '.join(get_args(Effort))} or a file with [[receivers]]"
    if not path.is_file():
        raise PlanError(f"{allowed}; there is no file {text}")
    try:
        listed = tomllib.loads(path.read_text(encoding="utf-8")).get("receivers")
    except (OSError, ValueError) as error:
        raise PlanError(f"{path}: cannot be read as TOML ({error})") from None
    if not isinstance(listed, list) or not listed:
        raise PlanError(f"{allowed}; {text} holds none")
    return listed
