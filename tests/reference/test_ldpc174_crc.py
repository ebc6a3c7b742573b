"""The CRC against two general-purpose libraries, and its power to catch errors."""

from itertools import combinations

import galois
import numpy as np
import pytest
from crccheck.crc import Crc

from solidcopy.modes.ldpc174.crc import CRC_POLYNOMIAL, crc14, has_valid_crc

RANDOM_PAYLOADS = np.random.default_rng(14).integers(0, 2, (200, 77), dtype=np.uint8)


def as_number(bits: np.ndarray) -> int:
    return int("".join(map(str, bits.tolist())), 2)


@pytest.mark.authority
def test_against_crccheck() -> None:
    # crccheck, Crc(width 14, polynomial 0x2757, start 0). It takes whole bytes: with a start value
    # of 0, six zero bits in front of the 82 change nothing.
    for payload in RANDOM_PAYLOADS:
        crc = Crc(14, CRC_POLYNOMIAL & 0x3FFF, initvalue=0)
        crc.process((as_number(payload) << 5).to_bytes(11, "big"))
        assert as_number(crc14(payload)) == crc.final()


@pytest.mark.authority
def test_against_polynomial_division_in_galois() -> None:
    # galois, remainder over GF(2) of payload · x^(5 + 14).
    generator = galois.Poly.Int(CRC_POLYNOMIAL)
    for payload in RANDOM_PAYLOADS[:40]:
        dividend = galois.Poly.Int(as_number(payload) << 19)
        assert as_number(crc14(payload)) == int(dividend % generator)


@pytest.mark.authority
def test_factors_of_the_generator() -> None:
    # galois.factors; x + 1 is what makes every odd number of errors show.
    factors, multiplicities = galois.factors(galois.Poly.Int(CRC_POLYNOMIAL))
    assert [str(factor) for factor in factors] == [
        "x + 1",
        "x^13 + x^9 + x^7 + x^6 + x^3 + x^2 + 1",
    ]
    assert multiplicities == [1, 1]


@pytest.mark.derived
def test_hamming_distance_is_4_with_272_patterns_of_weight_4() -> None:
    # Enumerated here: syndromes of single errors; weight 4 = two pairs with equal sums, and each
    # pattern of four splits into pairs in three ways.
    payload_syndromes = [as_number(crc14(row)) for row in np.eye(77, dtype=np.uint8)]
    syndromes = payload_syndromes + [1 << place for place in range(14)]
    pair_sums = [a ^ b for a, b in combinations(syndromes, 2)]
    assert 0 not in syndromes
    assert 0 not in pair_sums
    assert not set(pair_sums) & set(syndromes)
    _, counts = np.unique(pair_sums, return_counts=True)
    assert int((counts * (counts - 1) // 2).sum()) // 3 == 272


@pytest.mark.derived
def test_share_of_random_words_that_pass() -> None:
    # 2^-14 of 2^20 words = 64; the count is Poisson, sd 8: within 5 sd.
    words = np.random.default_rng(5).integers(0, 2, (1 << 20, 91), dtype=np.uint8)
    assert 64 - 40 < int(has_valid_crc(words).sum()) < 64 + 40


@pytest.mark.derived
def test_the_all_zero_word_passes_and_a_receiver_must_refuse_it() -> None:
    assert not crc14(np.zeros(77, np.uint8)).any()
    assert has_valid_crc(np.zeros(91, np.uint8))


@pytest.mark.derived
def test_every_single_error_is_caught() -> None:
    word = np.concatenate([RANDOM_PAYLOADS[0], crc14(RANDOM_PAYLOADS[0])])
    assert has_valid_crc(word)
    assert not has_valid_crc(word ^ np.eye(91, dtype=np.uint8)).any()


def test_a_word_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="91 bits"):
        has_valid_crc(np.zeros(77, np.uint8))
