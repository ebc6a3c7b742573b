"""Blocks, maps and places of the modes' symbols."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from solidcopy.modes.ft4.mode import FT4
from solidcopy.modes.ft8.mode import FT8
from solidcopy.modes.keyed_mode import KeyedMode
from solidcopy.modes.layout import Layout

GRAY_MAPS = {
    "ft8": {"000": 0, "001": 1, "011": 2, "010": 3, "110": 4, "100": 5, "101": 6, "111": 7},
    "ft4": {"00": 0, "01": 1, "11": 2, "10": 3},
}
BLOCKS = {"ft8": ["3140652"] * 3, "ft4": ["0132", "1023", "2310", "3201"]}
"""Both as in "The FT4 and FT8 Communication Protocols", from memory."""


@pytest.fixture(params=[FT8, FT4], ids=["ft8", "ft4"])
def mode(request: pytest.FixtureRequest) -> KeyedMode:
    return request.param


@pytest.mark.authority
def test_synchronisation_blocks_are_costas_arrays(mode: KeyedMode) -> None:
    # Definition of a Costas array: a permutation whose difference vectors are all different.
    for tones in mode.layout.sync_tones.tolist():
        assert sorted(tones) == list(range(len(tones)))
        pairs = combinations(range(len(tones)), 2)
        vectors = [(j - i, tones[j] - tones[i]) for i, j in pairs]
        assert len(set(vectors)) == len(vectors)


@pytest.mark.derived
def test_synchronisation_blocks_as_written_in_the_paper(mode: KeyedMode) -> None:
    blocks = ["".join(map(str, tones)) for tones in mode.layout.sync_tones.tolist()]
    assert blocks == BLOCKS[mode.name]


@pytest.mark.derived
def test_neighbouring_tones_differ_in_one_bit(mode: KeyedMode) -> None:
    bits = mode.layout.bits_of_tone
    assert np.count_nonzero(bits[1:] != bits[:-1], axis=1).tolist() == [1] * (len(bits) - 1)


@pytest.mark.derived
def test_gray_map_as_written_in_the_paper(mode: KeyedMode) -> None:
    rows = ["".join(map(str, bits)) for bits in mode.layout.bits_of_tone.tolist()]
    assert {bits: tone for tone, bits in enumerate(rows)} == GRAY_MAPS[mode.name]


@pytest.mark.derived
def test_places_of_ft8() -> None:
    # 7 + 29 + 7 + 29 + 7 = 79 and 58·3 = 174.
    assert FT8.layout.sync_symbols.ravel().tolist() == [*range(7), *range(36, 43), *range(72, 79)]
    assert FT8.layout.data_symbols.tolist() == [*range(7, 36), *range(43, 72)]


@pytest.mark.derived
def test_places_of_ft4() -> None:
    # 1 + 4 + 29 + 4 + 29 + 4 + 29 + 4 + 1 = 105 and 87·2 = 174.
    starts = FT4.layout.sync_symbols[:, 0]
    assert starts.tolist() == [1, 34, 67, 100]
    assert (np.diff(FT4.layout.sync_symbols) == 1).all()
    expected = [*range(5, 34), *range(38, 67), *range(71, 100)]
    assert FT4.layout.data_symbols.tolist() == expected


@pytest.mark.derived
def test_tones_and_back(mode: KeyedMode) -> None:
    layout = mode.layout
    codewords = np.random.default_rng(7).integers(0, 2, (5, 9, 174), dtype=np.uint8)
    tones = layout.tones_of(codewords)
    assert tones.shape == (5, 9, mode.facts.n_symbols)
    assert np.array_equal(tones[2, 3, layout.sync_symbols], layout.sync_tones)
    assert np.array_equal(layout.codeword_in(tones), codewords)


@pytest.mark.derived
def test_payload_and_back(mode: KeyedMode) -> None:
    payloads = np.random.default_rng(8).integers(0, 2, (4, 6, 77), dtype=np.uint8)
    codewords = mode.layout.codeword_of(payloads)
    assert codewords.shape == (4, 6, 174)
    assert np.array_equal(mode.layout.payload_of(codewords), payloads)


def test_other_lengths_are_refused(mode: KeyedMode) -> None:
    with pytest.raises(ValueError, match="174 bits"):
        mode.layout.tones_of(np.zeros(77, np.uint8))
    with pytest.raises(ValueError, match=f"{mode.facts.n_symbols} tones"):
        mode.layout.codeword_in(np.zeros(58, np.int64))


def test_tables_cannot_be_written(mode: KeyedMode) -> None:
    for name in ("scrambling", "tone_of_bits", "sync_symbols", "data_symbols", "known_tones"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(mode.layout, name)[...] = 0


def gap_in_the_data(layout: Layout) -> dict[str, np.ndarray]:
    return {"data_symbols": layout.data_symbols[1:]}


def one_known_tone_more(layout: Layout) -> dict[str, np.ndarray]:
    known_tones = layout.known_tones.copy()
    known_tones[layout.data_symbols[0]] = 0
    return {"known_tones": known_tones, "data_symbols": layout.data_symbols[1:]}


def short_scrambling(layout: Layout) -> dict[str, np.ndarray]:
    return {"scrambling": layout.scrambling[1:]}


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (gap_in_the_data, "either bits or a known tone"),
        (one_known_tone_more, "do not hold one codeword"),
        (short_scrambling, "as long as the payload"),
    ],
)
def test_a_layout_that_contradicts_itself_is_refused(change, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        replace(FT8.layout, **change(FT8.layout))
