"""What the receiver refuses although parity checks and CRC hold."""

import numpy as np
import pytest

from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.locate import Located
from solidcopy.receivers.builtin.receiver import build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings

MODE = mode_named("ft8")
RECEIVER = build_receiver(BuiltinSettings(), MODE)


def place(tones, amplitude):
    """Cells that hold a word and nothing else: every decoder finds it, however weak it is."""
    spectra = np.zeros((79, 8), np.complex64)
    spectra[np.arange(79), tones] = amplitude
    return Located(
        audio_hz=1000.0,
        start_s=0.5,
        spectra=spectra,
        noise_power=1.0,
        floor_power=1.0,
        es_n0=max(amplitude**2, 1.0),
        n_sync_hits=21,
        block_power=21.0 * amplitude**2,
    )


def word_tones(payload):
    return RECEIVER.framing.tones_of(
        (payload @ RECEIVER.framing.payload_generator % 2).astype(np.uint8)
    )


def test_a_word_with_enough_evidence_is_reported():
    tones = MODE.encode(MODE.pack("CQ Q1ABC FN42"))
    (decode,) = RECEIVER.decode_places([place(tones, 5.0)])
    assert decode.text == "CQ Q1ABC FN42"
    assert decode.n_corrected_bits == 0


def test_the_same_word_without_evidence_is_refused():
    tones = MODE.encode(MODE.pack("CQ Q1ABC FN42"))
    assert RECEIVER.decode_places([place(tones, 0.3)]) == ()


@pytest.mark.derived  # the all-zero word passes every check and the CRC (FACTS A5)
def test_the_all_zero_word_is_refused():
    zero = np.zeros(77, np.uint8)
    assert not (zero @ RECEIVER.framing.payload_generator % 2).any()
    assert RECEIVER.decode_places([place(word_tones(zero), 5.0)]) == ()


def test_a_word_with_a_wrong_crc_is_refused():
    checked = np.random.default_rng(1).integers(0, 2, 91)
    bits = (checked @ RECEIVER.framing.generator % 2).astype(np.uint8)
    assert not RECEIVER.framing.is_word(bits)
    assert RECEIVER.decode_places([place(RECEIVER.framing.tones_of(bits), 5.0)]) == ()


def test_one_transmission_seen_from_two_places_is_reported_once():
    tones = MODE.encode(MODE.pack("CQ Q1ABC FN42"))
    assert len(RECEIVER.decode_places([place(tones, 5.0), place(tones, 4.0)])) == 1
