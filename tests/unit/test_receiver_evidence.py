"""Evidence in bits: right words have much, wrong words little, and the scale is that of bits."""

import numpy as np
import pytest

from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.evidence import information_bits, residual_hz
from solidcopy.receivers.builtin.framing import framing_of

FRAMING = framing_of(mode_named("ft8"))
SYMBOLS = np.arange(79)


def random_tones(rng):
    payload = rng.integers(0, 2, 77)
    return FRAMING.tones_of((payload @ FRAMING.payload_generator % 2).astype(np.uint8))


def cells(rng, tones, *, es_n0, phases_rad=0.0, gains=1.0):
    """Cells of noise power 1 with the tones in them."""
    noise = rng.standard_normal((2, 79, 8)) * np.sqrt(0.5)
    spectra = noise[0] + 1j * noise[1]
    spectra[SYMBOLS, tones] += np.sqrt(es_n0) * gains * np.exp(1j * (phases_rad + np.zeros(79)))
    return spectra.astype(np.complex64)


def evidence(spectra, tones, es_n0):
    return information_bits(spectra, tones, FRAMING, es_n0=es_n0)


@pytest.mark.derived
def test_a_loud_word_shows_the_174_bits_of_its_code():
    rng = np.random.default_rng(1)
    tones = random_tones(rng)
    # Having seven paths to choose from costs log2(7) bits.
    expected = 174.0 - np.log2(7.0)
    spectra = cells(rng, tones, es_n0=1000.0)
    assert evidence(spectra, tones, 1000.0) == pytest.approx(expected, abs=0.01)


@pytest.mark.derived
@pytest.mark.parametrize(
    "path",
    ["steady", "walking phase", "no memory", "fading"],
)
def test_right_words_show_more_than_their_payload_whatever_the_path(path):
    rng = np.random.default_rng(2)
    for _ in range(20):
        tones = random_tones(rng)
        phases = {
            "steady": 0.0,
            "walking phase": np.cumsum(0.3 * rng.standard_normal(79)),
            "no memory": rng.uniform(0.0, 2.0 * np.pi, 79),
            "fading": 0.0,
        }[path]
        fades = rng.standard_normal((2, 27)) * np.sqrt(0.5)
        gains = np.repeat(fades[0] + 1j * fades[1], 3)[:79] if path == "fading" else 1.0
        # Fades need reserve: a word that fades for most of its length cannot be proved.
        es_n0 = 20.0 if path == "fading" else 5.0
        spectra = cells(rng, tones, es_n0=es_n0, phases_rad=phases, gains=gains)
        assert evidence(spectra, tones, es_n0) > 77.0


@pytest.mark.derived
def test_words_that_were_not_sent_show_little():
    rng = np.random.default_rng(3)
    for es_n0 in (1.0, 3.0, 30.0):
        sent, other = random_tones(rng), random_tones(rng)
        assert evidence(cells(rng, sent, es_n0=es_n0), other, es_n0) < 20.0


@pytest.mark.derived
@pytest.mark.parametrize("error_hz", [-0.41, 0.0, 0.173])
def test_residual_frequency_of_a_clean_word(error_hz):
    own = np.exp(2j * np.pi * error_hz * 0.16 * SYMBOLS).astype(np.complex64)
    # The transform has a bin every 1 / (2048 * 0.16 s) = 3 mHz.
    assert residual_hz(own, 0.16) == pytest.approx(error_hz, abs=0.0016)
