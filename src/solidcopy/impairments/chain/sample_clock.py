"""The sample clock of a sound device: a little off, and drifting."""

from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import BaseModel, Field

from solidcopy.errors import CalibrationError
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.kernels.off_grid import off_grid
from solidcopy.signals.waveform import Samples

HIGHEST_PPM = 20_000.0


class SampleClock(BaseModel):
    """Samples taken too fast or too slowly, by an error that may grow with time.

    A clock that runs fast by 100 ppm makes 1500 Hz look like 1499.85 Hz, and at the end of a
    15 s slot everything comes 1.5 ms late. The edge of the slot is on time.
    """

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.SAMPLE_CLOCK
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["sample-clock"] = "sample-clock"
    on: bool = Field(True, description="false: as if it were not there")
    error_ppm: Swept = Field(0.0, description="positive: the clock runs fast, parts per million")
    drift_ppm_per_min: Swept = Field(0.0, description="steady rise of that error, ppm per minute")

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """The audio at the instants of the wrong clock, by a windowed sinc of 64 samples.

        The true time of sample n is t = n / rate less (error + drift t / 2) t; derived here.

        Raises: CalibrationError beyond 2 %.
        """
        error = fixed(self.error_ppm, "error_ppm") * 1e-6
        drift_per_s = fixed(self.drift_ppm_per_min, "drift_ppm_per_min") * 1e-6 / 60.0
        if error == 0.0 and drift_per_s == 0.0:
            return heard.samples
        times_s = np.arange(heard.samples.size) / heard.sample_rate_hz - places.RUN_IN_S
        slips = error + drift_per_s * times_s / 2.0
        largest_ppm = 1e6 * float(np.abs(slips).max())
        if largest_ppm > HIGHEST_PPM:
            raise CalibrationError(
                f"a sample clock off by {largest_ppm:.0f} ppm is asked; at most {HIGHEST_PPM:g} "
                "ppm can be made"
            )
        slips *= times_s
        slips *= -float(heard.sample_rate_hz)
        out: Samples = off_grid(heard.samples, slips)
        return out

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
