"""Recordings of known mixtures and their twins, both heard by a receiver."""

from pathlib import Path
from typing import Any

import soundfile

from noise_mixtures import mixed
from solidcopy.actions.noise_twin import (
    TwinRequest,
    read_over_floor_db,
    run_twin,
    twin_folder,
    write_twin,
)
from solidcopy.actions.twin_answer import TwinAnswer, read_twin

N_TRIALS = 400
"""Most trials of one curve of the sweep."""
DURATION_S = 300.0
SEED = 5

MIXTURES: dict[str, list[dict[str, Any]]] = {
    "Gaussian": [],
    "line comb": [
        {
            "kind": "line-comb",
            "audio_hz": 337.0,
            "spacing_hz": 120.3,
            "n_lines": 18,
            "slope_db_per_line": -0.3,
            "interference_to_noise_db": 12.0,
        }
    ],
    "fence": [
        {
            "kind": "impulses",
            "rate_per_s": 0.8,
            "timing": "jittered",
            "jitter_ms": 6.0,
            "pulse": {"kind": "burst", "length_ms": 30.0},
            "interference_to_noise_db": 15.0,
        }
    ],
    "hump": [
        {
            "kind": "switch-mode-hump",
            "audio_hz": 1400.0,
            "width_hz": 500.0,
            "interference_to_noise_db": 6.0,
        }
    ],
    "dimmer": [
        {
            "kind": "mains-hum",
            "sound": "buzz",
            "harmonics": "even",
            "fall_db_per_octave": 3.0,
            "lowest_hz": 200.0,
            "highest_hz": 2800.0,
            "interference_to_noise_db": 12.0,
        }
    ],
}
"""The five kinds that real and twin are compared for; made, not recorded."""

AUDIO_HZ = {"hump": 1375.0}
"""Sent all over the band, half of the signals meet no hump: the 50 % point lies on a shoulder,
where the smallest difference moves it by decibels. So the signal is put into the hump's middle."""


def write_mixture(path: Path, name: str, *, duration_s: float = DURATION_S) -> Path:
    """A recording of one kind as a sound file."""
    waveform = mixed(MIXTURES[name], seed=SEED, duration_s=duration_s).waveform
    soundfile.write(path, waveform.samples, waveform.sample_rate_hz, subtype="FLOAT")
    return path


def compare_one(
    folder: Path, name: str, *, n_trials: int = N_TRIALS, n_workers: int | None = None
) -> TwinAnswer:
    """Fit, run the receiver on both, and read the difference."""
    recording = write_mixture(folder / "noise.wav", name)
    request = TwinRequest(
        recording,
        folder / "twin.toml",
        n_trials=n_trials,
        n_workers=n_workers,
        audio_hz=AUDIO_HZ.get(name),
    )
    write_twin(request)
    for _ in run_twin(request):
        pass
    return read_twin(twin_folder(request), read_over_floor_db(request.plan_file))
