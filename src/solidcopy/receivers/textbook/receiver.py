"""The textbook receivers: one window of audio in, the loudest text out.

They search the window and the band, as the built-in receiver does, and are told neither start
nor frequency. Nothing tells a wrong character from a right one, so whatever is loud enough is
printed, right or wrong.
"""

import time
from collections.abc import Callable, Iterator
from typing import Final

from solidcopy.errors import PlanError
from solidcopy.modes.mode import Mode
from solidcopy.modes.plain_text.mode import PlainTextMode
from solidcopy.receivers.processor_time import processor_time_s
from solidcopy.receivers.receiver import Decode, Reception
from solidcopy.receivers.textbook import morse, psk31, rtty
from solidcopy.receivers.textbook.heard import Heard
from solidcopy.receivers.textbook.settings import TextbookSettings
from solidcopy.signals.waveform import Waveform

_Decoder = Callable[[Heard, PlainTextMode, float, float], Iterator[Decode]]
_DECODERS: Final[dict[str, _Decoder]] = {
    "morse": morse.decoded,
    "rtty": rtty.decoded,
    "psk31": psk31.decoded,
}


class TextbookReceiver:
    """Receiver of one mode of plain text. Nothing is remembered between calls."""

    def __init__(self, settings: TextbookSettings, mode: Mode) -> None:
        """Raises PlanError for a mode that it does not know."""
        if not isinstance(mode, PlainTextMode) or mode.name not in _DECODERS:
            raise PlanError(
                f"mode: the textbook receiver knows {', '.join(_DECODERS)}, not {mode.facts.name}"
            )
        self._settings = settings
        self._mode = mode

    def receive(self, waveform: Waveform) -> Reception:
        """Decode one window; a silent one holds nothing."""
        start, cpu = time.perf_counter(), processor_time_s()
        decodes: tuple[Decode, ...] = ()
        if waveform.samples.any():
            settings = self._settings
            decoder = _DECODERS[self._mode.name]
            found = decoder(Heard.of(waveform), self._mode, settings.low_hz, settings.high_hz)
            decodes = tuple(decode for decode in found if decode.text)
        return Reception(decodes, time.perf_counter() - start, cpu_s=processor_time_s() - cpu)
