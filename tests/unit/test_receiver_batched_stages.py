"""Stages for many slots, with numpy as their namespace, against the compiled ones.

They agree within the rounding of float32 sums: 2**-24 relative for each addition (derived).
"""

import numpy as np
import pytest

from batched_slots import NEAR_DB, receivers, slot
from solidcopy.kernels.near_words import near_words
from solidcopy.kernels.ordered_statistics import decode_ordered_statistics
from solidcopy.kernels.phase_trellis import trellis_tone_weights
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.batched import (
    front_end,
    near,
    phases,
    pursuit,
    reduced,
    search,
    soft_bits,
)
from solidcopy.receivers.builtin.front_end import cell_grid, long_spectrum, work_samples
from solidcopy.receivers.builtin.locate import block_strengths
from solidcopy.receivers.builtin.search import find_candidates
from solidcopy.receivers.builtin.stages import CompiledStages, FirstSearch
from solidcopy.receivers.builtin.tracks import (
    STEP_SIZES_RAD,
    even_priors,
    likeliest_tracks,
    step_probabilities,
)
from solidcopy.receivers.builtin.trellis import track_bits
from solidcopy.receivers.builtin.words import soft_bits as compiled_soft_bits

pytestmark = pytest.mark.derived


@pytest.fixture(scope="module", params=["ft8", "ft4"])
def heard(request):
    """A mode's receiver, its spectra of six slots, and the places found in them."""
    rng = np.random.default_rng(84)
    compiled, _ = receivers(request.param, effort="phase-trellis")
    snrs_db = [None, NEAR_DB[request.param], 0.0] * 2
    waveforms = [slot(rng, compiled.mode, snr_db) for snr_db in snrs_db]
    stages = CompiledStages(compiled.band)
    places = [
        place
        for found in stages.answer([FirstSearch(own) for own in waveforms])
        for place in found.places
    ]
    return compiled, waveforms, places


def test_cells_and_candidates_are_those_of_single_slots(heard):
    compiled, waveforms, _ = heard
    facts, settings, band = compiled.framing.facts, compiled.settings, compiled.band
    limits = {"low_hz": settings.low_hz, "high_hz": settings.high_hz}
    samples = [work_samples(own) for own in waveforms]
    grids = front_end.cell_grids(np, front_end.long_spectra(np, samples, facts), facts, **limits)
    found = search.find_candidates(np, grids, compiled.framing, band.bars)
    for own, powers, host, candidates in zip(
        samples, grids.powers, grids.host_cells, found, strict=True
    ):
        cells = cell_grid(long_spectrum(own, facts), facts, **limits)
        # Two transforms of 192 000 and about 1000 values.
        np.testing.assert_allclose(powers, cells.powers, rtol=1e-4, atol=1e-4)
        np.testing.assert_allclose(host.floor, cells.floor, rtol=1e-5)
        np.testing.assert_allclose(host.levels, cells.levels, rtol=1e-5)
        expected = find_candidates(cells, compiled.framing, band.bars)
        np.testing.assert_allclose(candidates.audio_hz, expected.audio_hz)
        np.testing.assert_allclose(candidates.starts_s, expected.starts_s)
        np.testing.assert_allclose(candidates.scores, expected.scores, rtol=1e-5)


def test_soft_bits_are_those_of_single_places(heard):
    compiled, _, places = heard
    spectra = np.stack([place.spectra for place in places])
    metrics = soft_bits.soft_bits(np, spectra, compiled.framing)
    for own, rows in zip(spectra, metrics, strict=True):
        expected = compiled_soft_bits(own, compiled.framing)
        scale = np.abs(expected).max(axis=1, keepdims=True)
        # Six cells are added in another order: 12 * 2**-24 of a weight, and a bit is the
        # difference of two weights that may exceed the largest such difference.
        np.testing.assert_allclose(rows / scale, expected / scale, atol=3e-6)


def test_tracks_are_those_of_single_places(heard):
    compiled, _, places = heard
    recursions = phases.Recursions(np, compiled.framing)
    best_hz = pursuit.likeliest_errors(recursions, places)
    logs = recursions.track_logs(places, best_hz, STEP_SIZES_RAD)
    for place, error_hz, own in zip(places, best_hz, logs.T, strict=True):
        expected = likeliest_tracks(place, compiled.framing)
        assert error_hz == expected[0].error_hz
        of_steps = {track.step_rad: track.log_likelihood for track in expected}
        # About 100 float32 logarithms of some units each.
        assert own == pytest.approx([of_steps[step] for step in STEP_SIZES_RAD], abs=1e-3)


