"""What is a noise made of, and what may have made it?"""

from pathlib import Path

from solidcopy.actions.looks.answer import Detail, Hint, LookAnswer
from solidcopy.actions.looks.found import Found
from solidcopy.actions.looks.pictures import shown, svg_texts
from solidcopy.actions.looks.request import PartsAsked
from solidcopy.actions.noise_parts import NoiseParts, Stretch, noise_parts
from solidcopy.reports.noise_page import parts_sheet, shown_parts, supports
from solidcopy.reports.noise_words import CONFIDENCE, cautions_of, headline
from solidcopy.reports.picture import Picture


def look_at_parts(asked: PartsAsked, file: Path) -> Found:
    """As `solidcopy noise parts`."""
    found = noise_parts(file, asked.answers(), Stretch(asked.start_s, asked.length_s))
    pictures = found.page().pictures
    return Found(_answer(found, pictures), found.as_dict(), svg_texts(pictures))


def _answer(found: NoiseParts, pictures: tuple[Picture, ...]) -> LookAnswer:
    whole = found.parts
    return LookAnswer(
        sentence=headline(whole),
        supports=(*supports(whole, found.all_notes()), CONFIDENCE),
        sheets=(parts_sheet(whole),),
        pictures=shown(pictures),
        details=tuple(
            Detail(
                part.name,
                part.facts,
                tuple(Hint(clue.likely, clue.confirm, clue.source) for clue in part.clues),
                part.doubts,
            )
            for part in shown_parts(whole, found.clues)
        ),
        limits=whole.cannot_tell,
        cautions=cautions_of(found.clues),
    )
