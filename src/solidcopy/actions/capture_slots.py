"""Record a sound device into files, one for each slot of UTC: input for the noise lab."""

import csv
import io
import os
import shutil
from collections.abc import Callable, Generator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from solidcopy import units
from solidcopy.errors import DeviceError
from solidcopy.reports.wording import MINUS
from solidcopy.signals import power
from solidcopy.signals.audio_file import write_audio
from solidcopy.signals.waveform import Waveform
from solidcopy.soundcard.clock import Clock, StepWatch
from solidcopy.soundcard.input import Input
from solidcopy.soundcard.recorder import Recorder

LIST_FILE = "slots.csv"
LOOK_EVERY_S = 0.25
BEHIND_S = 1.0
"""A slot is cut so long after its end: the card's buffer has come in by then."""
KEEP_FREE_BYTES = 200_000_000
"""Of the disk: nothing is recorded once less is free."""
TRY_AGAIN_S = 2.0
CLIPPED_AT = 0.9999
"""Of full scale: what a converter's end stops leave."""
QUIET_DBFS = -90.0
"""Below this, a card's input is as good as silent (16 bits: -98 dBFS of rounding alone)."""


@dataclass(frozen=True, slots=True)
class CaptureOptions:
    """What to record.

    Args:
        out: folder for the files; made if missing.
        slot_s: length of a slot; edges are its whole multiples since 1970-01-01 UTC.
        rate_hz: of the files.
        most_slots: stop after so many kept ones; None: until told.
        is_wanted: asked a few times a second.
    """

    out: Path
    slot_s: float
    rate_hz: int = 12_000
    most_slots: int | None = None
    is_wanted: Callable[[], bool] = lambda: True


@dataclass(frozen=True, slots=True)
class CapturedSlot:
    """One slot that was kept, or the reason why not."""

    utc: str
    file: str
    """Empty if nothing was kept."""
    mean_dbfs: float
    peak_dbfs: float
    n_clipped: int
    remark: str
    """What is wrong with it; empty if nothing."""

    def sentence(self) -> str:
        """One line for a person."""
        if not self.file:
            return f"{self.utc}: not kept ({self.remark})"
        beside = f"; {self.remark}" if self.remark else ""
        levels = f"mean {self.mean_dbfs:.1f}, peak {self.peak_dbfs:.1f} dBFS".replace("-", MINUS)
        return f"{self.utc}: {self.file}, {levels}{beside}"


@dataclass(frozen=True, slots=True)
class CaptureProgress:
    """How far it has come."""

    message: str
    peak_dbfs: float
    """Of the last quarter of a second, for a meter."""
    n_kept: int
    slot: CapturedSlot | None
    """New since the last report."""


def capture_slots(
    source: Input, clock: Clock, options: CaptureOptions
) -> Generator[CaptureProgress]:
    """Record slot by slot; close the iterator to stop. Each file is there as a whole or not at all.

    A slot in which the device lost frames, was pulled out or the clock was set is named in the list
    and not kept.

    Yields: a few times a second.
    Raises: DeviceError if the device cannot be opened at the start, or the disk is full.
    """
    options.out.mkdir(parents=True, exist_ok=True)
    watch = StepWatch(clock)
    n_kept = 0
    is_first = True
    while options.is_wanted() and n_kept != options.most_slots:
        recorder = Recorder(source, clock, keep_s=2.0 * options.slot_s + BEHIND_S)
        try:
            with recorder:
                is_first = False
                for progress in _record(recorder, clock, watch, options, n_kept):
                    n_kept = progress.n_kept
                    yield progress
        except DeviceError as error:
            if is_first or _is_full(options.out):
                raise
            yield CaptureProgress(f"{error}; waiting for it", units.peak_dbfs(0.0), n_kept, None)
            clock.sleep(TRY_AGAIN_S)


def _record(
    recorder: Recorder, clock: Clock, watch: StepWatch, options: CaptureOptions, n_kept: int
) -> Generator[CaptureProgress]:
    """Slots of one stream. Raises DeviceError when it ends."""
    begin_s = clock.utc_s()
    slot_s = _edge_behind(begin_s, options.slot_s)
    is_spoilt = False
    while options.is_wanted() and n_kept != options.most_slots:
        clock.sleep(LOOK_EVERY_S)
        recorder.check()
        is_spoilt |= watch.look() is not None
        new = None
        if not slot_s - LOOK_EVERY_S <= clock.utc_s() + options.slot_s:  # set back
            slot_s = _edge_behind(clock.utc_s(), options.slot_s)
        if clock.utc_s() >= slot_s + options.slot_s + BEHIND_S:
            new = _kept(recorder, slot_s, options, is_spoilt=is_spoilt)
            n_kept += bool(new.file)
            slot_s = _edge_behind(clock.utc_s() - options.slot_s, options.slot_s)
            is_spoilt = False
        yield CaptureProgress("recording", units.peak_dbfs(recorder.peak(0.25)), n_kept, new)


def _edge_behind(utc_s: float, slot_s: float) -> float:
    return (utc_s // slot_s + 1.0) * slot_s


def _kept(
    recorder: Recorder, slot_s: float, options: CaptureOptions, *, is_spoilt: bool
) -> CapturedSlot:
    utc = datetime.fromtimestamp(slot_s, UTC)
    stamp = f"{utc:%Y-%m-%dT%H:%M:%S}.{utc.microsecond // 100_000}Z"
    try:
        if is_spoilt:
            raise DeviceError("the clock was set within the slot")
        sound = recorder.cut(slot_s, options.slot_s, to_rate_hz=options.rate_hz)
    except DeviceError as error:
        slot = CapturedSlot(stamp, "", float("-inf"), float("-inf"), 0, str(error))
    else:
        slot = _written(sound, stamp, options.out)
    _list(slot, options.out / LIST_FILE)
    return slot


def _written(sound: Waveform, stamp: str, out: Path) -> CapturedSlot:
    if _is_full(out):
        raise DeviceError(
            f"{out}: less than {KEEP_FREE_BYTES // 1_000_000} MB are free; what was recorded is "
            "kept; make room, then record on"
        )
    file = out / f"slot-{stamp.replace(':', '')}.wav"
    write_audio(file, sound.samples, sample_rate_hz=sound.sample_rate_hz)
    mean_dbfs = units.dbfs_from_power(power.mean_power(sound.samples))
    peak = power.peak(sound.samples)
    n_clipped = int((abs(sound.samples) >= CLIPPED_AT).sum())
    remarks = []
    if n_clipped:
        remarks.append(f"{n_clipped} samples at full scale: turn the input down")
    if mean_dbfs < QUIET_DBFS:
        remarks.append("as good as silent: is the right input chosen, and turned up?")
    return CapturedSlot(
        stamp, file.name, mean_dbfs, units.peak_dbfs(peak), n_clipped, "; ".join(remarks)
    )


def _is_full(out: Path) -> bool:
    return shutil.disk_usage(out).free < KEEP_FREE_BYTES


def _list(slot: CapturedSlot, file: Path) -> None:
    """One line more in the list; it is on the disk when this returns."""
    text = io.StringIO()
    row = asdict(slot)
    table = csv.DictWriter(text, row, lineterminator="\n")
    if not file.exists():
        table.writeheader()
    table.writerow(row)
    with file.open("a", encoding="utf-8", newline="") as out:
        out.write(text.getvalue())
        out.flush()
        os.fsync(out.fileno())
