"""The process of a background job: holds its lock, runs one command, writes down how it ended."""

import json
import os
import runpy
import sys
import traceback
from pathlib import Path

from solidcopy.campaigns.journal.lock import WriterLock

PRINTED, ERRORS, END = "printed.txt", "said.txt", "end.json"


def main(folder: Path, words: list[str]) -> int:
    """Run `solidcopy WORDS...` in this process. Returns: its exit code.

    Raises: JournalError if the same job is running already.
    """
    with WriterLock(folder):
        code = _run(words)
        sys.stdout.flush()
        sys.stderr.flush()
        beside = folder / f".{END}"
        beside.write_text(json.dumps({"exit_code": code}), encoding="utf-8")
        os.replace(beside, folder / END)
    return code


def _run(words: list[str]) -> int:
    sys.argv = ["solidcopy", *words]
    try:
        runpy.run_module("solidcopy", run_name="__main__", alter_sys=True)
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    except BaseException:  # a mistake of ours: it is told like any other end
        traceback.print_exc()
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2:]))
