"""Pictures of the reports as files beside an answer."""

from solidcopy.actions.looks.answer import Shown
from solidcopy.reports.picture import Picture


def shown(pictures: tuple[Picture, ...]) -> tuple[Shown, ...]:
    """What the answer says of them."""
    return tuple(
        Shown(f"{picture.name}.svg", picture.title, picture.description, picture.caption)
        for picture in pictures
    )


def svg_texts(pictures: tuple[Picture, ...]) -> dict[str, str]:
    """Contents of their files by name."""
    return {f"{picture.name}.svg": picture.labelled() for picture in pictures}
