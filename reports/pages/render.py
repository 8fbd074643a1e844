"""From templates to pages: everything a user typed is escaped."""

from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined

import reports.pages
from qclog import times
from reports.pages.words import Words

_TEMPLATES = ("page.html", "words.html", "item.html", "drawer.html", "sheet.html")


def rendered(template: str, **values: Any) -> str:
    """A page as text."""
    made = f"Made by qclog on {times.day(times.now())}."
    return _environment().get_template(template).render(css=_read("page.css"), made=made, words=Words(), **values)


@cache
def _environment() -> Environment:
    return Environment(
        loader=DictLoader({name: _read(name) for name in _TEMPLATES}),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _read(name: str) -> str:
    return files(reports.pages).joinpath(name).read_text(encoding="utf-8")
