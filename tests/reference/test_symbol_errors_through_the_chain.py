"""Plain 8-FSK through the product's calibrated noise and carrier, against closed forms.

The whole calibration hangs on this: an SNR in 2500 Hz is turned into a noise density, a noise
density into samples, an S/I into a carrier; the detector is the plainest there is (the largest of
eight DFT bins). Sources: FACTS E1 (textbook, derivation found in "Computing the symbol error rate
of m-FSK", 12/2021) and E3 (textbook, from memory, confirmed there by simulation).
"""

import numpy as np
import pytest
from scipy.stats import binomtest

from closed_forms import TONE_JAMMER, WHITE_NOISE
from solidcopy import units
from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.added.gaussian_noise import GaussianNoise
from solidcopy.impairments.impairment import Scene

RATE_HZ, N_SYMBOL, SYMBOL_S = 12_000, 1_920, 0.160
LOWEST_BIN = 240  # 1500 Hz
N_SLOTS = 400
N_IN_SLOT = 93
N_SYMBOLS = N_SLOTS * N_IN_SLOT
SCENE = Scene(RATE_HZ, 15 * RATE_HZ, wanted_audio_hz=1500.0, wanted_width_hz=50.0)
JAMMED_TONE = 5


def symbol_errors(es_n0_db: float, jammer_db: float | None = None) -> int:
    """Wrong decisions among N_SYMBOLS; the jammer, if any, sits on a tone that is not sent."""
    rng = np.random.default_rng(round(1000 + 10 * es_n0_db + (jammer_db or 0.0)))
    noise = GaussianNoise(snr_db=units.snr_from_es_n0(es_n0_db, symbol_s=SYMBOL_S))
    jammer = None
    if jammer_db is not None:
        jammer = Carrier(
            offset_hz=JAMMED_TONE / SYMBOL_S, signal_to_interference_db=es_n0_db - jammer_db
        )
    turn = 2.0 * np.pi * np.arange(N_SYMBOL) / N_SYMBOL
    n_errors = 0
    for _ in range(N_SLOTS):
        tones = rng.integers(0, 8, N_IN_SLOT)
        if jammer is not None:
            tones = (JAMMED_TONE + rng.integers(1, 8, N_IN_SLOT)) % 8
        phases = rng.uniform(0.0, 2.0 * np.pi, N_IN_SLOT)
        heard = np.cos((LOWEST_BIN + tones)[:, None] * turn + phases[:, None])
        for impairment in filter(None, (noise, jammer)):
            made = impairment.synthesise(SCENE, rng)
            power = 0.5 / units.ratio_from_db(impairment.level().level_db)
            scaled = made.samples * np.sqrt(power / made.reference_power)
            heard = heard + scaled[: N_IN_SLOT * N_SYMBOL].reshape(N_IN_SLOT, N_SYMBOL)
        bins = np.abs(np.fft.rfft(heard, axis=1)[:, LOWEST_BIN : LOWEST_BIN + 8])
        n_errors += int(np.count_nonzero(bins.argmax(axis=1) != tones))
    return n_errors


def assert_rate(n_errors: int, expected: float) -> None:
    """Inside the exact 99.9 % interval: of eleven points one in a hundred runs would fail; the
    seeds are fixed."""
    interval = binomtest(n_errors, N_SYMBOLS).proportion_ci(0.999, "exact")
    narrow = binomtest(n_errors, N_SYMBOLS).proportion_ci(0.95, "exact")
    rate = n_errors / N_SYMBOLS
    print(f"{rate:.5f} ({narrow.low:.5f} to {narrow.high:.5f}) against {expected}")
    assert interval.low <= expected <= interval.high


@pytest.mark.authority
@pytest.mark.parametrize(("es_n0_db", "expected"), WHITE_NOISE)
def test_white_noise(es_n0_db: float, expected: float) -> None:
    assert_rate(symbol_errors(es_n0_db), expected)


@pytest.mark.authority
@pytest.mark.parametrize(("es_n0_db", "jammer_db", "expected"), TONE_JAMMER)
def test_carrier_on_another_tone(es_n0_db: float, jammer_db: float, expected: float) -> None:
    assert_rate(symbol_errors(es_n0_db, jammer_db), expected)
