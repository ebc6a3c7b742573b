"""Several sources of noise together: by the statistical method of ITU-R P.372, Part 7."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from solidcopy import units

C = 10.0 / math.log(10.0)
"""exp(F / C) is the power ratio of F dB."""


@dataclass(frozen=True, slots=True)
class LogNormal:
    """A noise whose power in dB is normally distributed."""

    median_db: float
    sigma_db: float


def power_sum_db(levels_db: Sequence[float]) -> float:
    """dB of the sum of powers."""
    return units.db_from_ratio(sum(units.ratio_from_db(level) for level in levels_db))


def together(sources: Sequence[LogNormal]) -> LogNormal:
    """The log-normal law with the mean and the variance of the sum of independent powers.

    With F the median and σ the standard deviation of each source in dB, c = 10 / ln 10:
    α = Σ exp(F/c + σ²/2c²), β = Σ exp(2F/c + σ²/c²) (exp(σ²/c²) − 1),
    σT = c √ln(1 + β/α²), FT = c (ln α − σT²/2c²).

    A sum of log-normal powers is not log-normal. The fit follows the rare strong part: where σ is
    above about 6 dB and no source leads, the median comes out too low (docs/accuracy.md).

    Source: P.372-17, Part 7, equations (18) to (26) as restated in FACTS C1; β is not given there
        and was derived here as the variance of the sum.
    """
    if not sources:
        raise ValueError("at least one source of noise is needed")
    parts = [(units.ratio_from_db(s.median_db), (s.sigma_db / C) ** 2) for s in sources]
    alpha = sum(power * math.exp(variance / 2.0) for power, variance in parts)
    beta = sum(p * p * math.exp(variance) * math.expm1(variance) for p, variance in parts)
    sigma_squared = math.log1p(beta / alpha**2)
    return LogNormal(
        units.db_from_ratio(alpha) - C * sigma_squared / 2.0, C * math.sqrt(sigma_squared)
    )
