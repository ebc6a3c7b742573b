"""All features of one recording: what is there is found, and nothing else."""

import numpy as np
import pytest

from noise_examples import recording, sources
from solidcopy.errors import CalibrationError
from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.added.line_comb import LineComb
from solidcopy.impairments.added.switch_mode_hump import SwitchModeHump
from solidcopy.noise.features.figure import CannotTell
from solidcopy.noise.features.measure import measure_features
from solidcopy.signals.band_noise import band_limited_noise
from solidcopy.signals.filters import Band
from solidcopy.signals.waveform import Waveform


@pytest.mark.derived
@pytest.mark.parametrize("rate_hz", [8000, 12_000, 48_000, 192_000])
def test_gaussian_noise_holds_nothing(rate_hz):
    features = measure_features(recording(15.0, rate_hz=rate_hz))
    # sigma 0.02: 20 lg(0.02) + 3.01 dB.
    assert features.level_dbfs.value == pytest.approx(-30.97, abs=0.06)
    assert features.level_over_floor_db.value == pytest.approx(0.0, abs=0.2)
    assert features.lines == ()
    assert features.humps == ()
    assert features.combs == ()
    assert features.impulses.times_s.size == 0
    assert features.rhythm.lines == ()
    assert features.rhythm.trains == ()
    assert features.rhythm.mains.mains_hz is None
    assert features.steadiness.by_second.is_steady
    assert features.steadiness.steps == ()
    assert isinstance(features.steadiness.by_hour.spread_db, CannotTell)
    assert features.amplitudes.voltage_deviation_db.value == pytest.approx(1.049, abs=0.03)


@pytest.mark.derived
def test_two_fences_with_near_periods_are_told_apart():
    pair = [sources({"kind": "electric-fence", "period_s": period_s}) for period_s in (1.2, 1.27)]
    features = measure_features(recording(120.0, (pair[0], 3.0), (pair[1], 3.0)))
    first, second = features.rhythm.trains
    for train, period_s in ((first, 1.2), (second, 1.27)):
        assert train.period_s.value == pytest.approx(
            period_s, abs=5 * train.period_s.standard_error
        )
        assert train.period_s.standard_error < 1e-4
        # ± 10 ms, evenly: 10 ms / sqrt(3), and a burst's own noise moves its middle.
        assert train.jitter_s.value == pytest.approx(0.00577, abs=0.0012)
        assert train.n_seen == train.n_expected


@pytest.mark.derived
def test_keyed_and_steady_carriers_a_comb_and_a_hump():
    keyed = Carrier.model_validate(
        {"audio_hz": 1000.0, "interference_to_noise_db": 0.0, "keying": {"speed_wpm": 20.0}}
    )
    steady = Carrier(audio_hz=700.3, interference_to_noise_db=0.0)
    hump = SwitchModeHump(audio_hz=3000.0, width_hz=200.0, interference_to_noise_db=0.0)
    comb = LineComb(audio_hz=4000.0, spacing_hz=137.3, n_lines=8, interference_to_noise_db=0.0)
    parts = ((keyed, 0.0), (steady, -10.0), (hump, -3.0), (comb, 0.0))
    features = measure_features(recording(60.0, *parts))
    kinds = {round(line.frequency_hz.value, 0): line.keying for line in features.lines}
    assert kinds[700.0].kind == "steady"
    assert kinds[1000.0].kind == "keyed"
    # 20 words a minute: a dot lasts 60 ms (FACTS F1), so a few switchings a second.
    assert 6.0 < kinds[1000.0].switchings_per_s.value < 16.7
    assert len(features.lines) == 10
    (found,) = features.combs
    assert found.spacing_hz.value == pytest.approx(137.3, abs=0.01)
    assert len(found.lines) == 8
    (bump,) = features.humps
    assert bump.centre_hz.value == pytest.approx(3000.0, abs=5.0)
    # A bell 200 Hz wide where it is 6 dB down has an effective width of 1.0645 times that.
    assert bump.width_hz.value == pytest.approx(212.9, abs=10.0)


@pytest.mark.derived
@pytest.mark.parametrize(("mains_hz", "peaks", "multiple"), [(50, "both", 2), (60, "one", 1)])
def test_arc_follows_the_mains(mains_hz, peaks, multiple):
    arc = sources({"kind": "mains-arc", "mains_hz": mains_hz, "peaks": peaks})
    mains = measure_features(recording(30.0, (arc, 3.0))).rhythm.mains
    assert (mains.mains_hz, mains.multiple) == (mains_hz, multiple)
    assert mains.frequency_hz.value == pytest.approx(mains_hz, abs=0.05)


