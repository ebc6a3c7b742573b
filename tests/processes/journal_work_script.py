"""Children that do long work on a journal, one for each line "prune FOLDER" or "bring-up FOLDER" on
the standard input. Said on the standard output: "child PID" and, when it has ended, "ended".
"""

import os
import sys
from pathlib import Path

from solidcopy.actions.prune import PruneWishes, prune
from solidcopy.campaigns.journal.schema import JOURNAL_FILE, close_writing, open_for_writing


def bring_up(folder: Path) -> None:
    close_writing(open_for_writing(folder / JOURNAL_FILE))


WORK = {
    "prune": lambda folder: prune(folder, PruneWishes(unasked=True)),
    "bring-up": bring_up,
}

for line in sys.stdin:
    child = os.fork()
    if child == 0:
        work, _, name = line.strip().partition(" ")
        WORK[work](Path(name))
        os._exit(0)
    print(f"child {child}", flush=True)
    os.waitpid(child, 0)
    print("ended", flush=True)
