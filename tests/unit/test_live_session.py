"""A campaign is played to a station on a simulated sound card and scored by the station's log."""

from contextlib import closing
from datetime import UTC, datetime

import pytest

from simulated_card import SimulatedCard, SimulatedClock, once
from solidcopy.actions.folder import folder_of
from solidcopy.actions.live_ears import LogEar
from solidcopy.actions.live_wishes import Wishes
from solidcopy.actions.play_campaign import LiveOptions, LiveSession, the_station
from solidcopy.actions.run import read_status
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import DeviceError, PlanError
from solidcopy.logs.entry import ReadOptions
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.signals.waveform import Waveform
from solidcopy.soundcard.player import SlotPlayer
from solidcopy.trials.plan import read_plan

PLAN = """
title = "Harbour, live"
mode = "ft4"
root_seed = 5
axis = { values = [-30, -8] }
stop = { trials_per_point = 3, nothing_sent = 1 }

[[conditions]]
name = "noise"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]

[[receivers]]
kind = "station"
listener = "our own receiver behind a simulated card"
"""
N_TRIALS = 7
SLOT_S = 7.5


class Station:
    """Decodes each slot a second after its end and writes a line, as software of a station does."""

    def __init__(self, clock, card, log):
        mode = mode_named("ft4")
        self._receiver = build_receiver(BuiltinSettings(), mode)
        self._clock, self._card, self._log = clock, card, log
        self._next_s = (clock.utc_s() // SLOT_S + 1) * SLOT_S
        clock.listeners.append(self._work)

    def _work(self, _):
        while self._clock.utc_s() > self._next_s + SLOT_S + 1.0:
            slot_s, self._next_s = self._next_s, self._next_s + SLOT_S
            start_s = slot_s - self._clock.utc_at_zero_s
            sound = self._card.between(start_s, start_s + SLOT_S)
            if not sound.any():
                continue
            at = datetime.fromtimestamp(slot_s, UTC)
            heard = self._receiver.receive(Waveform(sound, self._card.rate_hz))
            with self._log.open("a") as out:
                for decode in heard.decodes:
                    out.write(f"{at:%Y-%m-%d %H:%M:%S}, {decode.audio_hz:.0f}, {decode.text}\n")


@pytest.fixture
def bench(tmp_path):
    plan = tmp_path / "live.toml"
    plan.write_text(PLAN)
    clock = SimulatedClock()
    card = SimulatedCard(clock, ppm=80.0)
    log = tmp_path / "station.log"
    log.write_text("2020-01-01 00:00:00, 1500, CQ Q1ABC JO01\n")
    return plan, clock, card, Station(clock, card, log), log


def session(bench):
    plan, clock, card, _, log = bench
    place, station = the_station(plan, None)
    facts = mode_named("ft4").facts
    ear = LogEar(log, ReadOptions(), station, facts)
    player = SlotPlayer(card, clock, slot_s=facts.slot_s)
    return LiveSession(plan, place, player, ear, Wishes(folder_of(plan)))


def carried_out(bench, **options):
    return list(session(bench).carry_out(LiveOptions(**options)))


def counts(plan):
    (curve,) = read_status(plan).curves
    return {point.axis_value: (point.n_decoded, point.n_scored) for point in curve.points}


@pytest.mark.parametrize("every", [1, 2])
def test_every_trial_is_scored(bench, every):
    said = carried_out(bench, every=every)
    assert said[-1].message == "finished"
    assert (said[-1].n_done, said[-1].n_planned, said[-1].n_void) == (N_TRIALS, N_TRIALS, 0)
    assert counts(bench[0]) == {-30.0: (0, 3), -8.0: (3, 3)}
    slots = [report.slot for one in said for report in one.slots]
    assert len(slots) == N_TRIALS
    assert {slot.utc.timestamp() % (every * SLOT_S) for slot in slots} == {0.0}
    errors_s = [report.played.start_error_s for one in said for report in one.slots]
    assert max(map(abs, errors_s)) < 1e-3


def test_a_station_that_brings_nothing_is_told(bench):
    bench[0].write_text(PLAN.replace("per_point = 3, nothing_sent = 1", "per_point = 7"))
    log = bench[-1].with_name("another.log")  # not the one that the station writes
    said = carried_out((*bench[:-1], log), most_slots=13)
    assert "brought nothing" not in said[12].message
    assert "the last 13 slots brought nothing from the station: is it listening" in said[-1].message


def test_a_void_slot_is_played_again_and_scores_nothing(bench):
    clock = bench[1]
    clock.listeners.insert(0, once(25.0, lambda: clock.set_by(2.0)))
    said = carried_out(bench)
    assert said[-1].message == "finished"
    assert 1 <= said[-1].n_void <= 2
    void = [report for one in said for report in one.slots if report.outcome is None]
    assert {report.reason for report in void} == {"the clock was set by +2.00 s"}
    assert said[-1].n_done == N_TRIALS


def test_a_slot_that_is_skipped_is_played_later(bench):
    clock, wishes = bench[1], Wishes(folder_of(bench[0]))
    clock.listeners.insert(0, once(25.0, wishes.skip))
    said = carried_out(bench)
    void = [report.reason for one in said for report in one.slots if report.outcome is None]
    assert set(void) == {"it was skipped"}
    assert (said[-1].message, said[-1].n_done) == ("finished", N_TRIALS)


def test_a_pause_plays_nothing_and_loses_nothing(bench):
    clock, wishes = bench[1], Wishes(folder_of(bench[0]))
    clock.listeners.insert(0, once(25.0, wishes.pause))
    clock.listeners.insert(0, once(200.0, wishes.go_on))
    said = carried_out(bench)
    assert "paused" in [one.message for one in said]
    began = [r.slot.utc.timestamp() - clock.utc_at_zero_s for one in said for r in one.slots]
    assert not [at for at in began if 40.0 < at < 195.0]
    assert (said[-1].n_done, said[-1].n_void) == (N_TRIALS, 0)


def test_a_card_that_is_pulled_out_is_waited_for(bench):
    clock, card = bench[1], bench[2]
    clock.listeners.insert(0, once(25.0, card.unplug))
    clock.listeners.insert(0, once(60.0, lambda: setattr(card, "is_unplugged", False)))
    said = carried_out(bench)
    assert any("waiting for it" in one.message for one in said)
    assert (said[-1].message, said[-1].n_done) == ("finished", N_TRIALS)
    assert counts(bench[0]) == {-30.0: (0, 3), -8.0: (3, 3)}


def test_a_card_that_never_was_there_is_refused(bench):
    bench[2].is_unplugged = True
    with pytest.raises(DeviceError, match="cannot be opened"):
        carried_out(bench)


def test_what_is_stopped_goes_on_later(bench):
    said = carried_out(bench, most_slots=3)
    assert (said[-1].message, said[-1].n_done) == ("stopped", 3)
    said = carried_out(bench)
    assert (said[-1].message, said[-1].n_done) == ("finished", N_TRIALS)


def test_closing_in_mid_slot_loses_that_slot_only(bench):
    with closing(session(bench).carry_out(LiveOptions())) as playing:
        for one in playing:
            if one.n_done == 2:
                break
    assert read_status(bench[0]).n_done == 2
    assert carried_out(bench)[-1].n_done == N_TRIALS


def test_the_order_is_drawn_and_stays(bench):
    said = carried_out(bench)
    values = [report.slot.axis_value for one in said for report in one.slots]
    assert values != sorted(values)


def test_a_line_that_comes_too_late_does_not_count(bench):
    plan = bench[0]
    plan.write_text(PLAN + "wait_s = 0.0\n")
    carried_out(bench)
    assert counts(plan)[-8.0] == (0, 3)


def test_a_plan_without_a_station_is_refused(tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.split("[[receivers]]", maxsplit=1)[0])
    with pytest.raises(PlanError, match='receivers of kind "station"'):
        the_station(plan, None)


def test_a_station_cannot_be_run_offline(bench):
    (settings,) = read_plan(bench[0]).receivers
    with pytest.raises(PlanError, match="solidcopy play"):
        build_receiver(settings, mode_named("ft4"))


def test_journal_names_the_station(bench):
    carried_out(bench)
    with JournalReader(bench[0].with_suffix(".campaign")) as reader:
        assert reader.plan.receivers[0].listener.startswith("our own receiver")
