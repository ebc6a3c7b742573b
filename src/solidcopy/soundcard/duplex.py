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


@dataclass(frozen=True, slots=True, eq=False)
class Duplex:
    """What came in while something was played."""

    frames: np.ndarray
    """(n_channels, n_samples) float64; its sample n came in when sample n of the sound was
    handed over."""
    n_dry: int
    """Blocks in which the output ran dry or the input ran over, as the system reports it."""


class _Both:
    """State of a stream that plays and records block by block."""

    def __init__(self, sound: np.ndarray, n_heard: int, n_channels: int) -> None:
        self._sound = sound.astype(np.float32)
        self.heard = np.zeros((n_heard, n_channels), np.float32)
        self.at = 0
        self.n_dry = 0
        self.is_over = threading.Event()

    def turn(self, incoming: np.ndarray | None, outgoing: np.ndarray | None, n: int) -> None:
        """Take in one block and give out another."""
        if outgoing is not None:
            piece = self._sound[self.at : self.at + n]
            outgoing[: piece.shape[0]] = piece
            outgoing[piece.shape[0] :] = 0.0
        if incoming is not None:
            room = self.heard[self.at : self.at + n]
            room[:] = incoming[: room.shape[0]]
        self.at += n
        if self.at >= self.heard.shape[0]:
            self.is_over.set()


def play_and_record(sound: Samples, *, output: str | None, source: str | None) -> Duplex:
    """Play and record together, sample beside sample.

    Args:
        sound: (n_samples, 2) at RATE_HZ, full scale ±1.0; a device of one channel gets the mean.
        output, source: number or name of the devices; None: the system's defaults.
    Raises: DeviceError, one sentence, if a device cannot be had or stops.
    """
    library = portaudio()
    out_number = card_named(output, is_output=True)
    in_number = card_named(source, is_output=False)
    n_out = min(2, library.query_devices(out_number)["max_output_channels"])
    n_in = min(2, library.query_devices(in_number)["max_input_channels"])
    n_heard = sound.shape[0] + round(TAIL_S * RATE_HZ)
    both = _Both(_for_channels(sound, n_out), n_heard, n_in)

    def each(incoming: np.ndarray, outgoing: np.ndarray, n: int, _: Any, status: Any) -> None:
        both.n_dry += bool(status.output_underflow or status.input_overflow)
        both.turn(incoming, outgoing, n)

    _run(
        library,
        both,
        lambda ended: library.Stream(
            samplerate=RATE_HZ,
            device=(in_number, out_number),
            channels=(n_in, n_out),
            dtype="float32",
            latency=LATENCY_S,
            callback=each,
            finished_callback=ended,
        ),
    )
    return Duplex(both.heard.T.astype(np.float64), both.n_dry)


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
    both = _Both(_for_channels(sound, n_out), sound.shape[0] + round(LATENCY_S * RATE_HZ), 1)

    def each(outgoing: np.ndarray, n: int, _: Any, status: Any) -> None:
        both.n_dry += bool(status.output_underflow)
        both.turn(None, outgoing, n)

    _run(
        library,
        both,
        lambda ended: library.OutputStream(
            samplerate=RATE_HZ,
            device=number,
            channels=n_out,
            dtype="float32",
            latency=LATENCY_S,
            callback=each,
            finished_callback=ended,
        ),
    )
    return both.n_dry


def _for_channels(sound: Samples, n_channels: int) -> Samples:
    return sound if n_channels == 2 else sound.mean(axis=1, keepdims=True)


def _run(library: Any, both: _Both, open_stream: Any) -> None:
    has_ended = threading.Event()

    def ended() -> None:
        has_ended.set()
        both.is_over.set()

    try:
        with open_stream(ended):
            limit_s = both.heard.shape[0] / RATE_HZ + SPARE_S
            is_over = both.is_over.wait(limit_s)
    except library.PortAudioError as error:
        raise DeviceError(
            f"the sound devices cannot be opened together ({error}); close what uses them, or "
            "choose others"
        ) from None
    if not is_over or both.at < both.heard.shape[0]:
        raise DeviceError(
            "a sound device stopped in the middle of the test; check that it is plugged in and "
            "try again"
        )
