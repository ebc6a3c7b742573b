"""Conversions against the tables of FACTS (sources named beside each)."""

import math

import pytest

from solidcopy import units


@pytest.mark.authority
@pytest.mark.parametrize(
    ("bandwidth_hz", "difference_db"),
    [(500.0, 6.99), (3000.0, -0.79), (5512.5, -3.43), (2400.0, 0.18)],
)
def test_snr_in_other_bandwidths(bandwidth_hz: float, difference_db: float) -> None:
    # 10 lg of the ratio of bandwidths; figures from NEEDS 2 row 1 and FACTS G1.
    converted = units.snr_in_bandwidth(-21.0, to_bandwidth_hz=bandwidth_hz)
    assert converted + 21.0 == pytest.approx(difference_db, abs=0.005)


@pytest.mark.derived
def test_symbol_energy_of_ft8() -> None:
    # FACTS E1: Es/N0 = SNR in 2500 Hz + 26.021 dB for symbols of 0.160 s.
    assert units.es_n0_db(-20.0, symbol_s=0.160) == pytest.approx(6.021, abs=5e-4)
    assert units.snr_from_es_n0(6.021, symbol_s=0.160) == pytest.approx(-20.0, abs=5e-4)


@pytest.mark.derived
def test_bit_energy_of_ft8() -> None:
    # FACTS A10: Shannon's limit Eb/N0 = -1.592 dB at 77 bits in 12.64 s is SNR -27.7 dB.
    assert units.eb_n0_db(-27.74, n_bits=77, duration_s=12.64) == pytest.approx(-1.592, abs=0.02)


@pytest.mark.authority
@pytest.mark.parametrize(
    ("sample_rate_hz", "full_band_db"),
    [(8000, 2.041), (11025, 3.434), (12000, 3.802), (16000, 5.051), (44100, 9.455), (48000, 9.823)],
)
def test_full_band_noise_against_2500_hz(sample_rate_hz: int, full_band_db: float) -> None:
    # FACTS G1: full-band noise is larger than that in 2500 Hz by 10 lg(fs / 5000).
    density = units.noise_density_for_snr(1.0, snr_db=0.0)
    sigma = units.white_noise_sigma(density, sample_rate_hz=sample_rate_hz)
    assert units.db_from_ratio(sigma**2) == pytest.approx(full_band_db, abs=5e-4)


@pytest.mark.derived
def test_full_scale_sine_reads_0_dbfs() -> None:
    assert units.dbfs_from_power(0.5) == 0.0
    assert units.power_from_dbfs(-20.0) == pytest.approx(0.005)
    assert units.peak_dbfs(1.0) == 0.0


def test_silence_is_minus_infinity_and_negative_power_is_refused() -> None:
    assert units.db_from_ratio(0.0) == -math.inf
    with pytest.raises(ValueError, match="negative"):
        units.db_from_ratio(-1.0)
