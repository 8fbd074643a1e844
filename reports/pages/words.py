"""The words of a page that lead to what they mean: a button where a word stands, its explanation once, at the end.

The explanation is a popover of HTML: a click, a tap or a key opens it over the page where the reader is, Escape or a
click beside it closes it, and no script is needed. On paper, and in a browser that knows no popovers, the explanations
stand one after the other at the end.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from reports.explanations import Page, explanation, pages, plain

_SHORT: Final = 24


@dataclass(frozen=True, slots=True)
class Word:
    """A word as it is shown, and the name of its explanation."""

    text: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Meaning:
    """An explanation: the words it was asked for by, and its paragraphs."""

    words: str
    anchor: str
    paragraphs: tuple[str, ...]


class Words:
    """Those asked for while a page is written."""

    def __init__(self) -> None:
        self._asked: dict[str, tuple[Page, list[str]]] = {}

    def ask(self, code: str, subject: str = "") -> Word | None:
        """The word for a code; None where it has no page. Of a code that several subjects have, the first or that of a
        ``subject``."""
        found = pages(code, subject)
        if not found:
            return None
        page = found[0]
        said = next(word for word in page.words if plain(word) == plain(code))
        text = said if len(said) <= _SHORT else page.title
        anchor = "".join(c if c.isalnum() else "-" for c in f"word {page.subject} {plain(page.title)}")
        _, texts = self._asked.setdefault(anchor, (page, []))
        if text not in texts:
            texts.append(text)
        return Word(text, anchor)

    def each(self, codes: Iterable[str]) -> list[Word]:
        """The words for codes, each explanation once, in their order."""
        found: dict[str, Word] = {}
        for code in codes:
            word = self.ask(code)
            if word is not None:
                found.setdefault(word.anchor, word)
        return list(found.values())

    @property
    def asked(self) -> list[Meaning]:
        """What was asked for so far, by its words."""
        found = [
            Meaning(", ".join(texts), anchor, tuple(explanation(page.title, page.subject).splitlines()))
            for anchor, (page, texts) in self._asked.items()
        ]
        return sorted(found, key=lambda meaning: meaning.words.casefold())
