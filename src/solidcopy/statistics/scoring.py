"""Batch maximum likelihood for binomial counts: many small bounded fits at once.

Symbols (R fits, P points, D parameters):
    n, k   (R, P)     trials and events, float64
    theta  (R, D)     parameters, kept inside [lower, upper], each (R, D)
    p, q   (R, P)     probability and 1 − probability, each exact in its own tail
    jac    (R, P, D)  dp/dtheta

Fisher scoring with an active set of bounds and step halving: each step raises the likelihood,
since the expected information is never negative. Source: textbook method, from memory; the
results are held against statsmodels and against a plain search in the tests.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from solidcopy.statistics.shapes import Array

Rows = NDArray[np.intp]
Model = Callable[[Array, Rows], tuple[Array, Array, Array]]
"""(theta of some rows, their row numbers) -> (p, q, jac)."""

HOPELESS = 20.0
"""Times the promised gain; near a maximum a fit gains half of what its next step promises."""

N_STEPS = 40
N_HALVINGS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Counts:
    """Binomial counts of R data sets on the same P axis values."""

    n: Array
    k: Array

    def rows(self, rows: Rows) -> "Counts":
        """Some of the data sets."""
        return Counts(self.n[rows], self.k[rows])

    def log_likelihood(self, p: Array, q: Array) -> Array:
        """(R,) without the binomial coefficients; 0 · log 0 counts as 0."""
        total = special.xlogy(self.k, p) + special.xlogy(self.n - self.k, q)
        return np.asarray(total.sum(axis=-1), np.float64)

    def saturated(self) -> Array:
        """(R,) the largest log-likelihood that any probabilities can reach."""
        share = self.k / np.maximum(self.n, 1.0)
        return self.log_likelihood(share, 1.0 - share)


@dataclass(frozen=True, slots=True, eq=False)
class Bounds:
    """Lower and upper limits of the parameters, each (R, D)."""

    lower: Array
    upper: Array

    def clip(self, theta: Array, rows: Rows) -> Array:
        """Parameters of some rows moved inside their limits."""
        return np.clip(theta, self.lower[rows], self.upper[rows])

    def blocked(self, theta: Array, gradient: Array, rows: Rows) -> NDArray[np.bool_]:
        """Where a parameter sits on a limit and the likelihood pushes it outwards."""
        at_lower = (theta <= self.lower[rows]) & (gradient <= 0.0)
        at_upper = (theta >= self.upper[rows]) & (gradient >= 0.0)
        return np.asarray(at_lower | at_upper)


@dataclass(frozen=True, slots=True)
class Until:
    """Where a fit ends.

    Args:
        small_gain: when its next step promises less log-likelihood than this.
        enough: when it has reached this log-likelihood, or cannot be expected to.
    """

    small_gain: float = 1e-11
    enough: float = np.inf

    def goes_on(self, reached: Array, gain: Array) -> NDArray[np.bool_]:
        """Whether fits that have reached so much, and whose next steps promise so much, go on."""
        going: NDArray[np.bool_] = gain > self.small_gain
        if np.isfinite(self.enough):
            missing = self.enough - reached
            going &= (missing > 0.0) & (missing < HOPELESS * gain)
        return going


TO_THE_END = Until()


def maximise(
    counts: Counts,
    model: Model,
    start: Array,
    bounds: Bounds,
    *,
    until: Until = TO_THE_END,
) -> tuple[Array, Array]:
    """Maximum-likelihood parameters of every data set.

    Args:
        counts: R data sets.
        model: probabilities and their derivatives.
        start: (R, D); moved inside the bounds.
        bounds: limits; a parameter may be held by equal limits.
        until: where fits may end.
    Returns: theta (R, D) and log-likelihood (R,).
    """
    rows = np.arange(len(start))
    theta = bounds.clip(start, rows)
    best = np.empty(len(start))
    p, q, jac = model(theta, rows)
    best[:] = counts.log_likelihood(p, q)
    for _ in range(N_STEPS):
        data = counts.rows(rows)
        step, gain = _step(data, (p, q, jac), theta[rows], rows, bounds)
        going = until.goes_on(best[rows], gain)
        if not going.any():
            break
        moved = _climb(counts, model, (theta, best), (rows[going], step[going]), bounds)
        rows = rows[going][moved]
        if not rows.size:
            break
        p, q, jac = model(theta[rows], rows)
    return theta, best


def _step(
    data: Counts, at: tuple[Array, Array, Array], theta: Array, rows: Rows, bounds: Bounds
) -> tuple[Array, Array]:
    """Scoring step (R, D) and the gain in log-likelihood that it promises (R,)."""
    p, q, jac = at
    pull = data.k / p - (data.n - data.k) / q
    gradient = np.einsum("rp,rpd->rd", pull, jac)
    root = jac * np.sqrt(data.n / (p * q))[..., None]
    information = np.einsum("rpd,rpe->rde", root, root)
    free = ~bounds.blocked(theta, gradient, rows)
    gradient = gradient * free
    information *= free[:, :, None] & free[:, None, :]
    diagonal = np.einsum("rdd->rd", information)
    diagonal += 1e-9 * diagonal + 1e-30 + ~free
    step = np.linalg.solve(information, gradient[..., None])[..., 0]
    return step, np.einsum("rd,rd->r", gradient, step)


def _climb(
    counts: Counts,
    model: Model,
    state: tuple[Array, Array],
    move: tuple[Rows, Array],
    bounds: Bounds,
) -> NDArray[np.bool_]:
    """Take the steps, halved until the likelihood does not fall; changes `state` in place."""
    theta, best = state
    rows, step = move
    moved = np.zeros(rows.size, dtype=np.bool_)
    todo = np.arange(rows.size)
    for halving in range(N_HALVINGS):
        at = rows[todo]
        trial = bounds.clip(theta[at] + step[todo] * 0.5**halving, at)
        p, q, _ = model(trial, at)
        reached = counts.rows(at).log_likelihood(p, q)
        better = reached > best[at]
        theta[at[better]], best[at[better]] = trial[better], reached[better]
        moved[todo[better]] = True
        todo = todo[~better]
        if not todo.size:
            break
    return moved
