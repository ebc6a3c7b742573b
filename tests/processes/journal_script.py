"""Children that write into a journal for ever, one trial a batch: FOLDER N_CHILDREN.

Each is to be killed; the next one goes on after a line on the standard input. Said on the
standard output: "child PID", the trial index after each batch, "ended".
"""

import itertools
import os
import sys
from pathlib import Path

from campaign_samples import plan_with

from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import Finished, JournalReader, JournalWriter
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.trial import SENT, Readings

PLAN = plan_with(stop={"trials_per_point": 1_000_000, "nothing_sent": 0})


def outcome(index: int) -> Outcome:
    readings = Readings(-33.0, (), -20.0, -6.0, 14.0, 0, 0.0)
    return Outcome(Verdict.MISSED, None, (), 0.1, f"{index:064x}", readings)


def write(folder: Path) -> None:
    with JournalWriter(folder, PLAN, this_environment()) as writer:
        with JournalReader(folder) as reader:
            first = reader.n_counted(0, 0, -23.0)
        for index in itertools.count(first):
            key = TrialKey(0, SENT, -23.0, index)
            # Both receivers in one transaction: neither may ever be there alone.
            writer.append([Finished(key, receiver, outcome(index)) for receiver in (0, 1)])
            if index % 10 == 0:
                writer.settle()
            os.write(sys.stdout.fileno(), f"{index}\n".encode())  # whole or not at all


def main(folder: Path, n_children: int) -> None:
    for _ in range(n_children):
        sys.stdin.readline()
        child = os.fork()
        if child == 0:
            write(folder)
        print(f"child {child}", flush=True)
        os.waitpid(child, 0)
        print("ended", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
