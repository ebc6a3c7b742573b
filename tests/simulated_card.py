"""A sound card and a clock that tests turn by hand: time passes only where somebody waits."""

import numpy as np

from solidcopy.errors import DeviceError
from solidcopy.soundcard.output import StreamTrouble, Trouble


class SimulatedClock:
    """UTC that may be set, and a steady clock; `sleep` lets whoever listens catch up."""

    def __init__(self, utc_s=1_800_000_000.0):
        self.now_s = 0.0
        self.utc_at_zero_s = utc_s
        self.listeners = []

    def utc_s(self):
        return self.utc_at_zero_s + self.now_s

    def steady_s(self):
        return self.now_s

    def sleep(self, seconds):
        self.now_s += seconds
        for listener in self.listeners:
            listener(self.now_s)

    def set_by(self, seconds):
        self.utc_at_zero_s += seconds


class SimulatedCard:
    """An output whose crystal is off by `ppm`, and whose word on timing scatters.

    What is heard is kept as (true steady time of the first frame of a sound, its length in
    frames), sounds being told apart by silence.
    """

    def __init__(
        self, clock, *, ppm=0.0, latency_s=0.3, block=1024, scatter_s=1e-3, rate_hz=12_000
    ):
        self.rate_hz = rate_hz
        self._clock, self._latency_s, self._block, self._scatter_s = (
            clock,
            latency_s,
            block,
            scatter_s,
        )
        self._true_hz = rate_hz * (1.0 + ppm * 1e-6)
        self._random = np.random.default_rng(5)
        self._fill = None
        self._troubles = []
        self.is_unplugged = False
        self.heard = []
        self.sound = []
        """(true steady time of the first frame, frames) of each block."""
        self._is_sounding = False
        clock.listeners.append(self._catch_up)

    def open(self, fill, note):
        if self.is_unplugged:
            raise DeviceError("the sound output cannot be opened (no such device)")
        self._fill, self._note = fill, note
        self._frame, self._began_s = 0, self._clock.steady_s()
        self._skipped_s = 0.0

    def close(self):
        self._fill = None

    def troubles(self):
        found, self._troubles = self._troubles, []
        return found

    def run_dry(self, seconds):
        """The card plays nothing for a while, and says so."""
        self._skipped_s += seconds
        self._troubles.append(StreamTrouble(Trouble.GAP, self._frame))

    def unplug(self):
        self.is_unplugged = True
        self._fill = None
        self._troubles.append(StreamTrouble(Trouble.ENDED, self._frame))

    def _true_time_s(self, frame):
        return self._began_s + self._latency_s + self._skipped_s + frame / self._true_hz

    def _catch_up(self, now_s):
        out = np.empty(self._block, np.float32)
        while self._fill is not None and self._true_time_s(self._frame) - self._latency_s <= now_s:
            self._fill(out, self._frame)
            said_s = self._true_time_s(self._frame) + self._random.normal(scale=self._scatter_s)
            self._note(self._frame, said_s)
            self._listen(out)
            self.sound.append((self._true_time_s(self._frame), out.copy()))
            self._frame += self._block

    def _listen(self, out):
        if not out.any():
            self._is_sounding = False
            return
        sounding = np.flatnonzero(out)
        if not self._is_sounding:
            self.heard.append([self._true_time_s(self._frame + sounding[0]), 0])
            self._is_sounding = True
        self.heard[-1][1] += sounding.size

    def between(self, start_s, end_s):
        """What was heard between two steady times; silence where there was no stream."""
        heard = np.zeros(round((end_s - start_s) * self.rate_hz), np.float32)
        for at_s, frames in self.sound:
            place = round((at_s - start_s) * self.rate_hz)
            begin, end = max(place, 0), min(place + frames.size, heard.size)
            if begin < end:
                heard[begin:end] = frames[begin - place : end - place]
        return heard


class SimulatedMicrophone:
    """An input that hears `sound(steady times) -> samples`, by a crystal that is off by `ppm`."""

    def __init__(self, clock, sound, *, ppm=0.0, latency_s=0.1, block=1024, rate_hz=12_000):
        self.rate_hz = rate_hz
        self._clock, self._sound, self._latency_s, self._block = clock, sound, latency_s, block
        self._true_hz = rate_hz * (1.0 + ppm * 1e-6)
        self._random = np.random.default_rng(6)
        self._take = None
        self._troubles = []
        self.is_unplugged = False
        clock.listeners.append(self._catch_up)

    def open(self, take):
        if self.is_unplugged:
            raise DeviceError("the sound input cannot be opened (no such device)")
        self._take = take
        self._frame, self._began_s = 0, self._clock.steady_s()

    def close(self):
        self._take = None

    def troubles(self):
        found, self._troubles = self._troubles, []
        return found

    def lose(self, seconds):
        """Frames are lost, and the card says so."""
        self._began_s += seconds
        self._troubles.append(StreamTrouble(Trouble.GAP, self._frame))

    def unplug(self):
        self.is_unplugged = True
        self._take = None
        self._troubles.append(StreamTrouble(Trouble.ENDED, self._frame))

    def _catch_up(self, now_s):
        while self._take is not None:
            first_s = self._began_s + self._frame / self._true_hz
            if first_s + self._block / self._true_hz + self._latency_s > now_s:
                return
            times_s = first_s + np.arange(self._block) / self._true_hz
            said_s = first_s + self._random.normal(scale=1e-3)
            self._take(self._sound(times_s).astype(np.float32), self._frame, said_s)
            self._frame += self._block


def once(at_s, action):
    """Runs an action when the clock has come to a time."""
    state = []

    def listener(now_s):
        if now_s >= at_s and not state:
            state.append(now_s)
            action()

    return listener
