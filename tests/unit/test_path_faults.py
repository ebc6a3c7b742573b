"""Made paths with known faults: found, with the right numbers, and nothing else found."""

import math

import numpy as np
import pytest

import made_paths
from path_runs import SENT_DBFS, STARTS_S, clean, coded, kinds, measured, noisy
from solidcopy.actions.path_budget import highest_snr_db, misread, noise_under_tone_db, rate_ppm
from solidcopy.noise.features.figure import CannotTell
from solidcopy.soundcard.path_find import find_sequence
from solidcopy.soundcard.path_measure import gain_db
from solidcopy.soundcard.path_pieces import Below

pytestmark = pytest.mark.derived


def test_a_straight_wire_is_fit_and_its_figures_are_nothing() -> None:
    path = measured(noisy(clean(), 1))
    assert kinds(path) == set()
    assert path.sequence_at_s == pytest.approx(STARTS_S, abs=1e-5)
    assert rate_ppm(path).value == pytest.approx(0.0, abs=0.05)
    assert gain_db(path, SENT_DBFS).value == pytest.approx(0.0, abs=0.01)
    assert path.polarity_rad.value == pytest.approx(0.0, abs=0.01)
    assert max(map(abs, path.response.ripple_db)) < 0.15
    # 60 dB by construction: white noise under the tone in 2500 Hz.
    assert noise_under_tone_db(path) == pytest.approx(-60.0, abs=0.3)
    assert isinstance(path.tones.harmonics.total_db, Below)
    assert path.sides.left == pytest.approx(0.5, abs=0.01)


def test_several_faults_at_once_are_told_apart() -> None:
    heard = noisy(clean(), 2)
    heard = made_paths.band_limit(heard, 250.0, 2900.0)
    heard = made_paths.hum(heard, np.random.default_rng(2), power_dbfs=-45.0)
    heard = made_paths.lose(heard, STARTS_S + 30.0, 0.020)
    heard = made_paths.other_clock(-heard, 120.0)
    path = measured(heard)
    assert {"gaps", "hum"} <= kinds(path)
    assert not kinds(path) & {"gain riding", "noise reduction", "clipping", "distortion"}
    assert rate_ppm(path).value == pytest.approx(120.0, abs=1.0)
    assert [slip.length_s for slip in path.slips] == pytest.approx([-0.020], abs=2e-4)
    assert path.slips[0].at_s == pytest.approx(30.0, abs=0.02)
    assert path.floor.hum.power_dbfs == pytest.approx(-45.0, abs=0.3)
    assert path.response.edges_3_db[0] == pytest.approx(250.0, abs=15.0)


def test_gain_riding_by_our_own_compressor() -> None:
    """Ratio 4 above -35 dB: 3/4 of the 23 dB from there to the loudest tone, less nothing."""
    heard = made_paths.ride_gain(clean(), target_db=-35.0, ratio=4.0, attack_s=0.03, release_s=0.4)
    path = measured(noisy(heard, 3))
    assert "gain riding" in kinds(path) and "noise reduction" not in kinds(path)
    assert path.steps.release_db == pytest.approx(15.0, abs=0.5)  # 20 dB down: 3/4 of 20
    assert path.steps.release_s == pytest.approx(0.4, rel=0.1)
    assert path.steps.attack_s == pytest.approx(0.03, rel=0.15)


def test_noise_reduction_is_not_taken_for_gain_riding() -> None:
    path = measured(noisy(made_paths.reduce_noise(noisy(clean(), 4), depth_db=12.0), 5, 70.0))
    assert "noise reduction" in kinds(path)
    assert "gain riding" not in kinds(path)


def test_both_at_once_are_both_found() -> None:
    heard = made_paths.reduce_noise(noisy(clean(), 6), depth_db=15.0)
    heard = made_paths.ride_gain(heard, target_db=-40.0, ratio=3.0, attack_s=0.01, release_s=0.3)
    assert {"noise reduction", "gain riding"} <= kinds(measured(heard))


@pytest.mark.parametrize(("limit_db", "allowed_db"), [(-1.0, 0.05), (-6.0, 0.05)])
def test_a_hard_limit_is_put_where_it_is(limit_db: float, allowed_db: float) -> None:
    limit = 10 ** ((SENT_DBFS + limit_db) / 20)
    path = measured(noisy(np.clip(clean(), -limit, limit), 7))
    assert "clipping" in kinds(path)
    assert path.tones.clip_over_peak_db == pytest.approx(limit_db, abs=allowed_db)


