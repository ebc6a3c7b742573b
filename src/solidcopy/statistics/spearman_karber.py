"""A threshold without a curve: the Spearman–Kärber mean."""

import numpy as np

from solidcopy.statistics.points import Points


def spearman_karber(points: Points) -> tuple[float, float]:
    """Mean of the distribution whose cumulative curve the shares trace, and its standard error.

    A cross-check that assumes no shape: for a symmetric curve without lapses it estimates the
    50 % point. The shares must start at 0 and end at 1, or the tails are missing.

    Args:
        points: at least three axis values, all scored at least twice.
    Returns: mean and standard error, axis units.
    Raises: ValueError if the shares do not start at 0 and end at 1.
    Source: textbook (Spearman, Kärber; from memory); FACTS E5.
    """
    x, share, n = points.values, points.share, points.n_scored
    if x.size < 3 or n.min() < 2 or share[0] != 0.0 or share[-1] != 1.0:
        raise ValueError("the shares must start at 0 and end at 1, with two trials each")
    mean = float(np.sum(np.diff(share) * (x[1:] + x[:-1]) / 2.0))
    half_gaps = (x[2:] - x[:-2]) / 2.0
    inner = share[1:-1]
    variance = np.sum(inner * (1.0 - inner) / (n[1:-1] - 1.0) * half_gaps**2)
    return mean, float(np.sqrt(variance))
