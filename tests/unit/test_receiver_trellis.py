"""The level of effort that follows the carrier's phase."""

import numpy as np
import pytest

from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.evidence import information_bits
from solidcopy.receivers.builtin.framing import framing_of
from solidcopy.receivers.builtin.locate import Located
from solidcopy.receivers.builtin.receiver import LOWEST_UNCHECKED_BITS, build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.builtin.tracks import (
    STEP_SIZES_RAD,
    likeliest_tracks,
    step_probabilities,
)
from solidcopy.receivers.builtin.trellis import (
    LEAST_PRESENCE,
    N_ROUNDS,
    fitting_word,
    followed_words,
    soft_rounds,
    track_bits,
)
from solidcopy.receivers.builtin.words import soft_bits

MODE = mode_named("ft8")
FRAMING = framing_of(MODE)
RECEIVER = build_receiver(BuiltinSettings(effort="phase-trellis"), MODE)
SYMBOLS = np.arange(79)


def random_word(rng):
    payload = rng.integers(0, 2, 77)
    return (payload @ FRAMING.payload_generator % 2).astype(np.uint8)


def place(rng, word, *, es_n0, error_hz=0.0, phases_rad=0.0):
    """Cells of noise power 1, with a word in them unless `word` is None."""
    noise = rng.standard_normal((2, 79, 8)) * np.sqrt(0.5)
    spectra = noise[0] + 1j * noise[1]
    if word is not None:
        turns = error_hz * 0.16 * SYMBOLS
        tone = np.sqrt(es_n0) * np.exp(1j * (2 * np.pi * turns + phases_rad + np.zeros(79)))
        spectra[SYMBOLS, FRAMING.tones_of(word)] += tone
    return Located(
        audio_hz=1000.0,
        start_s=0.5,
        spectra=spectra.astype(np.complex64),
        noise_power=1.0,
        floor_power=1.0,
        es_n0=es_n0,
        n_sync_hits=15,
        block_power=21.0 * es_n0,
    )


def best_track(item):
    return likeliest_tracks(item, FRAMING)[0]


def words_at(item):
    return list(followed_words(item, soft_bits(item.spectra, FRAMING), FRAMING))


@pytest.mark.derived
@pytest.mark.parametrize("step_rad", STEP_SIZES_RAD)
def test_steps_are_probabilities_alike_in_both_directions(step_rad):
    steps = step_probabilities(step_rad)
    assert steps.sum() == pytest.approx(1.0, rel=1e-6)
    np.testing.assert_array_equal(steps[1:], steps[:0:-1])
    assert steps.argmax() == 0


@pytest.mark.derived
@pytest.mark.parametrize("error_hz", [-0.31, 0.0, 0.123])
def test_the_likeliest_track_has_the_frequency_error_of_the_cells(error_hz):
    rng = np.random.default_rng(31)
    for _ in range(10):
        track = best_track(place(rng, random_word(rng), es_n0=4.0, error_hz=error_hz))
        # Even a wrong peak of the synchronisation blocks lies 1 / (36 * 0.16 s) away.
        assert track.error_hz == pytest.approx(error_hz, abs=0.04)


@pytest.mark.derived
def test_the_likeliest_step_grows_with_the_phase_steps():
    rng = np.random.default_rng(32)
    found = []
    for step_rad in (0.0, 0.5):
        walks = np.cumsum(step_rad * rng.standard_normal((20, 79)), axis=1)
        places = [place(rng, random_word(rng), es_n0=6.0, phases_rad=walk) for walk in walks]
        found.append(np.mean([best_track(item).step_rad for item in places]))
    assert found[0] < 0.2
    assert found[1] > 0.35


@pytest.mark.derived  # FACTS A10: with known phase 50 % are reached at -25.1 dB, Es/N0 = 0.92 dB
def test_weak_words_are_found_and_show_their_evidence():
    rng = np.random.default_rng(33)
    n_right = 0
    for _ in range(20):
        word = random_word(rng)
        item = place(rng, word, es_n0=2.5)  # -22 dB in 2500 Hz
        if any(np.array_equal(found.bits, word) for found in words_at(item)):
            n_right += 1
            assert track_bits(best_track(item), word[None], FRAMING)[0] > LOWEST_UNCHECKED_BITS
    assert n_right >= 15


@pytest.mark.derived
def test_noise_looks_like_nothing():
    rng = np.random.default_rng(34)
    places = [place(rng, None, es_n0=2.0) for _ in range(100)]
    presences = np.array([best_track(item).log_likelihood for item in places])
    # 21 of 79 cells are expected to hold a tone and do not.
    assert (presences < LEAST_PRESENCE).all()
    assert RECEIVER.decode_places(places) == ()


@pytest.mark.derived
def test_words_made_of_noise_lack_evidence():
    rng = np.random.default_rng(35)
    places = [place(rng, None, es_n0=2.0) for _ in range(40)]
    tracks = [best_track(item) for item in places]
    rounds, _ = soft_rounds(tracks, FRAMING)
    for item, track, metrics in zip(places, tracks, rounds[-1], strict=True):
        word, _ = fitting_word(metrics, [track], FRAMING, depth=3)
        assert FRAMING.is_word(word)
        tones = FRAMING.tones_of(word)
        assert information_bits(item.spectra, tones, FRAMING, es_n0=2.0) < LOWEST_UNCHECKED_BITS


@pytest.mark.derived
def test_rounds_are_the_same_together_or_alone():
    rng = np.random.default_rng(36)
    tracks = [best_track(place(rng, random_word(rng), es_n0=2.4)) for _ in range(6)]
    together, words = soft_rounds(tracks, FRAMING)
    assert together.shape == (N_ROUNDS, 6, 174)
    for number, track in enumerate(tracks):
        alone, (word,) = soft_rounds([track], FRAMING)
        np.testing.assert_allclose(alone[:, 0], together[:, number], atol=1e-3)
        assert (word is None) == (words[number] is None)


@pytest.mark.derived
def test_the_code_sharpens_the_soft_bits_from_round_to_round():
    rng = np.random.default_rng(37)
    words = [random_word(rng) for _ in range(20)]
    tracks = [best_track(place(rng, word, es_n0=2.8)) for word in words]
    rounds, _ = soft_rounds(tracks, FRAMING)
    n_wrong = [np.count_nonzero((metrics < 0) != words) for metrics in rounds]
    assert n_wrong[-1] < n_wrong[1] < n_wrong[0]


@pytest.mark.derived
def test_each_level_decodes_what_the_one_before_decodes():
    efforts = ("belief-propagation", "ordered-statistics", "phase-trellis")
    levels = [build_receiver(BuiltinSettings(effort=effort), MODE) for effort in efforts]
    rng = np.random.default_rng(36)
    counts = np.zeros(3, int)
    for _ in range(60):
        item = place(rng, random_word(rng), es_n0=10.0 ** rng.uniform(0.3, 0.55))
        texts = [{decode.text for decode in level.decode_places([item])} for level in levels]
        assert texts[0] <= texts[1] <= texts[2]
        counts += [len(found) for found in texts]
    assert counts[0] < counts[1] < counts[2]
