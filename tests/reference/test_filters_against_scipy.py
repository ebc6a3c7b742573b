"""Our filter design and smoothing against scipy.signal, which the package loads only at need."""

import subprocess
import sys

import numpy as np
import pytest
import scipy.signal

from solidcopy.receivers.builtin.carriers import smoothed
from solidcopy.signals import filters


@pytest.mark.authority
@pytest.mark.parametrize(
    ("edge_hz", "skirt_hz", "attenuation_db", "rate_hz"),
    [(1350.0, 100.0, 60.0, 12_000), (1350.0, 100.0, 60.0, 768_000), (33.3, 7.7, 51.0, 8_000),
     (900.0, 40.0, 80.0, 44_100)],
)  # fmt: skip
def test_low_pass_by_scipy(edge_hz, skirt_hz, attenuation_db, rate_hz):
    """scipy.signal.kaiserord and firwin; the same to the last few bits."""
    n_taps, beta = scipy.signal.kaiserord(attenuation_db, 4.0 * skirt_hz / rate_hz)
    expected = scipy.signal.firwin(n_taps | 1, edge_hz, window=("kaiser", beta), fs=rate_hz)
    taps = filters.low_pass_taps(
        edge_hz=edge_hz, skirt_hz=skirt_hz, attenuation_db=attenuation_db, sample_rate_hz=rate_hz
    )
    assert taps == pytest.approx(expected, rel=1e-12, abs=1e-17)


@pytest.mark.derived
def test_low_pass_refuses_what_its_formula_does_not_cover():
    with pytest.raises(ValueError, match="above 50"):
        filters.low_pass_taps(
            edge_hz=900.0, skirt_hz=40.0, attenuation_db=40.0, sample_rate_hz=12_000
        )


@pytest.mark.authority
@pytest.mark.parametrize(("n_samples", "n_kernel"), [(2048, 384), (1921, 385), (100, 384)])
def test_smoothing_by_scipy(n_samples, n_kernel):
    """scipy.signal.convolve(mode="same"), summed term by term; float32 leaves 1e-7 of the peak."""
    rng = np.random.default_rng(4)
    kernel = np.hanning(n_kernel).astype(np.float32)
    real = rng.standard_normal(n_samples).astype(np.float32)
    for samples in (real, (real * (1.0 - 0.5j)).astype(np.complex64)):
        expected = scipy.signal.convolve(samples, kernel, mode="same", method="direct")
        result = smoothed(samples, kernel)
        assert result.dtype == samples.dtype
        assert np.abs(result - expected).max() < 1e-6 * np.abs(expected).max()


@pytest.mark.derived
def test_a_worker_starts_without_the_slow_imports():
    """What a worker and a receiver import leaves these to whoever needs them."""
    code = (
        "import sys; import solidcopy.campaigns.workers, solidcopy.receivers.builtin.receiver;"
        "print(*{'scipy.signal', 'scipy.stats', 'dask', 'matplotlib'} & set(sys.modules))"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert loaded.stdout.split() == []
