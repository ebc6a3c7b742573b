"""Frequency and presence from the data symbols, where synchronisation blocks are short."""

import numpy as np
import pytest

from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.framing import framing_of
from solidcopy.receivers.builtin.front_end import Cells
from solidcopy.receivers.builtin.locate import block_strengths, measured
from solidcopy.receivers.builtin.narrow_band import Aligned

MODE = mode_named("ft4")
FRAMING = framing_of(MODE)
CELLS = Cells(
    powers=np.ones((1, 1), np.float32),
    floor=np.ones(1, np.float32),
    levels=np.ones(1, np.float32),
    row_s=0.012,
    column_hz=10.0,
    first_hz=1000.0,
)
PLACE = Aligned(audio_hz=1000.0, start_s=0.5, block_power=30.0)


def cells_with(rng, es_n0, error_hz):
    """Noise of power 1 and a random word whose frequency is `error_hz` above the place's."""
    facts = FRAMING.facts
    shape = (facts.n_symbols, facts.n_tones)
    noise = (rng.standard_normal(shape) + 1j * rng.standard_normal(shape)) / np.sqrt(2)
    symbols = np.arange(facts.n_symbols)
    tones = MODE.encode(MODE.draw_message(rng))
    turns = error_hz * facts.symbol_s * symbols
    noise[symbols, tones] += np.sqrt(es_n0) * np.exp(2j * np.pi * (turns + rng.random()))
    return noise.astype(np.complex64)


def heard(cells):
    """The place as measured from its cells, or None."""
    return measured(cells, PLACE, CELLS, FRAMING, block_strengths(cells, FRAMING))


@pytest.mark.derived  # tried every 0.17 Hz; a block of 0.19 s at Es/N0 = 5 tells 0.2 Hz
@pytest.mark.parametrize("error_hz", [-0.8, -0.3, 0.0, 0.5, 0.9])
def test_the_data_tell_the_frequency(error_hz):
    rng = np.random.default_rng(3)
    found = [heard(cells_with(rng, 5.0, error_hz)) for _ in range(20)]
    errors_hz = [place.audio_hz - PLACE.audio_hz - error_hz for place in found]
    assert abs(np.mean(errors_hz)) < 0.15
    assert np.std(errors_hz) < 0.25


@pytest.mark.derived
def test_noise_is_not_worth_decoding_and_a_weak_transmission_is():
    # Es/N0 = 1.9 is that of -18 dB in 2500 Hz over 0.048 s.
    rng = np.random.default_rng(4)
    noise = [heard(cells_with(rng, 0.0, 0.0)) for _ in range(100)]
    weak = [heard(cells_with(rng, 1.9, 0.3)) for _ in range(50)]
    assert sum(place is not None for place in noise) <= 5
    assert sum(place is None for place in weak) <= 2
