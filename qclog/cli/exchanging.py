"""Commands that bring readings in and out of the logbook, and the demonstration."""

from pathlib import Path
from typing import Annotated

import typer

from qclog.cli.common import ask, at_terminal, number_style, say, target, tell, warn_of_look_alikes
from qclog.cli.parameters import By


def add_to(app: typer.Typer) -> None:
    app.command("import")(import_)
    app.command("export")(export)
    app.command("demo")(demo)


def import_(
    context: typer.Context,
    path: Annotated[Path, typer.Argument(help="A CSV file of readings, or a folder written by export.")],
    create: Annotated[
        bool, typer.Option("--create", help="Enter items, setups, positions and pins that are not known yet.")
    ] = False,
    by: By = "",
) -> None:
    """Take in readings from a CSV file.

    All of it or nothing. A folder written by export goes into an empty logbook.
    """
    from qclog.errors import NotFoundError, RefusedError
    from qclog.logbook.exchange import ImportRefusedError, import_folder, import_readings
    from qclog.logbook.lookup import Register
    from qclog.questions.import_doubts import ImportDoubts
    from reports.imports import doubtful, faults, imported

    if not path.exists():
        raise NotFoundError(f"There is no file {path}.", "Check the name.")
    store = target(context).open(create=True)
    try:
        if path.is_dir():
            say(f"{import_folder(store, path)} rows of all tables taken in; nothing was changed on the way.")
        else:
            noticed = ImportDoubts()
            taken = import_readings(store, path, create=create, who=by, look=noticed.look)
            say(imported(taken))
            if noticed.total:
                say(doubtful(noticed, number_style(store)))
            if taken.created:
                with store.reading() as connection:
                    warn_of_look_alikes(Register(connection), *taken.created)
    except ImportRefusedError as error:
        say(faults(error))
        raise RefusedError(error.what, "Mend the file and import it again.") from error


def export(
    context: typer.Context,
    to: Annotated[
        Path,
        typer.Option("--to", metavar="PATH", help="FILE.csv for readings, FILE.xlsx to look at, a new FOLDER for all."),
    ],
    items: Annotated[
        list[str] | None, typer.Argument(metavar="ITEM", help="Only what is known of these items.")
    ] = None,
) -> None:
    """Write readings, or the whole logbook, to other files.

    A name that ends in .csv gets readings in the exchange form, one in .xlsx a workbook of readings, clampings, items
    and verdicts (to look at: it cannot be imported); any other is a new folder, one file a table. A file that is there
    is replaced only by who says so at the terminal.
    """
    from qclog.errors import UsageError
    from qclog.logbook.exchange import export_folder, export_readings

    store = target(context).open(newer=True)
    if store.newer:
        say("A newer qclog wrote this logbook: what this one does not know of it is left out.")
    if to.suffix.casefold() in (".csv", ".xlsx") and to.exists():
        _may_be_replaced(to)
    if to.suffix.casefold() == ".csv":
        say(f"{export_readings(store, to, items=items)} readings written to {to}.")
    elif to.suffix.casefold() == ".xlsx":
        from reports.workbook import exported, write_workbook

        written = write_workbook(store, to, items or ())
        say(exported(written, to))
    elif items:
        raise UsageError("A folder holds the whole logbook.", "Give --to FILE.csv for the readings of some items.")
    else:
        tables = export_folder(store, to)
        say(f"{sum(tables.values())} rows in {len(tables)} tables written to {to}.")


def _may_be_replaced(path: Path) -> None:
    from qclog.errors import RefusedError

    if not (at_terminal() and ask(f"{path} is there already. Replace it?", default=False)):
        raise RefusedError(f"{path} is there already, and stays as it is.", "Name a new file with --to.")


def demo(
    keep: Annotated[
        Path | None, typer.Option("--keep", metavar="FILE", help="Keep the demonstration's logbook in a new file.")
    ] = None,
) -> None:
    """Judge an invented workshop.

    Takes in its readings from exchange files, assesses everything, and says what is flagged and why.
    """
    import tempfile

    from qclog.errors import RefusedError

    if keep is not None:
        if keep.exists():
            raise RefusedError(f"{keep} is there already.", "Name a new file for the demonstration.")
        _demonstrate(keep)
        say(f"Look further: qclog --logbook {keep} item list")
        return
    with tempfile.TemporaryDirectory(prefix="qclog-demo-", ignore_cleanup_errors=True) as folder:
        _demonstrate(Path(folder) / "demo.sqlite")
    say("Keep this logbook to look around in it: qclog demo --keep demo.sqlite")


def _demonstrate(path: Path) -> None:
    from importlib.resources import as_file, files

    import demo_readings
    from qclog.logbook.engine import open_store
    from qclog.logbook.exchange import import_folder, import_readings
    from qclog.questions.assess import assess
    from reports.assessment import assessment
    from reports.imports import imported

    store = open_store(str(path), create=True)
    try:
        with as_file(files(demo_readings)) as folder:
            count = import_folder(store, folder / "workshop")
            say(f"An invented workshop: {count} rows taken in from the folder workshop.")
            for file in sorted(folder.glob("*.csv")):
                say(f"{file.name}: {imported(import_readings(store, file, create=True))}")
        tell(assessment(assess(store), number_style(store)))
    finally:
        store.close()
