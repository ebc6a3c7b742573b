"""Appends to a journal for ever, one trial a batch: FOLDER NOTES. After each block that was forced
to disk, NOTES says so: trial index, last frame of the write-ahead log, and its salt.
"""

import itertools
import os
import sys
from pathlib import Path

from journal_script import PLAN, outcome
from power_cut import LogState

from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.trial import SENT

SETTLED_EVERY = 40


def main(folder: Path, notes: Path) -> None:
    with JournalWriter(folder, PLAN, this_environment()) as writer, notes.open("wb") as file:
        for index in itertools.count():
            key = TrialKey(0, SENT, -23.0, index)
            writer.append([Finished(key, receiver, outcome(index)) for receiver in (0, 1)])
            if index % SETTLED_EVERY == 0:
                writer.settle()
                state = LogState.read(folder)
                note = f"{index} {state.last_frame} {state.salt}".ljust(60)
                os.pwrite(file.fileno(), note.encode(), 0)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
