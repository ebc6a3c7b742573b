"""Makes the demo's recording: an electric fence as a club's receiver hears it.

Invented data: no real fence was recorded. The pulse interval (a little over a second) is common
practice of fence energisers; that wet insulators add a train of small discharges behind each
pulse is plausible, no source.
"""

from pathlib import Path

import numpy as np
from scipy import signal

from solidcopy.actions.certificate import Certificate, FenceRecipe, StatedSamples
from solidcopy.signals.audio_file import write_audio
from solidcopy.signals.sample_count import SampleCounter, rounded_to_16_bits

RECIPE = 1
"""Raised whenever the same seed gives other samples."""

SAMPLE_RATE_HZ = 16_000
DURATION_S = 61.7
PULSE_INTERVAL_S = 1.27
PULSE_JITTER_S = 0.004
N_DISCHARGES = 14
DISCHARGES_WITHIN_S = 0.35
PASSBAND_HZ = (250.0, 2_850.0)
BACKGROUND_BELOW_PEAK_DB = 52.0
PEAK = 0.6


def fence_samples(generator: np.random.Generator) -> np.ndarray:
    """Pulses with their discharges and a faint background, through a voice-width passband.

    Returns: (n_samples,) float64 at 16 kHz, peak 0.6 of full scale.
    """
    n_samples = round(DURATION_S * SAMPLE_RATE_HZ)
    clicks = np.zeros(n_samples)
    for start_s in np.arange(0.4, DURATION_S - 0.5, PULSE_INTERVAL_S):
        after_s = np.sort(generator.exponential(DISCHARGES_WITHIN_S / 3, N_DISCHARGES))
        times_s = start_s + generator.normal(0.0, PULSE_JITTER_S) + np.append(0.0, after_s)
        strengths = np.append(1.0, 0.5 * generator.uniform(0.2, 1.0, N_DISCHARGES))
        signs = generator.choice((-1.0, 1.0), N_DISCHARGES + 1)
        places = np.round(times_s * SAMPLE_RATE_HZ).astype(int) % n_samples
        np.add.at(clicks, places, strengths * signs)
    sections = signal.butter(4, PASSBAND_HZ, "bandpass", fs=SAMPLE_RATE_HZ, output="sos")
    fence = signal.sosfilt(sections, clicks)
    fence *= PEAK / np.abs(fence).max()
    background = signal.sosfilt(sections, generator.standard_normal(n_samples))
    background *= PEAK * 10.0 ** (-BACKGROUND_BELOW_PEAK_DB / 20.0) / background.std()
    return np.clip(fence + background, -PEAK, PEAK)


def fence_of_seed(seed: int) -> np.ndarray:
    """(n_samples,) float64, before it is rounded to 16 bits."""
    return fence_samples(np.random.Generator(np.random.PCG64DXSM(seed)))


def write_fence_recording(path: Path, *, seed: int = 11) -> None:
    """Write the recording as a 16-bit WAV file; the same seed gives the same file.

    It carries its recipe, without versions: a plan knows the file by its bytes.
    """
    samples = fence_of_seed(seed)
    counter = SampleCounter("int16")
    counter.add(rounded_to_16_bits(samples))
    certificate = Certificate(
        samples=StatedSamples.of(counter.facts, word="int16", sample_rate_hz=SAMPLE_RATE_HZ),
        recipe=FenceRecipe(recipe=RECIPE, seed=seed),
    )
    write_audio(
        path,
        samples,
        sample_rate_hz=SAMPLE_RATE_HZ,
        subtype="PCM_16",
        comment=certificate.text(),
    )
