"""What the built-in receiver takes over from a mode's layout."""

import numpy as np
import pytest

from solidcopy.modes.registry import MODE_NAMES, mode_named
from solidcopy.receivers.builtin.framing import framing_of


@pytest.mark.derived
@pytest.mark.parametrize("name", MODE_NAMES)
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
