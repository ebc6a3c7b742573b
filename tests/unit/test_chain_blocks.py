"""Each block of the receiver's chain against its own law."""

import json

import numpy as np
import pytest
import scipy.signal
from pydantic import TypeAdapter, ValidationError

from solidcopy import units
from solidcopy.errors import CalibrationError, PlanError
from solidcopy.impairments.catalogue import AnyChainBlock
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import Heard
from solidcopy.seeds import Chance
from solidcopy.trials.condition import Condition
from solidcopy.trials.make import make
from solidcopy.trials.plan import parse_plan
from solidcopy.trials.trial import SENT, Trial

RATE = 12_000
N = 60_000
ADAPTER = TypeAdapter(AnyChainBlock)

BLOCKS = {
    "wideband-limiter": {"level_db": 6.0},
    "wideband-blanker": {"threshold_db": 12.0},
    "channel-filter": {"ripple_db": 2.0, "edge_delay_ms": 2.0},
    "notch": {"audio_hz": 1000.0},
    "automatic-notch": {},
    "gain-control": {"hang_ms": 100.0},
    "noise-reduction": {},
    "clipping": {"level_db": 3.0},
    "word-length": {"n_bits": 8, "has_dither": True},
    "sample-clock": {"error_ppm": 100.0, "drift_ppm_per_min": 20.0},
    "lost-buffers": {"lost_per_min": 30.0, "repeated_per_min": 30.0},
    "slot-clock": {"offset_s": 0.3},
}
NOISE = {"kind": "gaussian-noise", "snr_db": -5.0}


def block(kind, **fields):
    return ADAPTER.validate_python({"kind": kind, **fields})


def noise(seed=1, n=N, rms=0.1):
    return rms * np.random.Generator(np.random.PCG64DXSM(seed)).standard_normal(n)


def through(item, samples, rate=RATE, seed=9):
    generator = np.random.Generator(np.random.PCG64DXSM(seed))
    return item.process(Heard(np.array(samples, dtype=float), rate), generator)


def trial(*impairments, internal_rate_hz=48_000, index=0, **sending):
    condition = Condition.model_validate(
        {"name": "c", "sending": sending, "impairments": [NOISE, *impairments]}
    )
    return Trial("ft8", condition, RATE, None, Chance(3, SENT, index, 0.0), internal_rate_hz)


@pytest.mark.parametrize("kind", BLOCKS)
def test_laws_that_all_blocks_keep(kind):
    item = block(kind, **BLOCKS[kind])
    samples = noise()
    first, second = through(item, samples), through(item, samples)
    assert np.array_equal(first, second)
    assert first.shape == samples.shape and first.dtype == np.float64
    assert np.isfinite(first).all()
    assert not through(item, np.zeros(N)).any() or item.kind == "word-length"
    assert json.loads(json.dumps(item.identity()))["recipe"] == item.recipe
    assert item.on and (item.late_s == 0.0 or kind == "slot-clock")
    assert item.is_wideband == (item.place < places.CHANNEL_FILTER)


@pytest.mark.parametrize("kind", BLOCKS)
def test_off_is_as_if_it_were_not_there(kind):
    plain = make(trial(internal_rate_hz=None))[0].digest
    off = {"kind": kind, **BLOCKS[kind], "on": False}
    assert make(trial(off, internal_rate_hz=None))[0].digest == plain


@pytest.mark.parametrize("kind", BLOCKS)
def test_in_a_whole_trial_the_levels_in_front_are_met(kind):
    recording, _ = make(trial({"kind": kind, **BLOCKS[kind]}))
    assert recording.readings.levels[0].got_db == pytest.approx(-5.0, abs=0.15)
    assert recording.waveform.samples.size == 180_000
    assert recording.readings.peak_dbfs < 0.1
    assert -60.0 < recording.readings.mean_dbfs < -10.0


