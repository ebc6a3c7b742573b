"""How many trials an answer of a wished precision takes."""

import math

from scipy import special


def trials_for_half_width(
    scale: float, step: float, half_width: float, *, confidence: float = 0.95
) -> int:
    """Trials at each axis value for a 50 % threshold known to ± `half_width`.

    Args:
        scale: standard deviation of the curve, in axis units (the scale of a probit curve).
        step: distance of the axis values; about the scale or less, over the whole rise.
        half_width: wished half width of the interval, axis units.
        confidence: two-sided.
    Returns: n of each axis value, at least 1.
    Source: variance step · scale / (√π · n) of the Spearman–Kärber mean of a normal curve,
        FACTS E5 (verified there by simulation).
    """
    if min(scale, step, half_width) <= 0.0 or not 0.0 < confidence < 1.0:
        raise ValueError("scale, step and half_width must be positive, 0 < confidence < 1")
    z = float(special.ndtri(0.5 + confidence / 2.0))
    return max(1, math.ceil(step * scale / math.sqrt(math.pi) * (z / half_width) ** 2))


def more_trials_needed(half_width: float, n: int, target: float) -> int:
    """About how many trials more bring an interval from its half width to the target.

    Args:
        half_width: of the present interval, from `n` trials (of one point or of all).
        n: trials so far, >= 1.
        target: wished half width, > 0.
    Returns: further trials, spread like the ones so far; 0 if the target is met.
    Source: half widths shrink with 1/√n; derived here.
    """
    if half_width < 0.0 or target <= 0.0 or n < 1:
        raise ValueError(f"impossible: half width {half_width}, target {target}, n {n}")
    return max(0, math.ceil(n * (half_width / target) ** 2) - n)
