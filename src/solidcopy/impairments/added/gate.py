"""Transmissions with pauses: a neighbour who sends, listens, and sends again."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field

from solidcopy import units
from solidcopy.impairments.area import Area, Areas, during
from solidcopy.impairments.impairment import Disturbance, Draw, Scene
from solidcopy.impairments.level import STRICT
from solidcopy.signals import power
from solidcopy.signals.keyed_amplitude import keyed_amplitude
from solidcopy.signals.waveform import Samples

EDGE_S = 0.005
"""Rise and fall of a transmission: the usual click-free figure (FACTS G4)."""

ROUNDING = 1e-9


class Gate(BaseModel):
    """On and off in turn, beginning anywhere. The stated level is the mean over both.

    A slot may hold more or less of it than that, or none: its readings say what was drawn.
    """

    model_config = STRICT

    on_s: float = Field(ge=0.05, le=3600.0, description="length of a transmission, s")
    off_s: float = Field(ge=0.05, le=3600.0, description="length of the pause after it, s")

    @property
    def period_s(self) -> float:
        """From one beginning to the next."""
        return self.on_s + self.off_s

    @property
    def mean_power(self) -> float:
        """Mean square of the amplitude: two raised-cosine edges take a quarter of one away."""
        return (self.on_s - EDGE_S / 4.0) / self.period_s

    def amplitude(self, scene: Scene, generator: np.random.Generator) -> Samples:
        """Amplitude 0..1 over a slot, (n_samples,)."""
        start_s = generator.uniform(0.0, self.period_s)
        # One period earlier: an edge before the slot may still be rising in it.
        n_periods = int(np.ceil((start_s + scene.duration_s) / self.period_s)) + 2
        ups_s = self.period_s * np.arange(-1, n_periods - 1) - start_s
        amplitude = keyed_amplitude(
            np.stack([ups_s, ups_s + self.on_s], axis=1).ravel(),
            edge_s=EDGE_S,
            n_samples=scene.n_samples,
            sample_rate_hz=scene.sample_rate_hz,
        )
        # A pause is silence, not what rounding leaves of rises and falls.
        amplitude[amplitude < ROUNDING] = 0.0
        return amplitude

    def relative_spread(self, duration_s: float) -> float:
        """Standard deviation of the time on within a duration, over its mean.

        Source: derived here. As a function of the start, the time on is made of straight lines
        between the starts at which an edge enters or leaves; over each, the mean of a square is
        (a^2 + a b + b^2) / 3.
        """
        knots_s = np.array([0.0, self.on_s, -duration_s, self.on_s - duration_s]) % self.period_s
        knots_s = np.concatenate([np.sort(knots_s), [knots_s.min() + self.period_s]])
        on_s = self._on_before(knots_s + duration_s) - self._on_before(knots_s)
        left, right = on_s[:-1], on_s[1:]
        weights = np.diff(knots_s) / self.period_s
        mean_s = float(weights @ (left + right)) / 2.0
        mean_square = float(weights @ (left**2 + left * right + right**2)) / 3.0
        return float(np.sqrt(max(mean_square - mean_s**2, 0.0))) / mean_s

    def _on_before(self, time_s: Samples) -> Samples:
        n_whole, rest_s = np.divmod(time_s, self.period_s)
        return np.asarray(n_whole * self.on_s + np.minimum(rest_s, self.on_s))


def gated(
    steady: Disturbance, gate: Gate | None, scene: Scene, generator: np.random.Generator
) -> Disturbance:
    """A disturbance with pauses; without a gate, itself. Its samples are used up."""
    if gate is None:
        return steady
    amplitude = gate.amplitude(scene, generator)
    ungated_power = power.mean_power(steady.samples)
    samples = steady.samples
    samples *= amplitude
    share = power.mean_power(samples) / ungated_power
    share_on = steady.share_on * power.mean_power(amplitude)
    return replace(
        steady,
        samples=samples,
        reference_power=steady.reference_power * gate.mean_power,
        spread_db=units.db_from_ratio(1.0 + gate.relative_spread(scene.duration_s)),
        share_on=share_on if share_on > 0.0 else 1.0,
        draw=Draw(share / gate.mean_power, residual_spread_db=0.0),
        areas=_while_on(steady, amplitude > 0.0, scene),
    )


def _while_on(steady: Disturbance, is_on: NDArray[np.bool_], scene: Scene) -> Areas | None:
    """The areas of what is gated, as far as it is on."""
    turns = np.flatnonzero(np.diff(is_on, prepend=False, append=False))
    spans_s = turns.reshape(-1, 2) / scene.sample_rate_hz
    bands = {(area.low_hz, area.high_hz) for area in steady.areas or ()} or {steady.occupied_hz}
    on: list[Area] = []
    for band in sorted(bands):
        times = during(spans_s, band, slot_s=scene.duration_s)
        if times is None:
            return steady.areas
        on += times
    return tuple(on)
