"""What the built-in receiver takes over from a mode's layout."""

import numpy as np
import pytest
from scipy.stats import gamma

from solidcopy.modes.registry import CODED_NAMES, mode_named
from solidcopy.receivers.builtin.framing import blocks_of, framing_of
from solidcopy.receivers.builtin.search import USUAL_REACH


@pytest.mark.derived
@pytest.mark.parametrize("name", CODED_NAMES)
def test_framing_and_layout_make_the_same_tones(name: str) -> None:
    mode = mode_named(name)
    framing, generator = framing_of(mode), np.random.default_rng(3)
    for _ in range(20):
        message = mode.draw_message(generator)
        codeword = mode.layout.codeword_of(message.bits())
        assert framing.is_word(codeword)
        assert np.array_equal(framing.tones_of(codeword), mode.encode(message))
        assert not framing.is_word(codeword ^ np.eye(1, codeword.size, 5, dtype=np.uint8)[0])


@pytest.mark.derived
@pytest.mark.parametrize(("name", "n_each"), [("ft8", 3), ("ft4", 2)])
def test_first_bits_count_through_the_data_symbols(name: str, n_each: int) -> None:
    # FT8: 58 symbols of 3 bits; FT4: 87 of 2; the synchronisation carries none.
    framing = framing_of(mode_named(name))
    assert framing.first_bits[framing.data_symbols].tolist() == list(range(0, 174, n_each))
    assert (framing.first_bits[framing.sync_symbols] == -1).all()
    assert (framing.known_tones[framing.data_symbols] == -1).all()


@pytest.mark.derived
@pytest.mark.parametrize(("name", "lengths"), [("ft8", (1, 2, 3)), ("ft4", (1, 2, 4, 6))])
def test_blocks_are_as_long_as_phase_and_time_allow(name: str, lengths: tuple[int, ...]) -> None:
    framing = framing_of(mode_named(name))
    assert framing.block_lengths == lengths
    for length in lengths:
        blocks = blocks_of(framing.data_symbols, length)
        assert blocks.max() < framing.facts.n_symbols
        covered = blocks[framing.known_tones[blocks] < 0]
        assert np.array_equal(covered, framing.data_symbols)


@pytest.mark.derived
def test_bars_count_synchronisation_symbols_and_tones() -> None:
    # By hand: 21·1.905, 3·(1 + 7·0.905), 21·(1/8 + 0.24·7/8); 16·1.905, 4·(1 + 4·0.905), ...
    ft8, ft4 = (USUAL_REACH.bars(framing_of(mode_named(name))) for name in ("ft8", "ft4"))
    assert (ft8.lowest_score, ft8.lowest_block_power) == pytest.approx((40.005, 22.005))
    assert (ft4.lowest_score, ft4.lowest_block_power) == pytest.approx((30.48, 18.48))
    assert (ft8.lowest_sync_hits, ft4.lowest_sync_hits) == (7, 7)
    for bars, n_sync in ((ft8, 21), (ft4, 16)):
        assert gamma.sf(bars.sufficient_score, n_sync) == pytest.approx(1.34e-5)
