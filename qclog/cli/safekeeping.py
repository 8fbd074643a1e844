"""Commands that keep the logbook safe: looked through, backed up, brought back, copied."""

from pathlib import Path
from typing import Annotated

import typer

from qclog.cli.common import number_style, point_to, say, target, tell, tell_json


def add_to(app: typer.Typer) -> None:
    app.command("verify")(verify)
    app.command("backup")(backup)
    app.command("restore")(restore)
    app.command("copy")(copy)
    app.command("rebuild")(rebuild)


def verify(
    context: typer.Context,
    file: Annotated[
        Path | None, typer.Argument(metavar="FILE.pdf", help="A statement: is it as issued, does it still stand?")
    ] = None,
    against: Annotated[
        str | None,
        typer.Option(metavar="BACKUP", help="An earlier backup: is everything it has still there as it was?"),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Look the logbook through for damage.

    It finds changes made behind the program's back too. With a file, look at this statement only. Changes nothing. Exit
    code 6 if something is not as it was.
    """
    from qclog.errors import DamagedError, UsageError
    from qclog.logbook.engine import open_as_it_is
    from qclog.logbook.safekeeping import verifying
    from reports import words_used
    from reports.safekeeping import looked_through

    if file is not None:
        if against is not None:
            raise UsageError("Name a statement, or a backup with --against.", "One at a time.")
        _verify_statement(context, file, as_json=as_json)
        return
    store = target(context).open()
    found = verifying.verify(store, open_as_it_is(against) if against else None)
    if as_json:
        tell_json(verifying.document(found))
    else:
        tell(looked_through(found))
        point_to(words_used.of_verify(found))
    if not found.sound:
        raise typer.Exit(DamagedError.exit_code)


def _verify_statement(context: typer.Context, file: Path, *, as_json: bool) -> None:
    from qclog.errors import DamagedError
    from qclog.questions.stating.checking import answer_document, check
    from reports.statement.attachments import handed
    from reports.statement_check import checked

    store = target(context).open()
    answer = check(store, handed(file))
    if as_json:
        tell_json(answer_document(answer))
    else:
        tell(checked(answer, number_style(store)))
    if answer.findings:
        raise typer.Exit(DamagedError.exit_code)


def backup(
    context: typer.Context,
    file: Annotated[
        Path | None, typer.Argument(help="A new file; without it, beside the logbook with date and time.")
    ] = None,
) -> None:
    """Keep the logbook as it is now in a new file.

    Others may go on writing meanwhile. The file is a SQLite logbook, that of a server too. It is looked through before
    it gets its name.
    """
    from qclog.errors import DamagedError, RefusedError
    from qclog.logbook.safekeeping.backing_up import backup as keep
    from reports.safekeeping import kept, looked_through

    if file is not None and not file.parent.is_dir():
        raise RefusedError(f"There is no folder {file.parent}.", "Is the disk plugged in? Or name another place.")
    path, found = keep(target(context).open(), file)
    say(kept(path, found))
    if not found.sound:
        say(looked_through(found))
        raise typer.Exit(DamagedError.exit_code)


def restore(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="BACKUP", help="A file written by backup.")],
    yes: Annotated[
        bool, typer.Option("--yes", help="Also if the logbook has entries that the backup has not.")
    ] = False,
) -> None:
    """Go back to a backup. What is there is kept in a file beside it first."""
    from qclog.logbook.safekeeping import backing_up
    from reports.safekeeping import restored

    say(restored(backing_up.restore(target(context).text, file, lose=yes)))


def copy(
    source: Annotated[str, typer.Argument(metavar="FROM", help="A logbook: file or URL.")],
    destination: Annotated[str, typer.Argument(metavar="TO", help="A new file, or the URL of an empty database.")],
) -> None:
    """Copy a whole logbook, from a file to a server or back.

    With every entry and every digest as it is; the copy is looked through. All of it or nothing.
    """
    from qclog.logbook.safekeeping import copying
    from reports.safekeeping import copied

    say(copied(copying.copy(source, destination)))


def rebuild(context: typer.Context) -> None:
    """Compute all figures anew from their readings."""
    from qclog.logbook import deriving
    from reports.numbers import count

    with target(context).open().writing() as connection:
        turns = deriving.rebuild(connection)
    say(f"The figures of {count(turns, 'turn')} were computed anew.")
