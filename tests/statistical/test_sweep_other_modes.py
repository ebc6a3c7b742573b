"""FT8, FT4, Morse, RTTY and PSK31 on one axis; printed for docs/explanation/other-modes.md."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from mode_comparison import compared, taken
from solidcopy.modes.messages77.drawing import draw_text
from solidcopy.modes.plain_text import ita2, varicode
from solidcopy.statistics.threshold import Threshold, read_curve

pytestmark = [pytest.mark.sweep, pytest.mark.derived]

AXES = {
    "ft8": (-24.0, -23.0, -22.0, -21.0, -20.0, -19.0),
    "ft4": (-20.0, -19.0, -18.0, -17.0, -16.0, -15.0),
    "morse": (-16.0, -15.0, -14.0, -13.0, -12.0, -11.0, -10.0),
    "rtty": (-11.0, -10.0, -9.0, -8.0, -7.0, -6.0, -5.0),
    "psk31": (-15.0, -14.0, -13.0, -12.0, -11.0, -10.0, -9.0),
}
N_EACH = 150
N_SILENT = 100

PLACING_DB = 0.6
"""What finding start and frequency may cost, against a receiver that knows them (ours)."""


def known_place_db(mode: str) -> float:
    """SNR for half of the texts by the closed forms of FACTS E2, start and frequency known.

    All elements of a text must be right, shifts and gaps included, new lines left out. Es/N0 is
    SNR + 17.40 dB (RTTY) or + 19.03 dB (PSK31) by FACTS E1, of PSK31 0.26 dB less for pulses that
    overlap (derived in tests/reference/test_plain_text_error_rates.py).
    """
    generator = np.random.default_rng(1)
    texts = [draw_text(generator) for _ in range(400)]
    if mode == "rtty":
        n_bits = np.array([5 * ita2.combinations_of(text).size for text in texts])
        offset_db, exponent = 17.40, 0.5
    else:
        n_bits = np.array([varicode.bits_of(text.lower()).size for text in texts])
        offset_db, exponent = 19.03 - 0.256, 1.0

    def excess(snr_db: float) -> float:
        wrong = 0.5 * math.exp(-exponent * 10.0 ** ((snr_db + offset_db) / 10.0))
        return float(np.mean((1.0 - wrong) ** n_bits)) - 0.5

    return float(brentq(excess, -20.0, 0.0))


def test_modes_on_one_axis() -> None:
    half_db = {}
    for mode, values_db in AXES.items():
        curve, takes = compared(mode, values_db, N_EACH, N_SILENT), taken(mode)
        points = curve.points
        print(f"\n{mode}\nSNR in 2500 Hz, dB | n | whole text | character errors")
        for value, n, k, errors in zip(
            points.values, points.n_scored, points.n_decoded, curve.character_errors, strict=True
        ):
            print(f"{value:6.1f} | {n} | {k} | {100.0 * errors:.1f} %")
        reading = read_curve(points, (0.5, 0.9))
        for p, threshold in reading.thresholds.items():
            assert isinstance(threshold, Threshold), threshold
            ends = threshold.interval
            print(f"{100 * p:.0f} %: {threshold.value:.2f} ({ends.low:.2f} to {ends.high:.2f})")
        half = reading.thresholds[0.5]
        assert isinstance(half, Threshold)
        half_db[mode] = half.value
        energy_db = half.value + 10.0 * math.log10(2500.0 * takes.mean_s)
        print(
            f"{takes.mean_s:.2f} s, {takes.occupied_hz:.0f} Hz, peak over mean "
            f"{takes.peak_over_mean_db:.2f} dB, energy of a text over N0 at 50 % {energy_db:.1f} dB"
            f"; printed in {curve.n_printed_in_noise} of {curve.n_silent} windows of noise",
            flush=True,
        )
    for mode in ("rtty", "psk31"):
        known_db = known_place_db(mode)
        print(f"{mode}: start and frequency known {known_db:.2f} dB, measured {half_db[mode]:.2f}")
        assert known_db - 0.3 < half_db[mode] < known_db + PLACING_DB
    assert half_db["ft8"] < half_db["ft4"] < half_db["morse"] < half_db["rtty"]
