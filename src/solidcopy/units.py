"""All conversions between dB, power, amplitude, bandwidths and rates. Nothing else takes log10.

Conventions (docs/explanation/snr.md):
- 0 dBFS is the mean power of a sine that touches full scale ±1.0, that is 0.5.
- An SNR is the wanted mean power while transmitting over the noise power in a named bandwidth.
"""

import math

import numpy as np
from numpy.typing import NDArray

REFERENCE_BANDWIDTH_HZ = 2500.0
"""The trade's reference bandwidth for weak-signal modes (docs/sources.md, SNR2500)."""

FULL_SCALE_SINE_POWER = 0.5


def db_from_ratio(power_ratio: float) -> float:
    """10 lg of a power ratio; -inf for 0. Raises ValueError below 0."""
    if power_ratio < 0.0:
        raise ValueError(f"a power ratio cannot be negative: {power_ratio}")
    return 10.0 * math.log10(power_ratio) if power_ratio > 0.0 else -math.inf


def ratio_from_db(level_db: float) -> float:
    """Power ratio of a level in dB."""
    return float(10.0 ** (level_db / 10.0))


def ratios_from_db(levels_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """`ratio_from_db` of many at once, any shape."""
    ratios: NDArray[np.float64] = 10.0 ** (levels_db / 10.0)
    return ratios


def dbfs_from_power(mean_power: float) -> float:
    """Mean power of samples (full scale ±1.0) in dBFS; -inf for silence."""
    return db_from_ratio(mean_power / FULL_SCALE_SINE_POWER)


def db_from_ratios(power_ratios: NDArray[np.float64]) -> NDArray[np.float64]:
    """`db_from_ratio` of many at once, any shape, none below 0."""
    with np.errstate(divide="ignore"):
        levels: NDArray[np.float64] = 10.0 * np.log10(power_ratios)
    return levels


def dbfs_from_powers(mean_powers: NDArray[np.float64]) -> NDArray[np.float64]:
    """`dbfs_from_power` of many at once, any shape; -inf for silence."""
    return db_from_ratios(mean_powers / FULL_SCALE_SINE_POWER)


def power_from_dbfs(power_dbfs: float) -> float:
    """Mean power of samples (full scale ±1.0) that reads `power_dbfs`."""
    return FULL_SCALE_SINE_POWER * ratio_from_db(power_dbfs)


def peak_dbfs(peak: float) -> float:
    """Peak sample in dB relative to full scale (0 = touches ±1.0); -inf for silence."""
    return db_from_ratio(peak * peak)


def noise_density_for_snr(signal_power: float, *, snr_db: float) -> float:
    """One-sided noise density (power per Hz) giving `snr_db` in 2500 Hz beside `signal_power`."""
    return signal_power / ratio_from_db(snr_db) / REFERENCE_BANDWIDTH_HZ


def white_noise_sigma(density_per_hz: float, *, sample_rate_hz: float) -> float:
    """Standard deviation of real white samples whose one-sided density is `density_per_hz`."""
    return math.sqrt(density_per_hz * sample_rate_hz / 2.0)


def snr_in_bandwidth(
    snr_db: float,
    *,
    to_bandwidth_hz: float,
    reference_bandwidth_hz: float = REFERENCE_BANDWIDTH_HZ,
) -> float:
    """The same signal and noise density, quoted in another bandwidth (1 Hz gives C/N0)."""
    return snr_db + db_from_ratio(reference_bandwidth_hz / to_bandwidth_hz)


def es_n0_db(
    snr_db: float, *, symbol_s: float, reference_bandwidth_hz: float = REFERENCE_BANDWIDTH_HZ
) -> float:
    """Energy per symbol over noise density. FT8: SNR in 2500 Hz + 26.021 dB (FACTS E1)."""
    return snr_db + db_from_ratio(reference_bandwidth_hz * symbol_s)


def snr_from_es_n0(es_n0: float, *, symbol_s: float) -> float:
    """Inverse of `es_n0_db`: SNR in 2500 Hz."""
    return es_n0 - db_from_ratio(REFERENCE_BANDWIDTH_HZ * symbol_s)


def eb_n0_db(snr_db: float, *, n_bits: int, duration_s: float) -> float:
    """Energy per information bit over noise density, from an SNR in 2500 Hz."""
    return snr_db + db_from_ratio(REFERENCE_BANDWIDTH_HZ * duration_s / n_bits)
