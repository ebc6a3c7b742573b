"""Keeps the last minutes of an input stream, and cuts slots out of it by UTC."""

import threading
from collections import deque
from typing import Self

import numpy as np

from solidcopy.errors import DeviceError
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Waveform
from solidcopy.soundcard.clock import Clock
from solidcopy.soundcard.feed import Frames
from solidcopy.soundcard.input import Input
from solidcopy.soundcard.output import Trouble
from solidcopy.soundcard.stream_clock import StreamClock

MARGIN_S = 0.05
"""Cut on both sides of a slot, so that the filter of the rate's change has run in."""


class Recorder:
    """An input stream that can be asked for any slot of the last minutes. Use it as a context."""

    def __init__(self, source: Input, clock: Clock, *, keep_s: float) -> None:
        """Nothing is opened yet.

        Args:
            source: where the sound comes from.
            clock: UTC and a steady clock.
            keep_s: how much sound is kept.
        """
        self._source, self._clock = source, clock
        self._stream = StreamClock(source.rate_hz)
        self._most_frames = int(keep_s * source.rate_hz)
        self._blocks: deque[tuple[int, Frames]] = deque()
        self._lock = threading.Lock()
        self._gaps: list[int] = []
        self._is_open = False

    def __enter__(self) -> Self:
        """Open the stream. Raises DeviceError."""
        self._revive()
        return self

    def __exit__(self, *_: object) -> None:
        self._source.close()

    def cut(self, start_s: float, duration_s: float, *, to_rate_hz: int) -> Waveform:
        """A stretch of what was heard.

        Args:
            start_s: UTC of its first sample.
            duration_s: its length.
            to_rate_hz: of the result; the card's own rate error is taken out as well.
        Raises: DeviceError if any of it is missing; a device that was gone is opened again.
        """
        self._revive()
        self.check()
        steady_s = start_s - self._clock.utc_s() + self._clock.steady_s()
        if not self._stream.is_known:
            raise DeviceError("the sound input gives nothing")
        first = self._stream.frame_at(steady_s - MARGIN_S)
        last = self._stream.frame_at(steady_s + duration_s + MARGIN_S)
        frames = self._frames(int(first), int(last) + 1)
        if any(first <= gap <= last for gap in self._gaps):
            raise DeviceError("the sound input lost frames within the slot")
        rate_hz = self._source.rate_hz * (1.0 + self._stream.ppm() * 1e-6)
        sound = resampled(frames, from_hz=rate_hz, to_hz=to_rate_hz)
        begin = round(MARGIN_S * to_rate_hz)
        n_samples = round(duration_s * to_rate_hz)
        return Waveform(sound[begin : begin + n_samples].astype(np.float32), to_rate_hz)

    def _revive(self) -> None:
        """Open a device that was gone. Raises DeviceError if it still is."""
        if self._is_open:
            return
        with self._lock:
            self._blocks.clear()
        self._gaps = []
        self._stream.forget()
        self._source.open(self._take)
        self._is_open = True

    def check(self) -> None:
        """Learn of what happened to the stream. Raises DeviceError if it has ended."""
        for trouble in self._source.troubles():
            if trouble.kind is Trouble.ENDED:
                self._is_open = False
                self._source.close()
                raise DeviceError(str(trouble.kind))
            self._gaps.append(trouble.frame)
            self._stream.forget()

    def peak(self, last_s: float) -> float:
        """Largest absolute sample of the last moments, full scale 1.0; for a meter."""
        n = int(last_s * self._source.rate_hz)
        with self._lock:
            newest: list[Frames] = []
            for _, block in reversed(self._blocks):
                newest.append(block)
                n -= block.size
                if n <= 0:
                    break
        return max((float(np.abs(block).max()) for block in newest), default=0.0)

    def _take(self, frames: Frames, first_frame: int, entered_s: float) -> None:
        self._stream.note(first_frame, entered_s)
        with self._lock:
            self._blocks.append((first_frame, frames.copy()))
            while first_frame - self._blocks[0][0] > self._most_frames:
                self._blocks.popleft()

    def _frames(self, first: int, end: int) -> Frames:
        with self._lock:
            blocks = [
                (start, block)
                for start, block in self._blocks
                if start < end and start + block.size > first
            ]
        if not blocks or blocks[0][0] > first or blocks[-1][0] + blocks[-1][1].size < end:
            raise DeviceError("the sound input has not all of the slot")
        whole = np.concatenate([block for _, block in blocks])
        skip = first - blocks[0][0]
        return whole[skip : skip + end - first]
