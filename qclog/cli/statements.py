"""The command that issues a statement of conformity."""

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import check_name, number_style, say, size, target
from qclog.cli.parameters import By, Code, On

if TYPE_CHECKING:
    from qclog.logbook.engine import Store
    from qclog.questions.statement import Statement
    from qclog.questions.stating import Prepared, Wanted

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
    from qclog.questions.stating import Wanted

    if characteristic is not None:
        characteristic = meant(characteristic)
    store = target(context).open()
    wanted = Wanted(code, setup, position, _tenths(distance), _tenths(diameter), clocking, characteristic)
    if draft:
        _draft(store, wanted, to)
    else:
        _issue(store, wanted, receiver, to, on=on, by=by)


def _draft(store: "Store", wanted: "Wanted", to: Path | None) -> None:
    from qclog.questions.stating import prepare
    from reports.files import write
    from reports.statement.pdf import draft

    path = _path(to, "statement-draft.pdf")
    with store.reading() as connection:
        prepared = prepare(connection, wanted)
    write(path, draft(prepared.statement, prepared.readings, prepared.against, number_style(store)))
    say(f"Written: {path}, marked NOT FOR ISSUE.")


def _issue(store: "Store", wanted: "Wanted", receiver: str, to: Path | None, *, on: str | None, by: str) -> None:
    from qclog import texts, times
    from qclog.errors import RefusedError, UsageError
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.logbook.statements import ToIssue, add_statement
    from qclog.questions.signing import next_revision, sign, signed
    from qclog.questions.statement import digest, document
    from qclog.questions.stating import prepare
    from reports.files import write
    from reports.numbers import date
    from reports.statement.pdf import pdf

    receiver, style = texts.name(receiver.strip(), "receiver's name"), number_style(store)
    if not receiver:
        raise UsageError("Who gets the statement?", 'Say it: --for "Gauge room, Fellmoor". To look first: --draft')
    now = times.now()
    at = times.taken_at(on) if on else now
    if times.day(at) > times.day(now):
        raise RefusedError(f"It cannot be dated {times.day(at)}: that day is still to come.", "Leave out --on: today.")
    if to is not None:
        _path(to, "statement.pdf")
    with new_entry(store, "statement", by) as entry:
        issuer = Register(entry.connection).setting("workshop")
        if not issuer:
            raise UsageError("Whose statement is it?", 'Say it once: qclog settings --workshop "Name, place"')
        prepared = prepare(entry.connection, wanted)
        _refuse(prepared)
        last = max((one.taken_at for one in prepared.statement.clampings), key=times.order)
        if times.day(at) < times.day(last):
            raise RefusedError(f"It cannot be dated {times.day(at)}: it rests on what was read on {times.day(last)}.")
        with_, before = sign(
            entry.connection, prepared, receiver=receiver, issuer=issuer, signed_by=entry.who, issued_at=at
        )
        said = signed(prepared, with_)
        file = pdf(said, prepared.readings, style)
        if before is not None and digest(file) != before.file_digest:
            said = signed(prepared, next_revision(before, issuer=issuer, signed_by=entry.who, issued_at=at))
            file, before = pdf(said, prepared.readings, style), None
        number, revision = said.signed.number, said.signed.revision
        if before is None:
            made = ToIssue(
                number=number,
                revision=revision,
                issued_at=at,
                receiver=said.signed.receiver,
                issuer=issuer,
                verdict=said.result.next_clampings,
                limit_pm=_limit_pm(said),
                digest=digest(document(said)),
                file_digest=digest(file),
            )
            add_statement(entry, prepared.about, prepared.modification_id, made, [one.number for one in said.clampings])
        path = _path(to, f"statement-{number}-{revision}.pdf")
        write(path, file)
    if before is not None:
        say(f"Written again: {path}. Nothing has changed since statement no. {number}, revision {revision}.")
        if on and times.day(at) != times.day(before.issued_at):
            say(f"It keeps its date, {date(before.issued_at)}; --on {on} was not used.")
    else:
        instead = f", in place of revision {said.signed.replaces}" if said.signed.replaces else ""
        say(f"Written: {path}, statement no. {number}, revision {revision}{instead}, for {said.signed.receiver}.")


def _limit_pm(said: "Statement") -> int:
    """The upper limit, else the lower one."""
    limit = said.limit
    lower_um = getattr(limit, "lower_um", None)
    ends = (limit.upper_um, lower_um) if limit is not None else ()
    return round(next((end for end in ends if end is not None), 0.0) * 1e6)


def _refuse(prepared: "Prepared") -> None:
    from qclog.errors import RefusedError
    from reports.assessment import WIDTH
    from reports.statement import texts

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