def test_order_in_the_plan_does_not_matter():
    blocks = [{"kind": kind, **fields} for kind, fields in BLOCKS.items()]
    assert make(trial(*blocks))[0].digest == make(trial(*reversed(blocks)))[0].digest


# -- in front of the channel filter ----------------------------------------------------------


def with_clicks(samples, amplitude=20.0):
    out = samples.copy()
    out[5000::7000] += amplitude
    return out


def test_limiter_leaves_noise_and_cuts_clicks():
    quiet = noise(rms=1.0)
    limited = through(block("wideband-limiter", level_db=12.0), quiet)
    assert limited == pytest.approx(quiet, abs=1e-9)
    # 12 dB over the rms of an envelope that is sqrt(2) times the samples' rms of 1.
    clicks = through(block("wideband-limiter", level_db=12.0), with_clicks(quiet))
    assert np.abs(clicks).max() == pytest.approx(np.sqrt(2.0) * 10 ** (12 / 20), rel=0.02)


def test_limiter_makes_no_harmonics():
    """The envelope is limited, not the samples: a tone 20 dB over the ceiling stays a tone."""
    tone = np.cos(2 * np.pi * 1500.0 / RATE * np.arange(N))
    burst = 0.01 * tone
    burst[20_000:21_200] = tone[20_000:21_200]  # 100 ms
    out = through(block("wideband-limiter", level_db=6.0), burst)
    spectrum = np.abs(np.fft.rfft(out[20_100:21_100] * np.hanning(1000))) ** 2
    hz = np.fft.rfftfreq(1000, 1 / RATE)
    third = spectrum[(hz > 4300) & (hz < 4700)].sum() / spectrum.sum()
    assert units.db_from_ratio(third) < -60.0


@pytest.mark.derived
def test_blanker_takes_the_click_and_its_surroundings_only():
    quiet = noise(rms=1.0)
    item = block("wideband-blanker", threshold_db=15.0, lead_ms=0.5, hold_ms=2.0, edge_ms=1.0)
    out = through(item, with_clicks(quiet, amplitude=200.0))
    changed = np.flatnonzero(out != quiet)
    for click in range(5000, N, 7000):
        near = changed[np.abs(changed - click) < 3500] - click
        # The envelope of a lone sample, 2 * 200 / (pi d) at a distance d, passes the threshold of
        # 8 up to d = 15; noise of envelope 2 adds or takes a few: 11 to 21.
        assert -6 - 12 - 21 <= near.min() <= -6 - 12 - 11
        assert 24 + 12 + 11 <= near.max() <= 24 + 12 + 21
        assert not out[click - 6 : click + 24].any()


def test_blanker_is_opened_by_a_strong_neighbour_too():
    slow = noise(rms=1.0)
    slow[20_000:24_000] += 40.0 * np.cos(2 * np.pi * 2000.0 / RATE * np.arange(4000))
    out = through(block("wideband-blanker"), slow)
    assert not out[20_100:23_900].any()


def test_wideband_blocks_ask_for_a_wide_band():
    plan = {
        "mode": "ft8",
        "root_seed": 1,
        "axis": {"values": [-20.0]},
        "stop": {"trials_per_point": 1},
        "conditions": [
            {
                "name": "c",
                "impairments": [{**NOISE, "snr_db": "axis"}, {"kind": "wideband-blanker"}],
            }
        ],
    }
    with pytest.raises(PlanError, match=r"wideband-blanker.*internal_rate_hz.*48000"):
        parse_plan(plan)


