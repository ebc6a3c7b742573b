"""Children that prune a campaign, one for each line on the standard input: FOLDER.

Said on the standard output: "child PID" and, when it has ended, "ended".
"""

import os
import sys
from pathlib import Path

from solidcopy.actions.prune import PruneWishes, prune

for _ in sys.stdin:
    child = os.fork()
    if child == 0:
        prune(Path(sys.argv[1]), PruneWishes(unasked=True))
        os._exit(0)
    print(f"child {child}", flush=True)
    os.waitpid(child, 0)
    print("ended", flush=True)
