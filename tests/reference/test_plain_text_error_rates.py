"""Bit error rates of the textbook demodulators against closed forms.

Sources: FACTS E2 (textbook, from memory; confirmed there by simulation): DBPSK ½e^(−γ),
non-coherent orthogonal 2-FSK ½e^(−γ/2). For tones that are not orthogonal: the textbook form with
Marcum's Q (from memory), which at no correlation is the same. For pulses that overlap: derived
beside it.
"""

import math

import numpy as np
import pytest
from scipy.special import i0
from scipy.stats import binomtest, ncx2

from solidcopy.modes.plain_text.psk31 import PSK31
from solidcopy.receivers.textbook.psk31 import GREW, matched, turns_between, without_neighbours
from solidcopy.receivers.textbook.rtty import PER_ELEMENT, tone_powers

SYMBOL_S = 0.022
N_BITS = 60_000
FACTS_E2_DBPSK = [(6.0, 9.333e-3)]
FACTS_E2_FSK = [(6.0, 6.831e-2), (10.0, 3.369e-3)]


def assert_rate(n_errors: int, n: int, expected: float) -> None:
    """The expected rate lies inside the exact 99.9 % interval of the count (seeds are fixed)."""
    interval = binomtest(n_errors, n).proportion_ci(0.999, "exact")
    assert interval.low <= expected <= interval.high


def complex_noise(generator: np.random.Generator, n: int) -> np.ndarray:
    return (generator.standard_normal(n) + 1j * generator.standard_normal(n)) / math.sqrt(2.0)


def fsk_errors(es_n0_db: float, shift_hz: float, seed: int) -> int:
    """Wrong elements of N_BITS: continuous phase, tones `shift_hz` apart, noise of power 1."""
    generator = np.random.default_rng(seed)
    is_space = generator.random(N_BITS) < 0.5
    cycles = np.repeat(is_space, PER_ELEMENT) * shift_hz * SYMBOL_S / PER_ELEMENT
    tones = np.exp(2j * np.pi * (np.cumsum(cycles) - cycles + generator.random()))
    amplitude = math.sqrt(10.0 ** (es_n0_db / 10.0) / PER_ELEMENT)
    channel = amplitude * tones + complex_noise(generator, tones.size)
    mark, space = tone_powers(channel, shift_hz, SYMBOL_S)[:, ::PER_ELEMENT]
    return int(np.count_nonzero((space > mark) != is_space))


def unlike_tones(gamma: float, correlation: float) -> float:
    """Non-coherent 2-FSK, equal energies, tones of that correlation."""
    root = math.sqrt(1.0 - correlation**2)
    a2, b2 = gamma / 2.0 * (1.0 - root), gamma / 2.0 * (1.0 + root)
    marcum = float(ncx2.sf(b2, 2, a2)) if a2 else math.exp(-b2 / 2.0)
    return marcum - 0.5 * math.exp(-(a2 + b2) / 2.0) * float(i0(math.sqrt(a2 * b2)))


@pytest.mark.authority  # FACTS E2
@pytest.mark.parametrize(("es_n0_db", "expected"), FACTS_E2_FSK)
def test_matched_filters_of_rtty_with_orthogonal_tones(es_n0_db: float, expected: float) -> None:
    shift_hz = 4.0 / SYMBOL_S  # four whole turns more in an element: orthogonal
    assert_rate(fsk_errors(es_n0_db, shift_hz, 11), N_BITS, expected)
    assert unlike_tones(10.0 ** (es_n0_db / 10.0), 0.0) == pytest.approx(expected, rel=1e-3)


@pytest.mark.authority  # the textbook form with Marcum's Q, from memory
@pytest.mark.parametrize("es_n0_db", [6.0, 9.0])
def test_matched_filters_of_rtty_170_hz_apart(es_n0_db: float) -> None:
    turns = 170.0 * SYMBOL_S * np.arange(PER_ELEMENT) / PER_ELEMENT
    correlation = abs(np.exp(2j * np.pi * turns).mean())
    assert correlation == pytest.approx(0.068, abs=0.001)  # sin(3.74 pi) / 16 sin(3.74 pi / 16)
    expected = unlike_tones(10.0 ** (es_n0_db / 10.0), correlation)
    assert_rate(fsk_errors(es_n0_db, 170.0, 12), N_BITS, expected)


def psk31_turns(gamma_db: float, n_bits: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Bits, and the turns between symbols behind the taps; gamma is Es/N0 less their cost."""
    generator = np.random.default_rng(seed)
    bits = generator.integers(0, 2, n_bits)
    rate_hz = 500  # 16 samples in a symbol
    baseband = PSK31.keying.baseband(PSK31.keying.tones_of(bits), rate_hz)
    # Mean power of random signs: three quarters of the peak's (FACTS F3), each symbol being 1 or
    # one half; the tolerance is four standard deviations of such a mean.
    assert np.mean(np.abs(baseband) ** 2) == pytest.approx(0.75, abs=1.0 / math.sqrt(n_bits))
    amplitude = math.sqrt(10.0 ** (gamma_db / 10.0) * GREW / (0.75 * 16))
    turned = np.exp(2j * np.pi * 0.37)
    channel = amplitude * baseband * turned + complex_noise(generator, baseband.size)
    symbols = without_neighbours(matched(channel)[16::16][: n_bits + 1])
    return bits, turns_between(symbols)


@pytest.mark.authority  # FACTS E2, at Es/N0 less the cost of the taps
@pytest.mark.parametrize(
    ("gamma_db", "expected"), [FACTS_E2_DBPSK[0], (3.0, 0.5 * math.exp(-1.9953))]
)
def test_differential_detection_of_psk31(gamma_db: float, expected: float) -> None:
    """Of neighbouring symbols with noise of correlation r, sum and difference are independent.

    Their noise powers are 1 + r and 1 − r (of a symbol's), and the phase is taken for the wrong
    one where the part without signal is the larger. With the ratio of an exponential power to a
    Rician one that is (1 − r)/2·e^(−γ) for kept phase and (1 + r)/2·e^(−γ) for a reversal
    (derived here): ½e^(−γ) in the mean, as without correlation.
    """
    bits, turns = psk31_turns(gamma_db, N_BITS, 13)
    is_wrong = (turns.real > 0.0) != (bits == 1)
    assert_rate(int(is_wrong.sum()), N_BITS, expected)
    r = -(0.75 - math.sqrt(0.5)) / 0.25  # of noise behind the taps, at the distance of a symbol
    for bit, sign in ((1, -1.0), (0, 1.0)):
        of_kind = is_wrong[bits == bit]
        assert_rate(int(of_kind.sum()), of_kind.size, expected * (1.0 + sign * r))


@pytest.mark.derived
def test_taps_take_the_neighbours_out_and_cost_a_quarter_of_a_decibel() -> None:
    assert 10.0 * math.log10(GREW) == pytest.approx(0.256, abs=0.001)
    _, turns = psk31_turns(60.0, 500, 14)
    assert np.ptp(np.abs(turns[10:-10])) / np.abs(turns).mean() < 0.02
    noise = without_neighbours(matched(complex_noise(np.random.default_rng(15), 160_000))[::16])
    assert np.mean(np.abs(noise) ** 2) == pytest.approx(GREW, rel=0.05)
