"""Array operations for many slots, with numpy as their namespace, against the compiled receiver.

Nothing here needs an accelerator: the same functions run there with another namespace.
"""

import numpy as np
import pytest

from batched_slots import NEAR_DB, RATE_HZ, receivers, slot
from solidcopy.modes.registry import mode_named
from solidcopy.signals.waveform import Waveform

pytestmark = pytest.mark.derived


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
