"""A finished figure with its words."""

from dataclasses import dataclass

from solidcopy.reports import ink


@dataclass(frozen=True, slots=True)
class Picture:
    """One figure as SVG text with its words."""

    name: str
    """File name without its ending; also the start of every id inside."""
    title: str
    description: str
    """What a reader who cannot see the figure needs to know."""
    caption: str
    """What a reader who sees it needs besides."""
    svg: str

    def labelled(self) -> str:
        """The SVG with title and description inside."""
        return ink.with_title(
            self.svg, name=self.name, title=self.title, description=self.description
        )
