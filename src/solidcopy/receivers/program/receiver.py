"""An outside program under test: started for every slot, watched, and ended with all it left."""

import contextlib
import errno
import json
import os
import stat
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from pathlib import Path

from solidcopy.errors import PlanError
from solidcopy.modes.mode import Mode
from solidcopy.receivers.child_process import ChildProcess, NoAnswerError
from solidcopy.receivers.program.command import Slot, filled, fixed_values
from solidcopy.receivers.program.failure import failure_of
from solidcopy.receivers.program.finding import found_program, turns_key
from solidcopy.receivers.program.guardian import LENGTH, Ended, Order
from solidcopy.receivers.program.places import MARK, CopyFolder, Turns
from solidcopy.receivers.program.processes import remove_tree
from solidcopy.receivers.program.reading import MAX_DECODES, ReadLine, read_lines, safe_text
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.receivers.program.sound import SoundDoesNotFitError, write_sound
from solidcopy.receivers.receiver import Reception
from solidcopy.signals.waveform import Waveform

GUARDIAN_SPARE_S = 30.0
"""For the guardian to end a program and tell of it, on a slow machine."""
END_S = 15.0
"""For the guardian to end everything when it is not wanted any more."""
CLEAN_ENVIRONMENT = {"LANG": "C.UTF-8", "LC_ALL": "C.UTF-8", "TZ": "UTC"}


@dataclass(frozen=True, slots=True)
class Hearing:
    """A program's answer to one slot, with what it said and what was made of it."""

    reception: Reception
    ended: Ended | None
    """None if it was not started."""
    lines: tuple[ReadLine, ...] = ()
    """Of its answer, blank ones left out."""
    printed: str = ""
    """Its standard output, made safe."""
    said: str = ""
    """The end of its standard error, made safe."""
    files: tuple[str, ...] = ()
    """Names of what it left in its working folder, besides sound and answer, made safe."""


