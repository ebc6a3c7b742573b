"""Sends recordings at the edges of UTC's slots, for hours.

The stream is opened once and kept open; it plays silence between recordings. Each recording is
placed by the stream's own clock (`StreamClock`), so a card that is fast or slow is put right in the
gap before every slot, and is resampled to the card's measured rate, so that tones are right too.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Self

import numpy as np

from solidcopy import units
from solidcopy.errors import DeviceError
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Waveform
from solidcopy.soundcard.clock import Clock, StepWatch
from solidcopy.soundcard.feed import Cue, Feed, Frames
from solidcopy.soundcard.output import Output, Trouble
from solidcopy.soundcard.stream_clock import StreamClock

LOOK_EVERY_S = 0.2
LEAD_S = 2.0
"""A recording is handed over so long before its slot: longer than any card's buffer."""
MOST_SETTLE_S = 30.0
"""A stream that has just begun is waited for until it runs evenly, but not longer than this."""
MOST_START_ERROR_S = 0.02
"""A trial that started farther from its slot's edge is void (common practice, no source: modes
with slots bear a few tenths of a second)."""
EDGE_S = 0.005
"""Sound is faded in and out over this time, so that no slot begins with a click."""


@dataclass(frozen=True, slots=True)
class Played:
    """What became of one recording."""

    slot_s: float
    """UTC of its slot's edge."""
    start_error_s: float
    """From the edge to its first sample, by the stream's clock; positive: late."""
    ppm: float
    """By how much the card was faster than its nominal rate."""
    faults: tuple[str, ...]
    """Why the trial is void; empty: it was heard whole and in time."""

    @property
    def is_void(self) -> bool:
        """It says nothing about the receiver and is played again."""
        return bool(self.faults)


@dataclass(slots=True, eq=False)
class Hearing:
    """A recording on its way."""

    slot_s: float
    """UTC of its slot's edge."""
    end_s: float
    """UTC at which it has been heard whole."""
    cue: Cue
    faults: list[str] = field(default_factory=list)


