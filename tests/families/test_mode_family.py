"""What every mode of the registry must do; a new mode joins by its name in the registry."""

import pickle

import numpy as np
import pytest

from solidcopy.modes.mode import CodedMode, Mode
from solidcopy.modes.registry import CODED_NAMES, MODE_NAMES, mode_named

pytestmark = pytest.mark.derived


@pytest.fixture(params=MODE_NAMES)
def mode(request: pytest.FixtureRequest) -> Mode:
    return mode_named(request.param)


@pytest.fixture(params=CODED_NAMES)
def coded(request: pytest.FixtureRequest) -> CodedMode:
    found = mode_named(request.param)
    assert isinstance(found, CodedMode)
    return found


def test_drawn_messages_survive_packing(mode: Mode) -> None:
    generator = np.random.default_rng(1)
    for _ in range(50):
        message = mode.draw_message(generator)
        n_bits = mode.facts.n_payload_bits
        assert message.bits().size == n_bits if n_bits else message.bits().size > 0
        assert mode.unpack(message.bits()) == message.text
        assert mode.pack(message.text) == message


def test_drawn_messages_are_new_each_time(mode: Mode) -> None:
    generator = np.random.default_rng(2)
    assert len({mode.draw_message(generator).text for _ in range(200)}) == 200


def test_tones_are_as_many_and_as_high_as_the_facts_say(coded: CodedMode) -> None:
    generator = np.random.default_rng(3)
    tones = np.array([coded.encode(coded.draw_message(generator)) for _ in range(20)])
    assert tones.shape == (20, coded.facts.n_symbols)
    assert tones.min() == 0
    assert tones.max() == coded.facts.n_tones - 1


@pytest.mark.parametrize("sample_rate_hz", [8000, 11999, np.int64(12000), 48000])
def test_power_and_length_of_the_signal(mode: Mode, sample_rate_hz: int) -> None:
    message = mode.draw_message(np.random.default_rng(4))
    signal = mode.modulate(mode.encode(message), sample_rate_hz=sample_rate_hz, audio_hz=1500.0)
    assert signal.size == round(mode.lasts_s(message) * sample_rate_hz)
    # The mean square of an analytic signal is 1; that of its real part, half of it but for what
    # a hard edge in the phase (RTTY, where a transmission begins and ends) leaves over.
    assert np.mean(np.abs(signal) ** 2) == pytest.approx(1.0, abs=1e-6)
    tolerance = 1e-6 if mode.facts.is_slotted else 1e-4
    assert np.mean(signal.real**2) == pytest.approx(0.5, abs=tolerance)


def test_the_transmission_fits_its_slot(mode: Mode) -> None:
    facts, generator = mode.facts, np.random.default_rng(8)
    assert facts.nominal_start_s + facts.duration_s < facts.slot_s
    messages = [mode.draw_message(generator) for _ in range(50)]
    assert max(mode.lasts_s(message) for message in messages) <= facts.duration_s


def test_layout_and_facts_tell_the_same(coded: CodedMode) -> None:
    facts, layout = coded.facts, coded.layout
    assert layout.n_symbols == facts.n_symbols
    assert layout.code.n_payload_bits == facts.n_payload_bits
    assert sorted(layout.tone_of_bits.tolist()) == list(range(facts.n_tones))
    assert set(layout.sync_symbols.ravel().tolist()).isdisjoint(layout.data_symbols.tolist())
    assert (layout.sync_tones >= 0).all()


def test_a_receiver_that_knows_the_layout_alone_reads_the_message(coded: CodedMode) -> None:
    generator = np.random.default_rng(5)
    for _ in range(20):
        message = coded.draw_message(generator)
        tones = coded.encode(message)
        is_known = coded.layout.known_tones >= 0
        assert np.array_equal(tones[is_known], coded.layout.known_tones[is_known])
        codeword = coded.layout.codeword_in(tones)
        assert coded.unpack(coded.layout.payload_of(codeword)) == message.text


def test_codewords_pass_every_check_and_belong_to_the_checked_bits(coded: CodedMode) -> None:
    code = coded.layout.code
    payloads = np.random.default_rng(6).integers(0, 2, (50, code.n_payload_bits), dtype=np.uint8)
    codewords = coded.layout.codeword_of(payloads)
    for positions in code.check_positions:
        assert not (codewords[:, positions[positions >= 0]].sum(axis=1) % 2).any()
    n_checked = code.generator.shape[0]
    assert np.array_equal(codewords[:, :n_checked].astype(int) @ code.generator % 2, codewords)


def test_a_mode_travels_to_a_worker(mode: Mode) -> None:
    there = pickle.loads(pickle.dumps(mode))
    assert there == mode
    message = mode.draw_message(np.random.default_rng(7))
    assert np.array_equal(there.encode(message), mode.encode(message))
