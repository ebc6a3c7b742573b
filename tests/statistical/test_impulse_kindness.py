"""At equal mean power, sparse impulses are kinder than Gaussian noise, a periodic train is not.

Source of the order: FACTS D6 (derived by simulation there): plain 8-FSK of 160 ms symbols, Es/N0
6 dB against white noise of the same mean power, symbol error rates of a non-coherent detector.
Its clicks have Gaussian amplitudes, ours are alike, which makes 16 clicks a symbol (100 a second)
as harsh as Gaussian noise. So only the order, the Gaussian figure and the exactly periodic train
can be compared; the values of the others are held against a model of the eight DFT bins alone.
The disturbances are the product's; the detector is the test's.
"""

import itertools

import numpy as np
import pytest
from scipy import stats

from solidcopy import units
from solidcopy.impairments.added.gaussian_noise import GaussianNoise
from solidcopy.impairments.added.impulses import Impulses
from solidcopy.impairments.catalogue import AnyImpairment
from solidcopy.impairments.impairment import Scene

RATE_HZ, N_SYMBOL, N_SLOTS = 12_000, 1_920, 40
LOWEST_BIN = 240  # 1500 Hz, a multiple of 100 Hz
SCENE = Scene(RATE_HZ, 15 * RATE_HZ, wanted_audio_hz=1500.0, wanted_width_hz=50.0)
BACKGROUND_SHARE = 0.01  # FACTS D6: 1 % of the power is Gaussian background


def clicks(rate_per_s: float, timing: str, phase: str) -> Impulses:
    return Impulses.model_validate(
        {
            "rate_per_s": rate_per_s,
            "timing": timing,
            "phase": phase,
            "low_hz": 100.0,
            "high_hz": 5_800.0,
            "signal_to_interference_db": 0.0,
        }
    )


NOISES: dict[str, AnyImpairment] = {
    "Gaussian": GaussianNoise(snr_db=0.0),
    "clicks, 100 a second": clicks(100.0, "random", "random-polarity"),
    "clicks, 20 a second": clicks(20.0, "random", "random-polarity"),
    "clicks, 5 a second": clicks(5.0, "random", "random-polarity"),
    "clicks, 1 a second": clicks(1.0, "random", "random-polarity"),
    "clicks, exactly every 10 ms": clicks(100.0, "periodic", "same"),
}


def symbol_errors(name: str) -> tuple[int, int]:
    """Errors and symbols of plain 8-FSK at Es/N0 6 dB, N0 = mean power / 6000 Hz."""
    noise = NOISES[name]
    rng = np.random.default_rng(606)
    es_over_mean = units.ratio_from_db(6.0) / (RATE_HZ / 2)
    amplitude = np.sqrt(2.0 * es_over_mean / (N_SYMBOL / RATE_HZ))
    phase_of_sample = 2.0 * np.pi * np.arange(N_SYMBOL) / N_SYMBOL
    n_symbols = SCENE.n_samples // N_SYMBOL
    n_errors = 0
    for _ in range(N_SLOTS):
        made = noise.synthesise(SCENE, rng)
        share = 1.0 if name == "Gaussian" else 1.0 - BACKGROUND_SHARE
        mean = made.reference_power if name != "Gaussian" else 1.0
        samples = made.samples * np.sqrt(share / mean)
        samples = samples + np.sqrt(1.0 - share) * rng.standard_normal(SCENE.n_samples)
        tones = rng.integers(0, 8, n_symbols)
        start = rng.uniform(0.0, 2.0 * np.pi, n_symbols)
        sent = amplitude * np.cos((LOWEST_BIN + tones)[:, None] * phase_of_sample + start[:, None])
        heard = samples[: n_symbols * N_SYMBOL].reshape(n_symbols, N_SYMBOL) + sent
        bins = np.abs(np.fft.rfft(heard, axis=1)[:, LOWEST_BIN : LOWEST_BIN + 8])
        n_errors += int(np.count_nonzero(bins.argmax(axis=1) != tones))
    return n_errors, N_SLOTS * n_symbols


@pytest.fixture(scope="module")
def measured() -> dict[str, tuple[int, int]]:
    return {name: symbol_errors(name) for name in NOISES}


@pytest.mark.authority
def test_sparse_impulses_are_kinder_in_the_published_order(
    measured: dict[str, tuple[int, int]],
) -> None:
    names = ["Gaussian", *(f"clicks, {rate} a second" for rate in (20, 5, 1))]
    for harsher, kinder in itertools.pairwise(names):
        table = [
            [measured[name][0], measured[name][1] - measured[name][0]] for name in (harsher, kinder)
        ]
        odds = stats.fisher_exact(table, alternative="greater")
        assert odds.pvalue < 0.01, (harsher, kinder, table)


@pytest.mark.authority
@pytest.mark.parametrize(
    ("name", "published"), [("Gaussian", 0.2355), ("clicks, exactly every 10 ms", 0.869)]
)
def test_published_symbol_error_rates(
    name: str, published: float, measured: dict[str, tuple[int, int]]
) -> None:
    n_errors, n_symbols = measured[name]
    deviation = np.sqrt(published * (1.0 - published) / n_symbols)
    assert abs(n_errors / n_symbols - published) < 3.5 * deviation


def modelled_rate(rate_per_s: float, n_symbols: int, rng: np.random.Generator) -> float:
    """Symbol error rate from a model of the eight bins, one symbol at a time.

    Each of n ~ Poisson clicks puts the same power into every bin, with a phase that runs linearly
    across the bins by its place in the symbol; the background is complex Gaussian. In units where
    Gaussian noise of the whole power has bin power 1, a click has (1 - background) / (clicks per
    symbol) times the band's share: its power lies within 100-5800 Hz, not 0-6000 Hz.
    """
    per_symbol = rate_per_s * N_SYMBOL / RATE_HZ
    in_band = 6_000.0 / (5_800.0 - 100.0)
    amplitude = np.sqrt((1.0 - BACKGROUND_SHARE) * in_band / per_symbol)
    n_clicks = rng.poisson(per_symbol, n_symbols)
    owner = np.repeat(np.arange(n_symbols), n_clicks)
    turns = rng.random(owner.size)[:, None] + rng.random(owner.size)[:, None] * np.arange(8)
    bins = np.sqrt(BACKGROUND_SHARE / 2.0) * (
        rng.standard_normal((n_symbols, 8)) + 1j * rng.standard_normal((n_symbols, 8))
    )
    np.add.at(bins, owner, amplitude * np.exp(2j * np.pi * turns))
    bins[:, 0] += np.sqrt(units.ratio_from_db(6.0))
    return float(np.mean(np.abs(bins).argmax(axis=1) != 0))


@pytest.mark.derived
@pytest.mark.parametrize("rate_per_s", [100.0, 20.0, 5.0, 1.0])
def test_symbol_error_rates_of_equal_clicks(
    rate_per_s: float, measured: dict[str, tuple[int, int]]
) -> None:
    n_errors, n_symbols = measured[f"clicks, {rate_per_s:g} a second"]
    expected = modelled_rate(rate_per_s, 200_000, np.random.default_rng(607))
    # Errors come with clicks, whose number in 600 s has a relative deviation of its own.
    deviation = np.hypot(
        np.sqrt(expected * (1.0 - expected) / n_symbols),
        expected / np.sqrt(15.0 * N_SLOTS * rate_per_s),
    )
    assert abs(n_errors / n_symbols - expected) < 3.5 * deviation