class SlotPlayer:
    """Plays recordings, each from a slot's edge on. Use it as a context."""

    def __init__(self, output: Output, clock: Clock, *, slot_s: float) -> None:
        """Nothing is opened yet.

        Args:
            output: where the sound goes.
            clock: UTC and a steady clock.
            slot_s: length of a slot; edges are its whole multiples since 1970-01-01 UTC.
        """
        self._output, self.clock, self.slot_s = output, clock, slot_s
        self._feed = Feed()
        self._stream = StreamClock(output.rate_hz)
        self._watch = StepWatch(clock)
        self._hearings: list[Hearing] = []
        self._is_open = False

    def __enter__(self) -> Self:
        """Open the stream. Raises DeviceError."""
        self._open()
        return self

    def __exit__(self, *_: object) -> None:
        self._close()

    @property
    def is_ready(self) -> bool:
        """Whether the stream is open and runs evenly, so that something can be cued."""
        return self._is_open and self._stream.is_settled

    def next_slot_s(self, *, every: int = 1) -> float:
        """UTC of the next edge that can still be met; waits until the stream runs evenly.

        Args:
            every: 1: each slot; 2: each second one, as a station does that listens in between.
        Raises: DeviceError if the device is gone.
        """
        if not self._is_open:
            self._open()
        if not self.is_ready:
            self._settle()
        step_s = self.slot_s * every
        return math.ceil((self.clock.utc_s() + LEAD_S) / step_s) * step_s

    def cue(self, waveform: Waveform, slot_s: float, *, gain_db: float = 0.0) -> Hearing:
        """Have a recording heard from a slot's edge on.

        Args:
            waveform: full scale ±1.0; not changed.
            slot_s: UTC of an edge from `next_slot_s`, or of one behind it without a fault between.
            gain_db: 0 or less.
        """
        rate_hz = self._output.rate_hz * (1.0 + self._stream.ppm() * 1e-6)
        frames = resampled(waveform.samples, from_hz=waveform.sample_rate_hz, to_hz=rate_hz)
        first_frame = round(self._stream.frame_at(self._steady_s(slot_s)))
        sound = _softened(frames, self._output.rate_hz)
        sound *= np.float32(math.sqrt(units.ratio_from_db(gain_db)))
        cue = Cue(first_frame, sound)
        end_s = slot_s + waveform.samples.size / waveform.sample_rate_hz
        hearing = Hearing(slot_s, end_s, cue)
        self._feed.add(cue)
        self._hearings.append(hearing)
        return hearing

    def wait(self, until_s: float, *, why_silent: Callable[[], str] = lambda: "") -> None:
        """Watch the stream until a moment of UTC, or until something that is on its way is void.

        Args:
            why_silent: asked a few times a second; once it gives a reason, all sound ends.
        """
        while (left_s := until_s - self.clock.utc_s()) > 0.0:
            self.clock.sleep(min(LOOK_EVERY_S, left_s))
            faults = self._faults()
            if reason := why_silent():
                faults.append(reason)
            if faults:
                self._feed.cut()
                for hearing in self._hearings:
                    hearing.faults += [one for one in faults if one not in hearing.faults]
            if any(hearing.faults for hearing in self._hearings):
                return

    def end(self, hearing: Hearing) -> Played:
        """What became of a recording that has been waited for."""
        self._hearings.remove(hearing)
        faults = list(hearing.faults)
        if not faults and self.clock.utc_s() < hearing.end_s - LOOK_EVERY_S:
            raise ValueError("it has not been heard to its end; wait first")
        error_s = ppm = math.nan
        if self._stream.is_known:
            heard_s = self._stream.time_of(hearing.cue.first_frame)
            error_s, ppm = heard_s - self._steady_s(hearing.slot_s), self._stream.ppm()
        if not faults and not abs(error_s) <= MOST_START_ERROR_S:
            faults.append(f"it began {error_s * 1e3:+.0f} ms from its slot's edge")
        return Played(hearing.slot_s, error_s, ppm, tuple(faults))

    def _open(self) -> None:
        self._stream.forget()
        self._output.open(self._feed.fill, self._stream.note)
        self._is_open = True

    def _settle(self) -> None:
        """Raises DeviceError if no sound goes out, or none that runs evenly."""
        give_up_s = self.clock.steady_s() + MOST_SETTLE_S
        while not self._stream.is_settled and self.clock.steady_s() < give_up_s:
            self.wait(self.clock.utc_s() + LOOK_EVERY_S)
        if not self._stream.is_known:
            self._close()
            raise DeviceError("the sound device was opened but takes no sound; choose another one")
        if not self._stream.is_settled:
            raise DeviceError(
                f"the sound device did not run evenly within {MOST_SETTLE_S:.0f} s; close what "
                "else keeps this machine busy, or choose another device"
            )

    def _close(self) -> None:
        self._is_open = False
        self._output.close()

    def _faults(self) -> list[str]:
        """What happened since the last look that makes a trial void."""
        faults: list[str] = []
        for trouble in self._output.troubles():
            self._stream.forget()
            faults.append(str(trouble.kind))
            if trouble.kind is Trouble.ENDED:
                self._close()
        by_s = self._watch.look()
        if by_s is not None:
            faults.append(f"the clock was set by {by_s:+.2f} s")
        return faults

    def _steady_s(self, utc_s: float) -> float:
        return utc_s - self.clock.utc_s() + self.clock.steady_s()


def _softened(frames: np.ndarray, rate_hz: int) -> Frames:
    """With short fades, as float32."""
    soft = frames.astype(np.float32)
    n = min(int(EDGE_S * rate_hz), soft.size // 2)
    ramp = np.sin(np.linspace(0.0, np.pi / 2.0, n, dtype=np.float32)) ** 2
    soft[:n] *= ramp
    soft[soft.size - n :] *= ramp[::-1]
    return soft
