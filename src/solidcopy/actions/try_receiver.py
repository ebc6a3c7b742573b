"""Try an outside program on one loud, one faint and one noise-only slot, and say what to mend."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from solidcopy import units
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.child_process import ending_words
from solidcopy.receivers.program.receiver import Hearing, ProgramReceiver
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.receivers.receiver import Decode
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.score import MAX_FREQUENCY_ERROR_HZ, MAX_TIME_ERROR_S, is_right
from solidcopy.trials.trial import NOTHING_SENT, SENT, Recording, Trial, Truth

LOUD_ES_N0_DB = 26.0
"""0 dB for FT8: any receiver that works reads it."""
FAINT_ES_N0_DB = 8.0
"""-18 dB for FT8: a receiver of middling quality reads it mostly (docs/explanation/receiver.md)."""
SAMPLE_RATE_HZ = 12_000
MAX_SHOWN = 12
"""Lines of one sort that are shown."""


@dataclass(frozen=True, slots=True)
class TriedSlot:
    """One slot, what was sent in it, and what the program made of it."""

    name: str
    snr_db: float
    """In 2500 Hz, of what was sent."""
    truth: Truth
    hearing: Hearing

    @property
    def is_read(self) -> bool:
        """Whether what was sent was decoded."""
        return any(is_right(decode, self.truth) for decode in self.hearing.reception.decodes)

    def verdict_on(self, decode: Decode) -> str:
        """What a decode is, beside what was sent."""
        return verdict_on(decode, self.truth)

    def lines(self) -> Iterator[str]:
        """For a person."""
        yield f"{self.name}: {sent_words(self.truth, self.snr_db)}"
        ended, reception = self.hearing.ended, self.hearing.reception
        if ended is None or ended.not_started:
            yield "  it did not run"
        else:
            memory = ended.most_memory_bytes / 1e6
            yield (
                f"  it {ending_words(ended.exit_code)} after {ended.elapsed_s:.2f} s "
                f"({ended.cpu_s:.2f} s of processor time"
                + (f", {memory:.0f} MB at least)" if memory else ")")
            )
            if ended.n_left_running:
                yield f"  it left {ended.n_left_running} processes running; they were ended"
        if reception.failure is not None:
            yield f"  FAILED: {reception.failure}"
        for decode in reception.decodes[:MAX_SHOWN]:
            yield f"  read: {decode_words(decode)}: {self.verdict_on(decode)}"
        ignored = [line for line in self.hearing.lines if line.decode is None]
        for line in ignored[:MAX_SHOWN]:
            yield f"  ignored: {line.line}  ({line.reason})"
        for what, n in (("read", len(reception.decodes)), ("ignored", len(ignored))):
            if n > MAX_SHOWN:
                yield f"  ... and {n - MAX_SHOWN} more {what}"
        if not self.hearing.lines and reception.failure is None:
            yield "  it wrote nothing" + ("" if self.truth.message else ", as it should")
        for said in self.hearing.said.split("\n")[-5:]:
            if said.strip():
                yield f"  standard error: {said}"

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        ended, reception = self.hearing.ended, self.hearing.reception
        return {
            "slot": self.name,
            "sent": self.truth.message.text if self.truth.message else None,
            "is_read": self.is_read,
            "exit_code": None if ended is None or ended.not_started else ended.exit_code,
            "elapsed_s": reception.elapsed_s,
            "failure": reception.failure,
            "decodes": [
                {
                    "text": decode.text,
                    "audio_hz": decode.audio_hz,
                    "time_offset_s": decode.time_offset_s,
                    "snr_db": decode.snr_db,
                    "verdict": self.verdict_on(decode),
                }
                for decode in reception.decodes
            ],
            "ignored": [
                {"line": line.line, "reason": line.reason}
                for line in self.hearing.lines
                if line.decode is None
            ],
            "standard_error": self.hearing.said,
        }


def verdict_on(decode: Decode, truth: Truth) -> str:
    """What a decode is, beside what was sent."""
    message = truth.message
    if message is None or " ".join(decode.text.upper().split()) != message.text:
        return "not sent: a false decode"
    if decode.text != message.text:
        return "the sent text in other letters, which does not count"
    off_hz = 0.0 if decode.audio_hz is None else decode.audio_hz - truth.audio_hz
    off_s = 0.0 if decode.time_offset_s is None else decode.time_offset_s - truth.time_offset_s
    if abs(off_hz) > MAX_FREQUENCY_ERROR_HZ or abs(off_s) > MAX_TIME_ERROR_S:
        return f"the sent text {off_hz:+.1f} Hz and {off_s:+.2f} s off, which does not count"
    return "what was sent"


def sent_words(truth: Truth, snr_db: float) -> str:
    """What was sent in a slot, and how loud."""
    if truth.message is None:
        return "noise alone"
    return (
        f'"{truth.message.text}" on {truth.audio_hz:.1f} Hz, '
        f"{truth.time_offset_s:.2f} s late, SNR {snr_db:.0f} dB in 2500 Hz"
    )


def decode_words(decode: Decode) -> str:
    """A decode with the figures that it has."""
    figures = [
        f"on {decode.audio_hz:.1f} Hz" if decode.audio_hz is not None else "",
        f"{decode.time_offset_s:.2f} s late" if decode.time_offset_s is not None else "",
        f"SNR {decode.snr_db:.1f} dB" if decode.snr_db is not None else "",
    ]
    return ", ".join([f'"{decode.text}"', *filter(None, figures)])


def try_receiver(
    settings: ProgramSettings, mode_name: str, plan_folder: Path, *, only_loud: bool = False
) -> Iterator[TriedSlot]:
    """Run the program on the loud, the faint and the noise-only slot. The digest of its file is
    not looked at: it is the next thing to be written down.

    Args:
        settings: as in a plan.
        mode_name: e.g. "ft8".
        plan_folder: what {plan_folder} stands for.
        only_loud: leave the other two out.
    Yields: each slot as soon as it is answered; `Tried` (in tried_receiver) sums them up.
    Raises: PlanError if the mode is not known or the program is not there.
    """
    unpinned = settings.model_copy(update={"program_sha256": None})
    receiver = ProgramReceiver(unpinned, mode_named(mode_name), (plan_folder,))
    try:
        for slot in islice(slots_to_try(mode_name), 1 if only_loud else None):
            heard = receiver.hear(slot.recording.waveform)
            yield TriedSlot(slot.name, slot.snr_db, slot.truth, heard)
    finally:
        receiver.close()


@dataclass(frozen=True, slots=True)
class SlotToTry:
    """A slot that is known to be good."""

    name: str
    snr_db: float
    """In 2500 Hz, of what was sent."""
    recording: Recording
    truth: Truth


def slots_to_try(mode_name: str) -> Iterator[SlotToTry]:
    """A loud, a faint and a noise-only slot, the same every time. Raises PlanError."""
    mode = mode_named(mode_name)
    levels = [
        ("loud", SENT, LOUD_ES_N0_DB),
        ("faint", SENT, FAINT_ES_N0_DB),
        ("noise", NOTHING_SENT, FAINT_ES_N0_DB),
    ]
    for index, (name, arm, es_n0_db) in enumerate(levels):
        snr_db = round(units.snr_from_es_n0(es_n0_db, symbol_s=mode.facts.symbol_s)) + 0.0
        noise = {"kind": "gaussian-noise", "snr_db": snr_db}
        condition = Condition.model_validate({"name": name, "impairments": [noise]})
        chance = Chance(1, arm, index, snr_db)
        recording, truth = make(Trial(mode_name, condition, SAMPLE_RATE_HZ, None, chance))
        yield SlotToTry(name, snr_db, recording, truth)
