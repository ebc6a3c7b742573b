"""Play a campaign to a station that listens to a sound device, slot by slot on UTC, and score it.

The journal is the only state, as for any campaign: whatever is stopped, killed or void is found
missing and played again. A trial is written down once its slot was heard whole and in time and the
time for the station's answer has passed.
"""

from collections import deque
from collections.abc import Generator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from solidcopy.actions.folder import folder_of, plan_of
from solidcopy.actions.live_ears import Ear, Sounded
from solidcopy.actions.live_order import block_to_play, n_played_and_wanted, stations_of
from solidcopy.actions.live_report import LiveProgress, SlotReport
from solidcopy.actions.live_wishes import Wishes
from solidcopy.actions.make_slots import slot_of
from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.errors import DeviceError, PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.station_settings import StationSettings
from solidcopy.soundcard.player import LEAD_S, Hearing, Played, SlotPlayer
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.outcome import Outcome

PAUSE_S = 1.0
TRY_AGAIN_S = 2.0
"""A device that is gone is looked for so often."""
MANY_SILENT = 12
"""So many slots in a row without any decode are told; weak signals alone may do it, too."""
SOUND = "live"
"""In place of a file's name, of a slot that was played straight into a sound device."""


@dataclass(frozen=True, slots=True)
class LiveOptions:
    """How to play.

    Args:
        every: 1: each slot; 2: each second one, as a station does that listens in between.
        gain_db: of what is played over the recording's own level, 0 or less.
        most_slots: stop after so many; None: when the plan asks for no more.
    """

    every: int = 1
    gain_db: float = 0.0
    most_slots: int | None = None


@dataclass(slots=True, eq=False)
class _OnItsWay:
    """A trial from its cue to its score."""

    key: TrialKey
    sounded: Sounded
    hearing: Hearing
    played: Played | None = None


def the_station(source: Path, name: str | None) -> tuple[int, StationSettings]:
    """The station of a plan that is meant. Raises PlanError if that is not one."""
    stations = stations_of(plan_of(source))
    chosen = {k: v for k, v in stations.items() if name is None or v.name == name}
    if len(chosen) == 1:
        return next(iter(chosen.items()))
    known = ", ".join(f'"{station.name}"' for station in stations.values()) or "none"
    raise PlanError(
        f'{source}: stations in the plan (receivers of kind "station"): {known}; '
        + ("name one of them with --station" if stations else "add the one that listens")
    )


