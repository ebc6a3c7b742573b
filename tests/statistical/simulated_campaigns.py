"""Campaigns drawn from known curves, and whether their intervals hold what was put in.

Two ways to count coverage: thresholds by asking whether the likelihood accepts the true one, which
thousands of campaigns can be asked at once; all else by the printed interval.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special, stats

from solidcopy.campaigns.placing import placed
from solidcopy.campaigns.precision import is_precise
from solidcopy.campaigns.stop import looks, n_asked
from solidcopy.statistics.comparison import Penalty, penalty
from solidcopy.statistics.duel import threshold_difference
from solidcopy.statistics.fit import fit_many
from solidcopy.statistics.model import CurveModel
from solidcopy.statistics.pairs import PairedPoint, PairedTrials
from solidcopy.statistics.points import Points
from solidcopy.statistics.scoring import Counts
from solidcopy.statistics.sequential import Lead, count_discordant, decide
from solidcopy.statistics.shapes import shape_of
from solidcopy.statistics.threshold import Threshold, read_threshold
from solidcopy.statistics.through import fit_through
from solidcopy.trials.curve_shape import CurveShape
from solidcopy.trials.stop_rule import StopRule

VALUES = np.arange(-27.0, -14.5, 1.0)
"""Axis of the fixed plans; the 50 % point lies somewhere between -21.5 and -20.5."""
PLACES = np.arange(-27.0, -14.9, 0.5)
"""The unknown range of 12 dB."""
CHI_2 = stats.chi2.ppf(0.95, 1)
MOST_PER_POINT = 4000
AT_MOST = 8000
DUEL_AT_MOST = 400


@dataclass(frozen=True)
class Truth:
    """What a receiver really does."""

    name: str
    form: str = "probit"
    scale: float = 0.8
    lapse: float = 0.0

    def share(self, above):
        """Of messages decoded at so many dB above the midpoint."""
        shape = shape_of(self.form)
        return (1.0 - self.lapse) * shape.evaluate(shape.clipped(above / self.scale))[0]

    def quantile(self, p):
        """dB above the midpoint where the share p is decoded."""
        return self.scale * float(shape_of(self.form).z(p / (1.0 - self.lapse)))


STEEP = Truth("steep (0.3 dB)", scale=0.3)
USUAL = Truth("as a receiver (0.8 dB)")
SHALLOW = Truth("shallow (2 dB)", scale=2.0)
LAPSING = Truth("lapse 3 % (0.8 dB)", lapse=0.03)
TRUTHS = (STEEP, USUAL, SHALLOW, LAPSING)


def thresholds_held(truth, *, n, p, n_campaigns, generator, values=VALUES):
    """(n_campaigns,) whether each likelihood accepts the true threshold."""
    midpoint = -21.5 + generator.uniform(0.0, 1.0, n_campaigns)
    k = generator.binomial(n, truth.share(values - midpoint[:, None]))
    model = CurveModel("probit")
    fits = fit_many(values, np.full(values.size, n), k, model)
    counts = Counts(np.full(k.shape, float(n)), k.astype(float))
    at = (midpoint + truth.quantile(p), np.full(n_campaigns, p))
    through = fit_through(values, counts, at, model)
    return 2.0 * (fits.log_likelihood - through) <= CHI_2


@dataclass(frozen=True)
class Pairing:
    """How two sides meet the same trials."""

    shift: float = 0.5
    """By which b needs more than a."""
    shared: float = 0.8
    """Part of the luck's variance that both have in common."""
    n_together: int = 1
    """Trials in a row with one and the same luck on either side."""


