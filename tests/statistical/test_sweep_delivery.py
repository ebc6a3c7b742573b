"""`make validate`: repeats and whole contacts as foretold by a campaign, against contacts carried
out message by message through the receiver, with chance of their own.

In white noise each attempt stands for itself: the fitted curve and the chain of an exchange
foretell. In fading that outlasts a repeat the runs of the campaign do; the chain is printed beside
them to show what the supposition of independence would promise.
"""

from contextlib import closing
from math import hypot
from pathlib import Path

import numpy as np
import pytest

from real_exchanges import RUN_SLOTS, TEXTS, carried_out, plan_of
from solidcopy.campaigns.engine import EngineSettings, run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.statistics.curve import Curve, fit_curve
from solidcopy.statistics.interval import wilson
from solidcopy.statistics.points import Points
from solidcopy.translate.curve_draws import draw_curves
from solidcopy.translate.repeats import exchange_within, within_attempts
from solidcopy.translate.runs import Runs

pytestmark = pytest.mark.sweep

N_EXCHANGES = 200
ATTEMPTS = (1, 2, 3, 5)
SLOTS = (5, 7, 9, 13, 19)
LIMIT = 3.5
"""Standard errors: of 45 differences one in some 50 such sweeps would lie farther out."""


@pytest.mark.parametrize("snr_db", [-22.0, -21.0])
def test_contacts_in_white_noise(snr_db: float, tmp_path: Path) -> None:
    axis = {"start": -23.5, "stop": -19.5, "step": 0.5}
    stop = {"trials_per_point": 150, "nothing_sent": 0}
    with _measured(plan_of(root_seed=61, axis=axis, stop=stop), tmp_path) as found:
        curve = fit_curve(found.points(0, 0))
    assert isinstance(curve, Curve)
    draws = draw_curves(curve, np.random.default_rng(1))
    p = draws.probability(np.full((draws.n_draws, 1), snr_db))[:, 0]
    plan = plan_of(root_seed=62, axis=axis)
    done = list(carried_out(plan, snr_db, N_EXCHANGES))
    print(f"\nwhite noise, SNR {snr_db:g} dB, {N_EXCHANGES} contacts of {len(TEXTS)} messages")
    for n in ATTEMPTS:
        said = within_attempts(p, n)
        _compare(f"{n} attempts", _spread(said), [one.first <= 2 * n - 1 for one in done])
    over = exchange_within([p] * len(TEXTS), RUN_SLOTS)
    for n in SLOTS:
        _compare(f"contact in {n} slots", _spread(over[n - 1]), [one.whole <= n for one in done])


@pytest.mark.parametrize(("spread_hz", "snr_db"), [(0.01, -19.0), (0.01, -16.0), (0.003, -19.0)])
def test_contacts_in_slow_fading(spread_hz: float, snr_db: float, tmp_path: Path) -> None:
    """Correlation of the amplitude falls to 1/e in 45 s at 0.01 Hz, in 150 s at 0.003 Hz."""
    axis = {"values": [snr_db]}
    stop = {"trials_per_point": 100 * RUN_SLOTS, "nothing_sent": 0}
    with _measured(
        plan_of(spread_hz=spread_hz, root_seed=63, axis=axis, stop=stop), tmp_path
    ) as found:
        side = found.side(0, 0)
    runs = Runs({snr_db: side.by_value[snr_db]}, side.n_together)
    plan = plan_of(spread_hz=spread_hz, root_seed=64, axis=axis)
    done = list(carried_out(plan, snr_db, N_EXCHANGES))
    alone = float(runs.attempts(1).share[0])
    print(
        f"\nfading of {spread_hz:g} Hz, mean SNR {snr_db:g} dB, {N_EXCHANGES} contacts; one "
        f"attempt: {alone:.3f}"
    )
    for n in ATTEMPTS:
        _compare(
            f"{n} attempts", _clustered(runs.attempts(n)), [one.first <= 2 * n - 1 for one in done]
        )
        print(f"    as if independent: {1.0 - (1.0 - alone) ** n:.3f}")
    chain = exchange_within([np.array(alone)] * len(TEXTS), RUN_SLOTS)
    for n in SLOTS:
        points = runs.exchange(len(TEXTS), n)
        _compare(f"contact in {n} slots", _clustered(points), [one.whole <= n for one in done])
        print(f"    as if independent: {chain[n - 1]:.3f}")


def _measured(plan, folder: Path) -> JournalReader:
    with closing(run_campaign(plan, folder, settings=EngineSettings(1))) as stream:
        for _ in stream:
            pass
    return JournalReader(folder)


def _spread(said: np.ndarray) -> tuple[float, float]:
    return float(said.mean()), float(said.std())


def _clustered(points: Points) -> tuple[float, float]:
    """Share and its standard error, windows of a run counted as they hang together."""
    p, n = float(points.share[0]), int(points.n_scored[0])
    return p, float(np.sqrt(max(p * (1.0 - p), 1e-4) / n * points.clustering.inflation))


def _compare(name: str, said: tuple[float, float], done: list[bool]) -> None:
    k, n = sum(done), len(done)
    seen = wilson(k, n, 0.95)
    error = hypot(said[1], np.sqrt(max(said[0] * (1.0 - said[0]), 0.25 / n) / n))
    print(
        f"  {name}: foretold {said[0]:.3f} ± {said[1]:.3f}, carried out {k / n:.3f} "
        f"({seen.low:.3f} to {seen.high:.3f}), {(k / n - said[0]) / error:+.1f} standard errors"
    )
    assert abs(k / n - said[0]) < LIMIT * error
