"""The built-in receiver from the outside: what it hears, and what it must not hear."""

import inspect

import numpy as np
import pytest
import soxr
from pydantic import ValidationError

from solidcopy import units
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.receiver import build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000
NOISE_SIGMA = 0.02


@pytest.fixture(scope="module")
def receiver():
    return build_receiver(BuiltinSettings(), mode_named("ft8"))


def quiet_slot(rng, *, sigma=NOISE_SIGMA, seconds=15.0):
    return sigma * rng.standard_normal(round(seconds * RATE_HZ))


def add_message(slot, text, *, audio_hz, start_s, snr_db):
    """Add a transmission; what lies outside the slot is cut off."""
    mode = mode_named("ft8")
    tones = mode.encode(mode.pack(text))
    signal = mode.modulate(tones, sample_rate_hz=RATE_HZ, audio_hz=audio_hz, phase_rad=1.0).real
    # Noise of variance s^2 a sample has density s^2 / 6000; the signal's mean power is 0.5.
    density = NOISE_SIGMA**2 / (RATE_HZ / 2)
    power = units.ratio_from_db(snr_db) * density * units.REFERENCE_BANDWIDTH_HZ
    first = round(start_s * RATE_HZ)
    low, high = max(0, -first), min(signal.size, slot.size - first)
    slot[first + low : first + high] += np.sqrt(2.0 * power) * signal[low:high]
    return slot


def heard(receiver, samples, sample_rate_hz=RATE_HZ):
    reception = receiver.receive(Waveform(np.asarray(samples, np.float32), sample_rate_hz))
    assert reception.failure is None
    assert reception.elapsed_s > 0.0
    assert reception.cpu_s is not None and reception.cpu_s > 0.0
    return reception.decodes


def texts(decodes):
    return sorted(decode.text for decode in decodes)


@pytest.mark.derived
def test_reports_message_frequency_time_and_snr(receiver):
    slot = quiet_slot(np.random.default_rng(1))
    add_message(slot, "Q1ABC Q2XYZ -15", audio_hz=1234.56, start_s=0.83, snr_db=-12.0)
    (decode,) = heard(receiver, slot)
    assert decode.text == "Q1ABC Q2XYZ -15"
    # Measured spread: 0.002 Hz, 1.3 ms, 0.2 dB with a bias of -0.1 dB; ten times that is allowed
    # for frequency and time, five deviations for the SNR.
    assert decode.audio_hz == pytest.approx(1234.56, abs=0.02)
    assert decode.time_offset_s == pytest.approx(0.33, abs=0.013)
    assert decode.snr_db == pytest.approx(-12.0, abs=1.1)
    assert 0 <= decode.n_corrected_bits <= 40
    assert 77.0 < decode.information_bits <= 174.01
    assert decode.path.startswith(("belief-propagation/", "ordered-statistics/"))


@pytest.mark.parametrize("start_s", [-1.5, -0.4, 0.0, 2.0, 2.5])
def test_transmissions_that_start_early_or_late_or_are_cut(receiver, start_s):
    slot = quiet_slot(np.random.default_rng(2))
    add_message(slot, "CQ Q1ABC FN42", audio_hz=700.0, start_s=start_s, snr_db=-14.0)
    (decode,) = heard(receiver, slot)
    assert decode.text == "CQ Q1ABC FN42"
    assert decode.time_offset_s + 0.5 == pytest.approx(start_s, abs=0.013)


@pytest.mark.parametrize("sample_rate_hz", [8_000, 11_025, 16_000, 44_100, 48_000])
def test_any_sample_rate(receiver, sample_rate_hz):
    slot = quiet_slot(np.random.default_rng(3))
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1500.0, start_s=0.5, snr_db=-12.0)
    (decode,) = heard(receiver, soxr.resample(slot, RATE_HZ, sample_rate_hz), sample_rate_hz)
    assert decode.text == "CQ Q1ABC FN42"
    assert decode.audio_hz == pytest.approx(1500.0, abs=0.02)


@pytest.mark.parametrize("seconds", [9.0, 14.0, 22.0])
def test_recordings_shorter_or_longer_than_the_slot(receiver, seconds):
    slot = quiet_slot(np.random.default_rng(4), seconds=seconds)
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1500.0, start_s=0.5, snr_db=-5.0)
    assert texts(heard(receiver, slot)) == ["CQ Q1ABC FN42"]


