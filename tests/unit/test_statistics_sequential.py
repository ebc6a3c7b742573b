"""Decisions that may be looked at after every trial: exact error rates, and quadrature."""

import numpy as np
import pytest
from scipy import integrate, stats

from solidcopy.statistics import sequential
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.statistics.pairs import PairedPoint, PairedTrials
from solidcopy.statistics.sequential import (
    CONCENTRATION,
    Lead,
    count_discordant,
    decide,
    decision_odds,
    least_to_decide,
    log_capital,
)


@pytest.mark.authority
@pytest.mark.parametrize("risk", [0.01, 0.05, 0.2])
def test_ever_being_wrong_is_as_rare_as_ville_says(risk):
    # J. Ville, 1939 (from memory): a fair capital ever reaches 1/r with probability at most r.
    equal = decision_odds(0.5, 1500, risk=risk)
    assert equal.p_a[-1] == pytest.approx(equal.p_b[-1])
    assert 0.3 * risk < equal.p_a[-1] + equal.p_b[-1] <= risk
    # A side that is worse is called better less often still.
    assert decision_odds(0.45, 1500, risk=risk).p_a[-1] < equal.p_a[-1] <= risk / 2.0


@pytest.mark.authority
@pytest.mark.parametrize(("n_for", "n_against"), [(9, 0), (14, 5), (3, 8), (0, 4)])
@pytest.mark.parametrize("share", [0.2, 0.5, 0.7])
def test_capital_is_the_mean_of_bets(n_for, n_against, share):
    # scipy's quadrature over its Beta density in place of the closed form.
    prior = stats.beta(CONCENTRATION, CONCENTRATION)

    def won(theta):
        ratio = (theta / share) ** n_for * ((1.0 - theta) / (1.0 - share)) ** n_against
        return prior.pdf(theta) * ratio

    expected = integrate.quad(won, share, 1.0)[0] / prior.sf(share)
    assert log_capital(n_for, n_against, share) == pytest.approx(np.log(expected), abs=1e-7)


@pytest.mark.derived
@pytest.mark.parametrize("share", [0.3, 0.5])
def test_bets_are_fair(share):
    """The mean capital after one trial more is the capital before."""
    for n_for, n_against in ((0, 0), (7, 2), (40, 60), (300, 200)):
        now = np.exp(log_capital(n_for, n_against, share))
        after = share * np.exp(log_capital(n_for + 1, n_against, share))
        after += (1.0 - share) * np.exp(log_capital(n_for, n_against + 1, share))
        assert after == pytest.approx(now, rel=1e-9)


@pytest.mark.derived
def test_capital_stays_finite_far_in_the_tail():
    """Beyond what floats hold, against a sum of logarithms on a grid."""
    n_for, n_against, share = 3000, 90_000, 0.9
    theta = share + (1.0 - share) * (np.arange(2_000_000) + 0.5) / 2_000_000
    prior = stats.beta(CONCENTRATION, CONCENTRATION)
    logs = n_for * np.log(theta / share) + n_against * np.log((1.0 - theta) / (1.0 - share))
    logs += prior.logpdf(theta) - prior.logsf(share)
    top = logs.max()
    expected = top + np.log(np.exp(logs - top).mean() * (1.0 - share))
    assert log_capital(n_for, n_against, share) == pytest.approx(expected, abs=0.02)


def test_interval_and_decision_agree():
    for n_a, n_b in ((0, 3), (9, 0), (8, 0), (30, 10), (31, 9), (120, 80), (80, 120), (1, 0)):
        found = decide(n_a, n_b)
        assert (found.lead is not Lead.OPEN) == (not found.share_a.holds(0.5))
        assert (found.lead is not Lead.OPEN) == (found.p_value <= 0.05)
        assert found.share_a.holds(n_a / (n_a + n_b))
        mirrored = decide(n_b, n_a)
        assert mirrored.share_a.low == pytest.approx(1.0 - found.share_a.high)
    assert decide(30, 5).lead is Lead.A_BETTER
    assert decide(5, 30).lead is Lead.B_BETTER
    assert isinstance(decide(0, 0).share_a, NoEvidence)
    assert decide(0, 0).lead is Lead.OPEN


def test_the_least_count_is_least():
    for n in (3, 10, 57, 400):
        least = least_to_decide(n)
        if least <= n:
            assert decide(least, n - least).lead is Lead.A_BETTER
        assert decide(least - 1, n - least + 1).lead is Lead.OPEN


@pytest.mark.derived
def test_odds_agree_with_simulated_duels():
    generator = np.random.default_rng(401)
    n_most, n_duels, share = 120, 4000, 0.65
    wins = np.cumsum(generator.random((n_duels, n_most)) < share, axis=1)
    n = np.arange(1, n_most + 1)
    least = np.array([least_to_decide(int(i)) for i in n])
    is_decided = (wins >= least) | (n - wins >= least)
    first = np.where(is_decided.any(axis=1), is_decided.argmax(axis=1) + 1, n_most)
    odds = decision_odds(share, n_most)
    p = odds.p_a[-1] + odds.p_b[-1]
    scatter = np.sqrt(p * (1.0 - p) / n_duels)
    assert is_decided.any(axis=1).mean() == pytest.approx(p, abs=4.0 * scatter)
    assert first.mean() == pytest.approx(odds.mean_n, abs=4.0 * first.std() / np.sqrt(n_duels))


@pytest.mark.derived
def test_interval_holds_the_share_at_all_looks_at_once():
    generator = np.random.default_rng(402)
    needed = np.log(2.0 / 0.05)
    for share in (0.5, 0.8):
        n_left_out = 0
        for _ in range(100):
            wins = np.cumsum(generator.random(100) < share)
            n_left_out += any(
                max(log_capital(a, n - a, share), log_capital(n - a, a, 1.0 - share)) >= needed
                for n, a in enumerate(wins.tolist(), 1)
            )
        assert n_left_out <= 12  # of 100 at most 5 %: 3.2 standard deviations


def flags(text):
    return np.array([letter == "1" for letter in text])


@pytest.mark.derived
def test_groups_count_once():
    run = flags("111111")
    point = PairedPoint(0.0, flags("110100"), flags("001100"), run, run)
    assert count_discordant(point) == (2, 1)
    assert count_discordant(point, 3) == (1, 0)  # 2 against 1, then nothing
    one_sided = PairedPoint(1.0, flags("000000"), flags("010010"), run, flags("110111"))
    both = PairedTrials((point, one_sided))
    assert count_discordant(both) == (2, 3)
    grouped = PairedTrials((point, one_sided), n_together=(3, 1))
    assert count_discordant(grouped) == (1, 2)
    unscored = PairedPoint(2.0, flags("1000"), flags("0000"), flags("1111"), flags("0111"))
    assert count_discordant(unscored, 2) == count_discordant(unscored) == (0, 0)


def test_impossible_numbers_are_refused():
    for numbers in ((-1, 0, 0.05), (1, 1, 0.0), (1, 1, 1.0)):
        with pytest.raises(ValueError, match="impossible"):
            decide(*numbers[:2], risk=numbers[2])
    for share, n in ((1.5, 3), (0.5, 0)):
        with pytest.raises(ValueError, match="impossible"):
            sequential.decision_odds(share, n)
