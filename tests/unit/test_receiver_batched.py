"""Array operations for many slots, with numpy as their namespace, against the compiled receiver.

Nothing here needs an accelerator: the same functions run there with another namespace. What must
agree with the compiled loops is what they compute, within the rounding of float32 sums (2**-24
relative for each addition; a sum of n terms stays within n * 2**-24, derived).
"""

import sys

import numpy as np
import pytest

from solidcopy import units
from solidcopy.campaigns import workers
from solidcopy.campaigns.workers import Batch, Job, run_batch
from solidcopy.errors import PlanError
from solidcopy.kernels.near_words import near_words
from solidcopy.kernels.ordered_statistics import decode_ordered_statistics
from solidcopy.kernels.phase_trellis import trellis_tone_weights
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.batched import (
    arrays,
    front_end,
    phases,
    pursuit,
    search,
    soft_bits,
)
from solidcopy.receivers.builtin.batched.receiver import BatchedReceiver
from solidcopy.receivers.builtin.front_end import cell_grid, long_spectrum, work_samples
from solidcopy.receivers.builtin.receiver import build_receiver
from solidcopy.receivers.builtin.search import find_candidates
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.builtin.stages import CompiledStages, FirstSearch
from solidcopy.receivers.builtin.tracks import (
    STEP_SIZES_RAD,
    even_priors,
    likeliest_tracks,
    step_probabilities,
)
from solidcopy.receivers.builtin.words import soft_bits as compiled_soft_bits
from solidcopy.receivers.catalogue import build_receiver as build_any
from solidcopy.receivers.receiver import ManySlotsReceiver, Reception
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.identity import identity_of, receiver_identity
from solidcopy.trials.plan import parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT

pytestmark = pytest.mark.derived

RATE_HZ = 12_000
SIGMA = 0.02
NEAR_DB = {"ft8": -21.0, "ft4": -17.5}
"""Where about every other slot is decoded: answers of both kinds are compared."""


def noise(rng, mode):
    return SIGMA * rng.standard_normal(round(mode.facts.slot_s * RATE_HZ))


def slot(rng, mode, snr_db, *, audio_hz=None):
    """Noise alone, or one random message in it."""
    samples = noise(rng, mode)
    if snr_db is not None:
        tones = mode.encode(mode.draw_message(rng))
        audio_hz = rng.uniform(300.0, 2600.0) if audio_hz is None else audio_hz
        signal = mode.modulate(tones, sample_rate_hz=RATE_HZ, audio_hz=audio_hz).real
        density = SIGMA**2 / (RATE_HZ / 2)
        power = units.ratio_from_db(snr_db) * density * units.REFERENCE_BANDWIDTH_HZ
        first = round(rng.uniform(0.2, 0.9) * RATE_HZ)
        samples[first : first + signal.size] += np.sqrt(2.0 * power) * signal
    return Waveform(samples.astype(np.float32), RATE_HZ)


def receivers(name, **settings):
    compiled = build_receiver(BuiltinSettings(**settings), mode_named(name))
    return compiled, BatchedReceiver(compiled, np)


def assert_alike(compiled, batched, waveforms):
    """The same texts from the same stages, numbers but for rounding; returns how many decodes."""
    n_decodes = 0
    many = batched.receive_many(waveforms)
    for waveform, other in zip(waveforms, many, strict=True):
        one = compiled.receive(waveform)
        assert other.failure is None and other.elapsed_s > 0.0
        assert [d.text for d in one.decodes] == [d.text for d in other.decodes]
        for decode, like in zip(one.decodes, other.decodes, strict=True):
            assert decode.path == like.path
            assert like.audio_hz == pytest.approx(decode.audio_hz, abs=1e-6)
            assert like.time_offset_s == pytest.approx(decode.time_offset_s, abs=1e-9)
            # Of a slot without noise the SNR is that of float32 itself.
            assert min(like.snr_db, 100.0) == pytest.approx(min(decode.snr_db, 100.0), abs=1e-3)
            assert like.information_bits == pytest.approx(decode.information_bits, abs=1e-2)
            n_decodes += 1
    return n_decodes


@pytest.mark.parametrize(
    ("name", "effort", "n_slots"),
    [
        ("ft8", "ordered-statistics", 24),
        ("ft4", "ordered-statistics", 12),
        ("ft8", "phase-trellis", 8),
        ("ft4", "phase-trellis", 3),
        ("ft8", "belief-propagation", 6),
    ],
)
def test_the_same_is_decoded(name, effort, n_slots):
    rng = np.random.default_rng(81)
    mode, near_db = mode_named(name), NEAR_DB[name]
    snrs_db = [(near_db, near_db - 1.0, None, near_db + 6.0)[i % 4] for i in range(n_slots)]
    slots = [slot(rng, mode, snr_db) for snr_db in snrs_db]
    assert assert_alike(*receivers(name, effort=effort), slots) >= n_slots // 4