def test_samples_at_full_scale_are_counted() -> None:
    path = measured(np.clip(4.5 * noisy(clean(), 8), -1.0, 1.0))
    assert "clipping" in kinds(path)
    assert path.flat_tops.level == 1.0


def test_48_khz_read_as_44_1() -> None:
    path = measured(noisy(clean(), 9), 44_100)
    assert kinds(path) == {"misread rate"}
    assert misread(path) == pytest.approx(48_000 / 44_100)
    assert rate_ppm(path).value == pytest.approx(0.0, abs=0.1)


def test_gaps_repeats_and_holes_are_told_apart() -> None:
    heard = made_paths.blank(noisy(clean(), 10), STARTS_S + 11.0, 0.008)
    heard = made_paths.repeat(heard, STARTS_S + 16.5, 0.010)
    path = measured(heard)
    assert [slip.length_s for slip in path.slips] == pytest.approx([0.010], abs=1e-4)
    assert path.slips[0].at_s == pytest.approx(16.5, abs=0.02)
    assert [hole.at_s for hole in path.holes] == pytest.approx([11.0], abs=0.004)
    assert path.holes[0].length_s == pytest.approx(0.008, abs=0.0026)


@pytest.mark.parametrize("length_s", [0.005, 0.1])
def test_a_hole_is_as_long_as_it_is(length_s: float) -> None:
    path = measured(made_paths.blank(noisy(clean(), 16), STARTS_S + 21.0031, length_s))
    assert [hole.length_s for hole in path.holes] == pytest.approx([length_s], abs=0.0026)


def test_faint_in_noise_the_rate_is_still_told_and_the_rest_is_not() -> None:
    """-20 dB in 2500 Hz: over the air in a loud room."""
    path = measured(noisy(made_paths.other_clock(clean(), 50.0), 11, snr_db=-20.0))
    rate = rate_ppm(path)
    assert abs(rate.value - 50.0) < 4.0 * rate.standard_error < 12.0
    assert path.sequence_at_s == pytest.approx(STARTS_S, abs=2e-4)
    assert isinstance(path.steps, CannotTell) and isinstance(path.tones, CannotTell)
    assert isinstance(path.timing.slips, CannotTell)
    assert noise_under_tone_db(path) == pytest.approx(20.0, abs=1.5)
    assert "noisy" in kinds(path)


def test_a_room_is_an_echo_and_nothing_worse() -> None:
    rng = np.random.default_rng(12)
    path = measured(noisy(made_paths.room(clean(), rng, direct_to_echo_db=3.0), 12))
    assert "echo" in kinds(path)
    assert not kinds(path) & {"gain riding", "noise reduction", "gaps", "distortion", "clipping"}


def test_eight_bits_are_coarse_and_mp3_of_64_kbit_is_not_taken_for_a_fault() -> None:
    path = measured(made_paths.words(clean(), 8))
    assert kinds(path) == {"coarse words"}
    sound, kbit_s = coded(noisy(clean(), 13))
    assert kbit_s == pytest.approx(64.0, abs=1.0)
    path = measured(sound)
    assert not kinds(path) & {"gain riding", "noise reduction", "clipping", "gaps", "misread rate"}


def test_noise_alone_holds_no_sequence() -> None:
    rng = np.random.default_rng(14)
    assert find_sequence(rng.normal(size=60 * 48_000), 48_000) is None


def test_room_for_an_snr_falls_with_the_paths_noise() -> None:
    """Where noise is 40 dB under the tone: the trial's noise, 13 dB under the peak and 6 kHz wide,
    holds -13 + 3 - 3.8 = -13.8 dB in 2500 Hz; 16.3 dB (0.1 dB) above the path's from -23.7 on."""
    path = measured(noisy(clean(), 15, snr_db=40.0))
    own = noise_under_tone_db(path)
    snr_db = highest_snr_db(path)
    noise_2500 = 10 ** ((3.01 - 13.0) / 10) / (6000 / 2500 + 10 ** (snr_db / 10))
    assert 10 * math.log10(1 + 10 ** (own / 10) / noise_2500) < 0.1
    above = 10 ** ((3.01 - 13.0) / 10) / (6000 / 2500 + 10 ** ((snr_db + 1) / 10))
    assert 10 * math.log10(1 + 10 ** (own / 10) / above) >= 0.1
