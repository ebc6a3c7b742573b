"""FT8 under the published conditions of fading: campaigns, thresholds, shifts, one line each."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from example_plans import changed, condition
from solidcopy.campaigns.engine import EngineSettings, run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.impairments.published.fading_conditions import fading_conditions
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import Form
from solidcopy.statistics.threshold import NoThreshold, Threshold, read_threshold
from solidcopy.trials.plan import Plan, parse_plan

WHITE_NOISE = "white noise alone"
SHARES = (0.5, 0.9)
NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}


@dataclass(frozen=True, slots=True)
class Found:
    """One condition heard by one receiver."""

    condition: str
    receiver: str
    points: Points
    thresholds: tuple[Threshold | NoThreshold, ...]
    """At SHARES."""


def axis_of(name: str) -> dict[str, float]:
    """SNR in 2500 Hz where the curve of a condition rises: lower for slower fading."""
    if name == WHITE_NOISE:
        return {"start": -26.0, "stop": -18.0, "step": 1.0}
    spread_hz = fading_conditions()[name].spread_hz
    if spread_hz > 20.0:
        return {"start": -6.0, "stop": 12.0, "step": 6.0}
    if spread_hz > 5.0:
        return {"start": -20.0, "stop": 8.0, "step": 2.0}
    stop = 2.0 if spread_hz < 0.3 else -6.0
    return {"start": -26.0, "stop": stop, "step": 2.0}


def plan_of(name: str, *, efforts: tuple[str, ...], trials_per_point: int) -> Plan:
    """One condition, heard at several efforts."""
    fading = [] if name == WHITE_NOISE else [{"kind": "two-path-fading", "preset": name}]
    return parse_plan(
        changed(
            root_seed=31,
            axis=axis_of(name),
            stop={"trials_per_point": trials_per_point, "nothing_sent": 0},
            conditions=[condition(name, impairments=[NOISE, *fading])],
            receivers=[{"kind": "builtin", "name": e, "effort": e} for e in efforts],
        )
    )


def measure(plan: Plan, folder: Path, *, n_workers: int | None = None) -> Iterator[Found]:
    """Run a plan of one condition and read its thresholds."""
    with closing(run_campaign(plan, folder, settings=EngineSettings(n_workers))) as stream:
        for _ in stream:
            pass
    name = plan.conditions[0].name
    form: Form = "probit" if name == WHITE_NOISE else "faded"
    with JournalReader(folder) as reader:
        for place, receiver in enumerate(plan.receivers):
            points = reader.points(0, place)
            at = tuple(read_threshold(points, p=p, form=form) for p in SHARES)
            yield Found(name, receiver.name, points, at)


def line(found: Found, white: Found | None) -> str:
    """Counts, thresholds with intervals, and shifts against white noise."""
    shares = " ".join(
        f"{x:g}:{k}/{n}"
        for x, k, n in zip(
            found.points.values, found.points.n_decoded, found.points.n_scored, strict=True
        )
    )
    said = [f"{found.condition} | {found.receiver} | {shares}"]
    for place, (p, at) in enumerate(zip(SHARES, found.thresholds, strict=True)):
        if isinstance(at, NoThreshold):
            said.append(f"{100 * p:.0f} %: none ({at.reason})")
            continue
        text = f"{100 * p:.0f} %: {at.value:.2f} ({at.interval.low:.2f}..{at.interval.high:.2f})"
        shift = shift_db(found, white, place)
        said.append(text if shift is None else f"{text}, shift {shift:+.2f}")
    return " | ".join(said)


def shift_db(found: Found, white: Found | None, place: int) -> float | None:
    """Threshold less that of white noise, for one of SHARES."""
    ends = (found.thresholds[place], None if white is None else white.thresholds[place])
    if not all(isinstance(end, Threshold) for end in ends):
        return None
    return ends[0].value - ends[1].value


def best_share(found: Found) -> float:
    """Largest share decoded at any SNR."""
    return float(np.max(found.points.share))
