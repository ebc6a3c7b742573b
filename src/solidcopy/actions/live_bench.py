"""From what a person asks to a session: device, clock, ear and the plan's set-up put together."""

from collections.abc import Generator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from solidcopy.actions.folder import folder_of, plan_of
from solidcopy.actions.live_ears import Ear, LineEar, LogEar, OwnEar
from solidcopy.actions.live_plan import keep_confirmation, statement
from solidcopy.actions.live_report import LiveProgress
from solidcopy.actions.live_wishes import Wishes
from solidcopy.actions.play_campaign import LiveOptions, LiveSession, the_station
from solidcopy.errors import PlanError
from solidcopy.logs.entry import ReadOptions
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.soundcard.card import CardInput, CardOutput
from solidcopy.soundcard.clock import SystemClock
from solidcopy.soundcard.clock_source import clock_reading
from solidcopy.soundcard.player import SlotPlayer
from solidcopy.soundcard.recorder import Recorder
from solidcopy.trials.live_setup import LiveSetUp

KEPT_SLOTS = 3.0
"""Of sound, for our own ear: the slot, the waiting time, and room."""


@dataclass(frozen=True, slots=True)
class LiveRequest:
    """What a person asks; None: as the plan says. One of the three ears is to be given."""

    source: Path
    station: str | None = None
    log: Path | None = None
    lines: IO[bytes] | None = None
    own_ear: str | None = None
    """Sound input by number or name; empty: the system's own."""
    reading: ReadOptions = field(default_factory=ReadOptions)
    output: str | None = None
    every: int | None = None
    gain_db: float | None = None
    most_slots: int | None = None
    time_server: str | None = None


class LiveBench:
    """A campaign ready to be played."""

    def __init__(self, request: LiveRequest) -> None:
        """Opens nothing. Raises PlanError."""
        self._request = request
        self._plan = plan_of(request.source)
        self._facts = mode_named(self._plan.mode).facts
        self._place, self._station = the_station(request.source, request.station)
        given = [ear for ear in (request.log, request.lines, request.own_ear) if ear is not None]
        if len(given) != 1:
            raise PlanError(
                "say where the decodes come from: one of --log FILE, --lines and --own-ear INPUT"
            )
        asked = {
            name: value
            for name in ("output", "every", "gain_db")
            if (value := getattr(request, name)) is not None
        }
        known = (self._plan.live or LiveSetUp()).model_dump()
        self.set_up = LiveSetUp.model_validate({**known, **asked})
        self._clock = SystemClock()
        self.wishes = Wishes(folder_of(request.source))

    def statement(self) -> str:
        """What a person must confirm once for this output."""
        return statement(self.set_up.output)

    def confirm(self) -> None:
        """Remember in the plan file that it was confirmed. Raises PlanError."""
        if self._request.source.is_dir():
            raise PlanError(
                f"{self._request.source}: the confirmation is kept in the plan file: give that one"
            )
        self.set_up = keep_confirmation(self._request.source, self.set_up)

    def clock_sentence(self) -> str:
        """How sure this machine's time is. Raises DeviceError."""
        return clock_reading(self._clock, ntp_host=self._request.time_server).sentence

    def carry_out(self) -> Generator[LiveProgress]:
        """Play; see `LiveSession`. Raises PlanError where nothing was confirmed."""
        if not self.set_up.is_confirmed:
            raise PlanError("this output was not confirmed as safe to play into")
        options = LiveOptions(
            every=self.set_up.every,
            gain_db=self.set_up.gain_db,
            most_slots=self._request.most_slots,
        )
        output = CardOutput(self.set_up.output or None)
        player = SlotPlayer(output, self._clock, slot_s=self._facts.slot_s)
        with ExitStack() as stack:
            ear = self._ear(stack)
            session = LiveSession(self._request.source, self._place, player, ear, self.wishes)
            yield from session.carry_out(options)

    def _ear(self, stack: ExitStack) -> Ear:
        request = self._request
        if request.log is not None:
            return LogEar(request.log, request.reading, self._station, self._facts)
        if request.lines is not None:
            return LineEar(request.lines, request.reading, self._station, self._facts)
        keep_s = KEPT_SLOTS * self._facts.slot_s + self._station.wait_s
        recorder = Recorder(CardInput(request.own_ear or None), self._clock, keep_s=keep_s)
        receiver = build_receiver(BuiltinSettings(), mode_named(self._plan.mode))
        return OwnEar(stack.enter_context(recorder), receiver, self._facts)
