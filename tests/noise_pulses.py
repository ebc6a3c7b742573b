"""Fences as they are heard: jittered pulses that ring, come in pairs, and crackle afterwards.

Made beside the package's own sources, by other code, so that the parts list is not tried on ideal
pulses alone. Invented data: intervals of a little over a second are common practice of fence
energisers; rings, second pulses and discharges are plausible, no source.
"""

import math
from dataclasses import dataclass

import numpy as np

SETTLED_DECAYS = 9.0
"""A ring has fallen by 78 dB after so many times its decay."""


@dataclass(frozen=True, slots=True)
class HeardFence:
    """One fence; times in seconds."""

    period_s: float
    interference_to_noise_db: float
    """Mean power over that of the noise in 2500 Hz, before the passband: less of it is heard."""
    jitter_s: float = 0.0
    """Standard deviation of each pulse about its place."""
    strength_spread: float = 0.0
    """Pulses differ in strength by so much of it, evenly to either side."""
    second_after_s: float | None = None
    second_strength: float = 0.7
    n_discharges: int = 0
    """Behind every pulse, at random, ever rarer."""
    discharges_mean_s: float = 0.117
    discharge_strength: float = 0.5
    """The strongest there may be, of the pulse's own."""
    ring_hz: float | None = None
    ring_decay_s: float = 0.002
    """Of the amplitude, by e."""

    def samples(
        self, n_samples: int, sample_rate_hz: int, generator: np.random.Generator
    ) -> np.ndarray:
        """(n_samples,) of any level; what would lie beyond the ends is left out."""
        clicks = np.zeros(n_samples)
        first_s = float(generator.uniform(0.0, self.period_s))
        for due_s in np.arange(first_s, n_samples / sample_rate_hz, self.period_s):
            lags_s, strengths = self._cycle(generator)
            at_s = due_s + self.jitter_s * generator.standard_normal() + lags_s
            places = np.round(at_s * sample_rate_hz).astype(np.int64)
            is_in = (places >= 0) & (places < n_samples)
            np.add.at(clicks, places[is_in], strengths[is_in])
        if self.ring_hz is None:
            return clicks
        n_ring = math.ceil(SETTLED_DECAYS * self.ring_decay_s * sample_rate_hz)
        time_s = np.arange(n_ring) / sample_rate_hz
        ring = np.exp(-time_s / self.ring_decay_s) * np.sin(2.0 * math.pi * self.ring_hz * time_s)
        return np.convolve(clicks, ring)[:n_samples]

    def _cycle(self, generator: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
        """Lags and signed strengths of all impulses of one period."""
        spread = self.strength_spread * generator.uniform(-1.0, 1.0)
        lags_s, strengths = [0.0], [1.0 + spread]
        if self.second_after_s is not None:
            lags_s.append(self.second_after_s)
            strengths.append(self.second_strength * (1.0 + spread))
        after_s = generator.exponential(self.discharges_mean_s, self.n_discharges)
        weaker = self.discharge_strength * generator.uniform(0.2, 1.0, self.n_discharges)
        signs = generator.choice((-1.0, 1.0), self.n_discharges + len(lags_s))
        return np.append(lags_s, after_s), np.append(strengths, weaker) * signs