class ProgramReceiver:
    """An outside program behind a guardian. Not to be shared between threads."""

    def __init__(self, settings: ProgramSettings, mode: Mode, folders: Sequence[Path] = ()) -> None:
        """Find the program; it is started for the first slot only.

        Args:
            settings: as in a plan.
            mode: of the slots.
            folders: the first is the plan's; the current directory if there is none.
        Raises: PlanError if the program is not there, or not the one that the plan is about.
        """
        self._settings = settings
        self._mode = mode
        self._fixed = fixed_values((folders[0] if folders else Path.cwd()).resolve())
        self._program = found_program(settings, self._fixed)
        self._copy: CopyFolder | None = None
        self._guardian: ChildProcess | None = None
        self._turns: Turns | None = None
        self._n_heard = 0
        if settings.slot_time.timestamp() % mode.facts.slot_s:
            raise PlanError(
                f'receivers: "{settings.name}": slot_time must be a whole number of slots of '
                f"{mode.facts.slot_s:g} s after midnight"
            )

    def receive(self, waveform: Waveform) -> Reception:
        """Decode one slot; whatever goes wrong with the program is a failure of this slot."""
        return self.hear(waveform).reception

    def hear(self, waveform: Waveform) -> Hearing:
        """Decode one slot, and tell how."""
        with self._working_folder() as folder:
            slot = self._slot(waveform)
            self._n_heard += 1
            audio_file = folder / filled(self._settings.audio.file_name, slot.values())
            answer_file = (
                folder / filled(self._settings.answer_file, slot.values())
                if self._settings.answer_file is not None
                else None
            )
            try:
                write_sound(audio_file, waveform, self._settings.audio)
                hearing = self._run(slot, audio_file, answer_file)
                return replace(hearing, files=_left_in(folder, audio_file, answer_file))
            except (SoundDoesNotFitError, NoAnswerError, OSError) as error:
                return Hearing(Reception((), 0.0, str(error)), None)
            finally:
                for file in (audio_file, answer_file):
                    if file is not None:
                        _remove(file)

    def close(self) -> None:
        """End the guardian and remove its folder; the next call would start anew."""
        guardian, copy, turns = self._guardian, self._copy, self._turns
        self._guardian = self._copy = self._turns = None
        if guardian is not None:
            guardian.end()
        if copy is not None:
            copy.release()
        if turns is not None:
            turns.close()

    def _slot(self, waveform: Waveform) -> Slot:
        """A kept folder sees slots that follow one another; a fresh one the same every time."""
        n_before = self._n_heard if self._settings.working_folder == "kept" else 0
        slot_s = self._mode.facts.slot_s
        return Slot(
            mode=self._mode.facts.name,
            sample_rate_hz=self._settings.audio.sample_rate_hz or waveform.sample_rate_hz,
            slot_s=slot_s,
            starts_at=self._settings.slot_time + timedelta(seconds=n_before * slot_s),
        )

    @contextmanager
    def _working_folder(self) -> Iterator[Path]:
        if self._copy is None:
            self._copy = CopyFolder()
        folder = self._copy.work
        if self._settings.working_folder == "fresh":
            remove_tree(folder)
        folder.mkdir(mode=0o700, exist_ok=True)
        try:
            yield folder
        finally:
            if self._settings.working_folder == "fresh":
                remove_tree(folder)

    def _run(self, slot: Slot, audio_file: Path, answer_file: Path | None) -> Hearing:
        settings = self._settings
        order = self._order(slot, audio_file, answer_file)
        guardian, turn = self._guardian_and_turn()
        body = json.dumps(asdict(order)).encode()
        try:
            with turn:
                answer = guardian.ask(
                    LENGTH.pack(len(body)) + body,
                    settings.time_limit_s + GUARDIAN_SPARE_S,
                )
        except NoAnswerError:
            self.close()
            raise
        ended = Ended(**answer)
        printed = safe_text(ended.stdout.encode("latin-1"))
        said = safe_text(ended.stderr_tail.encode("latin-1"))
        failure = failure_of(ended, settings, said=said or printed, folder=order.folder)
        text = printed
        if failure is None and answer_file is not None:
            try:
                text = safe_text(read_plain_file(answer_file, settings.output_limit_bytes))
            except OSError as error:
                failure = f"its answer file {answer_file.name} cannot be read ({error.strerror})"
        lines = read_lines(text, settings.answer, settings.corrections)
        decodes = tuple(line.decode for line in lines if line.decode is not None)
        if failure is None and len(decodes) > MAX_DECODES:
            failure = f"it reported {len(decodes)} decodes in one slot; {MAX_DECODES} are allowed"
        reception = Reception(
            () if failure else decodes, ended.elapsed_s, failure, cpu_s=ended.cpu_s
        )
        return Hearing(reception, ended, tuple(lines), printed, said)

    def _order(self, slot: Slot, audio_file: Path, answer_file: Path | None) -> Order:
        settings, folder = self._settings, str(audio_file.parent)
        values = {
            **self._fixed,
            **slot.values(),
            "audio_file": str(audio_file),
            "answer_file": str(answer_file or ""),
            "working_folder": folder,
        }
        given = {name: filled(value, values) for name, value in settings.environment.items()}
        return Order(
            command=[
                str(self._program),
                *(filled(argument, values) for argument in settings.command[1:]),
            ],
            environment={
                **CLEAN_ENVIRONMENT,
                "PATH": os.environ.get("PATH", os.defpath),
                "HOME": folder,
                "TMPDIR": folder,
                **given,
                MARK: str(audio_file.parent.parent),
            },
            folder=folder,
            input_file=str(audio_file) if settings.audio.way == "stdin" else None,
            answer_file=str(answer_file) if answer_file is not None else None,
            time_limit_s=settings.time_limit_s,
            output_limit_bytes=settings.output_limit_bytes,
            memory_limit_bytes=settings.memory_limit_mb * 1_000_000,
        )

    def _guardian_and_turn(self) -> "tuple[ChildProcess, contextlib.AbstractContextManager[None]]":
        assert self._copy is not None
        n_at_once = self._settings.at_most_at_once
        if n_at_once is not None and self._turns is None:
            self._turns = Turns(turns_key(self._settings), n_at_once)
        if self._guardian is None:
            locks = self._turns.locks if self._turns is not None else ()
            self._guardian = ChildProcess(
                [
                    sys.executable,
                    "-P",
                    "-m",
                    "solidcopy.receivers.program.guardian",
                    str(self._copy.path),
                ],
                called="the process that watches the program",
                kept_open=(self._copy.lock, *locks),
                grace_s=END_S,
            )
        return self._guardian, nullcontext() if self._turns is None else self._turns.one()


def _left_in(folder: Path, *known: Path | None) -> tuple[str, ...]:
    """Names in a folder, the first ten; none if the program took the folder away."""
    with contextlib.suppress(OSError):
        names = sorted(set(os.listdir(folder)) - {path.name for path in known if path is not None})
        return tuple(safe_text(os.fsencode(name)) for name in names[:10])
    return ()


def _remove(file: Path) -> None:
    """What stands under the name of a file, whatever the program made of it."""
    if file.is_dir() and not file.is_symlink():
        remove_tree(file)
    else:
        file.unlink(missing_ok=True)


def read_plain_file(file: Path, limit_bytes: int) -> bytes:
    """What a program wrote into a file; a link, a pipe or a device is refused. Raises OSError."""
    descriptor = os.open(file, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    with os.fdopen(descriptor, "rb") as stream:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise OSError(errno.EINVAL, "no plain file")
        return stream.read(limit_bytes)
