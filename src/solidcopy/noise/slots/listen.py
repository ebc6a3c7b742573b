"""Transmissions in a recording, wherever its slots may lie."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solidcopy.errors import MessageError
from solidcopy.modes.mode import Mode
from solidcopy.modes.registry import coded_mode, mode_named
from solidcopy.noise.slots.timing import place
from solidcopy.receivers.builtin.receiver import BuiltinReceiver, build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.receiver import Decode
from solidcopy.signals.waveform import Waveform

WORK_RATE_HZ = 12_000
EXTRA_S = 1.0
"""Audio behind a slot that a receiver may look at."""
HOP_S = 3.75
"""From one try to the next: a receiver finds starts within two seconds of its nominal one."""
RECEIVER_SPREAD_S = 0.01
"""Of the start that the receiver itself gives (its grid is a sixteenth of a symbol or finer)."""
SAME_START_S = 0.5
SAME_AUDIO_HZ = 10.0
"""Closer than both, with the same text: heard twice."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One transmission in the recording."""

    text: str
    start_s: float
    """Of the transmission, from the start of the recording, by the rate assumed."""
    spread_s: float
    """Standard deviation of that, by noise alone."""
    audio_hz: float
    """Of the lowest tone, by the rate assumed."""
    snr_db: float | None
    """In 2500 Hz, as the receiver reports it."""
    slot: int | None = None
    """Number in the key, if there is one."""


@dataclass(frozen=True, slots=True, eq=False)
class Listener:
    """Hears transmissions of one mode in samples at `WORK_RATE_HZ`."""

    mode: Mode
    receiver: BuiltinReceiver

    def at(self, samples: NDArray[np.float32], edge_s: float) -> list[Heard]:
        """Transmissions that a receiver finds whose slot began at `edge_s`."""
        facts = self.mode.facts
        first = round(edge_s * WORK_RATE_HZ)
        n_heard = round((facts.slot_s + EXTRA_S) * WORK_RATE_HZ)
        piece = np.zeros(n_heard, np.float32)
        inside = samples[max(first, 0) : max(first + n_heard, 0)]
        piece[max(-first, 0) : max(-first, 0) + inside.size] = inside
        if not piece.any():
            return []
        reception = self.receiver.receive(Waveform(piece, WORK_RATE_HZ))
        edge_s = first / WORK_RATE_HZ
        return [
            self._placed(samples, edge_s, decode)
            for decode in reception.decodes
            if decode.audio_hz is not None and decode.time_offset_s is not None
        ]

    def _placed(self, samples: NDArray[np.float32], edge_s: float, decode: Decode) -> Heard:
        """The transmission with its start measured anew, if its text can be sent again."""
        assert decode.audio_hz is not None and decode.time_offset_s is not None
        start_s = edge_s + self.mode.facts.nominal_start_s + decode.time_offset_s
        try:
            message = self.mode.pack(decode.text)
        except MessageError:  # a call sign that was only heard as its hash
            return Heard(decode.text, start_s, RECEIVER_SPREAD_S, decode.audio_hz, decode.snr_db)
        found = place(
            samples,
            sample_rate_hz=WORK_RATE_HZ,
            mode=self.mode,
            message=message,
            near=(start_s, decode.audio_hz),
        )
        return Heard(decode.text, found.start_s, found.spread_s, found.audio_hz, decode.snr_db)


def listener_of(mode: str) -> Listener:
    """The one of a mode. Raises PlanError for a mode that is not known."""
    found = coded_mode(mode_named(mode), "the search for slots")
    return Listener(found, build_receiver(BuiltinSettings(), found))


def add_new(known: list[Heard], more: list[Heard]) -> int:
    """Append what is not known yet; returns how many those are."""
    n_before = len(known)
    for item in more:
        if not any(
            item.text == other.text
            and abs(item.start_s - other.start_s) < SAME_START_S
            and abs(item.audio_hz - other.audio_hz) < SAME_AUDIO_HZ
            for other in known
        ):
            known.append(item)
    return len(known) - n_before
