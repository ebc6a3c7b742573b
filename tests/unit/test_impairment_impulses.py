"""Impulses: counts, energies, peaks, lines, places between samples."""

import math

import numpy as np
import pytest
import scipy.stats
from pydantic import ValidationError

from solidcopy import units
from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.impulses import Impulses
from solidcopy.impairments.added.pulse import Burst, Click, Ring, gate_table, pulse_table
from solidcopy.impairments.added.pulse_train import expected_on_s
from solidcopy.impairments.added.timing import Timing
from solidcopy.impairments.impairment import Scene
from solidcopy.kernels.pulses import place_pulses
from solidcopy.signals import filters, power

BAND = filters.Band(200.0, 2900.0, skirt_hz=100.0)


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def scene(rate_hz=12_000, duration_s=15.0):
    return Scene(rate_hz, round(duration_s * rate_hz), 1500.0, 50.0)


def impulses(**fields):
    return Impulses.model_validate({"signal_to_interference_db": 0.0, **fields})


@pytest.mark.authority
def test_number_of_random_impulses_is_poisson():
    """scipy.stats.poisson as the reference: chi-square over 400 counts of mean 12."""
    counts = [
        Timing("random", 4.0).draw_starts(generator(seed), from_s=0.0, to_s=3.0).size
        for seed in range(400)
    ]
    edges = [0, 8, 10, 12, 14, 16, 100]
    observed, _ = np.histogram(counts, edges)
    expected = 400 * np.diff(scipy.stats.poisson.cdf(np.array(edges) - 1, 12.0))
    expected *= observed.sum() / expected.sum()
    assert scipy.stats.chisquare(observed, expected).pvalue > 1e-4


@pytest.mark.authority
def test_gaps_of_random_impulses_are_exponential():
    starts = Timing("random", 50.0).draw_starts(generator(), from_s=0.0, to_s=60.0)
    assert scipy.stats.kstest(np.diff(starts) * 50.0, "expon").pvalue > 1e-4


@pytest.mark.derived
def test_periodic_impulses_keep_their_period_and_begin_anywhere():
    trains = [
        Timing("periodic", 8.0).draw_starts(generator(seed), from_s=-0.5, to_s=2.0)
        for seed in range(200)
    ]
    for starts in trains:
        assert np.diff(starts) == pytest.approx(0.125)
        assert starts.size == 20
    first = np.array([starts[0] + 0.5 for starts in trains]) / 0.125
    assert scipy.stats.kstest(first, "uniform").pvalue > 1e-4


@pytest.mark.derived
def test_jitter_stays_within_its_limits_and_does_not_accumulate():
    starts = Timing("jittered", 10.0, 0.02).draw_starts(generator(), from_s=0.0, to_s=100.0)
    numbers = np.round((starts - starts[0]) * 10.0)
    moves = starts - numbers / 10.0
    moves -= (moves.max() + moves.min()) / 2.0
    assert np.abs(moves).max() <= 0.02
    assert scipy.stats.kstest((moves + 0.02) / 0.04, "uniform").pvalue > 1e-4


@pytest.mark.derived
@pytest.mark.parametrize(("rate_per_s", "jitter_s"), [(10.0, 0.0), (10.3, 0.0), (10.0, 0.04)])
def test_spread_of_the_number_of_periodic_impulses(rate_per_s, jitter_s):
    law = Timing("jittered", rate_per_s, jitter_s)
    counts = [law.draw_starts(generator(i), from_s=0.0, to_s=1.0).size for i in range(1500)]
    expected = law.relative_count_spread(1.0) * rate_per_s
    # A standard deviation of 1500 counts is known to 4 %, of rare ones less well.
    assert np.std(counts) == pytest.approx(expected, rel=0.12, abs=1e-3)


def naive_place(samples, table, starts, turns):
    fine = np.concatenate([table.in_phase[:-1].T.ravel(), np.zeros(1)])
    finer = np.concatenate([table.quadrature[:-1].T.ravel(), np.zeros(1)])
    grid = np.arange(fine.size) / table.n_phases
    out = samples.copy()
    for start, turn in zip(starts, turns, strict=True):
        into = np.arange(samples.size) - start
        real = np.interp(into, grid, fine, left=0.0, right=0.0)
        imaginary = np.interp(into, grid, finer, left=0.0, right=0.0)
        out += turn.real * real - turn.imag * imaginary
    return out