def test_nothing_beyond_half_the_rate_folds_back():
    """A carrier at 9 kHz in the wide band, 40 dB over the signal, leaves less than -60 dB of it."""
    carrier = {"kind": "carrier", "audio_hz": 9000.0, "signal_to_interference_db": -40.0}
    quiet = {"kind": "gaussian-noise", "snr_db": 60.0}
    condition = Condition.model_validate(
        {"name": "c", "sending": {"audio_hz": 1000.0}, "impairments": [quiet, carrier]}
    )
    recording, _ = make(Trial("ft8", condition, RATE, None, Chance(3, SENT, 0, 0.0), 48_000))
    samples = recording.waveform.samples
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(samples.size))) ** 2
    hz = np.fft.rfftfreq(samples.size, 1 / RATE)
    signal = spectrum[(hz > 950) & (hz < 1100)].sum()
    folded = spectrum[(hz > 2900) & (hz < 3100)].sum()  # 12 kHz - 9 kHz
    assert units.db_from_ratio(folded / signal) < -60.0


# -- in the pass band -------------------------------------------------------------------------


@pytest.mark.derived
def test_channel_filter_has_its_edges_skirts_and_depth():
    item = block("channel-filter", low_hz=300.0, high_hz=2700.0, skirt_hz=100.0)
    hz = np.array([200.0, 250.0, 300.0, 400.0, 1500.0, 2700.0, 2800.0, 4000.0])
    gain_db = 20 * np.log10(np.abs(item.response(hz, half_rate_hz=6000.0)))
    assert gain_db == pytest.approx([-80, -43, -6, 0, 0, -6, -80, -80], abs=1e-9)


@pytest.mark.derived
def test_channel_filter_ripple_and_group_delay():
    item = block("channel-filter", ripple_db=2.0, ripple_period_hz=400.0, edge_delay_ms=3.0)
    hz = np.arange(400.0, 2600.0, 0.5)
    response = item.response(hz, half_rate_hz=6000.0)
    gain_db = 20 * np.log10(np.abs(response))
    assert np.ptp(gain_db) == pytest.approx(2.0, abs=0.01)
    delay_ms = -np.gradient(np.unwrap(np.angle(response)), hz) / (2 * np.pi) * 1000.0
    u = (hz - 1500.0) / 1200.0
    assert delay_ms[5:-5] == pytest.approx(3.0 * u[5:-5] ** 2, abs=1e-3)


