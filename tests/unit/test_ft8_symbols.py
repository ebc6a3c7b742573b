import numpy as np
import pytest

from solidcopy.modes.ft8.symbols import (
    COSTAS,
    DATA_SYMBOLS,
    GRAY_MAP,
    SYNC_SYMBOLS,
    codeword_from_tones,
    tones_from_codeword,
)


@pytest.mark.authority
def test_synchronisation_block_is_a_costas_array() -> None:
    # Definition of a Costas array: a permutation whose difference vectors are all different.
    assert sorted(COSTAS) == list(range(7))
    vectors = [(j - i, COSTAS[j] - COSTAS[i]) for i in range(7) for j in range(i + 1, 7)]
    assert len(set(vectors)) == len(vectors) == 21


@pytest.mark.derived
def test_neighbouring_tones_differ_in_one_bit() -> None:
    bits_of_tone = np.argsort(GRAY_MAP)
    steps = bits_of_tone[1:] ^ bits_of_tone[:-1]
    assert [int(step).bit_count() for step in steps] == [1] * 7


@pytest.mark.derived
def test_gray_map_as_written_in_the_paper() -> None:
    # "The FT4 and FT8 Communication Protocols", from memory.
    expected = {"000": 0, "001": 1, "011": 2, "010": 3, "110": 4, "100": 5, "101": 6, "111": 7}
    assert {format(value, "03b"): int(tone) for value, tone in enumerate(GRAY_MAP)} == expected


@pytest.mark.derived
def test_symbols_are_shared_out_without_gap_or_overlap() -> None:
    # 3·7 + 58 = 79 and 58·3 = 174.
    assert sorted([*SYNC_SYMBOLS, *DATA_SYMBOLS]) == list(range(79))
    assert DATA_SYMBOLS.size * 3 == 174


@pytest.mark.derived
def test_tones_and_back() -> None:
    codewords = np.random.default_rng(7).integers(0, 2, (5, 9, 174), dtype=np.uint8)
    tones = tones_from_codeword(codewords)
    assert tones.shape == (5, 9, 79)
    assert np.array_equal(tones[2, 3, SYNC_SYMBOLS], np.tile(COSTAS, 3))
    assert np.array_equal(codeword_from_tones(tones), codewords)


def test_other_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match="174 bits"):
        tones_from_codeword(np.zeros(77, np.uint8))
    with pytest.raises(ValueError, match="79 tones"):
        codeword_from_tones(np.zeros(58, np.int64))
