"""Count and time crowded slots pass by pass: `python benchmarks/bench_crowd.py [slots] [effort]`.

Each slot holds 30 transmissions at -18 to +10 dB SNR in 2500 Hz, at random frequencies from 250 to
2800 Hz, times within 1 s of the nominal start, random messages, and white noise. The receiver is
run with 1, 2, 3 and 4 passes on the same slots: each line tells what so many passes find together.
Then the price: slots of noise alone and with one strong transmission, with 1 pass and with 4.
All in one run on one core; name the machine when quoting. The thread's own time is taken.
"""

import platform
import sys
import time
from dataclasses import dataclass

import numpy as np

from solidcopy import units
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.receiver import build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.signals.waveform import Waveform

RATE_HZ = 12_000
SIGMA = 0.01
N_SIGNALS = 30
MODE = mode_named("ft8")


@dataclass(frozen=True, slots=True)
class Slot:
    """Audio, and the SNR of every text in it."""

    waveform: Waveform
    snrs_db: dict[str, float]


def make_slot(rng: np.random.Generator, n_signals: int, low_db: float, high_db: float) -> Slot:
    """White noise and random transmissions."""
    audio = SIGMA * rng.standard_normal(15 * RATE_HZ)
    density = SIGMA**2 / (RATE_HZ / 2)
    snrs_db = {}
    for _ in range(n_signals):
        message = MODE.draw_message(rng)
        snr_db, audio_hz = rng.uniform(low_db, high_db), rng.uniform(250.0, 2800.0)
        signal = MODE.modulate(
            MODE.encode(message),
            sample_rate_hz=RATE_HZ,
            audio_hz=audio_hz,
            phase_rad=rng.uniform(0.0, 2.0 * np.pi),
        ).real
        power = units.ratio_from_db(snr_db) * density * units.REFERENCE_BANDWIDTH_HZ
        first = round((0.5 + rng.uniform(-1.0, 1.0)) * RATE_HZ)
        low, high = max(0, -first), min(signal.size, audio.size - first)
        audio[first + low : first + high] += np.sqrt(2.0 * power) * signal[low:high]
        snrs_db[message.text] = snr_db
    # Thirty strong ones together would pass full scale; a receiver does not care for the level.
    return Slot(Waveform((audio / 4.0).astype(np.float32), RATE_HZ), snrs_db)


def measure(slots: list[Slot], settings: BuiltinSettings) -> list[float]:
    """Run a receiver and print one line; milliseconds per slot."""
    receiver = build_receiver(settings, MODE)
    n_right, n_wrong, times_ms, errors_db = [], [], [], []
    for slot in slots:
        started_s = time.thread_time()
        decodes = receiver.receive(slot.waveform).decodes
        times_ms.append(1e3 * (time.thread_time() - started_s))
        right = {d.text: d for d in decodes if d.text in slot.snrs_db}
        n_right.append(len(right))
        n_wrong.append(len(decodes) - len(right))
        errors_db += [d.snr_db - slot.snrs_db[t] for t, d in right.items()]
    print(
        f"  {settings.passes:6d} {np.mean(n_right):8.2f} {min(n_right):6d} {sum(n_wrong):6d}"
        f" {np.median(times_ms):8.1f} ({min(times_ms):.1f} – {max(times_ms):.1f})"
        + (f" {np.mean(errors_db):+8.2f} ± {np.std(errors_db):.2f}" if errors_db else ""),
        flush=True,
    )
    return times_ms


def main() -> None:
    n_slots = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    effort = sys.argv[2] if len(sys.argv) > 2 else "ordered-statistics"
    rng = np.random.default_rng(2026)
    build_receiver(BuiltinSettings(effort=effort), MODE).receive(make_slot(rng, 2, -20, 0).waveform)
    print(f"{platform.processor() or platform.machine()}, Python {platform.python_version()}")
    for name, (n_signals, low_db, high_db), passes in (
        (f"{N_SIGNALS} signals, -18 to +10 dB", (N_SIGNALS, -18.0, 10.0), (1, 2, 3, 4, 6)),
        ("one signal, 0 to +10 dB", (1, 0.0, 10.0), (1, 4)),
        ("noise alone", (0, 0.0, 0.0), (1, 4)),
    ):
        slots = [make_slot(rng, n_signals, low_db, high_db) for _ in range(n_slots)]
        print(f"{name}, {n_slots} slots, {effort}")
        print("  passes    right  least  wrong   ms of processor time   SNR read too high by, dB")
        for n_passes in passes:
            measure(slots, BuiltinSettings(passes=n_passes, effort=effort))


if __name__ == "__main__":
    main()