def test_channel_filter_does_what_its_response_says():
    samples = np.zeros(N)
    samples[N // 2] = 1.0
    out = through(block("channel-filter"), samples)
    hz = np.fft.rfftfreq(N, 1 / RATE)
    passed = np.abs(np.fft.rfft(out))[(hz > 500) & (hz < 2500)]
    assert passed == pytest.approx(np.ones(passed.size), abs=1e-9)
    with pytest.raises(CalibrationError, match="7000 Hz is asked; only 6000 Hz exist"):
        through(block("channel-filter", high_hz=7000.0), samples)
    with pytest.raises(ValidationError, match="must lie below"):
        block("channel-filter", low_hz=3000.0)


@pytest.mark.authority
@pytest.mark.parametrize(("notch_hz", "width_hz"), [(1000.0, 50.0), (2500.0, 200.0), (60.0, 5.0)])
def test_notch_is_that_of_scipy(notch_hz, width_hz):
    """scipy.signal.iirnotch: the same bilinear design, Q = frequency / width."""
    b, a = scipy.signal.iirnotch(notch_hz, notch_hz / width_hz, fs=RATE)
    hz = np.arange(5.0, 5900.0, 5.0)
    _, expected = scipy.signal.freqz(b, a, worN=hz, fs=RATE)
    item = block("notch", audio_hz=notch_hz, width_hz=width_hz)
    assert item.response(hz, sample_rate_hz=RATE) == pytest.approx(expected, abs=1e-9)


def test_automatic_notch_takes_a_carrier_and_leaves_noise():
    quiet = noise(rms=1.0)
    carrier = 3.0 * np.cos(2 * np.pi * 1200.0 / RATE * np.arange(N))
    out = through(block("automatic-notch"), quiet + carrier)[N // 2 :]
    hz = np.fft.rfftfreq(out.size, 1 / RATE)
    before = np.abs(np.fft.rfft((quiet + carrier)[N // 2 :] * np.hanning(out.size))) ** 2
    after = np.abs(np.fft.rfft(out * np.hanning(out.size))) ** 2
    line = np.abs(hz - 1200.0) < 2.0
    assert units.db_from_ratio(after[line].sum() / before[line].sum()) < -15.0
    rest = (hz > 2000) & (hz < 5000)
    assert units.db_from_ratio(after[rest].sum() / before[rest].sum()) == pytest.approx(0, abs=1.0)


@pytest.mark.derived
def test_gain_control_holds_the_output_and_pumps():
    """A neighbour 30 dB over the noise, on for 1 s: the noise behind it is 30 dB down and comes
    back at the stated rate after the hang."""
    samples = noise(rms=0.01, n=6 * RATE)
    on = slice(2 * RATE, 3 * RATE)
    amplitude = 0.01 * np.sqrt(2.0) * 10 ** (30 / 20)
    samples[on] += amplitude * np.cos(2 * np.pi * 2500.0 / RATE * np.arange(RATE))
    item = block("gain-control", attack_ms=1.0, hang_ms=500.0, decay_db_per_s=20.0)
    out = through(item, samples)
    gain_db = 10 * np.log10(
        np.mean((out / samples).reshape(-1, RATE // 10) ** 2, axis=1)
    )  # every 100 ms
    assert gain_db[25] - gain_db[33] == pytest.approx(0.0, abs=0.5)  # hangs
    assert gain_db[44] - gain_db[39] == pytest.approx(10.0, abs=0.5)  # 20 dB/s
    assert np.abs(out[on][600:]).max() == pytest.approx(np.sqrt(np.mean(samples**2)), rel=0.2)


def test_noise_reduction_weakens_noise_and_keeps_a_strong_burst():
    samples = noise(rms=0.01)
    samples[20_000:26_000] += 0.5 * np.cos(2 * np.pi * 800.0 / RATE * np.arange(6000))
    out = through(block("noise-reduction", floor_db=15.0), samples)
    quiet = np.mean(out[40_000:] ** 2) / np.mean(samples[40_000:] ** 2)
    loud = np.mean(out[21_000:25_000] ** 2) / np.mean(samples[21_000:25_000] ** 2)
    assert -15.1 < units.db_from_ratio(quiet) < -9.0
    assert units.db_from_ratio(loud) == pytest.approx(0.0, abs=0.2)


def test_noise_reduction_of_0_db_changes_nothing():
    samples = noise()
    out = through(block("noise-reduction", floor_db=0.0), samples)
    assert out == pytest.approx(samples, abs=1e-12)


@pytest.mark.derived
def test_clipping_of_noise_leaves_the_known_share():
    """P(|x| > 10^(3/20) rms) of a Gaussian: 15.8 % (scipy.stats.norm)."""
    samples = noise(n=400_000)
    out = through(block("clipping", level_db=3.0), samples)
    share = np.mean(np.abs(out) >= np.abs(out).max() * (1 - 1e-12))
    assert share == pytest.approx(0.1573, abs=0.003)


@pytest.mark.authority
@pytest.mark.parametrize("n_bits", [8, 12, 16])
def test_rounding_noise_is_a_twelfth_of_a_step_squared(n_bits):
    """Textbook: step²/12; triangular dither of two steps makes it three times that."""
    samples = noise()
    step = 2.0 / 2**n_bits
    for has_dither, times in ((False, 1.0), (True, 3.0)):
        item = block("word-length", n_bits=n_bits, level_dbfs=-20.0, has_dither=has_dither)
        out = through(item, samples)
        exact = samples * np.sqrt(units.power_from_dbfs(-20.0) / np.mean(samples**2))
        assert np.mean((out - exact) ** 2) / (step**2 / 12.0) == pytest.approx(times, rel=0.03)
        assert (out / step == np.rint(out / step)).all()


def test_words_end_at_full_scale():
    out = through(block("word-length", n_bits=8, level_dbfs=3.0), noise())
    assert out.max() == 1.0 - 2.0**-7 and out.min() == -1.0


# -- clocks -------------------------------------------------------------------------------------


@pytest.mark.derived
def test_sample_clock_moves_frequencies_by_its_error():
    """A clock fast by 200 ppm makes 1500 Hz look like 1499.7 Hz; 15 s later 3 ms late."""
    n = np.arange(17 * RATE)
    out = through(block("sample-clock", error_ppm=200.0), np.cos(2 * np.pi * 1500.0 / RATE * n))
    times_s = n / RATE - places.RUN_IN_S
    edge_rad = 2 * np.pi * 1500.0 * places.RUN_IN_S
    expected = np.cos(2 * np.pi * 1500.0 * (1 - 200e-6) * times_s + edge_rad)
    assert np.abs(out - expected)[1000:-1000].max() < 1e-3


@pytest.mark.derived
def test_sample_clock_drifts():
    """Drift d: the phase lacks 2 pi f d t²/2; 60 ppm a minute are 1e-6 a second."""
    n = np.arange(17 * RATE)
    item = block("sample-clock", drift_ppm_per_min=60.0)
    out = through(item, np.cos(2 * np.pi * 1500.0 / RATE * n))
    t = n / RATE - places.RUN_IN_S
    phase = 2 * np.pi * 1500.0 * (t - 1e-6 * t**2 / 2.0 + places.RUN_IN_S)
    assert np.abs(out - np.cos(phase))[1000:-1000].max() < 1e-3


def test_sample_clock_without_error_changes_nothing():
    samples = noise()
    assert np.array_equal(through(block("sample-clock"), samples), samples)
    with pytest.raises(CalibrationError, match="20000 ppm"):
        through(block("sample-clock", error_ppm=30_000.0), samples)


def test_slot_clock_moves_the_signal_and_not_the_noise():
    late = {"kind": "slot-clock", "offset_s": 0.4}
    plain, moved = make(trial(start_offset_s=0.2)), make(trial(late, start_offset_s=0.2))
    assert moved[1].time_offset_s == pytest.approx(-0.2, abs=1e-4)
    assert plain[1].time_offset_s == pytest.approx(0.2, abs=1e-4)
    noises = [item[0].readings.levels[0].mean_dbfs for item in (plain, moved)]
    assert noises[0] == pytest.approx(noises[1], abs=0.01)


def test_lost_buffers_come_early_and_repeated_ones_late():
    ramp = np.arange(17.0 * RATE)
    lost = through(block("lost-buffers", lost_per_min=60.0, buffer_ms=50.0), ramp)
    jumps = np.diff(lost)[: 14 * RATE]
    assert set(np.unique(jumps)) <= {1.0, 601.0, 1201.0, 1801.0}
    assert (jumps != 1.0).sum() > 5
    assert np.array_equal(lost[:RATE], ramp[:RATE])  # the slot's edge stays
    twice = through(block("lost-buffers", repeated_per_min=60.0, buffer_ms=50.0), ramp)
    assert set(np.unique(np.diff(twice))) == {1.0, -599.0}
    silent = through(block("lost-buffers", lost_per_min=60.0, gap="silent"), ramp)
    kept = silent != 0.0
    assert np.array_equal(silent[kept], ramp[kept]) and 0.95 < kept.mean() < 1.0


@pytest.mark.derived
def test_number_of_lost_buffers_is_the_asked_one():
    """60 a minute over 15 s: a binomial mean of 15; 40 runs give 15 ± 0.6."""
    counts = []
    for seed in range(40):
        out = through(
            block("lost-buffers", lost_per_min=60.0, gap="silent"), np.ones(17 * RATE), seed=seed
        )
        counts.append((out[RATE : 16 * RATE] == 0.0).sum() / 240.0)
    assert np.mean(counts) == pytest.approx(15.0, abs=2.0)