@pytest.mark.derived
def test_silence_and_short_recordings_say_so():
    features = measure_features(Waveform(np.zeros(60_000, dtype=np.float32), 12_000))
    assert isinstance(features.level_dbfs, CannotTell)
    assert "silent" in features.rhythm.reason
    with pytest.raises(CalibrationError, match=r"lasts 0\.5 s"):
        measure_features(Waveform(np.ones(6000, dtype=np.float32), 12_000))
    with pytest.raises(CalibrationError, match="samples per second"):
        measure_features(Waveform(np.ones(6000, dtype=np.float32), 4000))


@pytest.mark.derived
def test_a_ripple_that_comes_and_goes_reads_its_rate():
    """Rests of an arc broaden its line; the rate must not lean to a side of the bin for it."""
    misses = []
    for seed in range(5):
        arc = sources({"kind": "mains-arc", "mains_hz": 50})
        mains = measure_features(recording(30.0, (arc, 0.0), seed=seed)).rhythm.mains
        frequency_hz = mains.frequency_hz
        misses.append((frequency_hz.value - 50.0) / frequency_hz.standard_error)
    # Before, 9 errors on average, all on one side.
    assert abs(float(np.mean(misses))) < 2.0


@pytest.mark.derived
def test_a_tilted_passband_has_no_hump():
    """12 dB from end to end of 300 to 2700 Hz."""
    generator = np.random.Generator(np.random.PCG64DXSM(5))
    band = Band(300.0, 2700.0, skirt_hz=100.0)
    flat, _ = band_limited_noise(
        band, n_samples=240_000, sample_rate_hz=12_000, generator=generator
    )
    fall = 10.0 ** (-12.0 / 20.0 * np.fft.rfftfreq(flat.size, 1.0 / 12_000) / 2700.0)
    tilted = 0.05 * np.fft.irfft(np.fft.rfft(flat) * fall) / flat.std()
    features = measure_features(Waveform(tilted.astype(np.float32), 12_000))
    assert features.humps == ()
    low_hz, high_hz = features.floor.passband_hz
    assert low_hz == pytest.approx(240.0, abs=60.0)
    assert high_hz == pytest.approx(2730.0, abs=60.0)
    assert features.level_over_floor_db.value == pytest.approx(0.0, abs=0.3)


@pytest.mark.derived
def test_an_offset_a_fading_and_a_step():
    noise = recording(60.0).samples
    lifted = measure_features(Waveform(noise + np.float32(0.3), 12_000))
    assert lifted.offset == pytest.approx(0.3, abs=1e-3)
    assert lifted.level_dbfs.value == pytest.approx(-30.97, abs=0.05)
    assert lifted.steadiness.by_second.is_steady
    slow = np.exp(0.5 * np.sin(2.0 * np.pi * np.arange(noise.size) / 12_000 / 7.0))
    fading = measure_features(Waveform((noise * slow).astype(np.float32), 12_000))
    assert fading.steadiness.by_second.is_steady is False
    assert fading.impulses.times_s.size <= 1
    louder = noise.copy()
    louder[30 * 12_000 :] *= np.float32(1.3)
    (step,) = measure_features(Waveform(louder, 12_000)).steadiness.steps
    assert step.at_s == pytest.approx(30.0, abs=1.0)
    # 20 lg 1.3.
    assert step.change_db.value == pytest.approx(2.28, abs=4.0 * step.change_db.standard_error)


@pytest.mark.derived
def test_noise_between_impulses():
    """Fences raise the mean level, not what lies between their bursts."""
    fence = sources({"kind": "electric-fence"})
    amplitudes = measure_features(recording(60.0, (fence, 3.0))).amplitudes
    alone = measure_features(recording(60.0)).amplitudes
    assert amplitudes.quiet_level_dbfs.value == pytest.approx(alone.quiet_level_dbfs.value, abs=0.1)
    assert amplitudes.level_dbfs.value > alone.level_dbfs.value + 2.0
    quiet = alone.quiet_level_dbfs
    assert quiet.value == pytest.approx(alone.level_dbfs.value, abs=4.0 * quiet.standard_error)


@pytest.mark.derived
def test_bare_clicks_in_silence_have_no_floor():
    samples = np.zeros(240_000, dtype=np.float32)
    samples[::12_000] = 0.5
    features = measure_features(Waveform(samples, 12_000))
    # One sample of 0.5 in 12 000, its mean taken off: 10 lg(2 x 0.25 / 12000).
    assert features.level_dbfs.value == pytest.approx(-43.80, abs=0.05)
    assert "silent" in features.floor.reason
