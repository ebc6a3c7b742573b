"""Trains of pulses over a slot: their samples, their expected power, and what the draws did."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from solidcopy import units
from solidcopy.impairments.added.pulse import Burst, PulseTable, gate_table
from solidcopy.impairments.added.timing import Timing
from solidcopy.impairments.area import Areas, during
from solidcopy.impairments.impairment import Disturbance, Draw, Scene
from solidcopy.kernels.pulses import place_pulses
from solidcopy.signals import filters, power

SMEAR_S = 0.002
"""What a passband some kHz wide adds to either end of a burst."""

PhaseLaw = Literal["same", "alternating", "random-polarity", "random"]


@dataclass(frozen=True, slots=True)
class Train:
    """When impulses come, the passband that they come through, and the slot they fall into."""

    timing: Timing
    band: filters.Band
    scene: Scene

    @property
    def n_expected(self) -> float:
        """Expected number of impulses in the slot."""
        return self.timing.rate_per_s * self.scene.duration_s

    def draw_starts(self, generator: np.random.Generator, n_length: int) -> NDArray[np.float64]:
        """Starts in samples; pulses of `n_length` samples that begin earlier are included."""
        rate_hz = self.scene.sample_rate_hz
        starts_s = self.timing.draw_starts(
            generator, from_s=-n_length / rate_hz, to_s=self.scene.duration_s
        )
        return starts_s * rate_hz


def repeated_pulses(
    table: PulseTable, phase: PhaseLaw, train: Train, generator: np.random.Generator
) -> Disturbance:
    """The same pulse over and over, each turned by its own phase."""
    scene = train.scene
    starts = train.draw_starts(generator, table.n_length)
    turns = draw_turns(phase, starts.size, generator)
    samples = np.zeros(scene.n_samples)
    energies = place_pulses(samples, table.in_phase, table.quadrature, starts, turns)
    overlap = expected_overlap(table, phase, train)
    placed = PlacedPulses(
        samples=samples,
        starts=starts,
        powers=np.ones(starts.size),
        energies=energies,
        is_turned=phase == "random",
        n_expected=train.n_expected,
        expected_overlap=overlap,
    )
    energy = placed.expected_energy(table)
    return Disturbance(
        samples=samples,
        reference_power=train.timing.rate_per_s * energy * overlap / scene.sample_rate_hz,
        spread_db=_spread_db(table, phase, train),
        occupied_hz=train.band.feet_hz,
        draw=draw_of(table, placed),
        areas=pulse_areas(table, placed, train.band, scene),
    )


def draw_turns(
    phase: PhaseLaw, n_pulses: int, generator: np.random.Generator
) -> NDArray[np.complex128]:
    """Phase factor of each pulse, (n_pulses,) complex128 of unit magnitude."""
    if phase == "random":
        turns: NDArray[np.complex128] = np.exp(2j * math.pi * generator.random(n_pulses))
        return turns
    if phase == "random-polarity":
        return (2.0 * generator.integers(0, 2, n_pulses) - 1.0).astype(np.complex128)
    first = -1.0 if phase == "alternating" and generator.integers(0, 2) else 1.0
    signs = np.full(n_pulses, first, dtype=np.complex128)
    if phase == "alternating":
        signs[1::2] *= -1.0
    return signs


def expected_overlap(table: PulseTable, phase: PhaseLaw, train: Train) -> float:
    """Expected power over that of pulses which never overlap: 1 unless they keep their phase."""
    if phase in ("random", "random-polarity"):
        return 1.0
    cross = train.timing.sum_over_successors(
        table.autocorrelation,
        step_s=1.0 / (table.n_phases * train.scene.sample_rate_hz),
        is_alternating=phase == "alternating",
    )
    return 1.0 + 2.0 * cross / table.energy


@dataclass(frozen=True, slots=True, eq=False)
class PlacedPulses:
    """Pulses as they came out, and what was expected of them."""

    samples: NDArray[np.float64]
    starts: NDArray[np.float64]
    """(n_pulses,) in samples."""
    powers: NDArray[np.float64]
    """(n_pulses,) squared amplitudes, of expected mean 1."""
    energies: NDArray[np.float64]
    """(n_pulses,) of each pulse alone, within the slot."""
    is_turned: bool
    """Whether each has a random carrier phase."""
    n_expected: float
    expected_overlap: float = 1.0

    def expected_energy(self, table: PulseTable) -> float:
        """Energy of a whole pulse of power 1, on average."""
        return table.turned_energy if self.is_turned else table.energy


def pulse_areas(
    table: PulseTable, placed: PlacedPulses, band: filters.Band, scene: Scene
) -> Areas | None:
    """When each pulse holds nearly all of its energy."""
    spans = placed.starts[:, None] + np.array(table.core)
    return during(spans / scene.sample_rate_hz, band.feet_hz, slot_s=scene.duration_s)


def draw_of(table: PulseTable, placed: PlacedPulses) -> Draw:
    """Number of pulses with their powers (those on an edge by their share), and chance overlaps.

    Numbers and powers, not energies, are compared with the expected ones: so a wrong energy in the
    reference power cannot explain itself.
    """
    n_samples = placed.samples.size
    is_inside = (placed.starts >= 0.0) & (placed.starts + table.n_length < n_samples)
    inside = placed.powers[is_inside]
    total = float(inside.sum())
    on_edges = float(placed.energies[~is_inside].sum())
    n_effective = total + on_edges / placed.expected_energy(table)
    alone = float(placed.energies.sum())
    overlap = power.mean_power(placed.samples) * n_samples / alone if alone > 0.0 else 1.0
    ripple = 0.0
    if placed.is_turned and total > 0.0:
        ripple = table.energy_ripple * math.sqrt(float(np.square(inside).sum())) / total
    return Draw(
        power_ratio=n_effective / placed.n_expected * overlap / placed.expected_overlap,
        residual_spread_db=units.db_from_ratio(1.0 + ripple),
    )


def _spread_db(table: PulseTable, phase: PhaseLaw, train: Train) -> float:
    """Spread of the mean power of a slot: number of pulses, their energies, their overlaps.

    Source: derived here. Overlaps of randomly placed pulses make the sum fluctuate as noise of
        the same spectrum does, 1 / sqrt(B T); a periodic train overlaps always alike. For
        jittered pulses longer than the period that is an upper limit.
    """
    number = train.timing.relative_count_spread(train.scene.duration_s)
    ripple = table.energy_ripple / math.sqrt(train.n_expected) if phase == "random" else 0.0
    overlaps = 0.0
    is_crowded = table.n_length * train.timing.rate_per_s > train.scene.sample_rate_hz
    if train.timing.law == "random" or (train.timing.law == "jittered" and is_crowded):
        overlaps = 1.0 / math.sqrt(table.effective_bandwidth_hz * train.scene.duration_s)
    return units.db_from_ratio(1.0 + math.hypot(number, ripple, overlaps))


def noise_bursts(shape: Burst, train: Train, generator: np.random.Generator) -> Disturbance:
    """Gated white noise, new in every burst, behind the passband filter.

    Where bursts overlap, their powers add: one noise under the root of the summed gates has
    the same law as independent ones.
    """
    scene = train.scene
    taps = filters.band_taps(train.band, sample_rate_hz=scene.sample_rate_hz)
    gate = gate_table(shape, scene.sample_rate_hz)
    # The filter reaches back: the gate begins n_taps - 1 samples before the slot.
    n_before = taps.size - 1
    gates = np.zeros(scene.n_samples + n_before)
    starts = train.draw_starts(generator, gate.shape[1] + n_before)
    ones = np.ones(starts.size, dtype=np.complex128)
    place_pulses(gates, gate, np.zeros_like(gate), starts + n_before, ones)
    white = generator.standard_normal(gates.size)
    white *= np.sqrt(gates)
    figures = filters.noise_figures(taps, sample_rate_hz=scene.sample_rate_hz)
    on_s = expected_on_s(shape)
    per_slot_sample = _through(gates, np.square(taps))
    ratio = per_slot_sample / (train.timing.rate_per_s * on_s * figures.mean_power)
    # Independent values of the noise that is on: as many as a band holds in that time.
    fluctuation = math.sqrt(float(np.square(gates).sum()) / scene.sample_rate_hz)
    total_on_s = float(gates.sum()) / scene.sample_rate_hz
    noise = fluctuation / total_on_s if total_on_s > 0.0 else 0.0
    residual = noise / math.sqrt(figures.effective_bandwidth_hz)
    expected_on = train.n_expected * on_s
    number = train.timing.relative_count_spread(scene.duration_s)
    spread = math.hypot(number, figures.relative_spread(expected_on))
    return Disturbance(
        samples=filters.filtered_inside(white, taps),
        reference_power=train.timing.rate_per_s * on_s * figures.mean_power,
        spread_db=units.db_from_ratio(1.0 + spread),
        occupied_hz=train.band.feet_hz,
        share_on=float(np.minimum(gates[n_before:], 1.0).mean()),
        draw=Draw(ratio, units.db_from_ratio(1.0 + residual)),
        areas=during(
            # Behind the filter a burst comes half of the taps later, a little longer.
            (starts[:, None] + n_before / 2.0) / scene.sample_rate_hz
            + np.array([-SMEAR_S, shape.length_ms / 1000.0 + SMEAR_S]),
            train.band.feet_hz,
            slot_s=scene.duration_s,
        ),
    )


def expected_on_s(shape: Burst) -> float:
    """Integral of the squared gate of one burst: a raised-cosine edge, squared, averages 3/8."""
    return (shape.length_ms - shape.edge_ms / 4.0) / 1000.0


def _through(gates: NDArray[np.float64], squared_taps: NDArray[np.float64]) -> float:
    """Mean over the slot of the gates behind the filter, as powers.

    The gates begin n_taps - 1 samples before the slot.
    """
    n_before = squared_taps.size - 1
    n_samples = gates.size - n_before
    running = np.concatenate([[0.0], np.cumsum(gates)])
    # Tap k sees the gates from n_before - k on.
    reach = np.arange(n_before, -1, -1)
    seen = running[reach + n_samples] - running[reach]
    return float(squared_taps @ seen) / n_samples
