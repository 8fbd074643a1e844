"""What a section of a page is made of."""

from dataclasses import dataclass

from reports.pages.readings import Link
from reports.pictures.canvas import Picture


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture with its title and caption, and what leads to the readings in it."""

    title: str
    picture: Picture
    caption: str
    readings: tuple[Link, ...]

    @property
    def anchor(self) -> str:
        """The name of its caption."""
        return f"about-{self.picture.name.replace(' ', '-')}"


@dataclass(frozen=True, slots=True)
class Section:
    """``words``: codes of what it says that have a page of their own; ``command``: what to type after its lines."""

    title: str
    lines: tuple[str, ...]
    pictures: tuple[Shown, ...] = ()
    notes: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    command: str = ""
