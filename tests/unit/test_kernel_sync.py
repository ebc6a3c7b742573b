"""Search and alignment loops: compiled, plain Python and a naive numpy version agree."""

import numpy as np
import pytest
from scipy.ndimage import maximum_filter

from solidcopy.kernels.sync_alignment import sync_block_powers
from solidcopy.kernels.sync_search import local_maxima, sync_scores

ROWS = np.array([0, 2, 3, 7])
COLUMNS = np.array([1, 0, 3, 2])


def naive_scores(powers, first_row, n_starts):
    n_places = powers.shape[1] - COLUMNS.max()
    padded = np.pad(powers, ((50, 50), (0, 0)), constant_values=1.0)
    return np.array(
        [
            [
                sum(
                    padded[50 + first_row + start + row, place + column]
                    for row, column in zip(ROWS, COLUMNS, strict=True)
                )
                for place in range(n_places)
            ]
            for start in range(n_starts)
        ]
    )


@pytest.mark.derived
@pytest.mark.parametrize("run", [sync_scores, sync_scores.py_func])
def test_scores_are_sums_of_cells_and_count_missing_ones_as_noise(run):
    powers = np.random.default_rng(1).exponential(size=(20, 12)).astype(np.float32)
    scores = np.full((24, 9), np.nan, np.float32)
    run(powers, -4, ROWS, COLUMNS, scores)
    np.testing.assert_allclose(scores, naive_scores(powers, -4, 24), rtol=1e-6)


@pytest.mark.authority  # scipy's maximum filter
@pytest.mark.parametrize("run", [local_maxima, local_maxima.py_func])
def test_local_maxima_are_those_of_a_maximum_filter(run):
    scores = np.random.default_rng(2).random((30, 40)).astype(np.float32)
    is_peak = (scores == maximum_filter(scores, (5, 3), mode="nearest")) & (scores >= 0.7)
    rows, columns = run(scores, 0.7, 2, 1)
    np.testing.assert_array_equal(np.stack([rows, columns]), np.nonzero(is_peak))


def test_a_score_that_is_not_a_number_is_no_maximum():
    scores = np.full((5, 5), np.nan, np.float32)
    rows, _ = local_maxima(scores, 0.0, 1, 1)
    assert rows.size == 0


def alignment_case():
    rng = np.random.default_rng(3)

    def noise(*shape):
        return (rng.standard_normal(shape) + 1j * rng.standard_normal(shape)).astype(np.complex64)

    offsets = np.array([[0, 8, 16], [40, 48, 56]])
    return noise(150), offsets, noise(2, 2, 3, 4), noise(2, 5, 3)


@pytest.mark.derived
@pytest.mark.parametrize("run", [sync_block_powers, sync_block_powers.py_func])
def test_block_powers_are_the_formula_in_their_docstring(run):
    band, offsets, probes, rotations = alignment_case()
    powers = run(band, np.array([11, 2]), offsets, probes, rotations, 6)
    samples = np.stack(
        [
            band[11 + start + offsets[..., None] + 2 * np.arange(4)]  # (block, k, m)
            for start in range(6)
        ]
    )
    z = np.einsum("sbkm,cbkm->csbk", samples, probes)
    expected = np.abs(np.einsum("csbk,cfk->cfsb", z, rotations)) ** 2
    np.testing.assert_allclose(powers, expected.sum(axis=-1), rtol=2e-5)
