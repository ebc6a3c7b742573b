"""Curves and false decodes of one receiver, carried out as campaigns and printed as tables."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from example_plans import changed, condition
from solidcopy.campaigns.engine import run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.statistics.interval import clopper_pearson, upper_bound_for_none, wilson
from solidcopy.statistics.tally import Tally
from solidcopy.statistics.threshold import Threshold, read_threshold
from solidcopy.trials.plan import parse_plan

SENDING = {
    "audio_hz": {"low": 300, "high": 2600},
    "start_offset_s": {"low": -1.0, "high": 1.0},
}
"""Anywhere in the band, and up to a second early or late."""


@contextmanager
def carried_out(folder: Path, **fields: Any) -> Iterator[JournalReader]:
    """The journal of a finished campaign, on all cores.

    Args:
        folder: empty.
        fields: of the plan; the condition is white noise unless told otherwise.
    """
    plan = parse_plan(changed(**{"conditions": [condition(sending=SENDING)], **fields}))
    with closing(run_campaign(plan, folder)) as stream:
        for _ in stream:
            pass
    with JournalReader(folder) as journal:
        yield journal


def printed_thresholds(journal: JournalReader, name: str) -> dict[float, float]:
    """Print a curve point by point; its 10, 50 and 90 % points by the fit, in dB."""
    points = journal.points(0, 0)
    print(f"\n{name}\nSNR in 2500 Hz, dB | n | decoded | share | Wilson 95 %")
    for value, k, n in zip(points.values, points.n_decoded, points.n_scored, strict=True):
        interval = wilson(int(k), int(n), 0.95)
        print(f"{value:6.1f} | {n} | {k} | {k / n:.3f} | {interval.low:.3f}-{interval.high:.3f}")
    values_db = {}
    for p in (0.1, 0.5, 0.9):
        threshold = read_threshold(points, p=p)
        assert isinstance(threshold, Threshold), threshold
        interval = threshold.interval
        print(f"{100 * p:.0f} %: {threshold.value:.2f} ({interval.low:.2f} to {interval.high:.2f})")
        values_db[p] = threshold.value
    print(journal.elapsed(0, 0))
    return values_db


def printed_bound(name: str, tally: Tally) -> float:
    """Print how many slots held a false decode; the 95 % upper bound of their share.

    One-sided where there was none, as a rule of three is; else the two-sided Clopper-Pearson end.
    """
    k, n = tally.n_false_trials, tally.n_scored
    bound = upper_bound_for_none(n) if k == 0 else clopper_pearson(k, n, 0.95).high
    print(f"\n{name}: {k} slots with a false decode in {n}; 95 % upper bound {bound:.1e}")
    return bound
