"""What a sound file says of itself: facts of its samples, and the recipe to make them anew.

The same text stands in the file's comment chunk and in the JSON beside it. Formats carry a number:
a program reads those up to its own and says so of newer ones.
"""

import json
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from solidcopy import units
from solidcopy.signals.sample_count import SampleFacts, Word

FORMAT = 1
"""Raised whenever an older program could misread what a newer one writes."""
CAUTION = (
    "For a file, a cable or a dummy load only, never on the air. Begin at the lowest volume: "
    "protect ears and receiver inputs."
)

STRICT = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class StatedSamples(BaseModel):
    """Facts that anyone can count in the file."""

    model_config = STRICT

    n_samples: int = Field(ge=0, description="of the one channel")
    sample_rate_hz: int = Field(gt=0)
    word: Word = Field(description="how one sample lies in the file, little-endian")
    sha256: Sha256 = Field(description="of the bytes of all samples, header left out")
    mean_dbfs: float | None = Field(description="0 = full-scale sine; null: silence")
    peak_dbfs: float | None = Field(description="0 = touches full scale; null: silence")
    crest_db: float = Field(description="peak over root mean square; a sine has 3.01")
    n_at_full_scale: int = Field(ge=0, description="samples at or beyond the ends of the scale")

    @classmethod
    def of(cls, facts: SampleFacts, *, word: Word, sample_rate_hz: int) -> "StatedSamples":
        """The facts as they are stated."""
        is_silent = facts.mean_power == 0.0
        peak_dbfs = units.peak_dbfs(facts.peak)
        return cls(
            n_samples=facts.n_samples,
            sample_rate_hz=sample_rate_hz,
            word=word,
            sha256=facts.sha256,
            mean_dbfs=None if is_silent else round(units.dbfs_from_power(facts.mean_power), 4),
            peak_dbfs=None if is_silent else round(peak_dbfs, 4),
            crest_db=0.0
            if is_silent
            else round(peak_dbfs - units.db_from_ratio(facts.mean_power), 4),
            n_at_full_scale=facts.n_at_full_scale,
        )


class AskedAndGot(BaseModel):
    """One level as it was asked and as it was measured."""

    model_config = STRICT

    name: str = Field(description="of the disturbance")
    quantity: str = Field(description='"SNR in 2500 Hz", "S/I" or their like')
    asked_db: float | None = Field(description="null: nothing was asked")
    got_db: float | None = Field(description="null: infinite")
    drawn_db: float | None = Field(description="what this trial's draws explain of the difference")


class CertifiedSlot(BaseModel):
    """One trial in the file."""

    model_config = STRICT

    starts_at_sample: int = Field(ge=0)
    condition: str = Field(description="its name")
    axis_value: float
    arm: str = Field(description='"sent" or "nothing-sent"')
    trial_index: int = Field(ge=0)
    text: str | None = Field(description="null: nothing was sent")
    lowest_tone_hz: float
    start_after_nominal_s: float
    levels: tuple[AskedAndGot, ...]
    n_clipped: int = Field(ge=0, description="samples beyond full scale before any rounding")
    digest_sha256_float32le: Sha256 = Field(description="of its samples before any rounding")


class NeededFile(BaseModel):
    """A recording that the making reads; known by its content, wherever it lies."""

    model_config = STRICT

    name: str
    n_bytes: int = Field(ge=0)
    sha256: Sha256 = Field(description="of the whole file")


class TrialsRecipe(BaseModel):
    """Trials of a plan: enough to make each of them anew."""

    model_config = STRICT

    kind: Literal["trials"] = "trials"
    mode: str
    root_seed: int = Field(ge=0, lt=2**63)
    sample_rate_hz: int = Field(ge=8_000, le=192_000)
    level_dbfs: float | None = Field(description="null: chosen by the head-room")
    internal_rate_hz: Annotated[int, Field(ge=16_000, le=384_000)] | None
    reference_bandwidth_hz: float = Field(description="that every SNR here refers to")
    recipes: dict[str, int] = Field(description="number by what has a recipe")
    conditions: dict[str, dict[str, Any]] = Field(description="as in a plan, by name")
    files: tuple[NeededFile, ...] = Field(description="recordings, in order of their naming")
    slots: tuple[CertifiedSlot, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        starts = [slot.starts_at_sample for slot in self.slots]
        if any(later <= earlier for earlier, later in pairwise(starts)):
            raise ValueError("slots must follow one another")
        if not {slot.condition for slot in self.slots} <= set(self.conditions):
            raise ValueError("a slot names a condition that is not there")
        return self


class FenceRecipe(BaseModel):
    """The demo's invented recording of an electric fence."""

    model_config = STRICT

    kind: Literal["harbour-fence"] = "harbour-fence"
    recipe: int
    seed: int


class SealedRecipe(BaseModel):
    """Slots whose content is kept from whoever listens: a key elsewhere holds the recipe.

    A key needs no proof of its own: no other makes the same samples.
    """

    model_config = STRICT

    kind: Literal["sealed"] = "sealed"
    key: str = Field(description="name of the key file")
    file: str = Field(description="name of this file in the key")


Recipe = Annotated[TrialsRecipe | FenceRecipe | SealedRecipe, Field(discriminator="kind")]


class Certificate(BaseModel):
    """All that a file says of itself."""

    model_config = STRICT

    kind: Literal["solidcopy certificate"] = "solidcopy certificate"
    format: int = Field(FORMAT, ge=1)
    made_by: str | None = Field(None, description="null where the bytes must not depend on it")
    libraries: dict[str, str] = Field(default_factory=dict, description="versions it was made with")
    caution: str = CAUTION
    samples: StatedSamples
    recipe: Recipe

    def text(self) -> str:
        """As it stands in a comment chunk: one line of ASCII."""
        # Not pydantic's own writer: that leaves letters beyond ASCII as they are.
        return json.dumps(self.model_dump(mode="json"), separators=(",", ":"), allow_nan=False)
