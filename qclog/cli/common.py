"""What the commands share: which logbook, how to print, how to ask, how a size or distance is typed."""

import contextlib
import json
import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from qclog import config, texts
from qclog.addresses import without_passwords
from qclog.cli.negatives import as_typed

if TYPE_CHECKING:
    from instruments.recordings import Recorder
    from qclog.logbook.engine import Store
    from qclog.logbook.lookup import Register
    from qclog.records import Limit
    from reports.numbers import NumberStyle


LONGEST_SECONDS = 1e6
"""Eleven days."""


class Target:
    """The logbook a command works on."""

    def __init__(self, given: str | None) -> None:
        self.text = config.logbook_target(given)

    def open(self, *, create: bool = False, newer: bool = False) -> "Store":
        """``newer``: one of a newer program too, to read what this one knows of it. Says if an older one was moved."""
        from qclog.logbook.engine import open_store

        store = open_store(self.text, create=create, newer=newer)
        if store.moved:
            from reports.safekeeping import moved

            say(moved(store.moved))
        return store


def target(context: typer.Context) -> Target:
    found = context.obj
    assert isinstance(found, Target)
    return found


def tell(text: str) -> None:
    """Data: what was asked for, to the standard output."""
    typer.echo(texts.harmless(text))


def point_to(words: Iterable[str]) -> None:
    """Below an answer: how to ask for what its words mean."""
    from reports.explained import pointer

    if told := pointer(words):
        tell(f"\n{told}")


def say(text: str) -> None:
    """Talk: what the program did or wants, to the error output."""
    told = texts.harmless(without_passwords(text))
    if sys.stderr.isatty():
        told = "\n".join(_within(line, shutil.get_terminal_size().columns) for line in told.split("\n"))
    typer.echo(told, err=True)


def _within(line: str, columns: int) -> str:
    """A line broken between words, as a terminal would not; a command to copy, path or code stays whole."""
    if len(line) <= columns or line.startswith("  "):
        return line
    return textwrap.fill(line, columns, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)


def tell_json(document: dict[str, Any]) -> None:
    tell(json.dumps(document, ensure_ascii=False, indent=2))


def at_terminal() -> bool:
    """Whether somebody sits there to be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def ask(question: str, *, default: bool) -> bool:
    return typer.confirm(texts.harmless(question), default=default, err=True)


def size(text: str | None) -> int | None:
    """A size or distance in picometres; a bare number is in millimetres."""
    from qclog.lengths import parse_length

    return None if text is None else parse_length(text, bare="mm").picometres


def bare_unit(register: "Register") -> Any:
    """The logbook's unit of bare numbers."""
    return register.setting("unit", "um")


def seconds_typed(seconds: float | None) -> float | None:
    """For options that take a time, if it is given: raises BadParameter where it is none above zero."""
    if seconds is not None and not 0 < seconds <= LONGEST_SECONDS:
        raise typer.BadParameter("Type seconds above 0, as 20.")
    return seconds


def error_size(text: str | None, register: "Register") -> int | None:
    """A small length (division, error, roundness) in picometres; a bare number has the logbook's unit."""
    from qclog.lengths import parse_length

    return None if text is None else parse_length(text, bare=bare_unit(register)).picometres


def angle(text: str | None) -> int | None:
    """An angle in thousandths of a degree."""
    from qclog.notation import parse_angle

    return None if text is None else parse_angle(text)[0]


def number_style(store: "Store") -> "NumberStyle":
    """How the logbook wants its numbers printed."""
    from qclog.logbook.lookup import Register
    from reports.numbers import NumberStyle

    with store.reading() as connection:
        return NumberStyle(inch=Register(connection).setting("inch", "no") == "yes")


def check_name(path: Path, endings: Sequence[str]) -> None:
    """Raise RefusedError for a file to write that has none of these endings, or whose folder is not there."""
    from qclog.errors import RefusedError

    if path.suffix.casefold() not in endings:
        known = " or ".join(", ".join(endings).rsplit(", ", 1))
        raise RefusedError(f"{path} cannot be written: it has to end in {known}.", "Name it so with --to.")
    if not path.parent.is_dir():
        raise RefusedError(
            f"{path} cannot be written: there is no folder {path.parent}.", "Make it, or name another place with --to."
        )


@contextlib.contextmanager
def recorder(path: Path | None) -> "Iterator[Recorder | None]":
    """What keeps a recording, where one is wanted. Raises RefusedError where it cannot be written."""
    from instruments.errors import RecordingError
    from instruments.opening import RECORDING
    from instruments.recordings import Recorder
    from qclog.errors import RefusedError

    if path is None:
        yield None
        return
    if path.suffix != RECORDING:
        raise RefusedError(
            f"{path} is no name for a recording.", f"End it with {RECORDING}, so that it can be replayed."
        )
    try:
        made = Recorder(path)
    except RecordingError as error:
        raise RefusedError(error.what, "Name a new file with --record.") from error
    with made:
        yield made


def warn_of_look_alikes(register: "Register", *codes: str) -> None:
    """Say which codes new ones will be mistaken for on a label."""
    from qclog.logbook.naming import look_alikes

    for code, other in look_alikes(register, codes):
        say(
            f"Take care: on a label {code.text} is easily read as {other.text}, which is a code already ({other.kind})."
        )


def listed(text: str) -> list[str]:
    """The parts of a text separated by commas."""
    return [part.strip() for part in text.split(",") if part.strip()]


def limits_of(register: "Register", texts: list[str] | None, characteristic: str = "runout") -> list["Limit"]:
    """Limits as typed: "8um@16mm", a bare number in the logbook's unit; "depth 12.00..12.05mm", sizes in mm.

    A gap wider than compounds want is asked about. ``characteristic``: what those are of that do not say it. Limits of
    what is kept together need their unit.
    """
    from qclog.characteristics import known, meant, split_name, unit_of
    from qclog.errors import LengthError
    from qclog.lengths import quoted
    from qclog.notation import parse_limit
    from qclog.records import EVERY_DISTANCE, SWINGS, Limit
    from qclog.value_notation import parse_limits
    from reports.wording.cautions import wide_gap

    found = []
    for text in texts or ():
        if "//" in text:  # a URL, which may hold a password: it is not taken apart
            raise LengthError(f"{quoted(as_typed(text))} is not a limit.", 'Type it as "8um@16mm".')
        said, rest = split_name(as_typed(text))
        name = said or meant(characteristic)
        if name in SWINGS:
            upper, out = parse_limit(rest, bare=bare_unit(register))
            found.append(Limit(upper.picometres, out.picometres if out else EVERY_DISTANCE, name, text=rest))
            continue
        bare = None if known(name).joined else unit_of(name, None, bare_unit(register))
        low, high, distance = parse_limits(rest, name, bare=bare)
        found.append(Limit(high, EVERY_DISTANCE if distance is None else distance, name, lower_pm=low, text=rest))
    if told := wide_gap(found):
        say(told)
    return found
