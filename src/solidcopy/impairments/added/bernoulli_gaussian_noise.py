"""Noise of two powers: a background, and impulses during a share of the time, or in bursts."""

import math
from typing import Any, ClassVar, Literal, Self

import numpy as np
from pydantic import BaseModel, Field, model_validator

from solidcopy import units
from solidcopy.impairments.added.noise_states import StateLaw, white_in_states
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed
from solidcopy.kernels.two_states import two_state_chain


class BernoulliGaussianNoise(BaseModel):
    """White Gaussian noise that is stronger during a share of the time.

    Without memory every sample decides by itself. With memory a Markov chain decides: bursts and
    the pauses between them have exponentially distributed lengths.
    """

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["bernoulli-gaussian-noise"] = "bernoulli-gaussian-noise"
    snr_db: Swept = Field(description="wanted power over its mean power in 2500 Hz, dB")
    p_impulse: Swept = Field(description="share of the time with impulses, 0.00001 to 0.9")
    impulse_to_background_db: Swept = Field(
        description="power during impulses over power without, dB, 0 to 60"
    )
    burst_ms: Swept = Field(
        description="mean length of a burst of impulses, ms, to 1000; receivers narrower than its "
        "inverse average it. 0: each sample by itself, independent over the whole sampled band"
    )

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        for name, lowest, highest in (
            ("p_impulse", 1e-5, 0.9),
            ("impulse_to_background_db", 0.0, 60.0),
            ("burst_ms", 0.0, 1000.0),
        ):
            value = getattr(self, name)
            if not isinstance(value, str) and not lowest <= value <= highest:
                raise ValueError(f"{name} is {value:g}; it may be {lowest:g} to {highest:g}")
        return self

    def level(self) -> Level:
        """The asked SNR in 2500 Hz, of the mean power."""
        return Level("snr", fixed(self.snr_db, "snr_db"))

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """States first, then the Gaussian samples under them.

        Source: derived here: a chain in continuous time, on for b and off for b (1 - p) / p on
            average, forgets as exp(-lag / (b (1 - p))); seen at the samples it is a Markov chain.
        """
        p_on = fixed(self.p_impulse, "p_impulse")
        stronger = units.ratio_from_db(
            fixed(self.impulse_to_background_db, "impulse_to_background_db")
        )
        memory_s = fixed(self.burst_ms, "burst_ms") / 1000.0 * (1.0 - p_on)
        kept = math.exp(-1.0 / (memory_s * scene.sample_rate_hz)) if memory_s > 0.0 else 0.0
        is_on = two_state_chain(
            generator.random(scene.n_samples), p_on, p_on * (1.0 - kept), p_on + (1.0 - p_on) * kept
        )
        mean = 1.0 - p_on + p_on * stronger
        powers = np.where(is_on, stronger / mean, 1.0 / mean)
        law = StateLaw(
            variance=p_on * (1.0 - p_on) * ((stronger - 1.0) / mean) ** 2,
            correlation=lambda lag_s: np.exp(-lag_s / memory_s),
            correlation_s=memory_s,
        )
        return white_in_states(powers, law, scene, generator)

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}
