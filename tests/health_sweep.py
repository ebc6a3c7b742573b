"""How often the health report is wrong: false alarms on clean sound, hits on planted faults.

Run as a program it prints the tables:
PYTHONPATH=tests .venv/bin/python tests/health_sweep.py [number of clean recordings] [seed]
"""

import io
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from clean_recordings import Clean, clean
from solidcopy.noise.health import measure_health
from solidcopy.noise.reading import open_sound

Sound = NDArray[np.float64]
NOT_A_FAULT = frozenset({"start-time", "odd-rate"})


def kinds_found(samples: Sound, rate_hz: int, subtype: str, folder: Path) -> set[str]:
    """Kinds of all findings on a file that holds these samples."""
    path = folder / "made.wav"
    if subtype == "PCM_U8":  # the library would cut digits off, which is an offset of half a step
        samples = np.rint(samples * 128.0) / 128.0
    soundfile.write(path, np.clip(samples, -1.0, 1.0), rate_hz, subtype=subtype)
    with open_sound(path) as sound:
        return {finding.kind for finding in measure_health(sound).findings} - NOT_A_FAULT


def clipped(share: float) -> Callable[[Clean, np.random.Generator], Sound]:
    def plant(made: Clean, _: np.random.Generator) -> Sound:
        limit = np.quantile(np.abs(made.samples), 1.0 - share)
        return np.clip(made.samples, -limit, limit)

    return plant


def gap(length_s: float) -> Callable[[Clean, np.random.Generator], Sound]:
    def plant(made: Clean, rng: np.random.Generator) -> Sound:
        n_gap = round(length_s * made.rate_hz)
        start = int(rng.integers(1, made.samples.size - n_gap - 1))
        return np.concatenate(
            (made.samples[:start], np.zeros(n_gap), made.samples[start + n_gap :])
        )

    return plant


def repeated(n_buffer: int) -> Callable[[Clean, np.random.Generator], Sound]:
    def plant(made: Clean, rng: np.random.Generator) -> Sound:
        start = int(rng.integers(n_buffer, made.samples.size - n_buffer))
        twice = made.samples.copy()
        twice[start : start + n_buffer] = made.samples[start - n_buffer : start]
        return twice

    return plant


def offset(inflates_db: float) -> Callable[[Clean, np.random.Generator], Sound]:
    def plant(made: Clean, _: np.random.Generator) -> Sound:
        power = np.mean(np.square(made.samples))
        return made.samples - made.samples.mean() + np.sqrt(power * (10 ** (inflates_db / 10) - 1))

    return plant


def hum(share: float) -> Callable[[Clean, np.random.Generator], Sound]:
    """Three multiples of a mains frequency, this share of the power together."""

    def plant(made: Clean, rng: np.random.Generator) -> Sound:
        place_s = np.arange(made.samples.size) / made.rate_hz
        mains_hz = rng.choice([50.0, 60.0])
        lines = sum(np.sin(2 * np.pi * mains_hz * k * place_s + k) for k in (1, 2, 3))
        power = np.mean(np.square(made.samples))
        return made.samples + lines * np.sqrt(share * power / 1.5)

    return plant


def coded(form: str, subtype: str, level: float) -> Callable[[Clean, np.random.Generator], Sound]:
    """Through a coder of libsndfile; level 0 is its best, 1 its smallest."""

    def plant(made: Clean, _: np.random.Generator) -> Sound:
        memory = io.BytesIO()
        with soundfile.SoundFile(
            memory, "w", made.rate_hz, 1, subtype, format=form, compression_level=level
        ) as file:
            file.write(made.samples)
        memory.seek(0)
        return soundfile.read(memory)[0]

    return plant


FAULTS: dict[tuple[str, str], Callable[[Clean, np.random.Generator], Sound]] = {
    **{("clipped", f"{100 * s:g} % of samples"): clipped(s) for s in (3e-4, 1e-3, 1e-2)},
    **{("gaps", f"{1000 * s:g} ms of zeros"): gap(s) for s in (0.01, 0.025, 0.1)},
    **{("repeated", f"{n} samples"): repeated(n) for n in (256, 512, 1024, 4096)},
    **{("offset", f"{db:g} dB"): offset(db) for db in (0.05, 0.15, 1.0)},
    **{("hum", f"{100 * s:g} % of power"): hum(s) for s in (1e-4, 1e-3, 1e-2, 0.1)},
    **{
        ("once-lossy", f"{name}, {words}"): coded(form, subtype, level)
        for name, form, subtype in (
            ("MP3", "MP3", "MPEG_LAYER_III"),
            ("Vorbis", "OGG", "VORBIS"),
            ("Opus", "OGG", "OPUS"),
        )
        for words, level in (("good", 0.2), ("middle", 0.5), ("small", 0.8))
    },
}


def false_alarms(n_clean: int, seed: int, folder: Path) -> Iterator[tuple[Clean, set[str]]]:
    """What is said of each clean recording."""
    for number in range(n_clean):
        made = clean(number, seed=seed)
        yield made, kinds_found(made.samples, made.rate_hz, made.subtype, folder)


def hits(
    kind: str, size: str, n_made: int, seed: int, folder: Path
) -> tuple[Counter[str], Counter[str]]:
    """Tries and hits of one fault by kind of sound; sizes a coder cannot take are left out."""
    tries: Counter[str] = Counter()
    found: Counter[str] = Counter()
    for number in range(n_made):
        made = clean(number, seed=seed + 1_000_003)
        if size.startswith("Opus") and made.rate_hz != 48_000:
            continue  # others leave no trace, as docs/howto/inspect-a-recording.md says
        rng = np.random.default_rng([seed, number])
        planted = FAULTS[kind, size](made, rng)
        tries[made.kind] += 1
        found[made.kind] += kind in kinds_found(planted, made.rate_hz, made.subtype, folder)
    return tries, found


def table(n_clean: int, seed: int) -> Iterator[str]:
    """Both tables, as Markdown, line by line."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        alarms: Counter[str] = Counter()
        for made, kinds in false_alarms(n_clean, seed, folder):
            alarms.update(kinds)
            if kinds:
                yield f"<!-- {made.kind}, {made.rate_hz} Hz, {made.subtype}: {sorted(kinds)} -->"
        yield f"| said of {n_clean} clean recordings | times |"
        yield "|---|---|"
        yield from (f"| {kind} | {n} |" for kind, n in sorted(alarms.items()))
        yield "| planted | size | found | not found in |"
        yield "|---|---|---|---|"
        for kind, size in FAULTS:
            tries, found = hits(kind, size, n_clean // 4, seed, folder)
            missed = ", ".join(f"{k} {tries[k] - found[k]}" for k in tries if found[k] < tries[k])
            yield f"| {kind} | {size} | {found.total()} of {tries.total()} | {missed} |"


if __name__ == "__main__":
    for line in table(*(int(word) for word in [*sys.argv[1:], "240", "1"][:2])):
        print(line, flush=True)
