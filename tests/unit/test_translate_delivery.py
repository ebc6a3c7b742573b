"""Repeats and exchanges: closed forms and the chain against plain simulation, runs by hand."""

import numpy as np
import pytest

from solidcopy.translate.repeats import (
    ORDINARY,
    attempts_for,
    attempts_within,
    exchange_within,
    slots_of_attempts,
    within_attempts,
)
from solidcopy.translate.runs import Runs, slots_taken

N_SIMULATED = 20_000


def simulated_exchange(p: list[float], n_slots: int) -> np.ndarray:
    """Share of exchanges over within each number of slots: one by one, slot by slot."""
    draw = np.random.default_rng(5)
    over = np.zeros(n_slots)
    for luck in draw.random((N_SIMULATED, n_slots)):
        waiting_for = 0
        for slot in range(n_slots):
            sender_is_first = slot % 2 == 0
            is_from_first = waiting_for % 2 == 0
            if sender_is_first == is_from_first and luck[slot] < p[waiting_for]:
                waiting_for += 1
            if waiting_for == len(p):
                over[slot:] += 1
                break
    return over / N_SIMULATED


@pytest.mark.derived
@pytest.mark.parametrize(
    "p",
    [[0.5] * 5, [0.9, 0.4, 0.9, 0.4, 0.9], [0.2], [0.35, 0.8]],
    ids=["even", "uneven", "1", "2"],
)
def test_chain_of_an_exchange_against_simulation(p) -> None:
    chain = exchange_within([np.array(one) for one in p], 20)
    # Four standard deviations of a simulated share.
    assert np.abs(chain - simulated_exchange(p, 20)).max() < 4.0 * 0.5 / np.sqrt(N_SIMULATED)


@pytest.mark.derived
def test_chain_in_closed_form() -> None:
    # Every message at once: the product; one message: repeats in every second slot.
    p = np.array([0.3, 0.8])
    assert exchange_within([p] * 5, 5)[-1] == pytest.approx(p**5)
    over = exchange_within([p], 9)
    for n in (1, 2, 3, 4, 5):
        assert over[slots_of_attempts(n) - 1] == pytest.approx(within_attempts(p, n))
    assert ORDINARY.n_messages == 5


@pytest.mark.derived
def test_repeats() -> None:
    assert within_attempts(np.array([0.0, 0.5, 1.0]), 3) == pytest.approx([0.0, 0.875, 1.0])
    assert (attempts_for(0.5, 0.9), attempts_for(0.9, 0.9), attempts_for(0.0, 0.9)) == (4, 1, None)
    assert attempts_for(0.5, 0.875) == 3
    # 10 minutes hold 40 slots of 15 s: every second one is ours.
    assert [attempts_within(s, 15.0) for s in (14.9, 15.0, 44.9, 45.0, 600.0)] == [0, 1, 1, 2, 20]
    assert attempts_within(60.0, 7.5) == 4


@pytest.mark.derived
def test_slots_of_written_out_exchanges() -> None:
    decoded = np.array(
        [
            [1, 1, 1, 1, 1, 1, 1],  # each at once: three messages in three slots
            [0, 1, 1, 0, 1, 1, 1],  # lost, (not its turn), through; lost, -, through, through
            [0, 0, 0, 0, 0, 0, 0],
        ],
        bool,
    )
    assert slots_taken(decoded, 3).tolist() == [3, 7, 8]


def gilbert(n_runs: int, n_slots: int, draw: np.random.Generator) -> np.ndarray:
    """Runs of a path that stays good or bad for a while: decoded or not in each slot."""
    is_good = draw.random(n_runs) < 0.5
    flags = np.empty((n_runs, n_slots), bool)
    for slot in range(n_slots):
        is_good ^= draw.random(n_runs) < 0.08
        flags[:, slot] = is_good & (draw.random(n_runs) < 0.95)
    return flags


@pytest.mark.derived
def test_runs_foretell_what_independence_does_not() -> None:
    draw = np.random.default_rng(6)
    measured, later = gilbert(300, 12, draw), gilbert(N_SIMULATED, 12, draw)
    flags = (measured.ravel(), np.ones(measured.size, bool))
    runs = Runs({-18.0: flags}, 12)
    assert runs.most_attempts == 6
    alone = runs.attempts(1).share[0]
    for n in (2, 4):
        points = runs.attempts(n)
        truth = later[:, : slots_of_attempts(n) : 2].any(axis=1).mean()
        error = np.sqrt(truth * (1 - truth) * points.clustering.inflation / int(points.n_scored[0]))
        assert abs(points.share[0] - truth) < 3.5 * error
        assert 1.0 - (1.0 - alone) ** n - truth > 5.0 * error  # independence promises too much
    over = runs.exchange(5, 12).share[0]
    truth = (slots_taken(later, 5) <= 12).mean()
    assert over == pytest.approx(truth, abs=0.1)  # 300 runs: 0.029 of standard deviation


@pytest.mark.derived
def test_windows_with_a_failed_trial_and_torn_runs_are_left_out() -> None:
    decoded = np.array([1, 0, 0, 0] * 2 + [1, 1], bool)
    scored = np.ones(10, bool)
    scored[5] = False
    runs = Runs({0.0: (decoded, scored)}, 4)
    points = runs.attempts(2)  # windows of 3: two in the first run, none whole in the second
    assert (int(points.n_decoded[0]), int(points.n_scored[0])) == (1, 2)
    with pytest.raises(ValueError, match="hold no window"):
        runs.attempts(3)
