"""Frames of lossy coders, against the textbook sum and against sound that libsndfile coded."""

import io

import numpy as np
import pytest
import soundfile
from scipy.signal import butter, sosfilt

from clean_recordings import clean
from solidcopy.noise.health.coder_frames import families, lapped_numbers
from solidcopy.noise.health.coder_traces import coder_trace

STEP_16 = 2.0**-15


def stored(samples, rate_hz: int, form: str, subtype: str, **more) -> np.ndarray:
    memory = io.BytesIO()
    with soundfile.SoundFile(memory, "w", rate_hz, 1, subtype, format=form, **more) as file:
        file.write(samples)
    memory.seek(0)
    return soundfile.read(memory)[0]


def trace_of(samples, rate_hz: int, step: float | None = STEP_16):
    return coder_trace(
        lambda start, n: samples[start : start + n],
        samples.size,
        sample_rate_hz=rate_hz,
        step=step,
    )


@pytest.mark.authority  # the lapped cosine transform as its textbook sum (Princen and Bradley)
def test_lapped_transform_is_the_textbook_sum() -> None:
    rng = np.random.default_rng(1)
    hop, n_frames = 32, 3
    window, samples = rng.random(2 * hop), rng.standard_normal(hop * 5)
    at, line = np.arange(2 * hop), np.arange(hop)
    turns = np.cos(np.pi / hop * np.outer(at + 0.5 + hop / 2.0, line + 0.5))
    found = lapped_numbers(samples, window, n_frames)
    for place, frame in ((0, 0), (5, 1), (31, 2)):
        start = place + hop * frame
        plain = np.sqrt(2.0 / hop) * (samples[start : start + 2 * hop] * window) @ turns
        assert found[place, frame] == pytest.approx(plain, abs=1e-5)


@pytest.mark.derived
@pytest.mark.parametrize("frames", families(48_000), ids=lambda f: f"{f.name} {f.hop}")
def test_frames_move_with_the_sound(frames) -> None:
    noise = np.random.default_rng(2).standard_normal(frames.hop * 4 + frames.n_extra)
    numbers, moved = frames.numbers(noise, 2), frames.numbers(noise[7:], 2)
    assert np.allclose(numbers[10:200], moved[3:193], atol=1e-3)
    assert not np.allclose(numbers[10:200], moved[4:194], atol=0.1)


@pytest.mark.authority  # the coders are libsndfile's
@pytest.mark.parametrize(
    ("form", "subtype", "rate_hz", "family"),
    [
        ("MP3", "MPEG_LAYER_III", 12_000, "MP3"),
        ("MP3", "MPEG_LAYER_III", 44_100, "MP3"),
        ("OGG", "VORBIS", 12_000, "Vorbis"),
        ("OGG", "VORBIS", 48_000, "Vorbis"),
        ("OGG", "OPUS", 48_000, "Opus"),
    ],
)
@pytest.mark.parametrize("is_receiver", [True, False])
def test_coded_noise_is_recognised(form, subtype, rate_hz, family, is_receiver) -> None:
    noise = 0.05 * np.random.default_rng(3).standard_normal(4 * rate_hz)
    if is_receiver:
        noise = sosfilt(butter(5, [300, 2700], "bandpass", fs=rate_hz, output="sos"), noise)
    assert trace_of(stored(noise, rate_hz, "WAV", "PCM_16"), rate_hz) is None
    decoded = stored(noise, rate_hz, form, subtype, compression_level=0.5)
    trace = trace_of(stored(decoded, rate_hz, "WAV", "PCM_16"), rate_hz)
    assert trace is not None and trace.family == family
    assert trace.share > 2.0 * trace.usual_share


@pytest.mark.derived
@pytest.mark.parametrize("number", range(15))
def test_clean_sound_of_any_kind_is_not_accused(number: int) -> None:
    made = clean(number, seed=7)
    samples = stored(made.samples, made.rate_hz, "WAV", "PCM_16")
    assert trace_of(samples, made.rate_hz) is None


@pytest.mark.derived
@pytest.mark.parametrize("period", [8, 12, 48, 576 / 7, 1024 / 3])
def test_a_tone_that_fits_the_frames_is_not_accused(period: float) -> None:
    tone = np.rint(8_000 * np.sin(2.0 * np.pi / period * np.arange(100_000))) * STEP_16
    faint = np.rint(3.0 * np.random.default_rng(4).standard_normal(100_000)) * STEP_16
    assert trace_of(tone, 48_000) is None
    assert trace_of(tone + faint, 48_000) is None


@pytest.mark.derived
def test_silence_and_short_sound_say_nothing() -> None:
    assert trace_of(np.zeros(100_000), 48_000) is None
    assert trace_of(np.random.default_rng(5).standard_normal(500), 48_000) is None
