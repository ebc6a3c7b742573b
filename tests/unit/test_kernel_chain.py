"""The loops of the receiver's chain: compiled, plain and as a formula."""

import numpy as np
import pytest

from solidcopy.kernels import off_grid as off_grid_module
from solidcopy.kernels.gain_control import controlled
from solidcopy.kernels.line_predictor import without_predictable
from solidcopy.kernels.off_grid import off_grid

RATE = 12_000


def test_gain_control_compiled_and_plain_agree():
    generator = np.random.Generator(np.random.PCG64DXSM(1))
    envelope = np.abs(generator.standard_normal(2000))
    arguments = (envelope, 0.9, 20, 0.999, 0.01)
    assert np.array_equal(controlled(*arguments), controlled.py_func(*arguments))


@pytest.mark.derived
def test_gain_control_attacks_hangs_and_decays_by_its_laws():
    """A burst of level 1 on 0.1: 1 - keep^n up, flat for the hang, then so many dB a sample."""
    envelope = np.full(4000, 0.1)
    envelope[1000:1500] = 1.0
    keep, n_hang, decay = 0.99, 400, 0.998
    level = 1.0 / controlled(envelope, keep, n_hang, decay, 0.1)
    rise = 1.0 - 0.9 * keep ** np.arange(1, 301)
    assert level[1000:1300] == pytest.approx(rise, rel=1e-9)
    assert np.ptp(level[1500:1900]) == pytest.approx(0.0, abs=1e-12)
    assert level[1950] / level[1949] == pytest.approx(decay, rel=1e-9)
    assert level[-1] == pytest.approx(0.1, rel=2e-2)


def test_line_predictor_compiled_and_plain_agree():
    generator = np.random.Generator(np.random.PCG64DXSM(2))
    samples = generator.standard_normal(600)
    arguments = (samples, 7, 16, 0.05, 1e-3)
    compiled = without_predictable(*arguments)
    assert compiled == pytest.approx(without_predictable.py_func(*arguments), abs=1e-12)


def test_line_predictor_takes_tones_and_leaves_noise():
    """A tone 10 dB over white noise goes; the noise stays, and some misadjustment is added."""
    generator = np.random.Generator(np.random.PCG64DXSM(3))
    noise = generator.standard_normal(4 * RATE)
    tone = np.sqrt(20.0) * np.cos(2 * np.pi * 700.0 / RATE * np.arange(noise.size))
    left = without_predictable(noise + tone, 60, 64, 0.005, 1.0)[2 * RATE :]
    assert np.mean(left**2) == pytest.approx(np.mean(noise[2 * RATE :] ** 2), rel=0.15)
    beside = left @ np.exp(-2j * np.pi * 700.0 / RATE * np.arange(left.size)) / left.size
    assert abs(beside) < 0.05 * np.sqrt(20.0) / 2.0


def test_off_grid_compiled_and_plain_agree():
    generator = np.random.Generator(np.random.PCG64DXSM(4))
    samples, slips = generator.standard_normal(200), generator.uniform(-5.0, 5.0, 200)
    steps = np.linspace(0.0, 1.0, 32 * 512 + 1)
    window = np.i0(9.0 * np.sqrt(1.0 - steps**2)) / np.i0(9.0)
    plain = off_grid_module._interpolated.py_func(samples, slips, window)
    assert off_grid(samples, slips) == pytest.approx(plain, abs=1e-12)


@pytest.mark.derived
@pytest.mark.parametrize("share_of_half_rate", [0.02, 0.3, 0.6, 0.9])
def test_off_grid_tone_is_the_tone_at_other_instants(share_of_half_rate):
    """-90 dB of error up to 0.9 of half the rate."""
    n = np.arange(4000)
    slips = np.linspace(-3.0, 40.0, n.size)
    omega = np.pi * share_of_half_rate
    error = off_grid(np.cos(omega * n), slips) - np.cos(omega * (n + slips))
    assert np.sqrt(np.mean(error[100:-100] ** 2)) < 10 ** (-90 / 20) / np.sqrt(2.0)


def test_off_grid_without_slip_changes_nothing():
    samples = np.random.Generator(np.random.PCG64DXSM(5)).standard_normal(500)
    assert np.array_equal(off_grid(samples, np.zeros(500)), samples)
