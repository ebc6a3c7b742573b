"""Where the decodes of a station come from, slot by slot, while a campaign is played to it."""

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Protocol

from solidcopy.actions.import_log import slot_outcome
from solidcopy.errors import DeviceError, LogError
from solidcopy.logs.entry import Entry, ReadOptions
from solidcopy.logs.match import Tolerance, match
from solidcopy.logs.read import read_log
from solidcopy.logs.schedule import Slot
from solidcopy.modes.mode import ModeFacts
from solidcopy.receivers.receiver import Receiver
from solidcopy.receivers.station_settings import StationSettings
from solidcopy.soundcard.recorder import Recorder
from solidcopy.trials.outcome import Outcome
from solidcopy.trials.score import score
from solidcopy.trials.trial import Recording, Truth

TIME_SHARE = 0.25
"""A line belongs to a slot if its time lies within this share of a slot of the start."""

HEAD_BYTES = 65_536
"""Of an older log that is read with what it grows by: headings stand at its beginning."""


@dataclass(frozen=True, slots=True)
class Sounded:
    """One trial that was heard whole, with all that is known of it."""

    slot: Slot
    recording: Recording
    truth: Truth


class Ear(Protocol):
    """Tells what a station made of a slot."""

    def begin(self) -> None:
        """From now on things count."""

    def judge(self, sounded: Sequence[Sounded]) -> list[Outcome | str]:
        """The outcome of each trial, whose slot and waiting time are over; or, in words, why it
        cannot be judged and must be played again."""


class LogEar:
    """A text log that grows. What stood in it before counts for its headings only."""

    def __init__(
        self, file: Path, options: ReadOptions, station: StationSettings, facts: ModeFacts
    ) -> None:
        """Nothing is read yet.

        Args:
            file: may come into being later, and may be begun anew.
            options: what the user says about it.
        """
        self._file, self._options = file, options
        self._tolerance = _tolerance(station, facts)
        self._head = b""
        self._skip_bytes = 0

    def begin(self) -> None:
        """See `Ear`."""
        if not self._file.exists():
            return
        content = self._read(0)
        self._skip_bytes = content.rfind(b"\n") + 1
        self._head = content[: content.rfind(b"\n", 0, HEAD_BYTES) + 1]

    def judge(self, sounded: Sequence[Sounded]) -> list[Outcome | str]:
        """See `Ear`."""
        entries = _entries_in(self._head, self._grown(), self._file.name, self._options)
        return _matched(entries, sounded, self._tolerance)

    def _grown(self) -> bytes:
        if not self._file.exists():
            return b""
        if self._file.stat().st_size < self._skip_bytes:  # a new log under the old name
            self._skip_bytes, self._head = 0, b""
        return self._read(self._skip_bytes)

    def _read(self, from_byte: int) -> bytes:
        try:
            with self._file.open("rb") as stream:
                stream.seek(from_byte)
                return stream.read()
        except OSError as error:
            raise LogError(
                f"{self._file}: cannot be read ({error.strerror}); give the station's log"
            ) from None


class LineEar:
    """Lines of a log that come in on standard input."""

    def __init__(
        self, stream: IO[bytes], options: ReadOptions, station: StationSettings, facts: ModeFacts
    ) -> None:
        """Nothing is read yet."""
        self._stream, self._options = stream, options
        self._tolerance = _tolerance(station, facts)
        self._lines: list[bytes] = []

    def begin(self) -> None:
        """See `Ear`."""
        threading.Thread(target=self._listen, name="lines of the station", daemon=True).start()

    def judge(self, sounded: Sequence[Sounded]) -> list[Outcome | str]:
        """See `Ear`."""
        entries = _entries_in(b"", b"".join(self._lines), "standard input", self._options)
        return _matched(entries, sounded, self._tolerance)

    def _listen(self) -> None:
        for line in self._stream:
            self._lines.append(line)


class OwnEar:
    """Our own receiver, listening to a sound device: the cost of the path, in dB."""

    def __init__(self, recorder: Recorder, receiver: Receiver, facts: ModeFacts) -> None:
        """The recorder is open already, and keeps more than a slot and the waiting time."""
        self._recorder, self._receiver, self._facts = recorder, receiver, facts

    def begin(self) -> None:
        """See `Ear`."""

    def judge(self, sounded: Sequence[Sounded]) -> list[Outcome | str]:
        """See `Ear`."""
        return [self._heard(one) for one in sounded]

    def _heard(self, one: Sounded) -> Outcome | str:
        try:
            waveform = self._recorder.cut(
                one.slot.utc.timestamp(),
                self._facts.slot_s,
                to_rate_hz=one.recording.waveform.sample_rate_hz,
            )
        except DeviceError as error:
            return str(error)
        return score(self._receiver.receive(waveform), one.truth, one.recording)


def _tolerance(station: StationSettings, facts: ModeFacts) -> Tolerance:
    return Tolerance(TIME_SHARE * facts.slot_s, station.frequency_tolerance_hz, station.late_s)


def _matched(
    entries: Sequence[Entry], sounded: Sequence[Sounded], tolerance: Tolerance
) -> list[Outcome | str]:
    slots = [one.slot for one in sounded]
    return [slot_outcome(result) for result in match(entries, slots, tolerance).slots]


def _entries_in(head: bytes, grown: bytes, name: str, options: ReadOptions) -> Sequence[Entry]:
    """Entries of what a log has grown by, read with the beginning that explains its columns."""
    if not grown.strip():
        return ()
    now = datetime.fromtimestamp(time.time(), UTC)
    reading = read_log(head + grown, name=name, modified_utc=now, options=options)
    n_head = head.count(b"\n")
    return [entry for entry in reading.entries if entry.line.number > n_head]
