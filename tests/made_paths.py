"""Paths made of known faults, through which the test sequence is sent (no code of the check)."""

import numpy as np
import scipy.fft
import scipy.signal
import soxr

RATE_HZ = 48_000


def with_silence(samples, before_s=1.3, after_s=1.0):
    zeros = [np.zeros(round(s * RATE_HZ)) for s in (before_s, after_s)]
    return np.concatenate((zeros[0], samples, zeros[1]))


def add_noise(samples, rng, *, power_dbfs, snr_db):
    """White noise beneath a sine of `power_dbfs`: SNR in 2500 Hz."""
    power = 0.5 * 10 ** ((power_dbfs - snr_db) / 10) * RATE_HZ / 2 / 2500
    return samples + rng.normal(size=samples.size) * np.sqrt(power)


def other_clock(samples, ppm):
    """What an input hears whose clock is fast by so much. soxr is the authority."""
    return soxr.resample(samples, RATE_HZ, RATE_HZ * (1 + ppm * 1e-6), "VHQ")


def ride_gain(samples, *, target_db, ratio, attack_s, release_s, rate_hz=RATE_HZ):
    """A compressor whose gain in dB follows its aim with time constants, from a fast detector.

    Below the target level (dB of a sine's amplitude) nothing happens; above it the level rises by
    1 dB for `ratio` dB.
    """
    n_step = rate_hz // 4000
    n_fast = scipy.fft.next_fast_len(samples.size)
    envelope = np.abs(scipy.signal.hilbert(samples, n_fast))[: samples.size]
    envelope = scipy.signal.lfilter([1 / 48], [1, -47 / 48], envelope)[::n_step]
    level_db = 20 * np.log10(np.maximum(envelope, 1e-6))
    aims_db = -np.maximum(level_db - target_db, 0.0) * (1 - 1 / ratio)
    keep_down, keep_up = (np.exp(-n_step / rate_hz / t) for t in (attack_s, release_s))
    gains_db = np.empty(aims_db.size)
    gain_db = 0.0
    for n, aim_db in enumerate(aims_db):
        keep = keep_down if aim_db < gain_db else keep_up
        gain_db = aim_db + keep * (gain_db - aim_db)
        gains_db[n] = gain_db
    smooth = np.interp(np.arange(samples.size), np.arange(gains_db.size) * n_step, gains_db)
    return samples * 10 ** (smooth / 20)


def reduce_noise(samples, *, depth_db, learn_s=0.5, frame_s=0.032, rate_hz=RATE_HZ):
    """Spectral subtraction: each bin's noise is a slow mean of its power, and is taken away."""
    n_frame = round(frame_s * rate_hz)
    _, _, spectra = scipy.signal.stft(samples, rate_hz, nperseg=n_frame)
    powers = np.abs(spectra) ** 2
    noise = np.full(powers.shape[0], 1e-12)
    floor = 10 ** (-depth_db / 20)
    rise = 1 - np.exp(-frame_s / 2 / learn_s)
    shown = np.empty_like(powers)
    smooth = powers[:, 0]
    for n in range(powers.shape[1]):
        smooth = 0.7 * smooth + 0.3 * powers[:, n]
        quieter = smooth < noise
        noise = np.where(
            quieter, smooth, noise + rise * (np.minimum(smooth, 8 * noise + 1e-9) - noise)
        )
        gain = np.sqrt(np.maximum(1 - 2 * noise / np.maximum(smooth, 1e-15), floor**2))
        shown[:, n] = gain
    _, out = scipy.signal.istft(spectra * shown, rate_hz, nperseg=n_frame)
    return np.pad(out, (0, max(0, samples.size - out.size)))[: samples.size]


def band_limit(samples, low_hz, high_hz, order=4):
    sos = scipy.signal.butter(order, (low_hz, high_hz), "bandpass", fs=RATE_HZ, output="sos")
    return scipy.signal.sosfilt(sos, samples)


def room(samples, rng, *, direct_to_echo_db=0.0, decay_s=0.3):
    """Direct sound and a decaying tail of Gaussian reflections (60 dB in decay_s)."""
    n = round(decay_s * RATE_HZ)
    tail = rng.normal(size=n) * 10 ** (-3 * np.arange(n) / n)
    tail[: round(0.002 * RATE_HZ)] = 0.0
    tail *= 10 ** (-direct_to_echo_db / 20) / np.sqrt(np.square(tail).sum())
    tail[0] = 1.0
    return scipy.signal.oaconvolve(samples, tail)


def lose(samples, at_s, length_s):
    start = round(at_s * RATE_HZ)
    return np.delete(samples, slice(start, start + round(length_s * RATE_HZ)))


def repeat(samples, at_s, length_s):
    start, n = round(at_s * RATE_HZ), round(length_s * RATE_HZ)
    return np.concatenate((samples[:start], samples[start - n : start], samples[start:]))


def blank(samples, at_s, length_s):
    out = samples.copy()
    start = round(at_s * RATE_HZ)
    out[start : start + round(length_s * RATE_HZ)] = 0.0
    return out


def hum(samples, rng, *, power_dbfs, mains_hz=50.0):
    """Three odd harmonics, 6 dB apart, together of a power."""
    amplitudes = np.array([1.0, 0.5, 0.25])
    amplitudes *= np.sqrt(10 ** (power_dbfs / 10) / np.square(amplitudes).sum())
    times = np.arange(samples.size) / RATE_HZ
    for number, amplitude in zip((1, 3, 5), amplitudes, strict=True):
        phase = rng.uniform(0, 2 * np.pi)
        samples = samples + amplitude * np.cos(2 * np.pi * number * mains_hz * times + phase)
    return samples


def words(samples, n_bits):
    steps = 2.0 ** (n_bits - 1)
    return np.clip(np.rint(samples * steps), -steps, steps - 1) / steps
