"""Write the certificate of a file that this program makes."""

from collections.abc import Sequence
from math import isfinite
from pathlib import Path

from solidcopy import __version__, units
from solidcopy.actions.certificate import (
    AskedAndGot,
    Certificate,
    CertifiedSlot,
    NeededFile,
    Recipe,
    StatedSamples,
    TrialsRecipe,
)
from solidcopy.campaigns.environment import this_environment
from solidcopy.impairments.added.recording_source import content_digest
from solidcopy.signals.audio_stream import AudioStream
from solidcopy.trials.condition import Condition
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import Plan
from solidcopy.trials.recipe_numbers import recipe_numbers
from solidcopy.trials.sound_files import recordings_in
from solidcopy.trials.trial import Recording, Truth

LIBRARIES = ("numpy", "scipy", "numba", "soxr")
"""On which samples depend."""


def certificate_of(samples: StatedSamples, recipe: Recipe) -> Certificate:
    """With the versions of this program and its libraries."""
    environment = this_environment()
    versions = {name: environment.libraries[name] for name in LIBRARIES}
    return Certificate(
        made_by=f"solidcopy {__version__}",
        libraries={"python": environment.python, **versions},
        samples=samples,
        recipe=recipe,
    )


def carry(sound: AudioStream, recipe: Recipe) -> None:
    """Let a long file, all written, carry its certificate."""
    samples = StatedSamples.of(sound.facts, word="int16", sample_rate_hz=sound.sample_rate_hz)
    sound.comment(certificate_of(samples, recipe).text())


def certified_slot(
    condition: str, key: TrialKey, made: tuple[Recording, Truth], *, starts_at_sample: int
) -> CertifiedSlot:
    """What is said of one trial in the file.

    Args:
        condition: its name.
        key: of the trial; its place of the condition is not used.
        made: what the trial makes.
        starts_at_sample: where it begins in the file.
    """
    recording, truth = made
    return CertifiedSlot(
        starts_at_sample=starts_at_sample,
        condition=condition,
        axis_value=key.axis_value,
        arm=key.arm,
        trial_index=key.trial_index,
        text=truth.message.text if truth.message else None,
        lowest_tone_hz=round(truth.audio_hz, 4),
        start_after_nominal_s=round(truth.time_offset_s, 6),
        levels=tuple(
            AskedAndGot(
                name=level.name,
                quantity=level.quantity,
                asked_db=level.asked_db,
                got_db=_rounded(level.got_db),
                drawn_db=_rounded(level.drawn_db),
            )
            for level in recording.readings.levels
        ),
        n_clipped=recording.readings.n_clipped,
        digest_sha256_float32le=recording.digest,
    )


def trials_recipe(plan: Plan, slots: Sequence[CertifiedSlot]) -> TrialsRecipe:
    """The recipe of a file with these slots. Raises AudioFileError if a recording has gone."""
    named = {slot.condition for slot in slots}
    conditions = [condition for condition in plan.conditions if condition.name in named]
    level = plan.audio.level_dbfs
    return TrialsRecipe(
        mode=plan.mode,
        root_seed=plan.root_seed,
        sample_rate_hz=plan.audio.sample_rate_hz,
        level_dbfs=None if level == "auto" else float(level),
        internal_rate_hz=plan.audio.internal_rate_hz,
        reference_bandwidth_hz=units.REFERENCE_BANDWIDTH_HZ,
        recipes=recipe_numbers(plan.mode, conditions),
        conditions={condition.name: _without_folders(condition) for condition in conditions},
        files=tuple(_needed(Path(item.file)) for item in recordings_in(conditions)),
        slots=tuple(slots),
    )


def _without_folders(condition: Condition) -> dict[str, object]:
    """The condition; where a recording lay is nobody's business."""
    data = condition.model_dump(mode="json", exclude_none=True)
    for impairment in data["impairments"]:
        if "file" in impairment:
            impairment["file"] = Path(impairment["file"]).name
    return data


def _needed(file: Path) -> NeededFile:
    return NeededFile(name=file.name, n_bytes=file.stat().st_size, sha256=content_digest(str(file)))


def _rounded(value: float) -> float | None:
    return round(value, 4) if isfinite(value) else None