@pytest.mark.parametrize("compiled", [True, False])
def test_kernel_equals_a_naive_sum(compiled):
    table = pulse_table(Click(), BAND, 12_000)
    starts = np.array([-100.3, -0.01, 0.0, 17.0, 333.337, 980.9, 5000.0])
    turns = np.exp(1j * np.arange(7.0))
    samples = np.ones(1000)
    expected = naive_place(samples, table, starts, turns)
    kernel = place_pulses if compiled else place_pulses.py_func
    energies = kernel(samples, table.in_phase, table.quadrature, starts, turns)
    assert np.abs(samples - expected).max() < 1e-9
    alone = naive_place(np.zeros(1000), table, starts[4:5], turns[4:5])
    assert energies[4] == pytest.approx(float(np.sum(alone**2)), rel=1e-9)
    assert energies[6] == 0.0


@pytest.mark.derived
def test_click_between_samples_is_the_shifted_click():
    """Delayed by a fraction of a sample in the frequency domain (exact for a band-limited one)."""
    table = pulse_table(Click(), BAND, 12_000)
    rows = []
    for start in (100.0, 100.37):
        samples = np.zeros(1024)
        place_pulses(
            samples, table.in_phase, table.quadrature, np.array([start]), np.ones(1, complex)
        )
        rows.append(samples)
    spectrum = np.fft.rfft(rows[0]) * np.exp(-2j * np.pi * np.fft.rfftfreq(1024) * 0.37)
    assert np.abs(rows[1] - np.fft.irfft(spectrum)).max() < 2e-4 * np.abs(rows[0]).max()


@pytest.mark.derived
def test_energy_does_not_depend_on_the_place_between_samples():
    table = pulse_table(Ring(ring_hz=1200.0, decay_ms=3.0), BAND, 8_000)
    in_phase, quadrature, one = table.in_phase, table.quadrature, np.ones(1, dtype=complex)
    energies = [
        place_pulses(np.zeros(2000), in_phase, quadrature, np.array([300.0 + part]), one)[0]
        for part in np.linspace(0.0, 1.0, 9)
    ]
    assert np.ptp(energies) / np.mean(energies) < 2e-3
    assert np.mean(energies) == pytest.approx(table.energy, rel=1e-3)


@pytest.mark.derived
def test_same_click_at_every_sample_rate():
    """Energy in seconds and peak do not depend on the rate at which the click is sampled."""
    tables = {rate: pulse_table(Click(), BAND, rate) for rate in (8_000, 12_000, 48_000)}
    energies_s = [table.energy / rate for rate, table in tables.items()]
    assert np.ptp(energies_s) / energies_s[0] < 1e-3


@pytest.mark.derived
def test_peak_and_mean_power_of_clicks():
    """A click of bandwidth B and energy E peaks at 2 B E (all its parts in phase): peak to mean
    power of a train is 2 B / rate, here with B = 2700 Hz between the half-amplitude points."""
    made = impulses(rate_per_s=1.0, timing="periodic", phase="same").synthesise(
        scene(48_000), generator()
    )
    ratio = power.peak(made.samples) ** 2 / made.reference_power
    assert units.db_from_ratio(ratio) == pytest.approx(
        units.db_from_ratio(2.0 * 2700.0 / 1.0), abs=0.2
    )


@pytest.mark.authority
def test_exactly_periodic_clicks_are_a_comb_of_carriers():
    """FACTS D6 (3): lines at the multiples of the rate and nothing between."""
    made = impulses(rate_per_s=100.0, timing="periodic", phase="same").synthesise(
        scene(), generator()
    )
    spectrum = np.abs(np.fft.rfft(made.samples)) ** 2
    on_line = spectrum[::1500].sum()  # 15 s: 1/15 Hz a bin, so 1500 bins are 100 Hz
    assert on_line / spectrum.sum() > 0.999


def test_random_phase_dissolves_the_comb():
    made = impulses(rate_per_s=100.0, timing="periodic", phase="random").synthesise(
        scene(), generator()
    )
    spectrum = np.abs(np.fft.rfft(made.samples)) ** 2
    assert spectrum[::1500].sum() / spectrum.sum() < 0.01


