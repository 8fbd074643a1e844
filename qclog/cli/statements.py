"""The command that issues a statement of conformity."""

import itertools
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import check_name, number_style, say, size, target
from qclog.cli.parameters import By, Code, On

if TYPE_CHECKING:
    from qclog.logbook.engine import Store
    from qclog.logbook.statements import Issued
    from qclog.questions.stating.gathering import Prepared, Wanted
    from qclog.questions.stating.signing import Asked
    from qclog.questions.stating.statement import Signed

_PM_PER_MM = 10**9


def add_to(app: typer.Typer) -> None:
    app.command("statement")(statement)


def statement(
    context: typer.Context,
    code: Code,
    setup: Annotated[str | None, typer.Option(help="In this setup, if it was measured in several.")] = None,
    position: Annotated[str | None, typer.Option(help="At this key position, if at several.")] = None,
    distance: Annotated[str | None, typer.Option(help="At this distance, if at several; a bare number is mm.")] = None,
    diameter: Annotated[str | None, typer.Option(help="On pins of this diameter, if on several.")] = None,
    clocking: Annotated[str | None, typer.Option(help="Clocked so, if it was in several ways.")] = None,
    characteristic: Annotated[str | None, typer.Option(help="Which, if several were read: flushness.")] = None,
    receiver: Annotated[str, typer.Option("--for", metavar="WHOM", help="Who gets it.")] = "",
    to: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The PDF to write; without it, named by number.")
    ] = None,
    draft: Annotated[
        bool, typer.Option("--draft", help="Print it all the same, marked NOT FOR ISSUE; it gets no number.")
    ] = False,
    on: On = None,
    by: By = "",
) -> None:
    """A statement of conformity to hand over, as PDF.

    It is about one item at one place, and has its readings attached. It is numbered and kept in the logbook, and
    refused where what it rests on would not stand. Issued again after something has changed it is the next revision.
    Check one with: qclog verify FILE.pdf
    """
    from qclog.characteristics import meant
    from qclog.questions.stating.gathering import Wanted

    if characteristic is not None:
        characteristic = meant(characteristic)
    store = target(context).open()
    wanted = Wanted(code, setup, position, _tenths(distance), _tenths(diameter), clocking, characteristic)
    if draft:
        _draft(store, wanted, to)
    else:
        _issue(store, wanted, receiver, to, on=on, by=by)


def _draft(store: "Store", wanted: "Wanted", to: Path | None) -> None:
    from qclog.questions.stating.gathering import prepare
    from reports.files import write
    from reports.pages.drawer import file_stem
    from reports.statement.pdf import draft

    if to is not None:
        _path(to, "statement.pdf")
    with store.reading() as connection:
        prepared = prepare(connection, wanted)
    name = f"statement-draft-{file_stem(prepared.statement.item.code)}"
    path = _path(to, f"{name}.pdf")
    if to is None or to.is_dir():  # one named by us takes no other's place, which may be of another place of the item
        numbered = (_path(to, f"{name}-{number}.pdf") for number in itertools.count(2))
        path = next(file for file in itertools.chain([path], numbered) if not file.exists())
    write(path, draft(prepared.statement, prepared.readings, prepared.against, number_style(store)))
    say(f"Written: {path}, marked NOT FOR ISSUE.")


def _issue(store: "Store", wanted: "Wanted", receiver: str, to: Path | None, *, on: str | None, by: str) -> None:
    from qclog import config, texts, times
    from qclog.errors import RefusedError, UsageError
    from qclog.questions.stating.signing import Asked
    from reports.numbers import date

    receiver = texts.name(receiver.strip(), "receiver's name")
    if not receiver:
        raise UsageError("Who gets the statement?", 'Say it: --for "Gauge room, Fellmoor". To look first: --draft')
    now = times.now()
    at = times.taken_at(on) if on else now
    if times.day(at) > times.day(now):
        raise RefusedError(f"It cannot be dated {times.day(at)}: that day is still to come.", "Leave out --on: today.")
    if to is not None:
        _path(to, "statement.pdf")
    asked = Asked(wanted, receiver, by or config.person(), at)
    while (issued := _drawn_and_kept(store, asked, to)) is None:
        pass
    path, signed, before = issued
    said = f"statement no. {signed.number}, revision {signed.revision}"
    if before is not None:
        say(f"Written again: {path}. Nothing has changed since {said}.")
        if on and times.day(at) != times.day(before.issued_at):
            say(f"It keeps its date, {date(before.issued_at)}; --on {on} was not used.")
    else:
        instead = f", in place of revision {signed.replaces}" if signed.replaces else ""
        say(f"Written: {path}, {said}{instead}, for {signed.receiver}.")


def _drawn_and_kept(store: "Store", asked: "Asked", to: Path | None) -> "tuple[Path, Signed, Issued | None] | None":
    """The file written, what it is issued with and, written again, as what it was issued before; None where it would
    be another by the time it was drawn. It is in the logbook before it is in its place: killed in between, it is
    written again when it is asked for again."""
    from qclog.questions.stating.signing import keep, next_revision, ready, signed
    from qclog.questions.stating.statement import digest
    from reports.files import set_aside
    from reports.statement.pdf import pdf

    style = number_style(store)
    with store.reading() as connection:
        made = ready(connection, asked)
    prepared, with_, before = made.prepared, made.signed, made.before
    _refuse(prepared)
    _refuse_date(prepared, asked.issued_at)
    file = pdf(signed(prepared, with_), prepared.readings, style)
    if before is not None and digest(file) != before.file_digest:
        with_ = next_revision(before, issuer=with_.issuer, signed_by=asked.who, issued_at=asked.issued_at)
        file, before = pdf(signed(prepared, with_), prepared.readings, style), None
    path = _path(to, f"statement-{with_.number}-{with_.revision}.pdf")
    with set_aside(path, file) as put_in_place:
        if before is None and not keep(store, asked, made, signed(prepared, with_), file):
            return None
        put_in_place()
    return path, with_, before


def _refuse_date(prepared: "Prepared", at: str) -> None:
    from qclog import times
    from qclog.errors import RefusedError

    last = max((one.taken_at for one in prepared.statement.clampings), key=times.order)
    if times.day(at) < times.day(last):
        raise RefusedError(f"It cannot be dated {times.day(at)}: it rests on what was read on {times.day(last)}.")


def _refuse(prepared: "Prepared") -> None:
    from qclog.errors import RefusedError
    from reports.statement import texts
    from reports.tables import WIDTH

    if prepared.against:
        item = prepared.statement.item.code
        why = "\n".join(
            textwrap.fill(reason, WIDTH, initial_indent="  - ", subsequent_indent="    ")
            for reason in texts.against(prepared.against, prepared.statement)
        )
        raise RefusedError(
            f"No statement can be issued for {item}:\n{why}\n ",
            f"To see it, marked NOT FOR ISSUE: qclog statement {item} --draft",
        )


def _path(to: Path | None, name: str) -> Path:
    """The file to write. Raises RefusedError for one that is no PDF, or whose folder is not there."""
    path = to or Path(name)
    path = path / name if path.is_dir() else path
    check_name(path, (".pdf",))
    return path


def _tenths(text: str | None) -> float | None:
    """A size in mm as places are told apart, to a tenth."""
    picometres = size(text)
    return None if picometres is None else round(picometres / _PM_PER_MM * 10) / 10
