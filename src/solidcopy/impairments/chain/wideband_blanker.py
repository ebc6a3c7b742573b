"""A noise blanker in front of the channel filter: short strong impulses are gated away."""

import math
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field

from solidcopy import units
from solidcopy.impairments.chain import places
from solidcopy.impairments.chain.reference_level import background_rms
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.signals.amplitude_distribution import envelope
from solidcopy.signals.waveform import Samples


class WidebandBlanker(BaseModel):
    """While the envelope of the wide band passes a threshold, and a little around, silence.

    Anything strong in the wide band opens it, a neighbour's signal as well as an impulse.
    """

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.BLANKER
    is_wideband: ClassVar[bool] = True
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["wideband-blanker"] = "wideband-blanker"
    on: bool = Field(True, description="false: as if it were not there")
    threshold_db: Swept = Field(
        15.0, description="over the rms of what is always there in the wide band, dB"
    )
    lead_ms: Annotated[float, Field(ge=0, le=20)] = Field(
        0.1, description="silence before the threshold is passed (by a delay of the signal), ms"
    )
    hold_ms: Annotated[float, Field(ge=0, le=200)] = Field(
        1.0, description="silence after it has fallen below again, ms"
    )
    edge_ms: Annotated[float, Field(ge=0, le=20)] = Field(
        0.2, description="length of the gate's raised-cosine edges, outside the silence, ms"
    )

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """The samples times a gate between 0 and 1."""
        values = envelope(heard.samples, sample_rate_hz=heard.sample_rate_hz)
        over_rms = math.sqrt(units.ratio_from_db(fixed(self.threshold_db, "threshold_db")))
        is_over = values > over_rms * background_rms(values)
        heard.samples[:] *= self._gate(is_over, heard.sample_rate_hz)
        return heard.samples

    def _gate(self, is_over: NDArray[np.bool_], sample_rate_hz: int) -> Samples:
        lead, hold, edge = (
            round(ms / 1000.0 * sample_rate_hz) for ms in (self.lead_ms, self.hold_ms, self.edge_ms)
        )
        n_samples = is_over.size
        gate = np.ones(n_samples)
        # Every stretch above the threshold, from its first sample to the one behind its last.
        turns = np.flatnonzero(np.diff(is_over.astype(np.int8), prepend=0, append=0))
        fall = 0.5 + 0.5 * np.cos(np.pi * (np.arange(edge) + 1.0) / (edge + 1.0))
        for first, behind in turns.reshape(-1, 2):
            start, stop = max(first - lead, 0), min(behind + hold, n_samples)
            gate[start:stop] = 0.0
            before, after = max(start - edge, 0), min(stop + edge, n_samples)
            np.minimum(gate[before:start], fall[edge - (start - before) :], out=gate[before:start])
            np.minimum(gate[stop:after], fall[::-1][: after - stop], out=gate[stop:after])
        return gate

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
