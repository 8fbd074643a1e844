"""From templates to pages: everything a user typed is escaped."""

import re
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined

import reports.pages
from qclog import times
from reports.pages.words import Words

_BROKEN_AT_HYPHENS = re.compile("[A-Z0-9]-[A-Z0-9]|--[a-z]")
_LONGEST_WHOLE = 24
"""Letters of the longest word that fits every line of a phone."""
_TEMPLATES = ("page.html", "words.html", "item.html", "drawer.html", "sheet.html")


def rendered(template: str, **values: Any) -> str:
    """A page as text."""
    made = f"Made by qclog on {times.day(times.now())}."
    return _environment().get_template(template).render(css=_read("page.css"), made=made, words=Words(), **values)


def stays_whole(word: str) -> bool:
    """Whether a word, as a code, a clocking, a day or an option, is not to be broken at a hyphen."""
    return len(word) <= _LONGEST_WHOLE and _BROKEN_AT_HYPHENS.search(word) is not None


@cache
def _environment() -> Environment:
    found = Environment(
        loader=DictLoader({name: _read(name) for name in _TEMPLATES}),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.tests["whole"] = stays_whole
    return found


def _read(name: str) -> str:
    return files(reports.pages).joinpath(name).read_text(encoding="utf-8")
