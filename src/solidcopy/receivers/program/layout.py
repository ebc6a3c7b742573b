"""The layout of a line, with names in braces where it differs, as a regular expression."""

import re
import string

NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
FIGURES = ("snr_db", "audio_hz", "time_offset_s")
"""What a program may report of a decode besides its text."""
GROUPS = {
    "text": r"(?P<text>\S(?:.*?\S)?)",
    **{name: f"(?P<{name}>{NUMBER})" for name in FIGURES},
    "skip": r"\S+",
}
"""What a name in braces stands for: a message, a number, or a word of no interest."""
FREE_NUMBER = re.compile(rf"(?<![\w.]){NUMBER}(?:(?![\w.])|(?=(?:[kM]?Hz|m?s|dB)\b))")
"""One that is no part of a word, as in "tone=1500.2", "(-12dB)" or "18:30:15"."""


def pattern_of_layout(layout: str) -> str:
    """Regular expression of a line's layout, e.g. 'heard "{text}" on {audio_hz} Hz {skip}'.

    Spaces stand for any number of spaces, {{ and }} for braces; the whole line must fit. Raises
    ValueError, one sentence, if a name is not known or stands there twice.
    """
    listed = ", ".join(f"{{{name}}}" for name in GROUPS)
    pattern, used = "", set[str]()
    try:
        parts = list(string.Formatter().parse(layout.strip()))
    except ValueError:
        raise ValueError(f"a single brace; write {{{{ or }}}}, or one of {listed}") from None
    for literal, name, _, _ in parts:
        pattern += r"\s+".join(re.escape(word) for word in re.split(r"\s+", literal))
        if name is None:
            continue
        if name not in GROUPS:
            raise ValueError(f"{{{name}}} is not known; known are {listed}")
        if name in used:
            raise ValueError(f"{{{name}}} stands there twice")
        used |= {name} - {"skip"}
        pattern += GROUPS[name]
    return rf"^\s*{pattern}\s*$"


def suggested_layout(line: str, *, text: str, audio_hz: float) -> str | None:
    """The layout of a line in which a known message stands; None if it does not.

    A number within 60 Hz of the sent frequency is taken for it; other numbers are skipped, as a
    guess could be wrong.
    """
    before, found, behind = line.partition(text)
    if not found:
        return None
    is_told = False

    def name_of(match: "re.Match[str]") -> str:
        nonlocal is_told
        is_it = not is_told and abs(float(match[0]) - audio_hz) < 60.0
        is_told |= is_it
        return "{audio_hz}" if is_it else "{skip}"

    parts = []
    for part in (before, behind):
        braced = part.replace("{", "{{").replace("}", "}}")
        parts.append(FREE_NUMBER.sub(name_of, braced))
    return "{text}".join(parts).strip()
