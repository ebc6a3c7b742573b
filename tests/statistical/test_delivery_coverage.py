"""`make validate`: whether 95 % intervals of delivery hold the truth, in simulated campaigns.

Trials that stand alone follow a cumulative normal. Those in runs meet a Rayleigh amplitude that
wanders from slot to slot, with the receiver's own curve in each slot. The truth is worked out from
the law, or counted in 20 000 runs.
"""

from collections.abc import Iterator

import numpy as np
import pytest
from scipy import special

from solidcopy.statistics.curve import Curve, fit_curve
from solidcopy.statistics.points import Points
from solidcopy.translate.chances import AloneChances, Chances, RunChances
from solidcopy.translate.curve_draws import N_DRAWS, draw_curves
from solidcopy.translate.delivery import at_level
from solidcopy.translate.repeats import exchange_within
from solidcopy.translate.runs import Runs

pytestmark = pytest.mark.sweep

N_MESSAGES = 5
SCALE_DB = 0.65
"""Of the receiver's own curve (FACTS A10)."""
LEVELS = np.arange(-24.0, -15.0)
FADING_LEVELS = np.arange(-26.0, -9.0, 2.0)
RUN_SLOTS = 20
MEMORY = 0.75
"""Correlation of the fading amplitude from slot to slot."""


def alone_campaigns(n_campaigns: int, n_trials: int, draw) -> Iterator[AloneChances]:
    p = special.ndtr((LEVELS + 20.8) / SCALE_DB)
    for _ in range(n_campaigns):
        points = Points(LEVELS, draw.binomial(n_trials, p), np.full(LEVELS.size, n_trials))
        curve = fit_curve(points)
        assert isinstance(curve, Curve)
        yield AloneChances(draw_curves(curve, draw))


def faded_flags(level: float, n_runs: int, draw) -> np.ndarray:
    """(n_runs, RUN_SLOTS) decoded or not."""
    gain = np.empty((n_runs, RUN_SLOTS), complex)
    fresh = (draw.standard_normal((2, n_runs, RUN_SLOTS)) / np.sqrt(2.0)).astype(float)
    steps = fresh[0] + 1j * fresh[1]
    gain[:, 0] = steps[:, 0]
    for slot in range(1, RUN_SLOTS):
        gain[:, slot] = MEMORY * gain[:, slot - 1] + np.sqrt(1.0 - MEMORY**2) * steps[:, slot]
    snr = level + 10.0 * np.log10(np.abs(gain) ** 2)
    return draw.random(gain.shape) < special.ndtr((snr + 20.8) / SCALE_DB)


def runs_of(n_runs: int, draw) -> Runs:
    flags = {level: faded_flags(level, n_runs, draw).ravel() for level in FADING_LEVELS}
    scored = np.ones(n_runs * RUN_SLOTS, bool)
    return Runs({level: (own, scored) for level, own in flags.items()}, RUN_SLOTS)


def held(
    chances: Chances, level: float, truths: dict[tuple[int, int], float]
) -> dict[tuple[int, int], bool]:
    """Whether each question's interval holds the truth; a question: attempts, or 0 and slots."""
    found = {}
    for (n_attempts, n_slots), truth in truths.items():
        rule = chances.attempts(n_attempts) if n_attempts else chances.exchange(N_MESSAGES, n_slots)
        ends = at_level(rule, level, chances.n_draws)
        found[n_attempts, n_slots] = ends.holds(truth)
    return found


def coverage(outcomes: list[dict[tuple[int, int], bool]]) -> dict[tuple[int, int], float]:
    return {key: float(np.mean([one[key] for one in outcomes])) for key in outcomes[0]}


def alone_truths(level: float) -> dict[tuple[int, int], float]:
    p = float(special.ndtr((level + 20.8) / SCALE_DB))
    truths = {(n, 0): 1.0 - (1.0 - p) ** n for n in (1, 2, 5)}
    chain = exchange_within([np.array(p)] * N_MESSAGES, 20)
    return truths | {(0, n): float(chain[n - 1]) for n in (9, 19)}


def run_truths(level: float, draw) -> dict[tuple[int, int], float]:
    runs = Runs({level: (faded_flags(level, 20_000, draw).ravel(), np.ones(400_000, bool))}, 20)
    truths = {(n, 0): float(runs.attempts(n).share[0]) for n in (1, 2, 5)}
    return truths | {(0, n): float(runs.exchange(N_MESSAGES, n).share[0]) for n in (9, 19)}


def printed(name: str, found: dict[tuple[int, int], float], truths) -> None:
    print(f"\n{name}")
    for key, share in found.items():
        what = f"{key[0]} attempts" if key[0] else f"contact in {key[1]} slots"
        print(f"  {what} (truth {truths[key]:.3f}): {100.0 * share:.1f} %")


@pytest.mark.parametrize("n_trials", [30, 100])
@pytest.mark.parametrize("level", [-22.0, -21.0, -20.0])
def test_alone(level: float, n_trials: int) -> None:
    draw, truths = np.random.default_rng(22), alone_truths(level)
    n = 500
    found = coverage([held(c, level, truths) for c in alone_campaigns(n, n_trials, draw)])
    printed(f"alone, {n_trials} trials a point, level {level:g} dB", found, truths)
    assert min(found.values()) > 0.90


@pytest.mark.parametrize("n_runs", [20, 60])
@pytest.mark.parametrize("level", [-20.0, -16.0])
def test_runs(level: float, n_runs: int) -> None:
    draw = np.random.default_rng(23)
    truths = run_truths(level, draw)
    outcomes = []
    for _ in range(150):
        chances = RunChances(runs_of(n_runs, draw), "faded", draw, N_DRAWS)
        outcomes.append(held(chances, level, truths))
    found = coverage(outcomes)
    printed(f"{n_runs} runs a point, level {level:g} dB", found, truths)
    assert min(found.values()) > 0.87
