"""A recording stands at its slot's edge, whatever the card's crystal does (simulated cards)."""

import math

import numpy as np
import pytest

from simulated_card import SimulatedCard, SimulatedClock
from solidcopy.errors import DeviceError
from solidcopy.signals.waveform import Waveform
from solidcopy.soundcard.player import LEAD_S, SlotPlayer

SLOT_S = 15.0
SOUND = Waveform(np.full(12_000, 0.25, np.float32), 12_000)


def played_at_edges(clock, card, n_slots, *, every=1):
    """Plays sounds of a second, each cued while the one before may be on its way."""
    found = []
    with SlotPlayer(card, clock, slot_s=SLOT_S) as player:
        edge_s = player.next_slot_s(every=every)
        for _ in range(n_slots):
            player.wait(edge_s - LEAD_S)
            hearing = player.cue(SOUND, edge_s)
            player.wait(hearing.end_s)
            found.append(player.end(hearing))
            edge_s += every * SLOT_S
    return found


def true_errors_s(clock, card, found):
    # Half a fade at the start of a sound is below what counts as sounding: one sample.
    return np.array(
        [
            heard_s + clock.utc_at_zero_s - one.slot_s
            for (heard_s, _), one in zip(card.heard, found, strict=True)
        ]
    )


@pytest.mark.parametrize("ppm", [-200.0, -50.0, 0.0, 50.0, 200.0])
def test_slots_are_met_for_hours(ppm):
    """Derived: an hour at 200 ppm is 0.72 s; each slot is put right by itself, so no error grows
    beyond what the card's word of its timing scatters (1 ms here).
    """
    clock = SimulatedClock()
    card = SimulatedCard(clock, ppm=ppm)
    found = played_at_edges(clock, card, 720)
    errors_s = true_errors_s(clock, card, found)
    print(
        f"{ppm:+.0f} ppm: largest {np.abs(errors_s).max() * 1e3:.2f} ms, "
        f"rms {errors_s.std() * 1e3:.2f} ms"
    )
    assert not any(one.is_void for one in found)
    assert np.abs(errors_s).max() < 1e-3
    assert found[-1].ppm == pytest.approx(ppm, abs=3.0)


def test_a_sound_lasts_as_long_as_it_should():
    clock = SimulatedClock()
    card = SimulatedCard(clock, ppm=200.0, scatter_s=0.0)
    played_at_edges(clock, card, 40)
    n_frames = card.heard[-1][1]
    assert n_frames / card._true_hz == pytest.approx(1.0, abs=3 / 12_000)


def test_every_second_slot():
    clock = SimulatedClock()
    card = SimulatedCard(clock)
    found = played_at_edges(clock, card, 3, every=2)
    assert [one.slot_s % 30.0 for one in found] == [0.0, 0.0, 0.0]
    assert found[1].slot_s - found[0].slot_s == 30.0


def one_slot(clock, card, happens, *, after_s=0.5):
    """One sound of eight seconds; something happens in the middle of it."""
    long = Waveform(np.full(8 * 12_000, 0.25, np.float32), 12_000)
    with SlotPlayer(card, clock, slot_s=SLOT_S) as player:
        hearing = player.cue(long, player.next_slot_s())
        player.wait(hearing.slot_s + after_s)
        happens()
        player.wait(hearing.end_s)
        first = player.end(hearing)
        try:
            hearing = player.cue(SOUND, player.next_slot_s())
            player.wait(hearing.end_s)
            return first, player.end(hearing)
        except DeviceError as error:
            return first, error


def test_a_card_that_ran_dry_makes_its_trial_void_only():
    clock = SimulatedClock()
    card = SimulatedCard(clock)
    first, second = one_slot(clock, card, lambda: card.run_dry(0.03))
    assert first.faults == ("the sound card ran dry",)
    assert not second.is_void
    assert abs(card.heard[-1][0] + clock.utc_at_zero_s - second.slot_s) < 2e-3


@pytest.mark.parametrize("by_s", [2.0, -2.0])
def test_a_clock_that_is_set_makes_its_trial_void_only(by_s):
    clock = SimulatedClock()
    card = SimulatedCard(clock)
    first, second = one_slot(clock, card, lambda: clock.set_by(by_s))
    assert first.faults == (f"the clock was set by {by_s:+.2f} s",)
    assert not second.is_void
    assert abs(card.heard[-1][0] + clock.utc_at_zero_s - second.slot_s) < 2e-3


def test_a_card_that_is_pulled_out_is_told():
    clock = SimulatedClock()
    card = SimulatedCard(clock)
    first, second = one_slot(clock, card, card.unplug)
    assert first.faults == ("the sound card is gone",)
    assert isinstance(second, DeviceError)


def test_a_card_that_comes_back_is_used_again():
    clock = SimulatedClock()
    card = SimulatedCard(clock)

    def out_and_in():
        card.unplug()
        card.is_unplugged = False

    first, second = one_slot(clock, card, out_and_in)
    assert first.is_void
    assert not second.is_void


def test_what_is_stopped_is_void():
    clock = SimulatedClock()
    card = SimulatedCard(clock)
    with SlotPlayer(card, clock, slot_s=SLOT_S) as player:
        hearing = player.cue(SOUND, player.next_slot_s())
        player.wait(hearing.end_s, why_silent=lambda: "it was skipped")
        assert player.end(hearing).faults == ("it was skipped",)
    assert card.heard == [] and math.isfinite(hearing.slot_s)
