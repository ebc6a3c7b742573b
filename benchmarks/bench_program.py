"""What the border of an outside program costs in each trial: `python benchmarks/bench_program.py`.

The program does nothing, so what is left is ours: writing the sound file, starting and watching,
reading, clearing up.
"""

import statistics
import sys
import time

import numpy as np

from solidcopy.modes.registry import mode_named
from solidcopy.receivers.program.receiver import ProgramReceiver
from solidcopy.receivers.program.settings import ProgramSettings
from solidcopy.signals.waveform import Waveform

N_TRIALS = 200
COMMANDS = {
    "true": ["true"],
    "an empty Python program": ["{python}", "-S", "-E", "-c", "pass"],
}


def settings_of(command: list[str]) -> ProgramSettings:
    return ProgramSettings.model_validate(
        {"name": "nothing", "command": command, "answer": {"kind": "json-lines"}}
    )


def main() -> None:
    generator = np.random.default_rng(1)
    slot = Waveform((0.1 * generator.standard_normal(180_000)).astype(np.float32), 12_000)
    for name, command in COMMANDS.items():
        receiver = ProgramReceiver(settings_of(command), mode_named("ft8"))
        start = time.perf_counter()
        receiver.receive(slot)
        first_ms = 1e3 * (time.perf_counter() - start)
        whole_ms, program_ms = [], []
        for _ in range(N_TRIALS):
            start = time.perf_counter()
            reception = receiver.receive(slot)
            whole_ms.append(1e3 * (time.perf_counter() - start))
            program_ms.append(1e3 * reception.elapsed_s)
        receiver.close()
        quarters = statistics.quantiles(whole_ms, n=4)
        print(
            f"{name}: whole {quarters[1]:.1f} ms a trial (quartiles {quarters[0]:.1f} to "
            f"{quarters[2]:.1f}), of which from start to end of the program "
            f"{statistics.median(program_ms):.1f} ms; first trial {first_ms:.0f} ms",
            file=sys.stdout,
        )


if __name__ == "__main__":
    main()
