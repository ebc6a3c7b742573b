"""Sound cards of this machine, through PortAudio (the optional package sounddevice)."""

import math
import threading
import time
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from solidcopy.errors import DeviceError
from solidcopy.soundcard.feed import Frames
from solidcopy.soundcard.input import Take
from solidcopy.soundcard.output import Fill, Note, StreamTrouble, Trouble

RATE_HZ = 48_000
"""The one rate that every card has."""
LATENCY_S = 1.0
"""Room against running dry; where in it a frame stands is known, so it costs no accuracy."""

SAME_WAKING = 0.5
"""A block that is handed over sooner after another one than this share of that one's length came
with it."""


@dataclass(frozen=True, slots=True)
class Card:
    """One sound device."""

    number: int
    name: str
    n_outputs: int
    n_inputs: int
    is_default_output: bool
    is_default_input: bool


def portaudio() -> ModuleType:
    """The package sounddevice. Raises DeviceError with what to install."""
    try:
        import sounddevice  # type: ignore[import-untyped]  # noqa: PLC0415 - loads a library
    except ImportError:
        raise DeviceError(
            'playing needs the package sounddevice: pip install "solidcopy[live]"'
        ) from None
    except OSError:
        raise DeviceError(
            "playing needs the library PortAudio (Debian: apt-get install libportaudio2)"
        ) from None
    module: ModuleType = sounddevice
    return module


def cards() -> list[Card]:
    """All sound devices. Raises DeviceError if the sound library is missing."""
    sound = portaudio()
    default_input, default_output = sound.default.device
    return [
        Card(
            number,
            found["name"],
            found["max_output_channels"],
            found["max_input_channels"],
            number == default_output,
            number == default_input,
        )
        for number, found in enumerate(sound.query_devices())
    ]


def card_named(device: str | None, *, is_output: bool) -> int:
    """Number of a device by number, name or a part of it that only one has; None: the default.

    Raises: DeviceError that lists what there is.
    """
    usable = [card for card in cards() if (card.n_outputs if is_output else card.n_inputs) > 0]
    way = "output" if is_output else "input"
    if device is None:
        chosen = [c for c in usable if (c.is_default_output if is_output else c.is_default_input)]
    else:
        chosen = [c for c in usable if device in (str(c.number), c.name)]
        chosen = chosen or [c for c in usable if device.lower() in c.name.lower()]
    if len(chosen) == 1:
        return chosen[0].number
    listed = "; ".join(f"{card.number} {card.name}" for card in usable) or "none"
    said = f'"{device}" names {len(chosen) or "no"} of them' if device else "there is no default"
    raise DeviceError(f"sound {way}s: {listed}; {said}: choose one by number or name")


class _Troubles:
    """A list that the sound card's thread writes and another reads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._found: list[StreamTrouble] = []

    def keep(self, kind: Trouble, frame: int) -> None:
        with self._lock:
            self._found.append(StreamTrouble(kind, frame))

    def take(self) -> list[StreamTrouble]:
        with self._lock:
            found, self._found = self._found, []
        return found


class _CardStream:
    """One stream of PortAudio, in or out."""

    def __init__(self, device: str | None, rate_hz: int, *, is_output: bool) -> None:
        self._device, self.rate_hz, self._is_output = device, rate_hz, is_output
        self.troubles = _Troubles()
        self.frame = 0
        self._stream: Any = None

    def open(self, each_block: Any) -> None:
        sound = portaudio()
        self.frame = 0

        def ended() -> None:
            if self._stream is not None:  # nobody has closed it
                self.troubles.keep(Trouble.ENDED, self.frame)

        kind = sound.OutputStream if self._is_output else sound.InputStream
        try:
            stream = kind(
                samplerate=self.rate_hz,
                device=card_named(self._device, is_output=self._is_output),
                channels=1,
                dtype="float32",
                latency=LATENCY_S,
                callback=each_block,
                finished_callback=ended,
            )
            stream.start()
        except sound.PortAudioError as error:
            way = "output" if self._is_output else "input"
            raise DeviceError(
                f"the sound {way} cannot be opened ({error}); close what uses it, or choose another"
            ) from None
        self._stream = stream

    def close(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.abort(ignore_errors=True)
            stream.close(ignore_errors=True)


class CardOutput:
    """One channel out through a sound card; see `Output`."""

    def __init__(self, device: str | None = None, *, rate_hz: int = RATE_HZ) -> None:
        """Nothing is opened yet.

        Args:
            device: number or name; None: the system's default.
        """
        self._stream = _CardStream(device, rate_hz, is_output=True)

    @property
    def rate_hz(self) -> int:
        """See `Output`."""
        return self._stream.rate_hz

    def open(self, fill: Fill, note: Note) -> None:
        """See `Output`."""
        stream = self._stream

        def draw(out: np.ndarray, n_frames: int, moment: Any, status: Any) -> None:
            frames: Frames = out[:, 0]
            fill(frames, stream.frame)
            if status.output_underflow:
                stream.troubles.keep(Trouble.GAP, stream.frame)
            ahead_s = moment.outputBufferDacTime - moment.currentTime
            note(stream.frame, time.monotonic() + ahead_s)
            stream.frame += n_frames

        stream.open(draw)

    def troubles(self) -> list[StreamTrouble]:
        """See `Output`."""
        return self._stream.troubles.take()

    def close(self) -> None:
        """See `Output`."""
        self._stream.close()


class Stamps:
    """When blocks entered the card, where a system wakes us for several of them at once.

    It then stamps all of them with the moment at which the first one entered.
    """

    def __init__(self, rate_hz: int) -> None:
        """No block has come in yet."""
        self._rate_hz = rate_hz
        self._handed_s, self._next_s, self._length_s = -math.inf, 0.0, 0.0

    def entered_s(self, n_frames: int, handed_s: float, stamp_s: float) -> float:
        """The moment at which a block's first frame entered; call it for each block, in order.

        Args:
            n_frames: its length.
            handed_s: when the system handed it over.
            stamp_s: when it entered, by what the system says.
        """
        is_same_waking = handed_s - self._handed_s < SAME_WAKING * self._length_s
        at_s = self._next_s if is_same_waking else stamp_s
        self._handed_s, self._length_s = handed_s, n_frames / self._rate_hz
        self._next_s = at_s + self._length_s
        return at_s


class CardInput:
    """One channel in through a sound card; see `Input`."""

    def __init__(self, device: str | None = None, *, rate_hz: int = RATE_HZ) -> None:
        """Nothing is opened yet.

        Args:
            device: number or name; None: the system's default.
        """
        self._stream = _CardStream(device, rate_hz, is_output=False)

    @property
    def rate_hz(self) -> int:
        """See `Input`."""
        return self._stream.rate_hz

    def open(self, take: Take) -> None:
        """See `Input`."""
        stream = self._stream
        stamps = Stamps(stream.rate_hz)

        def hear(frames: np.ndarray, n_frames: int, moment: Any, status: Any) -> None:
            if status.input_overflow:
                stream.troubles.keep(Trouble.GAP, stream.frame)
            now_s = time.monotonic()
            stamp_s = now_s - (moment.currentTime - moment.inputBufferAdcTime)
            take(frames[:, 0], stream.frame, stamps.entered_s(n_frames, now_s, stamp_s))
            stream.frame += n_frames

        stream.open(hear)

    def troubles(self) -> list[StreamTrouble]:
        """See `Input`."""
        return self._stream.troubles.take()

    def close(self) -> None:
        """See `Input`."""
        self._stream.close()
