"""The parts of a noise and their clues, as a terminal prints them."""

import textwrap

from solidcopy.noise.clues.match import Clue
from solidcopy.noise.parts.part import PartsList
from solidcopy.reports.noise_words import CONFIDENCE, cautions_of, headline, part_facts, part_name

WIDTH = 80
MAX_CLUES = 3


def parts_text(
    name: str, whole: PartsList, clues: tuple[tuple[Clue, ...], ...], notes: tuple[str, ...]
) -> str:
    """Headline, table of parts, then clues and doubts of each."""
    lines = [
        f"{name}: {whole.duration_s:.1f} s, passband {whole.passband_hz[0]:.0f} to "
        f"{whole.passband_hz[1]:.0f} Hz",
        *(_wrapped("note: ", note) for note in notes),
        "",
        _wrapped("", headline(whole)),
        "",
    ]
    for place, (part, of_part) in enumerate(zip(whole.parts, clues, strict=True), start=1):
        lines.append(_wrapped(f"{place}. ", part_name(part)))
        lines += [_wrapped("   ", fact) for fact in part_facts(part, whole)]
        shown = of_part[:MAX_CLUES]
        for clue in shown if part.power > 0.0 else ():
            lines.append(_wrapped("   may be: ", clue.likely))
        if part.power > 0.0 and shown:
            lines.append(_wrapped("   to confirm: ", shown[0].confirm[0]))
        lines += [_wrapped("   cannot tell: ", doubt) for doubt in part.cannot_tell]
        lines.append("")
    lines += [_wrapped("cannot tell: ", doubt) for doubt in whole.cannot_tell]
    lines += ["", _wrapped("", CONFIDENCE), ""]
    lines += [_wrapped("caution: ", caution) for caution in cautions_of(clues)]
    lines += ["", "all that would confirm each kind, with pictures: add --out FOLDER"]
    return "\n".join(lines)


def _wrapped(start: str, text: str) -> str:
    hang = " " * min(len(start), 6)
    return textwrap.fill(text, WIDTH, initial_indent=start, subsequent_indent=hang)
