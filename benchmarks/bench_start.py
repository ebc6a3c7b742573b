"""Time cold starts, each in a new process: `python benchmarks/bench_start.py [repeats]`.

A start to the first decode: import, build the built-in FT8 receiver of the usual effort, decode
one clear slot; compiled loops come from the cache on disk, which a first start fills. Beside it,
in turn, a process that only imports numpy, scipy.fft and numba: no receiver built on these can
start quicker. Then the command line's help. Wall time and processor time: other programs lengthen
the first far more, so on a shared machine look at the least.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from laps import Times, machine, print_times
from slots import RATE_HZ, make_slot
from solidcopy.modes.registry import mode_named

DECODE = """
import sys
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.receiver import build_receiver
from solidcopy.receivers.builtin.settings import BuiltinSettings
receiver = build_receiver(BuiltinSettings(), mode_named("ft8"))
WAVEFORM
assert receiver.receive(waveform).decodes
"""
STARTS = {
    "first decode": [
        "-c",
        DECODE.replace(
            "WAVEFORM",
            "import numpy as np; from solidcopy.signals.waveform import Waveform\n"
            f"waveform = Waveform(np.load(sys.argv[1]), {RATE_HZ})",
        ),
    ],
    "imports alone": ["-c", "import numpy, scipy.fft, scipy.ndimage, numba"],
    "solidcopy --help": ["-m", "solidcopy.cli.main", "--help"],
}


def start(arguments: list[str]) -> tuple[float, float]:
    """Milliseconds on the wall and of processor time, from start to end of one process."""
    started_s = time.perf_counter()
    process = subprocess.Popen([sys.executable, *arguments], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - started_s
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        raise RuntimeError(f"the process ended with {process.returncode}")
    return 1e3 * wall_s, 1e3 * (used.ru_utime + used.ru_stime)


def main() -> None:
    n_repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    waveform = make_slot(np.random.default_rng(1), mode_named("ft8"), snr_db=-10.0)
    times: Times = {}
    print(machine())
    with tempfile.TemporaryDirectory() as folder:
        array = Path(folder) / "slot.npy"
        np.save(array, waveform.samples)
        for repeat in range(n_repeats + 1):
            for name, arguments in STARTS.items():
                wall_ms, processor_ms = start([*arguments, str(array)])
                if repeat > 0:  # the first may compile and read from a cold disk
                    times.setdefault(f"{name}, wall", []).append(wall_ms)
                    times.setdefault(f"{name}, processor", []).append(processor_ms)
    print(f"ms from start to end of a process: median, least – most of {n_repeats}")
    print_times(times)
    ratio = min(times["first decode, processor"]) / min(times["imports alone, processor"])
    print(f"  processor time, least first decode / least imports alone: {ratio:.2f}")


if __name__ == "__main__":
    main()
