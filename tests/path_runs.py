"""The test sequence sent through made paths, and what the check says of them."""

import functools
import io

import numpy as np
import soundfile

import made_paths
from solidcopy.actions.path_findings import find_faults
from solidcopy.soundcard.path_measure import Path, measure_path
from solidcopy.soundcard.path_sequence import sequence

SENT_DBFS = -12.0
SNR_DB = 60.0
STARTS_S = 1.3


@functools.cache
def clean():
    """The sequence on one channel at 48 kHz, silence around it."""
    played = sequence().played(SENT_DBFS).mean(axis=1)
    silent = made_paths.with_silence(played, before_s=STARTS_S)
    silent.flags.writeable = False
    return silent


def noisy(samples, seed, snr_db=SNR_DB):
    rng = np.random.default_rng(seed)
    return made_paths.add_noise(samples, rng, power_dbfs=SENT_DBFS, snr_db=snr_db)


def measured(samples, rate_hz=made_paths.RATE_HZ) -> Path:
    path = measure_path(samples, rate_hz)
    assert path is not None, "the sequence was not found"
    return path


def kinds(path, asked_snr_db=0.0):
    return {finding.kind for finding in find_faults(path, asked_snr_db=asked_snr_db)}


def coded(samples, *, container="MP3", subtype="MPEG_LAYER_III", level=0.87):
    """Through a lossy coder and back; libsndfile's level 0.87 of one channel is 64 kbit/s."""
    stored = io.BytesIO()
    constant = {"bitrate_mode": "CONSTANT"} if container == "MP3" else {}
    with soundfile.SoundFile(
        stored,
        "w",
        made_paths.RATE_HZ,
        1,
        subtype,
        format=container,
        compression_level=level,
        **constant,
    ) as out:
        for start in range(0, samples.size, 48_000):  # long writes of Vorbis crash libsndfile
            out.write(samples[start : start + 48_000])
    kbit_s = len(stored.getvalue()) * 8e-3 / (samples.size / made_paths.RATE_HZ)
    stored.seek(0)
    return soundfile.read(stored)[0], kbit_s