def test_several_stations_each_reported_once(receiver):
    rng = np.random.default_rng(5)
    slot = quiet_slot(rng)
    sent = [f"CQ Q{digit}ABC FN42" for digit in range(8)]
    for number, text in enumerate(sent):
        add_message(
            slot,
            text,
            audio_hz=300.0 + 300.0 * number,
            start_s=0.5 + rng.uniform(-0.4, 0.4),
            snr_db=-16.0 + 3.0 * number,
        )
    assert texts(heard(receiver, slot)) == sent


def test_same_message_on_two_frequencies_is_two_transmissions(receiver):
    slot = quiet_slot(np.random.default_rng(6))
    for audio_hz in (800.0, 1900.0):
        add_message(slot, "CQ Q1ABC FN42", audio_hz=audio_hz, start_s=0.5, snr_db=-10.0)
    decodes = heard(receiver, slot)
    assert sorted(round(decode.audio_hz) for decode in decodes) == [800, 1900]


@pytest.mark.parametrize("snr_db", [20.0, 40.0, 60.0])
def test_a_loud_station_is_reported_once_and_in_its_place(receiver, snr_db):
    slot = quiet_slot(np.random.default_rng(7))
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1500.3, start_s=0.77, snr_db=snr_db)
    (decode,) = heard(receiver, slot)
    assert decode.audio_hz == pytest.approx(1500.3, abs=0.02)
    assert decode.time_offset_s == pytest.approx(0.27, abs=0.013)


def test_a_weak_station_beside_a_loud_one(receiver):
    slot = quiet_slot(np.random.default_rng(8))
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1500.0, start_s=0.6, snr_db=25.0)
    add_message(slot, "CQ Q2XYZ JN58", audio_hz=1800.0, start_s=0.3, snr_db=-14.0)
    assert texts(heard(receiver, slot)) == ["CQ Q1ABC FN42", "CQ Q2XYZ JN58"]


@pytest.mark.parametrize("offset_hz", [20.0, 90.0, 300.0], ids=["inside", "beside", "far"])
def test_a_loud_steady_carrier(receiver, offset_hz):
    slot = quiet_slot(np.random.default_rng(9))
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1200.0, start_s=0.5, snr_db=-14.0)
    time_s = np.arange(slot.size) / RATE_HZ
    slot += 0.1 * np.cos(2.0 * np.pi * (1200.0 + offset_hz) * time_s)
    assert texts(heard(receiver, slot)) == ["CQ Q1ABC FN42"]


def test_bursts_of_noise(receiver):
    rng = np.random.default_rng(10)
    slot = quiet_slot(rng)
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1200.0, start_s=0.5, snr_db=-16.0)
    for first in range(3_000, slot.size - 100, 9_000):
        slot[first : first + 24] += 50 * NOISE_SIGMA * rng.standard_normal(24)
    assert texts(heard(receiver, slot)) == ["CQ Q1ABC FN42"]


def test_a_recording_without_any_noise(receiver):
    slot = np.zeros(15 * RATE_HZ)
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1500.3, start_s=0.5, snr_db=20.0)
    (decode,) = heard(receiver, slot)
    assert decode.text == "CQ Q1ABC FN42"
    assert decode.audio_hz == pytest.approx(1500.3, abs=0.02)


def full_scale(kind):
    n = np.arange(15 * RATE_HZ)
    return {
        "zeros": np.zeros(n.size),
        "constant": np.full(n.size, 0.5),
        "carrier": np.cos(2.0 * np.pi * 1500.0 / RATE_HZ * n),
        "square": np.sign(np.sin(2.0 * np.pi * 333.3 / RATE_HZ * n)),
        "sweep": np.cos(np.pi * n * (400.0 + 2600.0 * n / n.size) / RATE_HZ),
        "one impulse": (n == 90_000) * 1.0,
        "not numbers": np.full(n.size, np.nan),
        "infinite": np.full(n.size, np.inf),
        "noise, clipped": np.clip(np.random.default_rng(11).standard_normal(n.size), -1, 1),
    }[kind]


@pytest.mark.parametrize(
    "kind",
    [
        "zeros",
        "constant",
        "carrier",
        "square",
        "sweep",
        "one impulse",
        "not numbers",
        "infinite",
        "noise, clipped",
    ],
)
def test_nothing_is_decoded_from_anything_else(receiver, kind):
    assert heard(receiver, full_scale(kind)) == ()


