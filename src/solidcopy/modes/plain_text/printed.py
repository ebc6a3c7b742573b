"""Which part of what a receiver prints is the message."""


def own_line(printed: str) -> str:
    """The longest line, blanks at its ends left out; noise before and after stands on others."""
    lines = printed.replace("\r", "\n").split("\n")
    return max(lines, key=len).strip()
