"""`make validate`: what the built-in receiver reports against what is true, in white noise.

The targets are ours, no outside source; that luck explains the rest is the mean of a truncated
normal distribution (checked against scipy in tests/reference/test_statistics_reported.py).
"""

from itertools import product
from pathlib import Path

import pytest
from swept_curves import carried_out

from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.measured import Estimate
from solidcopy.reports.reported_facts import OVER_NOISE, ReportedFacts, ReportedLine
from solidcopy.reports.reported_gather import reported_levels

pytestmark = pytest.mark.sweep

TRIALS_PER_POINT = 1_000
EFFORTS = ("belief-propagation", "ordered-statistics", "phase-trellis")
VALUES_DB = [*range(-25, -15), *range(-14, 12, 2)]
LARGEST_ERROR_DB = 0.3
"""Where nearly all is decoded."""


def printed(found: ReportedFacts) -> None:
    print(f"\n{found.receiver}, against {found.against}\n{found.line}")
    print("SNR in 2500 Hz, dB | reported of | mean | powers | sd | error (95 %) | excess | luck")
    for point in found.points:
        values = [point.mean, point.power_mean, point.error, point.excess]
        mean, powers, error, excess = (
            f"{v.value:.2f} ({v.interval.low:.2f} to {v.interval.high:.2f})"
            if isinstance(v, Estimate)
            else "-"
            for v in values
        )
        print(
            f"{point.axis_value:6.1f} | {point.n_reported} of {point.n_answered} | {mean} | "
            f"{powers} | {point.sd_db} | {error} | {excess} | {point.luck_db}"
        )


def check(found: ReportedFacts) -> None:
    assert isinstance(found.line, ReportedLine)
    assert found.line.slope.value == pytest.approx(1.0, abs=0.02)
    for point in found.points:
        if point.is_full:
            assert isinstance(point.error, Estimate)
            assert abs(point.error.value) < LARGEST_ERROR_DB
        elif isinstance(point.excess, Estimate) and point.luck_db is not None:
            # Luck alone may raise the mean, and by no more than that.
            assert point.excess.interval.high > 0.0
            assert point.excess.interval.low < point.luck_db + LARGEST_ERROR_DB


def curves(journal: JournalReader) -> tuple[ReportedFacts, ...]:
    found = reported_levels(journal)
    for pair in found.pairs:
        print(pair)
    return found.curves


@pytest.mark.derived
def test_reports_in_white_noise(tmp_path: Path) -> None:
    with carried_out(
        tmp_path,
        mode="ft8",
        root_seed=23,
        axis={"values": VALUES_DB},
        stop={"trials_per_point": TRIALS_PER_POINT, "nothing_sent": 0},
        receivers=[{"kind": "builtin", "name": e, "effort": e} for e in EFFORTS],
    ) as journal:
        found = curves(journal)
    assert [(one.receiver, one.against) for one in found] == list(product(EFFORTS, [OVER_NOISE]))
    for one in found:
        printed(one)
    for one in found:
        check(one)
