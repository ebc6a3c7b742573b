"""Figures of made paths against scipy, soxr and closed forms."""

import numpy as np
import pytest
import scipy.signal

import made_paths
from path_runs import clean, measured
from solidcopy.actions.path_budget import rate_ppm
from solidcopy.soundcard.path_sequence import SEQUENCE_HZ, STEP_HZ, TWO_TONES_HZ
from solidcopy.soundcard.path_tones import clip_over_peak_db, clipped_sine, fitted

pytestmark = pytest.mark.authority


@pytest.mark.parametrize("seed", [1])
def test_response_is_that_of_the_filter(seed: int) -> None:
    """scipy.signal.sosfreqz of the very filter; random corners and ripple."""
    rng = np.random.default_rng(seed)
    low_hz, high_hz = rng.uniform(200, 400), rng.uniform(2300, 2600)
    sos = scipy.signal.cheby1(3, 1.0, (low_hz, high_hz), "bandpass", fs=48_000, output="sos")
    path = measured(scipy.signal.sosfilt(sos, clean()))
    response = path.response
    frequencies_hz = np.arange(50.0, 3100.0, 1.0)
    _, curve = scipy.signal.sosfreqz(sos, frequencies_hz, fs=48_000)
    powers = np.array(
        [
            np.mean(np.abs(curve[np.abs(frequencies_hz - centre_hz) <= 25.0]) ** 2)
            for centre_hz in response.centres_hz
        ]
    )
    # As the check states its reference: bands within 10 dB of the strongest, 300 to 2700 Hz.
    middle = (response.centres_hz > 300) & (response.centres_hz < 2700)
    middle &= powers >= 0.1 * powers[middle].max()
    expected_db = 10 * np.log10(powers / np.median(powers[middle]))
    inside = expected_db > -20.0
    # The kept part of the impulse response, 92 ms, blurs by about 12 Hz.
    assert np.abs(response.levels_db - expected_db)[inside].max() < 0.25
    level_db = 20 * np.log10(np.abs(curve)) - 10 * np.log10(np.median(powers[middle]))
    edges_hz = frequencies_hz[level_db >= -3.0][[0, -1]]
    assert edges_hz[1] < 2975.0  # where the last band is centred
    assert response.edges_3_db == pytest.approx(tuple(edges_hz), abs=12.0)


@pytest.mark.parametrize("ppm", [-120.0, -20.0, 20.0, 120.0, 1500.0])
def test_rate_is_that_of_soxr(ppm: float) -> None:
    assert rate_ppm(measured(made_paths.other_clock(clean(), ppm))).value == pytest.approx(
        ppm, abs=0.02
    )


def test_products_of_a_known_polynomial() -> None:
    """y = x + b x^2 + c x^3. One tone of amplitude a: second harmonic b a^2 / 2, third c a^3 / 4.
    Two tones of amplitude a: f2 - f1 at b a^2, 2 f1 - f2 at 3 c a^3 / 4; the tone itself is
    a + 9 c a^3 / 4 (textbook, by the products of cosines)."""
    square, cube = 0.04, 0.2
    samples = clean()
    path = measured(samples + square * samples**2 + cube * samples**3)
    tones = path.tones
    a = 10 ** (-12 / 20)
    first = a + 0.75 * cube * a**3
    ratios = tones.harmonics.ratios
    assert ratios["2"] == pytest.approx(square * a**2 / 2 / first, rel=2e-3)
    assert ratios["3"] == pytest.approx(cube * a**3 / 4 / first, rel=2e-3)
    half = a / 2
    tone = half + 2.25 * cube * half**3
    products = tones.products.ratios
    for name in ("2f1-f2", "2f2-f1"):
        assert products[name] == pytest.approx(0.75 * cube * half**3 / tone, rel=2e-3)
    for name in ("f2-f1", "f1+f2"):
        assert products[name] == pytest.approx(square * half**2 / tone, rel=2e-3)


@pytest.mark.parametrize("limit", [0.2, 0.5, 0.9, 0.99])
def test_harmonics_of_a_clipped_sine(limit: float) -> None:
    """Against numpy's Fourier transform of 65536 samples of one period."""
    wave = np.clip(np.sin(2 * np.pi * np.arange(65_536) / 65_536), -limit, limit)
    spectrum = np.abs(np.fft.rfft(wave)) / 32_768
    assert clipped_sine(limit) == pytest.approx((spectrum[1], spectrum[3]), abs=1e-6)
    over_db = clip_over_peak_db(spectrum[3] / spectrum[1])
    assert over_db == pytest.approx(20 * np.log10(limit), abs=0.01)


def test_fit_of_tones_against_scipys_least_squares() -> None:
    rng = np.random.default_rng(5)
    samples = rng.normal(size=4000)
    frequencies_hz = [STEP_HZ, *TWO_TONES_HZ]
    amplitudes, rest = fitted(samples, frequencies_hz)
    angles = 2 * np.pi / SEQUENCE_HZ * np.outer(np.arange(4000), frequencies_hz)
    design = np.hstack((np.cos(angles), np.sin(angles), np.ones((4000, 1))))
    solution, *_ = scipy.linalg.lstsq(design, samples)
    assert amplitudes == pytest.approx(solution[:3] - 1j * solution[3:6])
    assert rest == pytest.approx(samples - design @ solution)
