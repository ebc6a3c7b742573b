"""Subtraction: a known transmission goes, everything else stays.

What a perfect subtraction leaves of a clean signal is nothing; that and the audio it must not touch
are what the numbers follow from. The limits are those of use: 30 dB less of the strongest signal
of a crowd (+10 dB, Es/N0 36 dB) puts it near the noise.
"""

import numpy as np
import pytest

from solidcopy import units
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.front_end import long_spectrum
from solidcopy.receivers.builtin.subtract import Transmission, portion_of, take_out

RATE_HZ = 12_000


def keyed(mode, rng, audio_hz):
    """Tones and analytic samples of a random message."""
    tones = mode.encode(mode.draw_message(rng))
    return tones, mode.modulate(tones, sample_rate_hz=RATE_HZ, audio_hz=audio_hz)


def spectrum_of(mode, signal, start_s):
    """Long spectrum of a slot that holds the signal and nothing else."""
    slot = np.zeros(round(mode.facts.slot_s * RATE_HZ))
    first = round(start_s * RATE_HZ)
    low, high = max(0, -first), min(signal.size, slot.size - first)
    slot[first + low : first + high] = 0.1 * signal.real[low:high]
    return long_spectrum(slot.astype(np.float32), mode.facts)


def left_db(before, after):
    return units.db_from_ratio(
        float(np.sum(np.abs(after.bins) ** 2) / np.sum(np.abs(before.bins) ** 2))
    )


def drifting(signal, drift_hz):
    """The signal with its frequency moved evenly from -drift/2 to +drift/2."""
    share = np.arange(signal.size) / signal.size
    cycles = 0.5 * drift_hz * signal.size / RATE_HZ * (share**2 - share)
    return signal * np.exp(2j * np.pi * cycles)


def fading(rng, n_samples, spread_hz):
    """Complex gain with a Gaussian Doppler spectrum, `spread_hz` from -1 to +1 deviation."""
    frequencies_hz = np.fft.fftfreq(n_samples, 1.0 / RATE_HZ)
    shape = np.exp(-0.25 * (frequencies_hz / (0.5 * spread_hz)) ** 2)
    white = rng.standard_normal((n_samples, 2)) @ np.array([1.0, 1.0j])
    gain = np.fft.ifft(np.fft.fft(white) * shape)
    return gain / np.sqrt(np.mean(np.abs(gain) ** 2))


@pytest.mark.derived
@pytest.mark.parametrize("name", ["ft8", "ft4"])
@pytest.mark.parametrize("start_s", [0.1, 0.50003, 0.987])
@pytest.mark.parametrize("audio_hz", [200.0, 1234.567, 2899.9])
def test_a_clean_signal_is_gone(name, start_s, audio_hz):
    mode = mode_named(name)
    rng = np.random.default_rng(1)
    tones, signal = keyed(mode, rng, audio_hz)
    before = spectrum_of(mode, signal, start_s)
    # As wrong as the receiver's estimates ever are: 0.3 Hz, 2 ms.
    guess = Transmission(tones, audio_hz + 0.3, start_s - 0.002)
    after, (portion,) = take_out(before, [], [guess], mode)
    assert left_db(before, after) < -60.0
    assert portion.transmission.audio_hz == pytest.approx(audio_hz, abs=0.01)
    assert portion.transmission.start_s == pytest.approx(start_s, abs=1e-4)


@pytest.mark.derived
@pytest.mark.parametrize("drift_hz", [-2.0, -1.0, 0.5, 1.0, 2.0])
def test_even_drift_is_followed(drift_hz):
    mode = mode_named("ft8")
    tones, signal = keyed(mode, np.random.default_rng(2), 900.0)
    before = spectrum_of(mode, drifting(signal, drift_hz), 0.5)
    after, _ = take_out(before, [], [Transmission(tones, 900.1, 0.501)], mode)
    assert left_db(before, after) < -60.0


@pytest.mark.derived
@pytest.mark.parametrize("start_s", [-1.5, -0.4, 2.6])
def test_a_cut_signal_leaves_only_its_click(start_s):
    mode = mode_named("ft8")
    tones, signal = keyed(mode, np.random.default_rng(3), 1500.3)
    before = spectrum_of(mode, signal, start_s)
    after, _ = take_out(before, [], [Transmission(tones, 1500.2, start_s)], mode)
    assert left_db(before, after) < -30.0


@pytest.mark.derived
@pytest.mark.parametrize("spread_hz", [0.1, 0.5, 1.0])
def test_fading_is_followed(spread_hz):
    mode = mode_named("ft8")
    rng = np.random.default_rng(4)
    tones, signal = keyed(mode, rng, 700.0)
    before = spectrum_of(mode, signal * fading(rng, signal.size, spread_hz), 0.5)
    after, _ = take_out(before, [], [Transmission(tones, 700.0, 0.5)], mode)
    # Measured: -40 to -33 dB (12 signals for each spread).
    assert left_db(before, after) < -28.0


@pytest.mark.derived
@pytest.mark.parametrize("apart_hz", [0.0, 20.0, 60.0])
def test_a_second_signal_keeps_its_power(apart_hz):
    mode = mode_named("ft8")
    rng = np.random.default_rng(5)
    tones, strong = keyed(mode, rng, 1000.0)
    _, weak = keyed(mode, rng, 1000.0 + apart_hz)
    alone = spectrum_of(mode, 0.1 * weak, 0.7)
    both = spectrum_of(mode, np.pad(strong, (0, 2400)) + 0.1 * np.pad(weak, (2400, 0)), 0.5)
    after, _ = take_out(both, [], [Transmission(tones, 1000.0, 0.5)], mode)
    wrong = np.sum(np.abs(after.bins - alone.bins) ** 2) / np.sum(np.abs(alone.bins) ** 2)
    # The average passes about 1 Hz of the 50 Hz over which the second signal lies.
    assert wrong < 0.1


@pytest.mark.derived
def test_measuring_twice_parts_two_strong_signals():
    mode = mode_named("ft8")
    rng = np.random.default_rng(6)
    one, first = keyed(mode, rng, 1000.0)
    two, second = keyed(mode, rng, 1008.0)
    before = spectrum_of(mode, first + second, 0.5)
    sent = [Transmission(one, 1000.0, 0.5), Transmission(two, 1008.0, 0.5)]
    after, portions = take_out(before, [], sent, mode)
    assert left_db(before, after) < -25.0
    # Taken out one after the other only, the first keeps what the second lent it.
    single = take_out(before, [], sent[:1], mode)[0]
    part = portion_of(single, sent[1], mode)
    single.bins[part.first_bin : part.first_bin + part.bins.size] -= part.bins
    assert left_db(before, after) < left_db(before, single) - 3.0
    assert len(portions) == 2


@pytest.mark.derived
def test_the_given_spectrum_is_not_changed():
    mode = mode_named("ft8")
    tones, signal = keyed(mode, np.random.default_rng(7), 1000.0)
    before = spectrum_of(mode, signal, 0.5)
    kept = before.bins.copy()
    take_out(before, [], [Transmission(tones, 1000.0, 0.5)], mode)
    np.testing.assert_array_equal(before.bins, kept)
    empty, portions = take_out(before, [], [], mode)
    np.testing.assert_array_equal(empty.bins, kept)
    assert portions == []
