"""The LDPC(174,91) code against general-purpose libraries and the algebra of such codes.

The published table is from memory. What speaks for it: the sparse matrix below lies in its dual
code, is regular as the paper describes, and a single wrong digit would destroy that.
"""

import galois
import ldpc.mod2
import numpy as np
import pytest
from ldpc import BpOsdDecoder

from solidcopy.modes.ldpc174.code import (
    CHECK_POSITIONS,
    GENERATOR_77,
    GENERATOR_91,
    LDPC_174_91,
    PARITY_ROWS,
)
from solidcopy.modes.ldpc174.crc import crc14

PAYLOADS = np.random.default_rng(174).integers(0, 2, (500, 77), dtype=np.uint8)


def check_matrix() -> np.ndarray:
    matrix = np.zeros((83, 174), np.uint8)
    for row, positions in zip(matrix, CHECK_POSITIONS, strict=True):
        row[positions[positions >= 0]] = 1
    return matrix


@pytest.mark.authority
def test_rank_and_orthogonality_in_galois() -> None:
    # galois: linear algebra over GF(2).
    checks, generator = galois.GF2(check_matrix()), galois.GF2(np.array(GENERATOR_91))
    assert np.linalg.matrix_rank(checks) == 83
    assert np.linalg.matrix_rank(generator) == 91
    assert not np.any(checks @ generator.T)
    assert np.linalg.matrix_rank(galois.GF2(np.array(GENERATOR_77))) == 77


@pytest.mark.authority
def test_null_space_in_ldpc_is_the_code() -> None:
    # ldpc: null space of the sparse matrix and the generator's rows span the same 91 dimensions.
    null_space = ldpc.mod2.nullspace(check_matrix()).toarray().astype(np.uint8)
    assert ldpc.mod2.rank(check_matrix()) == 83
    assert null_space.shape[0] == 91
    assert ldpc.mod2.rank(np.concatenate([null_space, GENERATOR_91])) == 91


@pytest.mark.authority
def test_ldpc_corrects_seven_wrong_bits_from_the_syndrome() -> None:
    # ldpc.BpOsdDecoder works on syndromes: it must name the very errors that were put in.
    decoder = BpOsdDecoder(
        check_matrix(), error_rate=7 / 174, max_iter=50, osd_method="OSD_CS", osd_order=10
    )
    generator = np.random.default_rng(9)
    for codeword in LDPC_174_91.encode(PAYLOADS[:100]):
        errors = np.zeros(174, np.uint8)
        errors[generator.choice(174, 7, replace=False)] = 1
        syndrome = (check_matrix() @ (codeword ^ errors) % 2).astype(np.uint8)
        assert np.array_equal(decoder.decode(syndrome), errors)


@pytest.mark.derived
def test_weights_of_rows_and_columns() -> None:
    # The paper, from memory: column weight 3. Algebra: 174·3 = 522 = 59·6 + 24·7.
    row_weights = check_matrix().sum(axis=1)
    assert (check_matrix().sum(axis=0) == 3).all()
    assert sorted(row_weights) == [6] * 59 + [7] * 24


@pytest.mark.derived
def test_no_two_checks_share_two_positions() -> None:
    checks = check_matrix().astype(int)
    shared = checks @ checks.T - np.diag(checks.sum(axis=1))
    assert shared.max() == 1


@pytest.mark.derived
def test_every_codeword_has_even_weight() -> None:
    # Odd columns throughout: the sum of all checks is the all-ones word.
    assert not (LDPC_174_91.encode(PAYLOADS).sum(axis=1) % 2).any()


@pytest.mark.derived
def test_one_wrong_digit_would_show() -> None:
    # Any single bit of the table flipped breaks the checks that its parity bit takes part in.
    checks = check_matrix().astype(int)
    for row, column in np.random.default_rng(1).integers(0, (83, 91), (50, 2)):
        wrong = np.array(GENERATOR_91)
        wrong[column, 91 + row] ^= 1
        assert (checks @ wrong.T % 2).any()


@pytest.mark.derived
def test_encoding_is_systematic_and_folds_the_crc_in() -> None:
    codewords = LDPC_174_91.encode(PAYLOADS)
    checked = np.concatenate([PAYLOADS, crc14(PAYLOADS)], axis=1)
    assert np.array_equal(codewords[:, :91], checked)
    assert np.array_equal(codewords[:, 91:], checked.astype(int) @ PARITY_ROWS.T % 2)
    assert np.array_equal(codewords, PAYLOADS.astype(int) @ GENERATOR_77 % 2)


@pytest.mark.derived
def test_batches_of_any_shape() -> None:
    codewords = LDPC_174_91.encode(PAYLOADS[:24].reshape(2, 3, 4, 77))
    assert codewords.shape == (2, 3, 4, 174)
    assert codewords.dtype == np.uint8
    assert np.array_equal(codewords[1, 2, 3], LDPC_174_91.encode(PAYLOADS[23]))


def test_tables_cannot_be_written() -> None:
    for table in (CHECK_POSITIONS, GENERATOR_77, GENERATOR_91, PARITY_ROWS):
        with pytest.raises(ValueError, match="read-only"):
            table[0, 0] = 1
