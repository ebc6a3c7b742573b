"""What the built-in receiver takes over from a mode's layout."""

import numpy as np
import pytest

from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.framing import framing_of


@pytest.mark.derived
def test_framing_and_layout_make_the_same_tones() -> None:
    mode = mode_named("ft8")
    framing, generator = framing_of(mode), np.random.default_rng(3)
    for _ in range(20):
        message = mode.draw_message(generator)
        codeword = mode.layout.codeword_of(message.bits())
        assert framing.is_word(codeword)
        assert np.array_equal(framing.tones_of(codeword), mode.encode(message))
        assert not framing.is_word(codeword ^ np.eye(1, codeword.size, 5, dtype=np.uint8)[0])


@pytest.mark.derived
def test_first_bits_count_through_the_data_symbols() -> None:
    # 58 symbols of 3 bits; the synchronisation carries none.
    framing = framing_of(mode_named("ft8"))
    assert framing.first_bits[framing.data_symbols].tolist() == list(range(0, 174, 3))
    assert (framing.first_bits[framing.sync_symbols] == -1).all()
    assert (framing.known_tones[framing.data_symbols] == -1).all()


def test_a_scrambled_mode_is_refused_with_the_field() -> None:
    with pytest.raises(PlanError, match=r"receivers: .* scrambling of ft4"):
        framing_of(mode_named("ft4"))
