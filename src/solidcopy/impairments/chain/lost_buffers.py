"""Buffers of audio that get lost, or are played twice, on a busy computer."""

from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.signals.waveform import Samples


class LostBuffers(BaseModel):
    """Now and then a buffer is missing or comes twice; what follows is early or late."""

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.BUFFERS
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["lost-buffers"] = "lost-buffers"
    on: bool = Field(True, description="false: as if it were not there")
    lost_per_min: Swept = Field(0.0, description="buffers lost, mean number in a minute")
    repeated_per_min: Swept = Field(0.0, description="buffers that come twice, mean per minute")
    buffer_ms: Annotated[float, Field(gt=0, le=500)] = Field(
        20.0, description="length of a buffer, ms"
    )
    gap: Literal["closed", "silent"] = Field(
        "closed",
        description="closed: what follows a lost buffer comes early; silent: zeros instead",
    )

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """Buffers in a row, each lost or repeated by its own draw; the run keeps its length.

        The end is filled with the last buffers' successors as far as the run-out has them, then
        with silence.
        """
        n_buffer = max(1, round(self.buffer_ms / 1000.0 * heard.sample_rate_hz))
        n_samples = heard.samples.size
        n_buffers = -(-n_samples // n_buffer)
        share = n_buffer / heard.sample_rate_hz / 60.0
        p_lost = min(fixed(self.lost_per_min, "lost_per_min") * share, 1.0)
        p_repeated = min(fixed(self.repeated_per_min, "repeated_per_min") * share, 1.0 - p_lost)
        draws = generator.random(n_buffers)
        # Nothing happens in the run-in: the slot's edge stays where it is.
        draws[: round(places.RUN_IN_S * heard.sample_rate_hz / n_buffer) + 1] = 1.0
        is_lost, is_repeated = draws < p_lost, draws >= 1.0 - p_repeated
        is_repeated[draws == 1.0] = False
        buffers = np.zeros((n_buffers, n_buffer))
        buffers.reshape(-1)[:n_samples] = heard.samples
        if self.gap == "silent":
            buffers[is_lost] = 0.0
            times = np.where(is_repeated, 2, 1)
        else:
            times = np.where(is_lost, 0, np.where(is_repeated, 2, 1))
        out = np.zeros(n_samples)
        heard_through = np.repeat(buffers, times, axis=0).reshape(-1)[:n_samples]
        out[: heard_through.size] = heard_through
        return out

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
