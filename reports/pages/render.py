"""From templates to files: everything a user typed is escaped, and a page is whole or not there at all."""

import os
import tempfile
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined

import reports.pages
from qclog import times
from qclog.errors import RefusedError

_TEMPLATES = ("page.html", "item.html", "drawer.html")


def rendered(template: str, **values: Any) -> str:
    """A page as text."""
    made = f"Made by qclog on {times.day(times.now())}."
    return _environment().get_template(template).render(css=_read("page.css"), made=made, **values)


def write(path: Path, page: str) -> None:
    """Write a page; one that is there already is replaced only by the whole new one. Raises RefusedError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem[:40]}-", suffix=".part")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(page)
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise RefusedError(
            f"{path} cannot be written: {error.strerror or error}.", "Name another place with --to."
        ) from error


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
