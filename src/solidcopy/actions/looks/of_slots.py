"""Where do known slots lie in a recording?"""

from pathlib import Path

from solidcopy.actions.find_slots import SlotsOf, find_slots_in, start_of_recording
from solidcopy.actions.looks.answer import LookAnswer
from solidcopy.actions.looks.found import Found, without_file
from solidcopy.actions.looks.request import SlotsAsked
from solidcopy.noise.slots.find import SlotHints
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import capital, number, signed


def look_at_slots(asked: SlotsAsked, file: Path) -> Found:
    """As `solidcopy noise slots`."""
    starts = None if asked.start is None else start_of_recording(asked.start)
    hints = SlotHints(asked.reference_hz, starts)
    found = find_slots_in(file, asked.mode, hints, channel=asked.channel)
    return Found(_answer(found), found.as_dict())


def _answer(found: SlotsOf) -> LookAnswer:
    """Where slots lie."""
    said = [line.strip() for line in found.text().split("\n")]
    facts = said[: next((n for n, line in enumerate(said) if line.startswith("heard")), len(said))]
    sheet = Sheet(
        "Transmissions that were heard",
        ("start, s", "frequency, Hz", "SNR, dB", "text"),
        tuple(
            (
                number(item.start_s, 4),
                number(item.audio_hz, 2),
                DASH if item.snr_db is None else signed(item.snr_db, 1),
                item.text,
            )
            for item in found.found.heard
        ),
        "SNR in 2500 Hz as the receiver reports it.",
        n_heads=1,
    )
    return LookAnswer(
        sentence=without_file(facts[0], found.file),
        supports=tuple(f"{capital(line)}." for line in facts[1:]),
        sheets=(sheet,) if found.found.heard else (),
    )