def paired_trials(truth, pairing, *, n, generator, values=VALUES):
    """Both sides of one campaign, and the threshold of side a."""
    midpoint = -21.5 + generator.uniform(0.0, 1.0)
    shape = (values.size, -(-n // pairing.n_together))
    own = generator.normal(size=(2, *shape)) * np.sqrt(1.0 - pairing.shared)
    luck = special.ndtr(own + np.sqrt(pairing.shared) * generator.normal(size=shape))
    luck = np.repeat(luck, pairing.n_together, axis=2)[:, :, :n]
    run = np.full(n, True)
    points = []
    for place, value in enumerate(values):
        decoded = [
            luck[side, place] < truth.share(value - midpoint - side * pairing.shift)
            for side in (0, 1)
        ]
        points.append(PairedPoint(float(value), *decoded, run, run))
    n_row = pairing.n_together
    return PairedTrials(tuple(points), n_together=(n_row, n_row)), midpoint


def penalty_held(truth, pairing, *, n, p, generator):
    """Whether the interval holds the shift; None without an interval."""
    trials, _ = paired_trials(truth, pairing, n=n, generator=generator)
    found = penalty(trials, p=p)
    return found.interval.holds(pairing.shift) if isinstance(found, Penalty) else None


def duel_held(truth, pairing, *, n, p, generator):
    """The same for the difference that a duel states."""
    trials, _ = paired_trials(truth, pairing, n=n, generator=generator)
    found = threshold_difference(trials, p=p)
    return found.interval.holds(pairing.shift) if isinstance(found, Penalty) else None


def at_looks(trials, n):
    """The first n trials of each point."""
    cut = [
        PairedPoint(p.value, p.decoded_a[:n], p.decoded_b[:n], p.scored_a[:n], p.scored_b[:n])
        for p in trials.points
    ]
    return PairedTrials(tuple(cut), n_together=trials.n_together)


def run_until_decided(trials, *, at_most=DUEL_AT_MOST, risk=0.05):
    """The trials seen when a campaign stops, and who leads."""
    step = -(-10 // trials.n_together[0]) * trials.n_together[0]
    leads = {}

    def is_decided(n):
        leads[n] = decide(*count_discordant(at_looks(trials, n)), risk=risk).lead
        return leads[n] is not Lead.OPEN

    n, _ = n_asked(looks(at_most, step), is_decided)
    return at_looks(trials, n), leads[n]


def decided_held(truth, pairing, *, p, generator):
    """Whether the interval of the shift holds it, of a campaign that stopped once decided."""
    trials, _ = paired_trials(truth, pairing, n=DUEL_AT_MOST, generator=generator)
    found = threshold_difference(run_until_decided(trials)[0], p=p)
    return found.interval.holds(pairing.shift) if isinstance(found, Penalty) else None


class Drawn:
    """A single curve somewhere in the middle 8 dB of the unknown range, trial by trial."""

    def __init__(self, truth, generator):
        self.midpoint = float(generator.uniform(-25.0, -17.0))
        share = truth.share(PLACES - self.midpoint)
        drawn = generator.random((PLACES.size, MOST_PER_POINT), dtype=np.float32)
        decoded = drawn < share[:, None]
        self.n_decoded = np.cumsum(decoded, axis=1)

    def points(self, n_at):
        """Counts of the first trials of each value."""
        n = np.minimum(np.array(list(n_at.values())), MOST_PER_POINT)
        k = np.where(n > 0, self.n_decoded[np.arange(n.size), np.maximum(n, 1) - 1], 0)
        return Points(PLACES, k, n)


def run_placed(drawn, rule):
    """The counts of an adaptively placed campaign when it stops."""
    values = tuple(PLACES.tolist())
    n_at, _ = placed(values, rule, CurveShape(), drawn.points)
    return drawn.points(n_at)


def run_even(drawn, rule, *, step):
    """The same where each value gets as many trials, looked at every `step` of them."""
    values = tuple(PLACES.tolist())

    def points(n):
        return drawn.points(dict.fromkeys(values, n))

    n, _ = n_asked(looks(MOST_PER_POINT, step), lambda n: is_precise(points(n), rule, CurveShape()))
    return points(n)


def precision(half_width, p):
    """A rule that asks for it."""
    return StopRule(threshold_half_width_db=half_width, p=p, at_most=AT_MOST)


def placed_held(truth, *, half_width, p, generator):
    """Whether the interval holds the threshold after adaptive placement."""
    drawn = Drawn(truth, generator)
    return _held(run_placed(drawn, precision(half_width, p)), drawn, truth, p)


def even_held(truth, *, half_width, p, generator):
    """The same after even placement, stopped once precise."""
    drawn = Drawn(truth, generator)
    return _held(run_even(drawn, precision(half_width, p), step=50), drawn, truth, p)


def _held(points, drawn, truth, p):
    found = read_threshold(points, p=p)
    if not isinstance(found, Threshold):
        return None
    return found.interval.holds(drawn.midpoint + truth.quantile(p))
