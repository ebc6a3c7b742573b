"""Noise reduction of a receiver: one published spectral method."""

import math
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
import scipy.fft
from pydantic import BaseModel, Field

from solidcopy import units
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.impairments.level import STRICT, Swept, fixed
from solidcopy.signals.waveform import Samples

MEMORY = 0.98
"""Weight of the last frame in the a-priori SNR (Ephraim and Malah 1984, from memory)."""


class NoiseReduction(BaseModel):
    """Short-time spectra, each bin weakened as far as it looks like noise.

    Made for speech. Every bin's noise is taken as its median over the whole run, so a steady
    carrier counts as noise too.
    """

    model_config = STRICT
    recipe: ClassVar[int] = 1
    place: ClassVar[int] = places.NOISE_REDUCTION
    is_wideband: ClassVar[bool] = False
    fixes_full_scale: ClassVar[bool] = False

    kind: Literal["noise-reduction"] = "noise-reduction"
    on: bool = Field(True, description="false: as if it were not there")
    frame_ms: Annotated[float, Field(ge=4, le=500)] = Field(
        32.0, description="length of a frame, half of it new, ms"
    )
    floor_db: Swept = Field(
        15.0, description="most by which a bin is weakened, dB; 0 changes nothing"
    )

    @property
    def late_s(self) -> float:
        """It moves no slot."""
        return 0.0

    def process(self, heard: Heard, generator: np.random.Generator) -> Samples:
        """Wiener's gain on a decision-directed a-priori SNR, overlap-added.

        Source: Y. Ephraim and D. Malah, IEEE Trans. ASSP-32 (1984), 1109-1121: the
            decision-directed estimate (from memory, unchecked); gain xi / (1 + xi).
        """
        half = max(2, round(self.frame_ms / 2000.0 * heard.sample_rate_hz))
        window = np.sin(math.pi * (np.arange(2 * half) + 0.5) / (2 * half))
        n_samples = heard.samples.size
        n_frames = -(-n_samples // half) + 1
        padded = np.zeros((n_frames + 1) * half)
        padded[half : half + n_samples] = heard.samples
        frames = np.lib.stride_tricks.sliding_window_view(padded, 2 * half)[::half] * window
        spectra = scipy.fft.rfft(frames, axis=1)
        spectra *= self._gains(np.abs(spectra) ** 2)
        frames = scipy.fft.irfft(spectra, 2 * half, axis=1) * window
        out = np.zeros_like(padded)
        out[: n_frames * half] += frames[:, :half].ravel()
        out[half:] += frames[:, half:].ravel()
        return out[half : half + n_samples]

    def _gains(self, powers: Samples) -> Samples:
        """(n_frames, n_bins) amplitude factors."""
        floor = math.sqrt(units.ratio_from_db(-fixed(self.floor_db, "floor_db")))
        noise = np.median(powers, axis=0) / math.log(2.0)
        over_noise = powers / np.maximum(noise, 1e-30)
        gains = np.empty_like(powers)
        kept = np.ones(powers.shape[1])
        for frame, ratio in enumerate(over_noise):
            a_priori = MEMORY * kept + (1.0 - MEMORY) * np.maximum(ratio - 1.0, 0.0)
            gains[frame] = np.maximum(a_priori / (1.0 + a_priori), floor)
            kept = gains[frame] ** 2 * ratio
        return gains

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
