"""Play into one sound device and record from another (or the same) at the same time."""

import threading
from dataclasses import dataclass
from typing import Any

import numpy as np

from solidcopy.errors import DeviceError
from solidcopy.signals.waveform import Samples
from solidcopy.soundcard.card import LATENCY_S, RATE_HZ, card_named, portaudio

TAIL_S = 4.0
"""Recording goes on for so long: a path of 2 s behind buffers of 1.5 s is heard to its end."""
SPARE_S = 10.0
"""A stream that takes longer than its sound and this is stuck."""
GAPS = ("output_underflow", "input_overflow", "input_underflow")
"""What the system may report of a block; the last: silence put in while a device begins anew."""
START_S = 4.0
"""Silence before the sound: many systems report gaps in the first seconds of any stream."""
STOPPED = (
    "a sound device stopped in the middle of the test; check that it is plugged in and try again"
)
MOST_TRIES = 3
"""What was torn by the machine itself says nothing about the path; it is played again."""


@dataclass(frozen=True, slots=True, eq=False)
class Duplex:
    """What came in while something was played."""

    frames: np.ndarray
    """(n_channels, n_samples) float64; its sample n came in when sample n of the sound was
    handed over."""
    n_torn: int
    """So often it was begun before, and broken off as the output ran dry or the input ran over."""


class _Both:
    """State of a stream that plays and records block by block.

    Args:
        sound: (n_samples, n_out); `START_S` of silence goes before it.
        n_heard, n_in: shape of what is recorded, without that start.
        is_whole: a gap breaks off; else gaps are counted.
    """

    def __init__(self, sound: np.ndarray, n_heard: int, n_in: int, *, is_whole: bool) -> None:
        n_start = round(START_S * RATE_HZ)
        self._sound = np.pad(sound.astype(np.float32), ((n_start, 0), (0, 0)))
        self._recorded = np.zeros((n_start + n_heard, n_in), np.float32)
        self._n_start, self._is_whole = n_start, is_whole
        self._at = 0
        self.n_dry = 0
        """Blocks with a gap of either device, as the system reports it."""
        self.is_over = threading.Event()

    @property
    def heard(self) -> np.ndarray:
        """(n_in, n_heard) float64."""
        return self._recorded[self._n_start :].T.astype(np.float64)

    @property
    def duration_s(self) -> float:
        return self._recorded.shape[0] / RATE_HZ

    @property
    def has_ended_early(self) -> bool:
        return self._at < self._recorded.shape[0]

    @property
    def is_torn(self) -> bool:
        return self._is_whole and self.n_dry > 0

    def out_and_in(
        self, incoming: np.ndarray, outgoing: np.ndarray, _n: int, _when: Any, status: Any
    ) -> None:
        """Take in one block and give out another."""
        room = self._recorded[self._at : self._at + incoming.shape[0]]
        room[:] = incoming[: room.shape[0]]
        self.out(outgoing, _n, _when, status)

    def out(self, outgoing: np.ndarray, _n: int, _when: Any, status: Any) -> None:
        """Give out one block."""
        piece = self._sound[self._at : self._at + outgoing.shape[0]]
        outgoing[: piece.shape[0]] = piece
        outgoing[piece.shape[0] :] = 0.0
        if self._at >= self._n_start:
            self.n_dry += any(getattr(status, gap) for gap in GAPS)
        self._at += outgoing.shape[0]
        if self.is_torn or not self.has_ended_early:
            self.is_over.set()


def play_and_record(sound: Samples, *, output: str | None, source: str | None) -> Duplex:
    """Play and record together, sample beside sample; again from the start if that was torn.

    Args:
        sound: (n_samples, 2) at RATE_HZ, full scale ±1.0; a device of one channel gets the mean.
        output, source: number or name of the devices; None: the system's defaults.
    Raises: DeviceError, one sentence, if a device cannot be had, stops, or runs dry each time.
    """
    library = portaudio()
    out_number = card_named(output, is_output=True)
    in_number = card_named(source, is_output=False)
    n_out = min(2, library.query_devices(out_number)["max_output_channels"])
    n_in = min(2, library.query_devices(in_number)["max_input_channels"])
    both_ways = {"device": (in_number, out_number), "channels": (n_in, n_out)}
    n_heard = sound.shape[0] + round(TAIL_S * RATE_HZ)
    for n_torn in range(MOST_TRIES):
        both = _Both(_for_channels(sound, n_out), n_heard, n_in, is_whole=True)
        _run(library.Stream, both, both.out_and_in, **both_ways)
        if not both.is_torn and not both.has_ended_early:
            return Duplex(both.heard, n_torn)
    if not both.is_torn:
        raise DeviceError(STOPPED)
    raise DeviceError(
        f"a sound device ran dry in each of {MOST_TRIES} tries, which says nothing about the path: "
        "close what else keeps this machine busy and check again, or choose another device"
    )


def play_only(sound: Samples, *, output: str | None) -> int:
    """Play to the end.

    Args:
        sound: as for `play_and_record`.
        output: number or name of the device; None: the system's default.
    Returns: number of blocks in which the output ran dry, as the system reports it.
    Raises: DeviceError, one sentence.
    """
    library = portaudio()
    number = card_named(output, is_output=True)
    n_out = min(2, library.query_devices(number)["max_output_channels"])
    n_played = sound.shape[0] + round(LATENCY_S * RATE_HZ)
    both = _Both(_for_channels(sound, n_out), n_played, 1, is_whole=False)
    _run(library.OutputStream, both, both.out, device=number, channels=n_out)
    if both.has_ended_early:
        raise DeviceError(STOPPED)
    return both.n_dry


def _for_channels(sound: Samples, n_channels: int) -> Samples:
    return sound if n_channels == 2 else sound.mean(axis=1, keepdims=True)


def _run(kind: Any, both: _Both, callback: Any, **options: Any) -> None:
    """Run a stream until `both` is over or it ends by itself. Raises DeviceError."""
    try:
        with kind(
            samplerate=RATE_HZ,
            dtype="float32",
            latency=LATENCY_S,
            callback=callback,
            finished_callback=both.is_over.set,
            **options,
        ):
            both.is_over.wait(both.duration_s + SPARE_S)
    except portaudio().PortAudioError as error:
        raise DeviceError(
            f"the sound devices cannot be opened together ({error}); close what uses them, or "
            "choose others"
        ) from None
