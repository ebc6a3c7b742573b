"""A recording of one's own noise or interference, brought to a stated level."""

from typing import Annotated, Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added import recording_source
from solidcopy.impairments.impairment import Disturbance, Draw, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed, one_level, refuse_not_one


class OwnRecording(BaseModel):
    """A sound file as noise or interference. Its level is the mean of the whole file."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["recording"] = "recording"
    file: str = Field(
        min_length=1, description="WAV or FLAC file; a relative path counts from the plan's folder"
    )
    channel: Annotated[int, Field(ge=1, le=64)] | None = Field(
        None, description="1 = first (left); needed only where the channels differ"
    )
    placement: Literal["loop", "random"] = Field(
        "random",
        description='"random": each trial takes a piece that lies wholly within the file; "loop": '
        "the file runs in a circle (ends cross-faded over 50 ms) from a random place. A file "
        "shorter than the slot runs in a circle in either case",
    )
    snr_db: Swept | None = Field(
        None,
        description="the recording is the noise: wanted power over its mean power between 200 and "
        "2700 Hz (2500 Hz), dB",
    )
    signal_to_interference_db: Swept | None = Field(
        None, description="wanted power over the mean power of the whole file, dB"
    )
    interference_to_noise_db: Swept | None = Field(
        None, description="mean power of the whole file over the noise power in 2500 Hz, dB"
    )
    as_recorded: bool = Field(
        False,
        description="leave its samples as they are (but for a constant offset, which is taken "
        "out); sending.signal_dbfs then says how strong the wanted signal is",
    )

    @model_validator(mode="after")
    def _is_stated_once(self) -> Self:
        refuse_not_one(
            snr_db=self.snr_db,
            signal_to_interference_db=self.signal_to_interference_db,
            interference_to_noise_db=self.interference_to_noise_db,
            as_recorded=self.as_recorded,
        )
        return self

    def level(self) -> Level:
        """The asked level."""
        if self.as_recorded:
            return Level("as_recorded", 0.0)
        if self.snr_db is not None:
            return Level("snr", fixed(self.snr_db, "snr_db"))
        return one_level(self.signal_to_interference_db, self.interference_to_noise_db)

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """One slot of the file; what its loudness there does to the level is told as a draw."""
        source = self.source(scene.sample_rate_hz, scene.n_samples)
        piece = source.piece(source.draw_start(generator))
        return Disturbance(
            samples=piece,
            reference_power=source.mean_power,
            spread_db=source.spread_db,
            occupied_hz=(0.0, scene.half_rate_hz),
            draw=Draw(source.power_of(piece) / source.mean_power, residual_spread_db=0.0),
        )

    def source(self, sample_rate_hz: int, n_slot: int) -> recording_source.Source:
        """The file made ready for slots of `n_slot` samples; read once while it is unchanged."""
        key = recording_source.SourceKey(
            stamp=recording_source.stamp(self.file),
            channel=self.channel,
            sample_rate_hz=sample_rate_hz,
            is_noise=self.as_recorded or self.snr_db is not None,
            is_loop=self.placement == "loop",
            n_slot=n_slot,
        )
        return recording_source.prepared(key)

    def identity(self) -> dict[str, Any]:
        """Numbers, recipe and the file's content (its SHA-256, not its path)."""
        numbers = self.model_dump(mode="json", exclude={"file"})
        return {
            **numbers,
            "recipe": self.recipe,
            "content": recording_source.content_digest(self.file),
        }
