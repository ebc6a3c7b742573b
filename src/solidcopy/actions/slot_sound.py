"""The sound of slots that are played: one long file or one for each slot, certified."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from solidcopy.actions.certificate import CertifiedSlot, Recipe, SealedRecipe
from solidcopy.actions.certify import carry, certified_slot, trials_recipe
from solidcopy.signals.audio_stream import AudioStream
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import Recording, Truth

LONG_FILE = "slots.wav"


@dataclass(frozen=True, slots=True)
class SlotSound:
    """Takes slot after slot.

    Args:
        plan: that the trials come from.
        folder: for the files.
        sealed_by: name of the key file, if the sound must not tell its recipe.
        whole: the one long file; None for one file for each slot.
    """

    plan: Plan
    folder: Path
    sealed_by: str | None
    whole: AudioStream | None
    slots: list[CertifiedSlot] = field(default_factory=list)

    def append(
        self, number: int, key: TrialKey, made: tuple[Recording, Truth]
    ) -> tuple[str, float]:
        """Write one slot. Returns: its file, and where in it the slot begins, s."""
        recording, _ = made
        whole = self.whole
        at_sample = whole.n_samples if whole is not None else 0
        name = self.plan.conditions[key.condition].name
        slot = certified_slot(name, key, made, starts_at_sample=at_sample)
        if whole is not None:
            at_s = whole.position_s
            whole.append(recording.waveform)
            self.slots.append(slot)
            return LONG_FILE, at_s
        file = f"slot-{number:04d}.wav"
        rate_hz = recording.waveform.sample_rate_hz
        with AudioStream(self.folder / file, sample_rate_hz=rate_hz) as single:
            single.append(recording.waveform)
            carry(single, self.recipe([slot], file))
        return file, 0.0

    def pause(self, duration_s: float) -> None:
        """Silence in the long file."""
        if self.whole is not None:
            self.whole.append_silence(duration_s)

    def recipe(self, slots: Sequence[CertifiedSlot], file: str) -> Recipe:
        """What a file says of its making; nothing to whoever must not know."""
        if self.sealed_by is not None:
            return SealedRecipe(key=self.sealed_by, file=file)
        return trials_recipe(self.plan, slots)


@contextmanager
def slot_sound(
    plan: Plan, folder: Path, *, is_one_file: bool, sealed_by: str | None
) -> Iterator[SlotSound]:
    """The long file is there at the end, as a whole and certified, or not at all."""
    if not is_one_file:
        yield SlotSound(plan, folder, sealed_by, None)
        return
    with AudioStream(folder / LONG_FILE, sample_rate_hz=plan.audio.sample_rate_hz) as whole:
        sound = SlotSound(plan, folder, sealed_by, whole)
        yield sound
        carry(whole, sound.recipe(sound.slots, LONG_FILE))
