"""`make validate`: crowded slots, pass by pass, and what a strong neighbour costs.

Prints the tables that docs/accuracy.md holds. The targets are ours, no outside source: 29.9 of 30
transmissions at -18 to +10 dB on average, no wrong text, in 40 slots.
"""

import numpy as np
import pytest

from crowded_slot import Sent, crowded_slot, draw_sent
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.receiver import BuiltinReceiver, build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.statistics.interval import wilson

pytestmark = pytest.mark.sweep

N_SLOTS = 40
N_SIGNALS = 30
N_NEIGHBOURS = 100


def receiver_of(passes: int) -> BuiltinReceiver:
    return build_receiver(BuiltinSettings(passes=passes), mode_named("ft8"))


@pytest.mark.derived
def test_forty_crowded_slots() -> None:
    rng = np.random.default_rng(40)
    slots = []
    for _ in range(N_SLOTS):
        sent = [draw_sent(rng) for _ in range(N_SIGNALS)]
        slots.append((sent, crowded_slot(rng, sent)))
    print(f"\n{N_SIGNALS} signals, -18 to +10 dB, {N_SLOTS} slots")
    print("passes | right on average | least | wrong in all | SNR error, dB | s per slot")
    for passes in (1, 2, 3, 4):
        receiver = receiver_of(passes)
        n_right, n_wrong, errors_db, elapsed_s = [], 0, [], []
        for sent, waveform in slots:
            snrs_db = {item.text: item.snr_db for item in sent}
            reception = receiver.receive(waveform)
            right = {d.text: d for d in reception.decodes if d.text in snrs_db}
            n_right.append(len(right))
            n_wrong += len(reception.decodes) - len(right)
            errors_db += [d.snr_db - snrs_db[text] for text, d in right.items()]
            elapsed_s.append(reception.elapsed_s)
        print(
            f"{passes:6d} | {np.mean(n_right):16.3f} | {min(n_right):5d} | {n_wrong:12d} | "
            f"{np.mean(errors_db):+6.2f} ± {np.std(errors_db):.2f} | {np.median(elapsed_s):.3f}"
        )
        assert n_wrong == 0
    assert np.mean(n_right) >= 29.9
    assert abs(np.mean(errors_db)) < 0.5


@pytest.mark.derived
@pytest.mark.parametrize("strong_db", [0.0, 10.0, 20.0])
def test_a_weak_signal_beside_a_strong_one(strong_db: float) -> None:
    receivers = {passes: receiver_of(passes) for passes in (1, 4)}
    print(f"\nweak -19 dB, strong {strong_db:+g} dB, {N_NEIGHBOURS} slots each: weak one decoded")
    for apart_hz in (0.0, 30.0, 60.0, 80.0, 100.0):
        n_found = dict.fromkeys(receivers, 0)
        for trial in range(N_NEIGHBOURS):
            rng = np.random.default_rng([7, trial])
            strong = Sent(
                "Q1ABC Q2XYZ -07", rng.uniform(500.0, 2300.0), rng.uniform(0.2, 1.6), strong_db
            )
            weak = Sent(
                "CQ Q3DEF JO33",
                strong.audio_hz + rng.choice([-1.0, 1.0]) * apart_hz,
                rng.uniform(0.2, 1.6),
                -19.0,
            )
            slot = crowded_slot(rng, [strong, weak])
            for passes, receiver in receivers.items():
                found = [decode.text for decode in receiver.receive(slot).decodes]
                assert strong.text in found
                n_found[passes] += weak.text in found
        print(f"{apart_hz:5.0f} Hz apart: {n_found[1]} with one pass, {n_found[4]} with four")
        assert wilson(n_found[4], N_NEIGHBOURS, 0.95).high > 0.98
