"""Named sources of impulses and lightning: their rates, rests, levels and voltage deviations."""

import math

import numpy as np
import pytest
import scipy.stats
from pydantic import TypeAdapter, ValidationError

from solidcopy import units
from solidcopy.impairments.added.impulse_source_kinds import (
    AnyImpulseSource,
    ElectricFence,
    Ignition,
    MainsArc,
    Motor,
)
from solidcopy.impairments.added.impulse_sources import ImpulseSources
from solidcopy.impairments.added.lightning_static import LightningStatic
from solidcopy.impairments.added.spark_train import draw_powers, mean_square_power
from solidcopy.impairments.added.switching import OnOff
from solidcopy.impairments.impairment import Scene
from solidcopy.signals import amplitude_distribution as apd
from solidcopy.signals import power
from solidcopy.signals.filters import Band

SOURCE = TypeAdapter(AnyImpulseSource)


def generator(seed=4):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def scene(rate_hz=12_000, duration_s=15.0):
    return Scene(rate_hz, round(duration_s * rate_hz), 1500.0, 50.0)


def sources(*items, **fields):
    return ImpulseSources.model_validate(
        {"sources": list(items), "signal_to_interference_db": 0.0, **fields}
    )


@pytest.mark.authority
@pytest.mark.parametrize(
    ("fields", "per_s"),
    [
        ({"engine_rpm": 3000.0, "n_cylinders": 4}, 100.0),  # FACTS D4
        ({"engine_rpm": 800.0, "n_cylinders": 6}, 40.0),
        ({"engine_rpm": 6000.0, "n_cylinders": 1, "n_strokes": 2}, 100.0),
    ],
)
def test_sparks_of_an_engine(fields, per_s):
    """FACTS D4: rpm times cylinders over 120 for four strokes (arithmetic verified there)."""
    engine = Ignition(**fields)
    assert engine.sparks_per_s == pytest.approx(per_s)
    starts_s = engine.draw_sparks(generator(), from_s=0.0, to_s=50.0).starts_s
    assert starts_s.size == pytest.approx(50.0 * per_s, abs=1)
    assert np.abs(np.diff(starts_s) * per_s - 1.0).max() <= 0.04 + 1e-9


@pytest.mark.derived
def test_sparks_of_a_motor():
    """3000 rpm, 12 segments: 600 passages a second, of which 60 % spark, independently."""
    motor = Motor(speed_rpm=3000.0)
    assert motor.sparks_per_s == pytest.approx(360.0)
    starts_s = np.sort(motor.draw_sparks(generator(), from_s=0.0, to_s=50.0).starts_s)
    assert starts_s.size == pytest.approx(18_000, abs=4.5 * math.sqrt(30_000 * 0.6 * 0.4))


@pytest.mark.authority
@pytest.mark.parametrize(
    ("peaks", "mains_hz", "per_s"), [("both", 50, 100.0), ("both", 60, 120.0), ("one", 50, 50.0)]
)
def test_arc_burns_around_the_peaks_of_the_mains(peaks, mains_hz, per_s):
    """FACTS D4: twice a cycle, 100 or 120 a second; or on one polarity only."""
    arc = MainsArc(peaks=peaks, mains_hz=mains_hz, quiet_s=0.0)
    starts_s = arc.draw_sparks(generator(), from_s=0.0, to_s=20.0).starts_s
    turn = np.exp(2j * np.pi * per_s * starts_s)
    middle = np.angle(turn.mean())
    away_s = np.angle(turn * np.exp(-1j * middle)) / (2.0 * np.pi * per_s)
    assert np.abs(away_s).max() <= 0.00105
    assert scipy.stats.kstest(away_s, "uniform", (-0.001, 0.002)).pvalue > 1e-4
    assert starts_s.size == pytest.approx(80.0 * per_s, abs=4.5 * math.sqrt(80.0 * per_s))


def test_arc_rests_for_seconds():
    arc = MainsArc(arcing_s=2.0, quiet_s=3.0)
    sparks = arc.draw_sparks(generator(), from_s=0.0, to_s=500.0)
    gaps_s = np.diff(np.sort(sparks.starts_s))
    rests_s = gaps_s[gaps_s > 0.1]
    assert 55 < rests_s.size < 145  # 100 expected, each of exponential length
    assert rests_s.mean() == pytest.approx(3.1, rel=0.45)
    assert sparks.share_on == pytest.approx(0.4, abs=0.15)


@pytest.mark.derived
def test_on_and_off_keep_their_shares_and_spread():
    turns = OnOff(0.4, 0.9)
    shares = []
    for seed in range(1500):
        times_s = np.clip(turns.draw_switchings(generator(seed), from_s=0.0, to_s=3.0), 0.0, 3.0)
        shares.append(np.sum(times_s[1::2] - times_s[::2]) / 3.0)
    expected, spread = turns.share_on, turns.relative_spread(3.0)
    assert np.mean(shares) == pytest.approx(expected, abs=4.5 * expected * spread / math.sqrt(1500))
    assert np.std(shares) / expected == pytest.approx(spread, rel=0.08)