@pytest.mark.derived
def test_alternating_polarity_leaves_odd_multiples_of_half_the_rate():
    made = impulses(rate_per_s=100.0, timing="periodic", phase="alternating").synthesise(
        scene(), generator()
    )
    spectrum = np.abs(np.fft.rfft(made.samples)) ** 2
    assert spectrum[750::1500].sum() / spectrum.sum() > 0.999


@pytest.mark.derived
@pytest.mark.parametrize("law", ["periodic", "jittered", "random"])
@pytest.mark.parametrize("phase", ["same", "alternating"])
def test_overlapping_rings_have_their_expected_power(law, phase):
    """Rings of 40 Hz width every 4 ms: in step or out of step, far from rate times energy."""
    fields = {"jitter_ms": 0.3} if law == "jittered" else {}
    train = impulses(
        rate_per_s=250.0,
        timing=law,
        phase=phase,
        pulse={"kind": "ring", "ring_hz": 1000.0, "decay_ms": 8.0},
        **fields,
    )
    ratios = []
    for seed in range(12):
        made = train.synthesise(scene(8_000), generator(seed))
        ratios.append(power.mean_power(made.samples) / made.reference_power)
    spread = units.ratio_from_db(made.spread_db) - 1.0
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.003 + 4.5 * spread / math.sqrt(12))


@pytest.mark.derived
def test_gate_of_a_burst_has_its_length_and_energy():
    shape = Burst(length_ms=20.0, edge_ms=4.0)
    gate = gate_table(shape, 12_000)
    amplitude = np.sqrt(gate[0])
    assert np.count_nonzero(amplitude > 0.5) == pytest.approx(240, abs=1)
    assert gate.max() == pytest.approx(1.0)
    assert gate[0].sum() / 12_000 == pytest.approx(expected_on_s(shape), rel=1e-4)


def test_pulse_before_the_slot_reaches_into_it():
    """A ring that lasts 0.9 s, once in 3 s: some slots of 1 s hold its tail only."""
    train = impulses(
        rate_per_s=0.33,
        timing="periodic",
        pulse={"kind": "ring", "ring_hz": 1000.0, "decay_ms": 100.0},
    )
    n_begun = sum(
        train.synthesise(scene(8_000, 1.0), generator(seed)).samples[0] != 0.0 for seed in range(40)
    )
    # The slot's first sample is inside a ring during 0.94 s of every 3.03 s: 12.4 of 40 slots.
    assert n_begun == pytest.approx(12.4, abs=4 * math.sqrt(12.4 * 0.69))


def test_slot_without_an_impulse_is_silent_and_explained():
    train = impulses(rate_per_s=0.05, timing="random")
    ratios = [
        train.synthesise(scene(8_000, 2.0), generator(seed)).drawn.power_ratio for seed in range(9)
    ]
    assert 0.0 in ratios


def test_passband_beyond_half_the_rate_is_an_error():
    with pytest.raises(CalibrationError, match="only 0 to 4000 Hz exist"):
        impulses(rate_per_s=10.0, timing="random", high_hz=4500.0).synthesise(
            scene(8_000), generator()
        )


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"timing": "random", "rate_per_s": 0.01}, "0.05 to 5000"),
        ({"timing": "random", "jitter_ms": 1.0}, "random timing has no jitter"),
        ({"timing": "jittered"}, "exactly one of `jitter_ms` or `jitter_share`"),
        ({"timing": "jittered", "jitter_share": 0.6}, "0 to 0.5"),
        ({"timing": "random", "low_hz": 1000.0, "high_hz": 1100.0}, "narrower than 200 Hz"),
        (
            {"timing": "random", "pulse": {"kind": "ring", "ring_hz": 5000.0, "decay_ms": 1.0}},
            "outside the passband",
        ),
        (
            {"timing": "random", "pulse": {"kind": "burst", "length_ms": 1.0, "edge_ms": 2.0}},
            "must not exceed length_ms",
        ),
        ({"timing": "random", "interference_to_noise_db": 0.0}, "exactly one of"),
    ],
)
def test_impossible_trains_are_refused(fields, sentence):
    with pytest.raises(ValidationError, match=sentence):
        impulses(**{"rate_per_s": 10.0, **fields})
