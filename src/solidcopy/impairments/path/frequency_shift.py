"""A steady Doppler shift and a drift: of an oscillator, of a moving reflector, of a satellite."""

import math
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy.impairments.impairment import Arrival, Transmission
from solidcopy.impairments.level import STRICT, Swept, fixed


class FrequencyShift(BaseModel):
    """The whole signal moved in frequency by the same amount, which may grow with time."""

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["frequency-shift"] = "frequency-shift"
    shift_hz: Swept = Field(0.0, description="at the middle of the transmission, Hz")
    drift_hz_per_min: Swept = Field(0.0, description="steady rise of the frequency, Hz per minute")

    @property
    def n_together(self) -> int:
        """Nothing in it is drawn."""
        return 1

    def propagate(self, sent: Transmission, generator: np.random.Generator) -> Arrival:
        """Phase 2 pi (shift t + drift t²/2), t from the middle of the transmission; derived here.

        The power is that which was sent, exactly.
        """
        shift_hz = fixed(self.shift_hz, "shift_hz")
        drift_hz_per_s = fixed(self.drift_hz_per_min, "drift_hz_per_min") / 60.0
        n_samples = sent.samples.size
        times_s = (np.arange(n_samples) - (n_samples - 1) / 2.0) / sent.sample_rate_hz
        phase_rad = 2.0 * math.pi * (shift_hz + drift_hz_per_s * times_s / 2.0) * times_s
        half_run_hz = abs(drift_hz_per_s) * n_samples / sent.sample_rate_hz / 2.0
        return Arrival(
            samples=sent.samples * np.exp(1j * phase_rad),
            shift_hz=shift_hz,
            widening_hz=(
                min(shift_hz - half_run_hz, 0.0),
                max(shift_hz + half_run_hz, 0.0),
            ),
        )

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
