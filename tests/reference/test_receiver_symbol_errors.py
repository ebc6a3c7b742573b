"""Symbol error rates of the receiver's own symbol spectra against closed forms.

Plain orthogonal 8-FSK (no shaping of the frequency) through white noise, each symbol decided for
its strongest cell. The closed forms are textbook results (FACTS E1, E3: formulas from memory,
derivation of E1 found in "Computing the symbol error rate of m-FSK", 12/2021; the values were
confirmed there by an independent simulation).
"""

import numpy as np
import pytest
from scipy.stats import binomtest

from closed_forms import TONE_JAMMER, WHITE_NOISE
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.framing import framing_of
from solidcopy.receivers.builtin.narrow_band import (
    N_PROBE,
    PAD_SYMBOLS,
    build_tuner,
    symbol_spectra,
)

N_TRANSMISSIONS = 150
N_SYMBOLS = 79


@pytest.fixture(scope="module")
def tuner():
    return build_tuner(framing_of(mode_named("ft8")), 1.0 / 16.0)


def plain_tones(tones):
    """Orthogonal tones of amplitude 1 at the band's rate, phase running on."""
    steps = np.repeat(tones, N_PROBE) / N_PROBE
    return np.exp(2j * np.pi * (np.cumsum(steps) - steps))


def symbol_errors(tuner, rng, *, es_n0_db, jammer_db=None):
    """Count of wrong symbols among N_TRANSMISSIONS * N_SYMBOLS.

    The band has white noise of power N_PROBE a sample, so a cell (a mean over N_PROBE samples)
    has noise power 1, and a tone of power Es/N0 a sample gives a cell of Es/N0.
    """
    n_errors = 0
    padding = np.zeros(PAD_SYMBOLS * N_PROBE)
    for _ in range(N_TRANSMISSIONS):
        tones = rng.integers(0, 8, N_SYMBOLS)
        n = N_SYMBOLS * N_PROBE
        noise = rng.standard_normal((2, n)) * np.sqrt(N_PROBE / 2)
        band = noise[0] + 1j * noise[1]
        phase = np.exp(2j * np.pi * rng.random())
        band += phase * 10 ** (es_n0_db / 20) * plain_tones(tones)
        if jammer_db is not None:
            other = (tones + rng.integers(1, 8, N_SYMBOLS)) % 8
            turned = np.repeat(np.exp(2j * np.pi * rng.random(N_SYMBOLS)), N_PROBE)
            band += turned * 10 ** (jammer_db / 20) * plain_tones(other)
        band = np.concatenate([padding, band, padding]).astype(np.complex64)
        spectra = symbol_spectra(band, tuner, tuner.first_grid, start_s=0.0, error_hz=0.0)
        n_errors += int(np.count_nonzero(np.abs(spectra).argmax(axis=1) != tones))
    return n_errors


def assert_rate(n_errors, expected):
    """The expected rate lies inside the exact 99.9 % interval of the count.

    With eleven points and 99.9 % each, a correct receiver fails one run in a hundred at most; the
    seed is fixed. At 11 850 symbols the interval is ±1.5 points wide at a rate of 0.5.
    """
    interval = binomtest(n_errors, N_TRANSMISSIONS * N_SYMBOLS).proportion_ci(0.999, "exact")
    assert interval.low <= expected <= interval.high


@pytest.mark.authority  # FACTS E1, closed form of non-coherent orthogonal 8-FSK
@pytest.mark.parametrize(("es_n0_db", "expected"), WHITE_NOISE)
def test_white_noise(tuner, es_n0_db, expected):
    rng = np.random.default_rng(100 + es_n0_db)
    assert_rate(symbol_errors(tuner, rng, es_n0_db=es_n0_db), expected)


@pytest.mark.authority  # FACTS E3, closed form with a tone jammer on one other tone
@pytest.mark.parametrize(("es_n0_db", "jammer_db", "expected"), TONE_JAMMER)
def test_tone_jammer_on_another_tone(tuner, es_n0_db, jammer_db, expected):
    rng = np.random.default_rng(200 + es_n0_db + jammer_db)
    n_errors = symbol_errors(tuner, rng, es_n0_db=es_n0_db, jammer_db=jammer_db)
    assert_rate(n_errors, expected)
