"""Long and strange sound files: lengths beyond 4 GB, blocks, channels, one side of I/Q."""

import struct
import tracemalloc

import numpy as np
import pytest
import soundfile

from solidcopy import units
from solidcopy.errors import AudioFileError
from solidcopy.noise.health import measure_health
from solidcopy.noise.reading import Side, mono, open_sound
from solidcopy.signals import power
from solidcopy.signals.sound_file.words import logarithmic
from torture_sounds import noise, tone
from wav_bytes import NO_LENGTH, Format, Wav, chunk, words

RATE_HZ = 48_000


def sparse(path, head: bytes, n_sound: int, last: bytes) -> None:
    """A file whose sound is zeros that take no room on the disk, but for its last samples."""
    with path.open("wb") as stream:
        stream.write(head)
        stream.truncate(len(head) + n_sound)
        stream.seek(len(head) + n_sound - len(last))
        stream.write(last)


def head_of(kind: bytes, stated: int, n_sound: int) -> bytes:
    ds64 = chunk(b"ds64", struct.pack("<QQQI", 0, n_sound, 0, 0)) if kind == b"RF64" else b""
    body = b"WAVE" + ds64 + chunk(b"fmt ", Format(rate_hz=RATE_HZ).packed())
    return struct.pack("<4sI", kind, NO_LENGTH) + body + struct.pack("<4sI", b"data", stated)


N_LARGE = 5_000_000_000
"""Bytes: 14.5 hours of 16 bits at 48 kHz."""


@pytest.mark.derived
@pytest.mark.parametrize(
    ("kind", "stated", "kinds"),
    [
        (b"RF64", NO_LENGTH, []),
        (b"RIFF", N_LARGE % 2**32, ["length-too-small"]),  # a length that went round at 4 GB
        (b"RIFF", NO_LENGTH, ["length-unknown"]),
    ],
)
def test_more_than_4_gb(tmp_path, kind, stated, kinds):
    path = tmp_path / "night.wav"
    last = words(tone(n_samples=RATE_HZ, n_cycles=1_003), 16)
    sparse(path, head_of(kind, stated, N_LARGE), N_LARGE, last)
    with open_sound(path) as sound:
        assert sound.n_samples == N_LARGE // 2
        assert [finding.kind for finding in sound.findings] == kinds
        end = mono(sound, sound.duration_s - 1.0)
        assert end.samples.size == RATE_HZ
        assert units.dbfs_from_power(power.mean_power(end.samples)) == pytest.approx(
            -6.02, abs=0.01
        )
        assert not mono(sound, 3_600.0, 1.0).samples.any()


def test_memory_does_not_grow_with_the_length(tmp_path):
    """Ten times the length: the same peak, within a tenth."""
    peaks = []
    for n_seconds in (60, 600):
        path = tmp_path / f"{n_seconds}.wav"
        sparse(path, head_of(b"RIFF", 16_000 * n_seconds, 0), 16_000 * n_seconds, b"\1\0" * 9_000)
        tracemalloc.start()
        with open_sound(path) as sound:
            measure_health(sound)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.1 * peaks[0] < 60e6


def test_blocks_join_to_the_whole(tmp_path):
    path = tmp_path / "pair.wav"
    pair = np.stack((noise(1), noise(2)), axis=1)
    soundfile.write(path, pair, RATE_HZ, subtype="DOUBLE")
    with open_sound(path, channel="left") as sound:
        for n_block in (7_001, 60_000, 100_000):
            whole = np.concatenate(list(sound.blocks(n_block)), axis=1)
            assert np.array_equal(whole, pair.T)
        assert np.array_equal(sound.read(59_990, 100), pair.T[:, 59_990:])
        piece = mono(sound, 1.0, 0.25)
        assert np.array_equal(piece.samples, pair[RATE_HZ : RATE_HZ + 12_000, 0].astype(np.float32))


def test_joined_pieces_are_read_across_their_seam(tmp_path):
    path = tmp_path / "two.wav"
    samples = np.rint(noise() * 32_768) / 32_768
    second = chunk(b"data", words(samples[41_000:], 16))
    path.write_bytes(Wav(words(samples[:41_000], 16), after=second).content())
    with open_sound(path, join=True) as sound:
        assert np.array_equal(sound.read(0, 60_000)[0], samples)
        assert np.array_equal(sound.read(40_990, 20)[0], samples[40_990:41_010])
        assert np.array_equal(sound.read(50_000, 20)[0], samples[50_000:50_020])


