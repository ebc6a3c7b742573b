"""Laws that every path keeps. A new one joins by one line in MEMBERS."""

import json
import math

import numpy as np
import pytest
from pydantic import TypeAdapter, ValidationError

from solidcopy.impairments.catalogue import AnyImpairment
from solidcopy.impairments.impairment import Transmission

MEMBERS = {
    "frequency-shift": {"kind": "frequency-shift", "shift_hz": 3.0, "drift_hz_per_min": 10.0},
    "preset": {"kind": "two-path-fading", "preset": "mid-latitude disturbed"},
    "two paths": {
        "kind": "two-path-fading",
        "delay_ms": 1.27,
        "spread_hz": 0.7,
        "shift_hz": 1.5,
        "second_power_db": -3.0,
        "rice_factor_db": 6.0,
        "trials_together": 4,
    },
    "three paths": {
        "kind": "multi-path-fading",
        "paths": [
            {"spread_hz": 0.2},
            {"delay_ms": 1.5, "spread_hz": 2.0, "shift_hz": -1.0, "power_db": -6.0},
            {"delay_ms": 3.1, "spread_hz": 30.0, "power_db": -10.0, "rice_factor_db": 3.0},
        ],
        "trials_together": 3,
    },
}
N_PROCESSES = 400
RATE_HZ = 8_000

ADAPTER = TypeAdapter(AnyImpairment)


@pytest.fixture(params=MEMBERS)
def member(request):
    return ADAPTER.validate_python(MEMBERS[request.param])


def generator(seed):
    return np.random.Generator(np.random.PCG64DXSM(seed))


def sent(member, *, duration_s=0.5, rate_hz=RATE_HZ, turn=0):
    """A steady tone of 1500 Hz, analytic, of power 1."""
    times_s = np.arange(round(duration_s * rate_hz)) / rate_hz
    samples = np.exp(2j * math.pi * 1500.0 * times_s)
    return Transmission(samples, rate_hz, 15.0 * turn + 1.0, 15.0 * member.n_together)


@pytest.mark.derived
def test_mean_power_gain_is_one(member):
    """Over processes of their own, in the middle of a transmission, where all paths are there."""
    powers = []
    for seed in range(N_PROCESSES):
        arrived = member.propagate(sent(member, duration_s=0.2), generator(seed)).samples
        powers.append(np.mean(np.abs(arrived[400:1200]) ** 2))
    # An exponential power has a standard deviation of 1, and nothing here fades more.
    assert np.mean(powers) == pytest.approx(1.0, abs=3.5 / math.sqrt(N_PROCESSES))


def test_same_draws_give_the_same_samples(member):
    first, again, other = (
        member.propagate(sent(member), generator(seed)).samples for seed in (1, 1, 2)
    )
    assert np.array_equal(first, again)
    if "fading" in member.kind:
        assert not np.array_equal(first, other)


def test_sent_samples_are_not_lost(member):
    given = sent(member)
    before = given.samples.copy()
    arrival = member.propagate(given, generator(1))
    assert arrival.samples.size >= before.size
    assert np.isfinite(arrival.samples).all()
    low_hz, high_hz = arrival.widening_hz
    assert low_hz <= min(arrival.shift_hz, 0.0) <= max(arrival.shift_hz, 0.0) <= high_hz
    assert arrival.delay_s >= 0.0


@pytest.mark.derived
def test_power_lies_within_the_stated_widening(member):
    """All but 1 % of the mean power, the ends of the window (1/s) and 1 Hz of its skirts apart."""
    spectrum = np.zeros(4 * RATE_HZ)
    for seed in range(20):
        arrival = member.propagate(sent(member, duration_s=4.0), generator(seed))
        samples = arrival.samples[: 4 * RATE_HZ] * np.hanning(4 * RATE_HZ)
        spectrum += np.abs(np.fft.fft(samples)) ** 2
    offset_hz = np.arange(spectrum.size) / 4.0 - 1500.0
    low_hz, high_hz = arrival.widening_hz
    inside = (offset_hz >= low_hz - 1.0) & (offset_hz <= high_hz + 1.0)
    assert spectrum[inside].sum() / spectrum.sum() > 0.99


@pytest.mark.parametrize(("rate_hz", "finer"), [(6_000, 2), (12_000, 4)])
def test_rates_that_differ_by_a_power_of_two_share_one_process(member, rate_hz, finer):
    """The edges of the tone apart, where a delay that is no whole sample rings."""
    narrow = member.propagate(sent(member, rate_hz=rate_hz), generator(1)).samples
    wide = member.propagate(sent(member, rate_hz=finer * rate_hz), generator(1)).samples[::finer]
    middle = slice(1_000, 2_000)
    np.testing.assert_allclose(wide[middle], narrow[middle], atol=1e-3)


def test_json_round_trip(member):
    assert ADAPTER.validate_json(member.model_dump_json()) == member
    json.dumps(member.identity(), allow_nan=False)


def changed_numbers(fields):
    for name, value in fields.items():
        if isinstance(value, float | int) and not isinstance(value, bool):
            yield name, {**fields, name: value + 1}


def test_identity_changes_with_every_number(member):
    fields = member.model_dump()
    for name, copy in changed_numbers(fields):
        assert ADAPTER.validate_python(copy).identity() != member.identity(), name


def test_every_field_says_what_it_is(member):
    schema = type(member).model_json_schema()
    for model in (schema, *schema.get("$defs", {}).values()):
        for name, field in model.get("properties", {}).items():
            assert name == "kind" or "description" in field, name


def test_unknown_fields_are_refused(member):
    with pytest.raises(ValidationError):
        ADAPTER.validate_python({**member.model_dump(), "loudness": 3})
