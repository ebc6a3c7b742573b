"""What every mode of the registry must do; a new mode joins by its name in the registry."""

import pickle

import numpy as np
import pytest

from solidcopy.modes.mode import Mode
from solidcopy.modes.registry import MODE_NAMES, mode_named

pytestmark = pytest.mark.derived


@pytest.fixture(params=MODE_NAMES)
def mode(request: pytest.FixtureRequest) -> Mode:
    return mode_named(request.param)


def test_drawn_messages_survive_packing(mode: Mode) -> None:
    generator = np.random.default_rng(1)
    for _ in range(50):
        message = mode.draw_message(generator)
        assert message.bits().shape == (mode.facts.n_payload_bits,)
        assert mode.unpack(message.bits()) == message.text
        assert mode.pack(message.text) == message


def test_drawn_messages_are_new_each_time(mode: Mode) -> None:
    generator = np.random.default_rng(2)
    assert len({mode.draw_message(generator).text for _ in range(200)}) == 200


def test_tones_are_as_many_and_as_high_as_the_facts_say(mode: Mode) -> None:
    generator = np.random.default_rng(3)
    tones = np.array([mode.encode(mode.draw_message(generator)) for _ in range(20)])
    assert tones.shape == (20, mode.facts.n_symbols)
    assert tones.min() == 0
    assert tones.max() == mode.facts.n_tones - 1


@pytest.mark.parametrize("sample_rate_hz", [8000, 11999, np.int64(12000), 48000])
def test_power_and_length_of_the_signal(mode: Mode, sample_rate_hz: int) -> None:
    tones = mode.encode(mode.draw_message(np.random.default_rng(4)))
    signal = mode.modulate(tones, sample_rate_hz=sample_rate_hz, audio_hz=1500.0)
    assert signal.size == round(mode.facts.duration_s * sample_rate_hz)
    assert np.mean(signal.real**2) == pytest.approx(0.5, abs=1e-6)


def test_the_transmission_fits_its_slot(mode: Mode) -> None:
    assert mode.facts.nominal_start_s + mode.facts.duration_s < mode.facts.slot_s


def test_a_mode_travels_to_a_worker(mode: Mode) -> None:
    assert pickle.loads(pickle.dumps(mode)) == mode