def test_tone_weights_are_those_of_the_kernel(heard):
    compiled, _, places = heard
    rng = np.random.default_rng(85)
    framing, recursions = compiled.framing, phases.Recursions(np, compiled.framing)
    chosen = places[:4]
    likelihoods, _ = recursions.likelihoods(chosen, np.zeros(len(chosen)))
    even = even_priors(framing)
    priors = even * rng.uniform(0.1, 1.0, (len(chosen), *even.shape)).astype(np.float32)
    steps_rad = STEP_SIZES_RAD[: len(chosen)]
    weights = recursions.tone_weights(likelihoods, priors, recursions.moves(steps_rad))
    for own, of_tones, own_priors, step_rad in zip(
        weights, likelihoods, priors, steps_rad, strict=True
    ):
        step = step_probabilities(step_rad)
        expected = np.empty_like(own_priors)
        trellis_tone_weights(of_tones, own_priors, step, expected)
        np.testing.assert_allclose(own, expected, atol=1e-5)


def noisy_metrics(rng, n_words):
    """(n_words, 174) soft bits of codewords in noise, about as hard as near the threshold."""
    code = mode_named("ft8").layout.code
    words = code.encode(rng.integers(0, 2, (n_words, 77), dtype=np.uint8))
    received = 1.0 - 2.0 * words + 0.95 * rng.standard_normal(words.shape)
    return code, received.astype(np.float32)


def test_nearest_words_are_those_of_the_kernel():
    code, metrics = noisy_metrics(np.random.default_rng(86), 60)
    nearest = reduced.nearest_words(np, metrics, code.generator)
    expected = [decode_ordered_statistics(own, code.generator, 2)[0] for own in metrics]
    np.testing.assert_array_equal(nearest, expected)


@pytest.mark.parametrize(("depth", "n_words"), [(2, 8), (3, 8), (4, 2)])
def test_lists_of_near_words_are_those_of_the_kernel(depth, n_words):
    code, metrics = noisy_metrics(np.random.default_rng(87), n_words)
    problems = reduced.reduce(np, metrics, code.payload_generator)
    lists = near.near_words(np, problems, depth, 200)
    for own, words in zip(metrics, lists, strict=True):
        expected = near_words(own, code.payload_generator, depth, 200)
        np.testing.assert_array_equal(words, expected)


def test_equal_metrics_are_ordered_alike():
    """Bits of one symbol often have the same metric; which goes first decides what is searched."""
    code, metrics = noisy_metrics(np.random.default_rng(88), 60)
    tied = np.round(4.0 * metrics) / np.float32(4.0)
    nearest = reduced.nearest_words(np, tied, code.generator)
    for own, metric in zip(nearest, tied, strict=True):
        _, distance = decode_ordered_statistics(metric, code.generator, 2)
        against = np.abs(metric)[(metric < 0) != (own > 0)].sum()
        # Words may be equally near, too: any of them will do, but none of another search.
        assert against == pytest.approx(distance, rel=1e-6)


def test_blocks_are_as_strong_as_those_of_single_places(heard):
    compiled, _, places = heard
    spectra = np.stack([place.spectra for place in places])
    strengths = soft_bits.block_strengths(np, spectra, compiled.framing)
    for own, found in zip(spectra, strengths, strict=True):
        expected = block_strengths(own, compiled.framing)
        assert (found is None) == (expected is None) == (compiled.framing.facts.n_tones == 8)
        if found is not None:
            np.testing.assert_allclose(found, expected, rtol=1e-5)


def test_words_fit_tracks_as_single_ones_do(heard):
    compiled, _, places = heard
    rng = np.random.default_rng(89)
    framing, recursions = compiled.framing, phases.Recursions(np, compiled.framing)
    payloads = rng.integers(0, 2, (5, 77), dtype=np.uint8)
    words = (payloads @ framing.payload_generator % 2).astype(np.uint8)
    chosen = places[:3]
    best_hz = pursuit.likeliest_errors(recursions, chosen)
    likelihoods, _ = recursions.likelihoods(chosen, best_hz)
    for number, place in enumerate(chosen):
        track = likeliest_tracks(place, framing)[0]
        moves = recursions.moves([track.step_rad])
        own = likelihoods[number : number + 1]
        logs = recursions.word_logs(own, moves, words[None])[0, 0]
        merged = recursions.merged(own, even_priors(framing)[None])
        _, of_any = recursions.forward(merged, moves)
        bits = (logs - of_any[0, 0]) / np.log(2.0)
        np.testing.assert_allclose(bits, track_bits(track, words, framing), atol=1e-2)
