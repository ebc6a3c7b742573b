"""A small slice of the blind trial, and the laws that every list of parts keeps.

Levels put in come from the impairments, which are checked on their own; the seeds here are
development seeds (tests/noise_trial.py).
"""

import numpy as np
import pytest

from noise_mixtures import mixed
from noise_trial import FAMILIES, fence, try_one
from solidcopy import units
from solidcopy.actions.harbour.fence_recording import (
    BACKGROUND_BELOW_PEAK_DB,
    PEAK,
    PULSE_INTERVAL_S,
    fence_of_seed,
)
from solidcopy.actions.harbour.fence_recording import SAMPLE_RATE_HZ as FENCE_RATE_HZ
from solidcopy.errors import AudioFileError
from solidcopy.noise.features.figure import Figure
from solidcopy.noise.parts.listing import BALANCED_SHARE, list_parts
from solidcopy.noise.parts.part import PartKind
from solidcopy.signals import filters
from solidcopy.signals.power import mean_power
from solidcopy.signals.waveform import Waveform

SLICE = (
    ("two fences, 1.20 and 1.27 s", 134),
    ("supply arc", 152),
    ("keyed carrier", 238),
    ("comb", 254),
    ("supply lines in 3 kHz", 271),
    ("data signal", 323),
    ("clicks, hump, carrier", 373),
    ("Gaussian noise alone", 101),
    ("crackling fence, clicks", 606),
    ("two crackling fences, 1.20 and 1.27 s", 583),
    ("fence of double pulses", 561),
    ("ringing fence", 538),
)


@pytest.mark.derived
@pytest.mark.parametrize(("family", "seed"), SLICE)
def test_what_is_put_in_is_found(family: str, seed: int) -> None:
    tried = try_one(family, seed)
    assert family in FAMILIES
    assert not tried.invented
    for one in tried.judged:
        assert one.found is not None, one.truth
        # Impulses lose what a passband's skirts ring over: some tenths of a dB.
        assert abs(one.level_error_db) < 0.8, one.truth
        if one.rhythm_error is not None:
            assert abs(one.rhythm_error) < 1e-3
    whole = tried.whole
    assert abs(10.0 ** (whole.unbalanced_db / 10.0) - 1.0) < BALANCED_SHARE
    assert whole.parts[-1].kind is PartKind.REST


@pytest.mark.derived
def test_lines_of_the_supply_cannot_be_told_in_3_khz_but_in_8() -> None:
    hum = {
        "kind": "mains-hum",
        "lowest_hz": 250.0,
        "highest_hz": 2900.0,
        "fall_db_per_octave": 3.0,
        "wander_hz": 0.0,
        "interference_to_noise_db": 3.0,
    }
    for band, is_doubted in ((filters.Band(200.0, 2900.0, 100.0), True), (None, False)):
        made = mixed([hum], seed=5, duration_s=20.0, sample_rate_hz=16_000, band=band)
        (comb,) = list_parts(made.waveform).of_kind(PartKind.COMB)
        assert isinstance(comb.rhythm_hz, Figure)
        assert comb.rhythm_hz.value == pytest.approx(50.0, abs=0.05)
        assert any("hum" in doubt for doubt in comb.cannot_tell) is is_doubted


@pytest.mark.derived
def test_gain_moves_levels_and_nothing_else() -> None:
    made = mixed([fence(1.4, 0.0)[0]], seed=6, duration_s=20.0)
    quiet = Waveform((made.waveform.samples * np.float32(0.125)), 12_000)
    first, second = list_parts(made.waveform), list_parts(quiet)
    assert [part.kind for part in first.parts] == [part.kind for part in second.parts]
    for loud, soft in zip(first.parts, second.parts, strict=True):
        if loud.kind is not PartKind.REST:
            assert loud.level_dbfs - soft.level_dbfs == pytest.approx(18.06, abs=0.01)
    shares = sum(first.share(part) for part in first.parts)
    assert shares == pytest.approx(1.0, abs=BALANCED_SHARE)
    assert first.total_power == pytest.approx(mean_power(made.waveform.samples), rel=1e-3)


def test_too_short_and_silent_are_refused() -> None:
    with pytest.raises(AudioFileError, match="2 s or"):
        list_parts(mixed([], seed=7, duration_s=1.0).waveform)
    with pytest.raises(AudioFileError, match="silent"):
        list_parts(Waveform(np.zeros(60_000, dtype=np.float32), 12_000))