@pytest.mark.authority
@pytest.mark.parametrize(("law", "tag"), [("A-law", 6), ("mu-law", 7)])
def test_every_word_of_the_telephone_laws(tmp_path, law, tag):
    """ITU-T G.711 as libsndfile reads it, all 256 words, exactly."""
    path = tmp_path / "all.wav"
    every = np.arange(256, dtype=np.uint8)
    path.write_bytes(Wav(every.tobytes(), Format(n_bits=8, tag=tag)).content())
    theirs, _ = soundfile.read(path, dtype="float64")
    assert np.array_equal(logarithmic(law).decode(every), theirs)


@pytest.mark.derived
@pytest.mark.parametrize(
    ("side", "frequency_hz", "other_db"), [(Side.UPPER, 3_000.0, -74.0), (Side.LOWER, 900.0, -74.0)]
)
def test_one_side_of_i_and_q(tmp_path, side, frequency_hz, other_db):
    """A tone at +3000 Hz and one at -900 Hz: each alone on its side, the other 80 dB down."""
    path = tmp_path / "iq.wav"
    turn = 2j * np.pi * np.arange(RATE_HZ) / RATE_HZ
    pair = 0.5 * np.exp(3_000.0 * turn) + 0.5 * np.exp(-900.0 * turn)
    soundfile.write(path, np.stack((pair.real, pair.imag), axis=1), RATE_HZ, subtype="FLOAT")
    with open_sound(path, iq=side) as sound:
        samples = mono(sound, 0.25, 0.5).samples
        assert samples.size == RATE_HZ // 2
        spectrum = np.abs(np.fft.rfft(samples)) / (samples.size / 2)
        assert np.argmax(spectrum) == frequency_hz / 2.0
        assert spectrum.max() == pytest.approx(0.5, rel=1e-3)
        other_hz = 3_900.0 - frequency_hz
        assert 20.0 * np.log10(spectrum[int(other_hz / 2.0)] / 0.5) < other_db
        # Two stretches that overlap are equal where they do.
        again = mono(sound, 0.5, 0.25).samples
        assert np.allclose(again, samples[RATE_HZ // 4 :], atol=1e-6)


def test_channels_of_two_antennas_are_not_taken_for_i_and_q(tmp_path):
    """Each signal arrives at the second antenna turned by an angle of its own."""
    rng = np.random.Generator(np.random.PCG64DXSM(8))
    place = np.arange(20 * 12_000) / 12_000
    left, right = 0.02 * rng.standard_normal((2, place.size))
    for frequency_hz in (400.0, 700.0, 1_100.0, 1_500.0, 2_100.0):
        turn_rad = rng.uniform(0.0, 2.0 * np.pi)
        left += 0.1 * np.cos(2.0 * np.pi * frequency_hz * place)
        right += 0.1 * np.cos(2.0 * np.pi * frequency_hz * place + turn_rad)
    path = tmp_path / "pair.wav"
    soundfile.write(path, np.stack((left, right), axis=1), 12_000)
    with open_sound(path) as sound:
        assert sound.question.option == "--channel"
        assert "differ" in sound.relation.sentence
        with pytest.raises(AudioFileError, match="Which channel is the recording"):
            mono(sound)


def test_a_channel_that_is_not_silent_throughout(tmp_path):
    """A burst of 0.1 s in ten minutes lies between the places that are compared."""
    path = tmp_path / "rare.wav"
    right = np.zeros(600 * 8_000)
    right[70_000:70_800] = 0.3
    pair = np.stack((0.1 * np.resize(noise(), right.size), right), axis=1)
    soundfile.write(path, pair, 8_000)
    with open_sound(path) as sound:
        kinds = [finding.kind for finding in measure_health(sound).findings]
        assert "not-silent-throughout" in kinds


@pytest.mark.parametrize(("start_s", "length_s"), [(5.0, 1.0), (-0.1, 1.0), (1.0, 0.0)])
def test_a_stretch_that_is_not_there(tmp_path, start_s, length_s):
    path = tmp_path / "short.wav"
    soundfile.write(path, tone(), 12_000)
    with open_sound(path) as sound, pytest.raises(AudioFileError, match=r"lasts 5\.00 s"):
        mono(sound, start_s, length_s)
