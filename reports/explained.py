"""Pages on words as text: those asked for, wrapped, or all words by subject; and the line that points to them."""

import shutil
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any, Final

from reports import explanations
from reports.explanations import Page
from reports.tables import TERMINAL, WIDTH

QUESTION: Final = "explain"
_WIDTH: Final = max(40, min(80, shutil.get_terminal_size((80, 24)).columns - 1))
"""Sentences to be read one after the other stand in short lines."""
_INDENT: Final = "  "
_POINTER: Final = "What this means: qclog explain"

Found = Sequence[tuple[str, Sequence[Page]]]


def explained(found: Found) -> str:
    """Each page once, in the order asked for."""
    asked = dict.fromkeys(page for _, together in found for page in together)
    return "\n\n".join("\n".join(_page(page)) for page in asked)


def all_words() -> str:
    """The title of every page, by subject."""
    lines = []
    for subject in explanations.subjects():
        titles = ", ".join(page.title.replace(" ", "\u00a0") for page in subject.pages)
        lines += [f"{subject.title}:", *_wrapped(titles), ""]
    return "\n".join([*lines, "What one means: qclog explain WORD"])


def document(found: Found) -> dict[str, Any]:
    """The pages as plain values for JSON: the word asked for, the page's title and text."""
    return {
        "question": QUESTION,
        "answers": [
            {"word": word, "title": page.title, "text": page.text} for word, together in found for page in together
        ],
    }


def pointer(codes: Iterable[str]) -> str:
    """Below an answer: how to ask for what its words mean, in one line as it is typed; where that has no room, how to
    ask and below it the words. "" for no words."""
    words = dict.fromkeys(map(_typed, codes))
    if not words:
        return ""
    whole = " ".join((_POINTER, *words))
    if len(whole) <= TERMINAL:
        return whole
    listed = textwrap.wrap(
        ", ".join(words), WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT, break_on_hyphens=False
    )
    return "\n".join([f"{_POINTER} WORD", *listed])


def _typed(code: str) -> str:
    """The title of a code's page, as one argument."""
    title = next((page.title for page in explanations.pages(code)), code)
    return explanations.plain(title).replace(" ", "-")


def _page(page: Page) -> list[str]:
    title, *others = page.words
    heading = f"{title} (also {', '.join(others)})" if others else title
    return [*textwrap.wrap(heading, _WIDTH), *(line for text in page.text.splitlines() for line in _wrapped(text))]


def _wrapped(text: str) -> list[str]:
    lines = textwrap.wrap(text, _WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT, break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines]
