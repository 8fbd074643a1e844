"""What the words of answers mean: a short page for every figure, verdict, caveat and other code a person is shown.

The pages are text, a file a subject: its first line is the subject's title; a line ``## word, other word`` opens a page
and names the words it is known by, a blank line parts its paragraphs. A page says what it means at the machine and what
to do, in a paragraph that begins with ``SOURCE`` where it comes from, and in a last one that begins with ``WORTH`` how
good it is; figures stand there only where a test or DEVELOPERS.md has them.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

from qclog.errors import NotFoundError
from qclog.texts import shown

SUBJECTS: Final = (
    "verdicts",
    "figures",
    "characteristics",
    "caveats",
    "wear",
    "findings",
    "chuck",
    "due",
    "statements",
    "clocking",
    "choosing",
    "study",
    "chart",
    "slips",
    "indicators",
    "safekeeping",
)
"""The files, in the order in which they are listed."""
SOURCE, WORTH = "Where from: ", "How good: "
_UNITS: Final = (" um", " deg", " mm")
"""Ends of keys in JSON documents: ``tir_um`` is the TIR."""
_NEAREST: Final = 3
_LONGEST_WORD: Final = 64
_FIRST_UNKNOWN: Final = 3


@dataclass(frozen=True, slots=True)
class Page:
    """One page. ``words``: those it is known by, ``title`` the first of them; ``text``: paragraphs, a line each."""

    subject: str
    title: str
    words: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class Subject:
    name: str
    title: str
    pages: tuple[Page, ...]


@cache
def subjects() -> tuple[Subject, ...]:
    """All pages by subject, in the order of ``SUBJECTS``."""
    return tuple(read(name, (files(__name__) / f"{name}.md").read_text(encoding="utf-8")) for name in SUBJECTS)


def read(name: str, text: str) -> Subject:
    """The subject that a file's text holds."""
    head, *parts = re.split(r"^## ", text, flags=re.MULTILINE)
    found = []
    for part in parts:
        opening, _, body = part.partition("\n")
        words = tuple(word.strip() for word in opening.split(","))
        paragraphs = (" ".join(paragraph.split()) for paragraph in re.split(r"\n\s*\n", body))
        found.append(Page(name, words[0], words, "\n".join(paragraph for paragraph in paragraphs if paragraph)))
    return Subject(name, head.strip().removeprefix("# "), tuple(found))


def plain(word: str) -> str:
    """A word or code as it is compared: without case, with ``_``, ``-`` and blanks alike, without the unit of a key."""
    told = re.sub(r"[\s_-]+", " ", word.casefold()).strip()
    return next((told.removesuffix(unit) for unit in _UNITS if told.endswith(unit)), told)


def pages(word: str, subject: str = "") -> list[Page]:
    """The pages that have this word, of all subjects or of one; none where it is not known."""
    return [page for page in _by_word().get(plain(word), ()) if subject in ("", page.subject)]


def explanation(code: str, subject: str = "") -> str:
    """The text of the page of a code, for a place where it is shown; "" where it has none.

    Of a code that several subjects have, the pages in the order of ``SUBJECTS``; ``subject`` chooses one.
    """
    return "\n".join(page.text for page in pages(code, subject))


def every_page() -> list[tuple[str, list[Page]]]:
    """All pages, each with its title for a word."""
    return [(page.title, [page]) for subject in subjects() for page in subject.pages]


def asked_for(words: Sequence[str]) -> list[tuple[str, list[Page]]]:
    """The pages for words as typed, each with its word. Neighbours that name a page together are one word.

    Raises NotFoundError for words that have no page, with those that come nearest.
    """
    found, unknown = sought(words)
    if unknown:
        raise not_known(unknown)
    return found


def not_known(unknown: Sequence[str]) -> NotFoundError:
    """That words have no page, and which come nearest."""
    return NotFoundError(" ".join(map(_nothing_on, unknown[:_FIRST_UNKNOWN])), "All words: qclog explain")


def sought(words: Sequence[str]) -> tuple[list[tuple[str, list[Page]]], list[str]]:
    """The pages for those of the words that have one, as ``asked_for`` gives them, and the words that have none."""
    found: list[tuple[str, list[Page]]] = []
    unknown: list[str] = []
    rest, longest = list(words), max(word.count(" ") + 1 for word in _by_word())
    while rest:
        ends = (end for end in range(min(len(rest), longest), 0, -1) if pages(" ".join(rest[:end])))
        end = next(ends, 0)
        if end:
            word = " ".join(rest[:end])
            found.append((word, pages(word)))
        else:
            unknown.append(rest[0])
        rest = rest[max(end, 1) :]
    return found, unknown


def nearest(word: str) -> list[str]:
    """The known words that come nearest to one that is not, as they stand in headings; the likeliest first."""
    from difflib import get_close_matches

    told, known = plain(word)[:_LONGEST_WORD], _by_word()
    inside = [other for other in known if len(told) > 2 and re.search(rf"\b{re.escape(told)}", other)]
    close = get_close_matches(told, known, n=_NEAREST)
    return [_as_headed(other) for other in dict.fromkeys([*close, *inside])][:_NEAREST]


def _nothing_on(word: str) -> str:
    near = ", ".join(nearest(word))
    return f"There is no page on {shown(word)!r}{near and f'; nearest: {near}'}."


def _as_headed(told: str) -> str:
    return next(word for page in _by_word()[told] for word in page.words if plain(word) == told)


@cache
def _by_word() -> dict[str, tuple[Page, ...]]:
    found: dict[str, tuple[Page, ...]] = {}
    for page in (page for subject in subjects() for page in subject.pages):
        for word in dict.fromkeys(map(plain, page.words)):
            found[word] = (*found.get(word, ()), page)
    return found