@pytest.mark.authority
def test_scattered_powers_are_log_normal():
    """scipy.stats.norm for their dB values; expected mean 1."""
    powers = draw_powers(40_000, 4.0, generator())
    levels_db = 10.0 * np.log10(powers)
    mean_db = -math.log(units.ratio_from_db(4.0)) * 4.0 / 2.0
    assert scipy.stats.kstest(levels_db, "norm", (mean_db, 4.0)).pvalue > 1e-4
    deviation = math.sqrt((mean_square_power(4.0) - 1.0) / powers.size)
    assert powers.mean() == pytest.approx(1.0, abs=4.5 * deviation)


@pytest.mark.derived
def test_fence_is_a_few_long_pulses():
    made = sources({"kind": "electric-fence", "period_s": 1.0, "jitter_ms": 0.0}).synthesise(
        scene(), generator()
    )
    loud = np.abs(made.samples) > 0.2 * np.abs(made.samples).max()
    begun = np.flatnonzero(np.diff(np.flatnonzero(loud), prepend=-(10**6)) > 6_000)
    assert begun.size == 15
    assert made.share_on == pytest.approx(0.003, rel=0.05)


@pytest.mark.derived
def test_relative_levels_are_those_of_the_sum():
    """A fence 6 dB below an engine holds 20 % of the power; the engine alone, between pulses, 80 %.

    The fence's arcs fill 0.3 % of the time, so the rest is the engine's."""
    fence = {"kind": "electric-fence", "period_s": 1.0, "relative_db": -6.0206}
    engine = {"kind": "ignition", "engine_rpm": 3000.0}
    made = sources(fence, engine).synthesise(scene(), generator())
    alone = sources(engine).synthesise(scene(), generator())
    assert made.reference_power == 1.0
    blocks = np.square(made.samples).reshape(-1, 1200).mean(axis=1)  # 0.1 s: ten sparks
    without_fence = np.median(blocks)
    of_engine = np.square(alone.samples).reshape(-1, 1200).mean(axis=1)
    bias = np.median(of_engine) / alone.reference_power
    assert without_fence / bias == pytest.approx(0.8, abs=0.05)


@pytest.mark.parametrize("changed", ["engine_rpm", "n_cylinders", "jitter_share", "spread_db"])
def test_identity_knows_every_number_of_a_source(changed):
    engine = {"kind": "ignition", "engine_rpm": 3000.0}
    full = SOURCE.validate_python(engine).model_dump()
    other = {**full, changed: full[changed] + (0.01 if full[changed] < 1 else 1)}
    assert sources(other).identity() != sources(engine).identity()
    assert sources(full).identity() == sources(engine).identity()


@pytest.mark.parametrize(
    ("source", "sentence"),
    [
        ({"kind": "motor", "speed_rpm": 30_000.0}, "at most 2500 are made"),
        ({"kind": "ignition", "engine_rpm": 10.0}, "greater than or equal to 100"),
        ({"kind": "mains-arc", "mains_hz": 55}, "50 or 60"),
        ({"kind": "doorbell"}, "does not match any of the expected tags"),
    ],
)
def test_impossible_sources_are_refused(source, sentence):
    with pytest.raises(ValidationError, match=sentence):
        sources(source)


def test_a_list_without_sources_or_level_is_refused():
    with pytest.raises(ValidationError, match="at least 1 item"):
        sources()
    with pytest.raises(ValidationError, match="exactly one of"):
        sources(ElectricFence().model_dump(), signal_to_interference_db=None)
    with pytest.raises(ValidationError, match="narrower than 200 Hz"):
        sources(ElectricFence().model_dump(), low_hz=1000.0, high_hz=1100.0)
    with pytest.raises(ValidationError, match="at most 2500 are made"):
        LightningStatic(signal_to_interference_db=0.0, flashes_per_s=50.0)


@pytest.mark.parametrize("member", ["lightning", "arc"])
def test_nothing_is_folded_into_the_band(member):
    """At 8000 per second, the band ends at 2900 Hz: what lies above is 60 dB down."""
    made = {
        "lightning": LightningStatic(signal_to_interference_db=0.0, murmur_share=0.0),
        "arc": sources(MainsArc().model_dump()),
    }[member].synthesise(scene(8_000), generator())
    spectrum = power.power_spectrum(made.samples, sample_rate_hz=8_000)
    density = spectrum.band_power(3050.0, 4000.0) / 950.0
    assert density < 2e-6 * spectrum.band_power(300.0, 2800.0) / 2500.0


@pytest.mark.authority
def test_lightning_is_as_impulsive_as_atmospheric_noise():
    """P.372 tabulates the voltage deviation of atmospheric noise in 200 Hz: medians between that of
    Gaussian noise, 1.05 dB, and some 12 dB (from memory, unchecked). It falls with the bandwidth.
    """
    static = LightningStatic(signal_to_interference_db=0.0)
    deviations = []
    for seed in range(12):
        samples = static.synthesise(scene(), generator(seed)).samples
        narrow = apd.envelope(samples, sample_rate_hz=12_000, band=Band(1400.0, 1600.0, 20.0))
        wide = apd.envelope(samples, sample_rate_hz=12_000, band=Band(300.0, 2800.0, 50.0))
        deviations.append((apd.voltage_deviation_db(narrow), apd.voltage_deviation_db(wide)))
    narrow_db, wide_db = np.mean(deviations, axis=0)
    assert 2.0 < narrow_db < 12.0
    assert wide_db > narrow_db + 1.0