class LiveSession:
    """One run of playing."""

    def __init__(
        self, source: Path, station: int, player: SlotPlayer, ear: Ear, wishes: Wishes
    ) -> None:
        """Nothing is opened yet.

        Args:
            source: plan file, or folder of a campaign.
            station: place of the receiver that listens, in the plan.
            player: of the plan's slots; opened by `carry_out`.
            ear: tells what the station heard.
            wishes: of whoever watches.
        """
        self._plan = plan_of(source)
        self._folder = folder_of(source)
        receiver = self._plan.receivers[station]
        assert isinstance(receiver, StationSettings)
        self._place, self._wait_s = station, receiver.wait_s
        self._player, self._clock, self._ear = player, player.clock, ear
        self._wishes = wishes
        self._slot_s = mode_named(self._plan.mode).facts.slot_s
        self._keys: deque[TrialKey] = deque()
        self._on_way: list[_OnItsWay] = []
        """Cued or heard, and not yet judged; in the order of their slots."""
        self._n_slots = self._n_void = 0
        self._n_silent = 0
        """Scored slots since the station last brought a decode."""
        self._reports: list[SlotReport] = []

    def carry_out(self, options: LiveOptions) -> Generator[LiveProgress]:
        """Play until the plan asks for no more; close the iterator to stop.

        Yields: at the start, after each slot, and at the end.
        Raises: DeviceError, JournalError, LogError, PlanError, CalibrationError.
        """
        with ExitStack() as stack:
            writer = stack.enter_context(
                JournalWriter(self._folder, self._plan, this_environment())
            )
            stack.callback(writer.settle)
            reader = stack.enter_context(JournalReader(self._folder))
            stack.enter_context(self._player)
            self._wishes.clear()
            self._ear.begin()
            yield self._progress(reader, "listening to the sound device's clock")
            while not self._wishes.is_stopped and self._n_slots != options.most_slots:
                if self._wishes.is_paused:
                    yield from self._pause(writer, reader)
                    continue
                key = self._next_key(reader)
                if key is None and not self._on_way:
                    break
                message = self._play_or_wait(key, options)
                self._judge(writer)
                yield self._progress(reader, message)
            self._drain()
            self._judge(writer)
            is_all = not block_to_play(reader, self._place)
            yield self._progress(reader, "finished" if is_all else "stopped")

    def _pause(self, writer: JournalWriter, reader: JournalReader) -> Generator[LiveProgress]:
        self._drain()
        self._judge(writer)
        yield self._progress(reader, "paused")
        self._clock.sleep(PAUSE_S)

    def _play_or_wait(self, key: TrialKey | None, options: LiveOptions) -> str:
        """Have the next trial heard, if there is one; else wait for answers. What was done."""
        try:
            if key is None:
                self._drain()
            else:
                self._play(key, options)
        except DeviceError as error:
            if self._n_slots == 0 or key is None:
                raise
            self._keys.appendleft(key)
            for one in self._on_way:
                self._hear_out(one)
            self._clock.sleep(TRY_AGAIN_S)
            return f"{error}; waiting for it"
        return "playing"

    def _next_key(self, reader: JournalReader) -> TrialKey | None:
        if not self._keys:
            on_way = {one.key for one in self._on_way}
            left = block_to_play(reader, self._place)
            self._keys.extend(key for key in left if key not in on_way)
        return self._keys.popleft() if self._keys else None

    def _play(self, key: TrialKey, options: LiveOptions) -> None:
        """Have one trial cued, and the one before it heard to its end."""
        before = self._on_way[-1] if self._on_way else None
        edge_s = self._edge_behind(before, options.every)
        recording, truth = make(trial_of(self._plan, key))
        self._player.wait(edge_s - LEAD_S, why_silent=self._wishes.why_silent)
        if not self._player.is_ready or not self._is_met(edge_s):
            self._keys.appendleft(key)
            self._hear_out(before)
            return
        self._n_slots += 1
        utc = datetime.fromtimestamp(edge_s, UTC)
        where = (self._n_slots, utc, SOUND, 0.0)
        sounded = Sounded(slot_of(self._plan, key, (recording, truth), where), recording, truth)
        hearing = self._player.cue(recording.waveform, edge_s, gain_db=options.gain_db)
        self._on_way.append(_OnItsWay(key, sounded, hearing))
        self._hear_out(before)

    def _edge_behind(self, before: _OnItsWay | None, every: int) -> float:
        if before is not None and before.played is None and self._player.is_ready:
            edge_s = before.hearing.slot_s + every * self._slot_s
            if self._is_met(edge_s):
                return edge_s
        return self._player.next_slot_s(every=every)

    def _is_met(self, edge_s: float) -> bool:
        return edge_s - self._clock.utc_s() > LEAD_S / 2.0

    def _hear_out(self, one: _OnItsWay | None) -> None:
        if one is None or one.played is not None:
            return
        self._player.wait(one.hearing.end_s, why_silent=self._wishes.why_silent)
        one.played = self._player.end(one.hearing)

    def _drain(self) -> None:
        """Hear out what is on its way, and wait for the station's answers."""
        for one in self._on_way:
            self._hear_out(one)
        answers_at_s = max((self._answers_at_s(one) for one in self._on_way), default=0.0)
        self._player.wait(answers_at_s)

    def _answers_at_s(self, one: _OnItsWay) -> float:
        is_void = one.played is not None and one.played.is_void
        return 0.0 if is_void else one.hearing.end_s + self._wait_s

    def _judge(self, writer: JournalWriter) -> None:
        """Write down every trial whose time is over."""
        now_s = self._clock.utc_s()
        over = [
            one
            for one in self._on_way
            if one.played is not None and now_s >= self._answers_at_s(one)
        ]
        whole = [one for one in over if one.played and not one.played.is_void]
        judged = self._ear.judge([one.sounded for one in whole]) if whole else []
        outcomes = dict(zip((one.key for one in whole), judged, strict=True))
        self._on_way = [one for one in self._on_way if one not in over]
        finished = []
        for one in over:
            outcome = outcomes.get(one.key, "; ".join(one.played.faults if one.played else ()))
            if isinstance(outcome, Outcome):
                finished.append(Finished(one.key, self._place, outcome))
                has_decode = outcome.right is not None or bool(outcome.false)
                self._n_silent = 0 if has_decode else self._n_silent + 1
            else:
                self._n_void += 1
            self._report(one, outcome)
        writer.append(finished)

    def _report(self, one: _OnItsWay, outcome: Outcome | str) -> None:
        assert one.played is not None
        said = (None, outcome) if isinstance(outcome, str) else (outcome, "")
        self._reports.append(SlotReport(one.sounded.slot, one.played, *said))

    def _progress(self, reader: JournalReader, message: str) -> LiveProgress:
        n_done, n_planned = n_played_and_wanted(reader, self._place)
        if self._n_silent >= MANY_SILENT:
            message += (
                f"; the last {self._n_silent} slots brought nothing from the station: is it "
                "listening, and to this sound?"
            )
        reports, self._reports = tuple(self._reports), []
        sounding = [one for one in self._on_way if one.played is None]
        return LiveProgress(
            message=message,
            n_done=n_done,
            n_planned=n_planned,
            n_void=self._n_void,
            now_sent=sounding[-1].sounded.slot if sounding else None,
            slots=reports,
        )
