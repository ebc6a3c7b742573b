"""Readings and answer times of many trials in a few numbers."""

import math
from collections.abc import Iterable, Sequence

import numpy as np

from solidcopy import units
from solidcopy.campaigns.journal.records import ElapsedSummary, LevelSummary
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.trials.trial import LevelReading, Readings

_LevelKey = tuple[str, str, float | None]


def mean_of_db(levels_db: Sequence[float]) -> float:
    """Mean of the powers behind levels in dB (the mean of the dB values would read low)."""
    return units.db_from_ratio(
        math.fsum(units.ratio_from_db(level_db) for level_db in levels_db) / len(levels_db)
    )


def summarise_levels(all_readings: Iterable[Readings]) -> list[LevelSummary]:
    """One summary for each name, quantity and asked level, in order of first appearance."""
    levels: dict[_LevelKey, list[LevelReading]] = {}
    mixes: dict[_LevelKey, list[tuple[int, float]]] = {}
    for readings in all_readings:
        for level in readings.levels:
            key = (level.name, level.quantity, level.asked_db)
            levels.setdefault(key, []).append(level)
            mixes.setdefault(key, []).append((readings.n_clipped, readings.peak_dbfs))
    return [_summary(key, found, mixes[key]) for key, found in levels.items()]


def _summary(
    key: _LevelKey, found: list[LevelReading], mixes: list[tuple[int, float]]
) -> LevelSummary:
    name, quantity, asked_db = key
    heard = [level for level in found if math.isfinite(level.got_db)]
    got_db = [level.got_db for level in heard]
    spreads_db = np.array([level.spread_db for level in heard])
    worst_db = None
    if got_db and asked_db is not None:
        worst_db = max((got - asked_db for got in got_db), key=abs)
    return LevelSummary(
        name=name,
        quantity=quantity,
        asked_db=asked_db,
        n_recordings=len(found),
        n_silent=len(found) - len(heard),
        mean_got_db=mean_of_db(got_db) if got_db else None,
        sd_got_db=float(np.std(got_db, ddof=min(1, len(got_db) - 1))) if got_db else None,
        worst_difference_db=worst_db,
        expected_sd_db=float(np.sqrt(np.mean(spreads_db**2))) if got_db else None,
        mean_dbfs=mean_of_db([level.mean_dbfs for level in found]),
        peak_dbfs=max(level.peak_dbfs for level in found),
        crest_db=max(level.crest_db for level in found),
        n_clipped=sum(n_clipped for n_clipped, _ in mixes),
        mix_peak_dbfs=max(peak_dbfs for _, peak_dbfs in mixes),
    )


def summarise_elapsed(times_s: Sequence[float]) -> ElapsedSummary | NoEvidence:
    """Mean, median, 95 % point and maximum of answer times."""
    if not times_s:
        return NoEvidence("the receiver gave no answer, so there are no answer times")
    times = np.array(times_s)
    return ElapsedSummary(
        n_trials=times.size,
        mean_s=float(times.mean()),
        median_s=float(np.median(times)),
        p95_s=float(np.quantile(times, 0.95)),
        max_s=float(times.max()),
    )
