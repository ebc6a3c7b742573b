"""How much quieter, or louder, is a second recording?"""

from pathlib import Path

from solidcopy.actions.before_after import CAUTIONS, Compared, CompareRequest, compare_noise
from solidcopy.actions.looks.answer import LookAnswer
from solidcopy.actions.looks.found import Found
from solidcopy.actions.looks.pictures import shown, svg_texts
from solidcopy.actions.looks.request import ChangeAsked
from solidcopy.reports.noise_change_page import levels_sheet, parts_sheet
from solidcopy.reports.noise_change_words import parts_sentence
from solidcopy.reports.picture import Picture


def look_at_change(asked: ChangeAsked, before: Path, after: Path) -> Found:
    """As `solidcopy noise compare`."""
    request = CompareRequest(before, after, asked.band, asked.gain_change_db, asked.channel)
    found = compare_noise(request)
    pictures = (found.page().picture,)
    return Found(_answer(found, pictures), found.as_dict(), svg_texts(pictures))


def _answer(found: Compared, pictures: tuple[Picture, ...]) -> LookAnswer:
    return LookAnswer(
        sentence=found.sentence(),
        supports=(parts_sentence(found.by_part), found.assumption(), *found.notes()),
        sheets=(parts_sheet(found.by_part), levels_sheet(found.found)),
        pictures=shown(pictures),
        cautions=CAUTIONS,
    )
