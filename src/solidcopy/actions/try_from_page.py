"""A receiver tried on a loud, a faint and a noise-only slot, for a page."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from solidcopy.actions.bench_receivers import DEFAULT_MODE, receivers_in, settings_file, why_not
from solidcopy.actions.served import served
from solidcopy.actions.tried_receiver import Tried
from solidcopy.actions.try_receiver import (
    decode_words,
    sent_words,
    slots_to_try,
    try_receiver,
    verdict_on,
)
from solidcopy.actions.workspace import Workspace
from solidcopy.errors import NotThereError, PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.receivers.receiver import Reception
from solidcopy.trials.score import is_right
from solidcopy.trials.trial import Truth


@served
@dataclass(frozen=True, slots=True)
class ShownSlot:
    """What came back from one slot."""

    name: str
    sent: str
    is_read: bool
    """Whether what was sent was decoded."""
    is_as_it_should: bool
    """The loud slot read; nothing reported in noise alone. The faint one may go either way."""
    elapsed_s: float
    lines: tuple[str, ...]
    """What came back, in words."""


@served
@dataclass(frozen=True, slots=True)
class ShownTry:
    """A receiver tried on a loud, a faint and a noise-only slot."""

    name: str
    mode: str
    slots: tuple[ShownSlot, ...]
    advice: tuple[str, ...]
    """What to do, one sentence each; empty if all is well."""


def try_known(
    space: Workspace, file: str, number: int, *, is_plan: bool, mode: str = DEFAULT_MODE
) -> ShownTry:
    """Try a receiver as its file describes it.

    Args:
        mode: of the slots, for settings outside a plan; a plan has its own.
    Raises: NotThereError if there is no such file or receiver; PlanError if it may not be tried
        from a page.
    """
    path = space.existing_plan(file) if is_plan else settings_file(space, file)
    own_mode, receivers = receivers_in(path, is_plan=is_plan)
    mode = own_mode if is_plan else mode
    if not 1 <= number <= len(receivers):
        raise NotThereError(f"{path.name} has {len(receivers)} receivers, no number {number}")
    one = receivers[number - 1]
    reason = why_not(one, space.folder)
    if reason:
        raise PlanError(f'receiver "{one.name}": {reason}')
    if isinstance(one, ProgramSettings):
        return _tried_program(one, mode, space.folder)
    assert isinstance(one, BuiltinSettings)
    return try_builtin(one, mode)


def try_builtin(settings: BuiltinSettings, mode: str) -> ShownTry:
    """Try the built-in receiver. The first time on a machine its loops are compiled."""
    receiver = build_receiver(settings, mode_named(mode))
    slots: list[ShownSlot] = []
    for slot in slots_to_try(mode):
        if not slots:
            receiver.receive(slot.recording.waveform)  # what loads and compiles is not timed
        reception = receiver.receive(slot.recording.waveform)
        lines = tuple(_decode_lines(reception, slot.truth))
        slots.append(_shown(slot.name, slot.truth, slot.snr_db, reception, lines))
    return ShownTry(settings.name, mode, tuple(slots), ())


def _tried_program(settings: ProgramSettings, mode: str, plan_folder: Path) -> ShownTry:
    tried = Tried(settings, plan_folder, *try_receiver(settings, mode, plan_folder))
    slots = tuple(
        _shown(slot.name, slot.truth, slot.snr_db, slot.hearing.reception, tuple(slot.lines())[1:])
        for slot in tried.slots
    )
    return ShownTry(settings.name, mode, slots, tuple(tried.advice()))


def _shown(
    name: str, truth: Truth, snr_db: float, reception: Reception, lines: tuple[str, ...]
) -> ShownSlot:
    is_read = any(is_right(decode, truth) for decode in reception.decodes)
    is_well = is_read if name == "loud" else name == "faint" or not reception.decodes
    return ShownSlot(
        name=name,
        sent=sent_words(truth, snr_db),
        is_read=is_read,
        is_as_it_should=is_well and reception.failure is None,
        elapsed_s=reception.elapsed_s,
        lines=tuple(line.strip() for line in lines),
    )


def _decode_lines(reception: Reception, truth: Truth) -> Iterator[str]:
    for decode in reception.decodes:
        yield f"read: {decode_words(decode)}: {verdict_on(decode, truth)}"
    if not reception.decodes:
        yield "it reported nothing" + ("" if truth.message else ", as it should")