@pytest.mark.parametrize("n_samples", [0, 1, 2, 100, 1_919, 1_920, 2_400, 30_000])
@pytest.mark.parametrize("sample_rate_hz", [8_000, 12_000])
def test_very_short_recordings(receiver, n_samples, sample_rate_hz):
    samples = np.random.default_rng(12).standard_normal(n_samples) * 0.1
    assert heard(receiver, samples, sample_rate_hz) == ()


def test_a_few_samples_that_are_not_numbers_do_no_harm(receiver):
    slot = quiet_slot(np.random.default_rng(13))
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1500.0, start_s=0.5, snr_db=-12.0)
    slot[50_000:50_010] = np.nan
    assert texts(heard(receiver, slot)) == ["CQ Q1ABC FN42"]


def test_nothing_is_remembered_between_slots(receiver):
    rng = np.random.default_rng(14)
    slot = quiet_slot(rng)
    add_message(slot, "Q1ABC Q2XYZ RR73", audio_hz=900.0, start_s=0.5, snr_db=-18.0)
    first = heard(receiver, slot)
    assert heard(receiver, quiet_slot(rng)) == ()
    assert heard(receiver, slot) == first


@pytest.mark.derived
@pytest.mark.parametrize("gain", [-1.0, 1e-6, 1e-3, 30.0])
def test_loudness_and_polarity_of_the_recording_do_not_matter(receiver, gain):
    slot = quiet_slot(np.random.default_rng(19))
    add_message(slot, "CQ Q1ABC FN42", audio_hz=1500.0, start_s=0.5, snr_db=-19.0)
    (plain,), (scaled,) = heard(receiver, slot), heard(receiver, gain * slot)
    assert scaled.text == plain.text
    assert scaled.audio_hz == plain.audio_hz
    assert scaled.snr_db == pytest.approx(plain.snr_db, abs=1e-3)


def test_input_is_left_alone(receiver):
    slot = np.asarray(quiet_slot(np.random.default_rng(15)), np.float32)
    kept = slot.copy()
    receiver.receive(Waveform(slot, RATE_HZ))
    np.testing.assert_array_equal(slot, kept)


def test_the_receiver_is_told_audio_only(receiver):
    assert list(inspect.signature(receiver.receive).parameters) == ["waveform"]


def test_only_the_band_asked_for_is_searched():
    narrow = build_receiver(BuiltinSettings(low_hz=500.0, high_hz=1000.0), mode_named("ft8"))
    slot = quiet_slot(np.random.default_rng(16))
    for audio_hz, text in ((700.0, "CQ Q1ABC FN42"), (1700.0, "CQ Q2XYZ JN58")):
        add_message(slot, text, audio_hz=audio_hz, start_s=0.5, snr_db=-10.0)
    assert texts(heard(narrow, slot)) == ["CQ Q1ABC FN42"]


@pytest.mark.parametrize(("low_hz", "high_hz"), [(0.0, 400.0), (5000.0, 5900.0)])
def test_bands_at_the_ends_of_the_spectrum(low_hz, high_hz):
    receiver = build_receiver(BuiltinSettings(low_hz=low_hz, high_hz=high_hz), mode_named("ft8"))
    slot = quiet_slot(np.random.default_rng(17))
    audio_hz = (low_hz + high_hz) / 2
    add_message(slot, "CQ Q1ABC FN42", audio_hz=audio_hz, start_s=0.5, snr_db=-12.0)
    assert texts(heard(receiver, slot)) == ["CQ Q1ABC FN42"]


def test_more_effort_decodes_no_less():
    quick = build_receiver(BuiltinSettings(effort="belief-propagation"), mode_named("ft8"))
    full = build_receiver(BuiltinSettings(effort="ordered-statistics"), mode_named("ft8"))
    n_quick = n_full = 0
    for seed in range(20):
        slot = quiet_slot(np.random.default_rng(100 + seed))
        add_message(slot, "CQ Q1ABC FN42", audio_hz=1500.0, start_s=0.5, snr_db=-21.0)
        found = texts(heard(quick, slot)), texts(heard(full, slot))
        assert set(found[0]) <= set(found[1])
        n_quick += len(found[0])
        n_full += len(found[1])
    assert n_full > n_quick


def test_settings_refuse_an_empty_band():
    with pytest.raises(ValidationError, match="at least 10 Hz above"):
        BuiltinSettings(low_hz=2000.0, high_hz=1000.0)
