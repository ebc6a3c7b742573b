"""`make validate`: the receiver through the whole chain, with enough trials to quote figures.

Prints the tables that docs/accuracy.md holds. Bounds: FACTS A10 (derived there): a threshold
better than about −22.5 dB for soft bits of three-symbol blocks would mean a calibration error,
and the curve must rise from 10 to 90 % within 1.6 to 2 dB.
"""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from example_plans import changed, condition
from solidcopy.campaigns.engine import run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.statistics.interval import clopper_pearson, upper_bound_for_none, wilson
from solidcopy.statistics.threshold import Threshold, read_threshold
from solidcopy.trials.plan import parse_plan

pytestmark = pytest.mark.sweep

TRIALS_PER_POINT = 1_000
NOTHING_SENT = 4_000


@pytest.fixture(scope="module")
def white_noise(tmp_path_factory: pytest.TempPathFactory) -> Iterator[JournalReader]:
    plan = parse_plan(
        changed(
            root_seed=21,
            axis={"start": -23.5, "stop": -19.5, "step": 0.5},
            stop={"trials_per_point": TRIALS_PER_POINT, "nothing_sent": NOTHING_SENT},
            conditions=[
                condition(
                    sending={
                        "audio_hz": {"low": 300, "high": 2600},
                        "start_offset_s": {"low": -1.0, "high": 1.0},
                    }
                )
            ],
        )
    )
    folder: Path = tmp_path_factory.mktemp("white-noise")
    with closing(run_campaign(plan, folder)) as stream:
        for _ in stream:
            pass
    with JournalReader(folder) as reader:
        yield reader


def test_threshold_in_white_noise(white_noise: JournalReader) -> None:
    points = white_noise.points(0, 0)
    print("\nSNR in 2500 Hz, dB | n | decoded | share | Wilson 95 %")
    for value, k, n in zip(points.values, points.n_decoded, points.n_scored, strict=True):
        interval = wilson(int(k), int(n), 0.95)
        print(f"{value:6.1f} | {n} | {k} | {k / n:.3f} | {interval.low:.3f}-{interval.high:.3f}")
    found = {p: read_threshold(points, p=p) for p in (0.1, 0.5, 0.9)}
    for p, threshold in found.items():
        assert isinstance(threshold, Threshold)
        interval = threshold.interval
        print(f"{100 * p:.0f} %: {threshold.value:.2f} ({interval.low:.2f} to {interval.high:.2f})")
    print(white_noise.elapsed(0, 0))
    values = {p: threshold.value for p, threshold in found.items()}
    assert -22.5 < values[0.5] <= -21.2
    assert 1.3 <= values[0.9] - values[0.1] <= 2.2


def test_false_decodes(white_noise: JournalReader) -> None:
    decodes = white_noise.false_decodes(0, 0)
    for name, tally in (("sent", decodes.sent), ("nothing sent", decodes.nothing_sent)):
        k, n = tally.n_false_trials, tally.n_scored
        exact = clopper_pearson(k, n, 0.95)
        bound = upper_bound_for_none(n) if k == 0 else exact.high
        print(f"\n{name}: {k} slots with a false decode in {n}; 95 % upper bound {bound:.1e}")
        assert bound < 1e-3