def test_disturbed_slots_are_decoded_alike():
    """Carriers, loud moments, silence, cut and short recordings, another rate: all side by side."""
    rng = np.random.default_rng(82)
    mode = mode_named("ft8")
    times_s = np.arange(180_000) / RATE_HZ
    carrier = slot(rng, mode, -12.0).samples + 0.05 * np.sin(2 * np.pi * 1234.5 * times_s)
    bursts = slot(rng, mode, -12.0).samples * np.where((times_s % 2.0) < 0.2, 8.0, 1.0)
    silent = slot(rng, mode, -12.0).samples * (times_s > 3.0)
    tones_only = mode.modulate(
        mode.encode(mode.draw_message(rng)), sample_rate_hz=RATE_HZ, audio_hz=900.0
    ).real
    crowd = sum(slot(rng, mode, 0.0, audio_hz=hz).samples for hz in (700.0, 730.0, 1500.0))
    samples = [carrier, bursts, silent, 0.1 * tones_only, crowd, np.zeros(180_000), np.zeros(300)]
    slots = [Waveform(own.astype(np.float32), RATE_HZ) for own in samples]
    slots.append(Waveform(slot(rng, mode, -5.0).samples[:150_000].copy(), RATE_HZ))
    slots.append(Waveform(slot(rng, mode, -5.0).samples[::2].copy(), RATE_HZ // 2))
    assert assert_alike(*receivers("ft8"), slots) >= 8


def test_one_slot_cannot_alter_another():
    rng = np.random.default_rng(83)
    mode = mode_named("ft8")
    slots = [slot(rng, mode, -18.0) for _ in range(3)]
    _, batched = receivers("ft8")
    together = batched.receive_many(slots)
    alone = [batched.receive(own) for own in slots]
    assert [one.decodes for one in together] == [one.decodes for one in alone]
    assert batched.receive_many([]) == []


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


def plan_with(*arithmetics):
    noise_at = {"kind": "gaussian-noise", "snr_db": "axis"}
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 3,
            "axis": {"values": [-18.0]},
            "stop": {"trials_per_point": 5},
            "conditions": [{"name": "c", "impairments": [noise_at]}],
            "receivers": [
                {"kind": "builtin", "name": name, "arithmetic": name} for name in arithmetics
            ],
        }
    )


def test_a_batch_of_trials_is_heard_side_by_side(monkeypatch):
    plan = plan_with("compiled", "accelerator")
    monkeypatch.setattr(arrays, "accelerator_namespace", lambda: np)
    monkeypatch.setattr(workers, "MOST_AT_ONCE", 3)
    keys = [TrialKey(0, SENT, -18.0, index) for index in range(4)]
    jobs = [Job(key, (0, 1)) for key in keys] + [Job(TrialKey(0, NOTHING_SENT, -18.0, 0), (1,))]
    finished = run_batch(Batch(plan.model_dump_json(), tuple(jobs))).finished
    assert [(item.key, item.receiver) for item in finished] == [
        (job.key, place) for job in jobs for place in job.receivers
    ]
    pairs = zip(finished[:-1:2], finished[1:-1:2], strict=True)
    for one, other in pairs:
        assert one.outcome.digest == other.outcome.digest
        assert one.outcome.right.text == other.outcome.right.text
    assert finished[-1].outcome.false == ()


class Together:
    """Throws wherever one waveform is silent, whether alone or among others."""

    def receive(self, waveform):
        return self.receive_many([waveform])[0]

    def receive_many(self, waveforms):
        if any(not own.samples.any() for own in waveforms):
            raise RuntimeError("silence")
        return [Reception((), 0.5) for _ in waveforms]


def test_a_failure_among_many_costs_its_own_trial_only():
    sound = Waveform(np.ones(100, np.float32), RATE_HZ)
    silence = Waveform(np.zeros(100, np.float32), RATE_HZ)
    assert isinstance(Together(), ManySlotsReceiver)
    answers = workers.receive_all_safely(Together(), [sound, silence, sound])
    assert [answer.failure is None for answer in answers] == [True, False, True]
    assert "silence" in answers[1].failure


def test_without_the_package_one_sentence_says_what_to_do(monkeypatch):
    monkeypatch.setitem(sys.modules, "cupy", None)
    settings = BuiltinSettings(arithmetic="accelerator")
    with pytest.raises(PlanError) as raised:
        build_any(settings, mode_named("ft8"))
    said = str(raised.value)
    assert "cupy" in said and "solidcopy[accelerator]" in said and '"compiled"' in said


def test_without_a_device_one_sentence_says_what_to_do(monkeypatch):
    class Deviceless:
        def arange(self, n):
            raise RuntimeError("no CUDA-capable device is detected\nand more")

    monkeypatch.setitem(sys.modules, "cupy", Deviceless())
    with pytest.raises(PlanError, match="no CUDA-capable device is detected") as raised:
        arrays.accelerator_namespace()
    assert "\n" not in str(raised.value)


def test_the_usual_arithmetic_leaves_the_identity_as_it_was():
    usual, other = (BuiltinSettings(arithmetic=name) for name in ("compiled", "accelerator"))
    older = {
        "kind": "builtin",
        "effort": "ordered-statistics",
        "passes": 4,
        "low_hz": 200.0,
        "high_hz": 2900.0,
        "recipe": BuiltinSettings.recipe,
    }
    assert receiver_identity(usual) == identity_of(older)
    assert receiver_identity(other) == identity_of({**older, "arithmetic": "accelerator"})
