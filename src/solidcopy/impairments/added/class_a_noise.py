"""Middleton's class A noise: Gaussian background and overlapping events, one law of amplitudes.

A linear receiver with long symbols averages hundreds of short events and sees plain Gaussian noise
(FACTS D6). So the length of an event is a number of its own here.
"""

from typing import Any, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, model_validator

from solidcopy.impairments.added.noise_states import StateLaw, white_in_states
from solidcopy.impairments.impairment import Disturbance, Scene
from solidcopy.impairments.level import STRICT, Level, Swept, fixed

HIGHEST_EVENTS_PER_S = 50_000.0
"""More events than this are given sample by sample: event_ms = 0."""


class ClassANoise(BaseModel):
    """White noise of class A amplitudes: events begin at random, each lasts equally long.

    The number m of events at one instant is Poisson distributed with mean A; given m, the noise is
    Gaussian with power (m / A + Γ) / (1 + Γ) of its mean. So every sample has Middleton's law
    exactly, at every sample rate and event length.
    """

    model_config = STRICT
    recipe: ClassVar[int] = 1

    kind: Literal["class-a-noise"] = "class-a-noise"
    snr_db: Swept = Field(description="wanted power over its mean power in 2500 Hz, dB")
    impulsive_index: Swept = Field(
        description="A: events at one instant on average (their rate times their length), "
        "0.0001 to 10"
    )
    gaussian_ratio: Swept = Field(
        description="Γ: power of the Gaussian background over that of the events, 0.000001 to 1000"
    )
    event_ms: Swept = Field(
        description="length of one event, ms, to 1000; receivers narrower than its inverse average "
        "it. 0: each sample by itself, independent over the whole sampled band"
    )

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        for name, lowest, highest in (
            ("impulsive_index", 1e-4, 10.0),
            ("gaussian_ratio", 1e-6, 1000.0),
            ("event_ms", 0.0, 1000.0),
        ):
            value = getattr(self, name)
            if not isinstance(value, str) and not lowest <= value <= highest:
                raise ValueError(f"{name} is {value:g}; it may be {lowest:g} to {highest:g}")
        if isinstance(self.impulsive_index, float) and isinstance(self.event_ms, float):
            self._refuse_too_many(self.impulsive_index, self.event_ms / 1000.0)
        return self

    @staticmethod
    def _refuse_too_many(impulsive_index: float, event_s: float) -> None:
        if impulsive_index > HIGHEST_EVENTS_PER_S * event_s > 0.0:
            raise ValueError(
                f"{impulsive_index / event_s:.0f} events a second are asked; at most "
                f"{HIGHEST_EVENTS_PER_S:.0f} are made: lengthen event_ms, or set it to 0"
            )

    def level(self) -> Level:
        """The asked SNR in 2500 Hz, of the mean power."""
        return Level("snr", fixed(self.snr_db, "snr_db"))

    def synthesise(self, scene: Scene, generator: np.random.Generator) -> Disturbance:
        """Events first, then the Gaussian samples under them."""
        index = fixed(self.impulsive_index, "impulsive_index")
        ratio = fixed(self.gaussian_ratio, "gaussian_ratio")
        event_s = fixed(self.event_ms, "event_ms") / 1000.0
        n_on = events_at_samples(index, event_s, scene, generator)
        powers = n_on.astype(np.float64)
        powers *= 1.0 / (index * (1.0 + ratio))
        powers += ratio / (1.0 + ratio)
        law = StateLaw(
            variance=1.0 / (index * (1.0 + ratio) ** 2),
            correlation=lambda lag_s: np.maximum(1.0 - lag_s / event_s, 0.0),
            correlation_s=event_s,
        )
        return white_in_states(powers, law, scene, generator)

    def identity(self) -> dict[str, Any]:
        """Numbers and recipe."""
        return {**self.model_dump(mode="json"), "recipe": self.recipe}


def events_at_samples(
    impulsive_index: float, event_s: float, scene: Scene, generator: np.random.Generator
) -> NDArray[np.int64]:
    """Number of events that are on at each sample, (n_samples,); those begun earlier included."""
    rate_hz, n_samples = scene.sample_rate_hz, scene.n_samples
    if event_s == 0.0:
        return generator.poisson(impulsive_index, n_samples)
    n_events = generator.poisson(impulsive_index / event_s * (scene.duration_s + event_s))
    start = generator.uniform(-event_s * rate_hz, n_samples, n_events)
    first = np.clip(np.ceil(start), 0, n_samples).astype(np.int64)
    stop = np.clip(np.ceil(start + event_s * rate_hz), 0, n_samples).astype(np.int64)
    steps = np.bincount(first, minlength=n_samples + 1)
    steps -= np.bincount(stop, minlength=n_samples + 1)
    return np.cumsum(steps[:n_samples])