def test_short_recordings_say_which_rhythms_they_cannot_show() -> None:
    whole = list_parts(mixed([], seed=8, duration_s=6.0).waveform)
    assert any("six beats" in doubt for doubt in whole.cannot_tell)
    assert any("shorter than" in doubt for doubt in whole.cannot_tell)


@pytest.mark.derived
@pytest.mark.parametrize("seed", [11, 13])
def test_one_fence_with_a_train_of_discharges_is_one_part(seed: int) -> None:
    """The demo's fence is one source, a pulse with fourteen discharges behind it, over Gaussian
    noise; its recipe states period and noise (fence_recording.py)."""
    samples = fence_of_seed(seed)
    whole = list_parts(Waveform(samples.astype(np.float32), FENCE_RATE_HZ))
    listed = [part for part in whole.parts if part.kind is not PartKind.REST]
    assert [part.kind for part in listed] == [PartKind.PERIODIC_IMPULSES, PartKind.FLOOR]
    train, floor = listed
    assert isinstance(train.period_s, Figure)
    assert train.period_s.value == pytest.approx(PULSE_INTERVAL_S, abs=3e-4)
    noise_power = (PEAK * 10.0 ** (-BACKGROUND_BELOW_PEAK_DB / 20.0)) ** 2
    assert floor.level_dbfs == pytest.approx(units.dbfs_from_power(noise_power), abs=0.2)
    fence_power = mean_power(samples) - noise_power
    assert train.level_dbfs == pytest.approx(units.dbfs_from_power(fence_power), abs=0.05)
    rest = whole.of_kind(PartKind.REST)[0]
    assert rest.p_chance > 0.01 or rest.power < 0.1 * noise_power


@pytest.mark.derived
@pytest.mark.parametrize("period_s", [1.28, 1.16])
def test_an_arc_that_fits_into_the_period_of_a_fence_is_one_rhythm(period_s: float) -> None:
    """64 or 58 periods of 20 ms: the arc comes at the same phases of the fence each time."""
    source = {"kind": "mains-arc", "mains_hz": 50, "peaks": "one", "quiet_s": 0.5}
    arc = {"kind": "impulse-sources", "sources": [source], "interference_to_noise_db": -1.0}
    made = mixed([fence(period_s, 3.0)[0], arc], seed=12)
    whole = list_parts(made.waveform)
    slow, fast = sorted(
        whole.of_kind(PartKind.PERIODIC_IMPULSES), key=lambda part: part.n_impulses is None
    )
    assert isinstance(slow.period_s, Figure) and isinstance(fast.rhythm_hz, Figure)
    assert slow.period_s.value == pytest.approx(period_s, abs=1e-3)
    assert fast.rhythm_hz.value == pytest.approx(50.0, abs=0.01)
    for part, level_dbfs in zip((slow, fast), made.levels_dbfs, strict=True):
        assert part.level_dbfs == pytest.approx(level_dbfs, abs=0.5)
    assert not whole.of_kind(PartKind.RANDOM_IMPULSES, PartKind.SPEECH_LIKE, PartKind.HUMP)


@pytest.mark.derived
def test_teeth_that_wander_stay_with_their_comb() -> None:
    """A supply off by 0.05 Hz moves its fiftieth harmonic by 2.5 Hz: no line, but no signal."""
    hum = {
        "kind": "mains-hum",
        "lowest_hz": 250.0,
        "highest_hz": 2900.0,
        "fall_db_per_octave": 3.0,
        "wander_hz": 0.05,
        "interference_to_noise_db": 6.0,
    }
    for seed in (3, 4):
        whole = list_parts(mixed([hum], seed=seed).waveform)
        assert len(whole.of_kind(PartKind.COMB)) == 1
        assert not whole.of_kind(PartKind.DATA_LIKE, PartKind.HUMP, PartKind.KEYED_LINE)


@pytest.mark.derived
def test_noise_behind_a_soft_filter_is_nothing_but_floor() -> None:
    """A long skirt is the passband's shape, no hump on it."""
    made = mixed([], seed=9, soft_order=3)
    whole = list_parts(made.waveform)
    assert [part.kind for part in whole.parts] == [PartKind.FLOOR, PartKind.REST]
    assert whole.parts[0].level_dbfs == pytest.approx(made.noise_dbfs, abs=0.1)


def test_two_fences_with_periods_of_their_own_are_not_doubted() -> None:
    added = [fence(period_s, 0.0)[0] for period_s in (1.20, 1.27)]
    trains = list_parts(mixed(added, seed=134).waveform).of_kind(PartKind.PERIODIC_IMPULSES)
    assert len(trains) == 2
    assert not any("source of its own" in doubt for part in trains for doubt in part.cannot_tell)
