"""How an exception of a receiver is written into an outcome."""

import traceback
from pathlib import Path

MAX_LENGTH = 500


def last_lines_of(error: BaseException) -> str:
    """Where it happened and what was said, in one line: "mine.py:12 in listen: ...".

    Only the file's own name is given, so that the same failure reads the same everywhere.
    """
    said = "".join(traceback.format_exception_only(error)).strip().splitlines()
    text = " ".join(line.strip() for line in said) or type(error).__name__
    frames = traceback.extract_tb(error.__traceback__)
    if frames:
        last = frames[-1]
        text = f"{Path(last.filename).name}:{last.lineno} in {last.name}: {text}"
    return text if len(text) <= MAX_LENGTH else text[: MAX_LENGTH - 1] + "…"
