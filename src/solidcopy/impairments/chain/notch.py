"""Notches: one at a stated frequency, and one that looks for tones by itself."""

import math
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from pydantic import BaseModel, Field

from solidcopy.errors import CalibrationError
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.kernels.line_predictor import without_predictable
from solidcopy.signals.power import mean_power
from solidcopy.signals.waveform import Samples


class Notch(BaseModel):
    """A second-order notch: nothing passes at its frequency, -3 dB at the ends of its width."""

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.NOTCH
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["notch"] = "notch"
    on: bool = Field(True, description="false: as if it were not there")
    audio_hz: Swept = Field(description="frequency that is taken out, Hz")
    width_hz: Swept = Field(50.0, description="between the -3 dB points, Hz")

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """Its steady-state response over the whole run; it rings 1 / (pi width) s."""
        spectrum = scipy.fft.rfft(heard.samples)
        hz = scipy.fft.rfftfreq(heard.samples.size, 1.0 / heard.sample_rate_hz)
        spectrum *= self.response(hz, sample_rate_hz=heard.sample_rate_hz)
        out: Samples = scipy.fft.irfft(spectrum, heard.samples.size)
        return out

    def response(self, hz: NDArray[np.float64], *, sample_rate_hz: float) -> NDArray[np.complex128]:
        """Complex gain of the bilinear-transformed notch (s² + w²) / (s² + s w / Q + w²).

        Raises: CalibrationError if it does not fit below half the rate.
        Source: textbook (from memory); tests hold it against scipy.signal.iirnotch.
        """
        notch_hz, width_hz = fixed(self.audio_hz, "audio_hz"), fixed(self.width_hz, "width_hz")
        highest_hz = sample_rate_hz / 2.0 - width_hz
        if not (0.0 < width_hz <= notch_hz <= highest_hz):
            raise CalibrationError(
                f"a notch {width_hz:g} Hz wide at {notch_hz:g} Hz is asked; its middle may lie "
                f"between its width and {highest_hz:g} Hz"
            )
        # With the tangent prewarping, s = j tan(w/2) / tan(w0/2) is the normalised frequency.
        turn = np.tan(math.pi * np.minimum(hz, 0.4999999 * sample_rate_hz) / sample_rate_hz)
        at = math.tan(math.pi * notch_hz / sample_rate_hz)
        edge = math.tan(math.pi * width_hz / sample_rate_hz) * (1.0 + at**2)
        above = at**2 - turn**2
        response: NDArray[np.complex128] = above / (above + 1j * edge * turn)
        return response

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


class AutomaticNotch(BaseModel):
    """Whatever can be foreseen from audio a moment ago is a tone, and is taken out.

    It cannot tell a neighbour's carrier from a slow tone of the wanted signal.
    """

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.AUTOMATIC_NOTCH
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["automatic-notch"] = "automatic-notch"
    on: bool = Field(True, description="false: as if it were not there")
    delay_ms: Annotated[float, Field(gt=0, le=200)] = Field(
        5.0, description="how long ago; noise of a pass band of B Hz is forgotten after 1 / B, ms"
    )
    n_taps: Annotated[int, Field(ge=4, le=512)] = Field(
        64, description="length of the predictor; with more it tells closer tones apart"
    )
    adaption_ms: Swept = Field(
        200.0, description="time constant with which it learns white noise's tones, ms"
    )

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """The error of a normalised least-mean-square line predictor.

        Source: B. Widrow et al., adaptive noise cancelling, Proc. IEEE 63 (1975), 1692-1716 (from
            memory, unchecked); step = samples-per-time-constant inverse, normalised.
        """
        delay = max(1, round(self.delay_ms / 1000.0 * heard.sample_rate_hz))
        adaption_samples = fixed(self.adaption_ms, "adaption_ms") / 1000.0 * heard.sample_rate_hz
        if adaption_samples < 1.0:
            raise CalibrationError(
                f"adaption_ms is {self.adaption_ms}: it must be longer than a sample"
            )
        power = mean_power(heard.samples)
        if power == 0.0:
            return heard.samples
        step = min(self.n_taps / adaption_samples, 1.0)
        out: Samples = without_predictable(
            heard.samples, delay, self.n_taps, step, 1e-3 * power * self.n_taps
        )
        return out

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
