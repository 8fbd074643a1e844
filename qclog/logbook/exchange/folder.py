"""A whole logbook as a folder: one CSV file a table of facts, verbatim, strike-outs included.

An empty cell of a column that may be empty is "none". What is derived is not written: it is derived anew.
"""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from qclog import texts
from qclog.addresses import shown
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.deriving import rebuild
from qclog.logbook.engine import Store
from qclog.logbook.exchange.export import replacing
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.spreadsheets import guarded, unguarded
from qclog.logbook.safekeeping.digests import seal_all
from qclog.logbook.safekeeping.rows import go_on_numbering
from qclog.logbook.safekeeping.verifying import altered

_TABLES: Final = (schema.schema_revision, *schema.FACTS)
_ROWS_AT_ONCE: Final = 2_000
_GREATEST: Final = 2**63 - 1


def export_folder(store: Store, folder: Path) -> dict[str, int]:
    """Write every table of facts to ``folder`` and return the number of rows of each.

    Raises RefusedError for a folder that holds something, or that cannot be written.
    """
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise RefusedError(f"{folder} is not an empty folder.", "Name a new one.")
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RefusedError(f"{folder} cannot be made: {error.strerror}.", "Name another place.") from error
    with store.reading() as connection:
        return {table.name: _write_table(connection, table, folder) for table in _TABLES}


def _write_table(connection: sa.Connection, table: sa.Table, folder: Path) -> int:
    count = 0
    query = sa.select(table).order_by(*table.primary_key.columns)
    with replacing(folder / f"{table.name}.csv") as file:
        writer = csv.writer(file)
        writer.writerow([column.name for column in table.columns])
        for row in connection.execute(query, execution_options={"yield_per": _ROWS_AT_ONCE}):
            writer.writerow(map(_written, row))
            count += 1
    return count


def _written(cell: int | float | str | None) -> int | str:
    match cell:
        case None:
            return ""
        case float():
            return repr(cell)
        case str():
            return guarded(cell)
        case _:
            return cell


def import_folder(store: Store, folder: Path) -> int:
    """Fill an empty logbook from a folder that ``export_folder`` wrote; returns the number of facts.

    All or nothing. Raises NotFoundError where there is no such folder; RefusedError for a logbook that is not
    empty, and for a folder whose entries are not as they were sealed; ImportRefusedError with the faults by file,
    line and column.
    """
    if not folder.is_dir():
        raise NotFoundError(f"There is no folder {folder}.", "Name one that was exported.")
    faults = Faults(str(folder))
    missing = _check_files(folder, faults)
    faults.refuse_if_any()
    with store.writing() as connection:
        if connection.scalar(sa.select(sa.func.count()).select_from(schema.entry)):
            raise RefusedError(
                f"The logbook {shown(store.target)} is not empty.", "Import the folder into a new logbook."
            )
        tables = [table for table in schema.FACTS if table.name not in missing]
        count = sum(_read_table(connection, table, folder, faults) for table in tables)
        faults.refuse_if_any()
        _check_digests(connection, folder, sealed=schema.entry_digest in tables)
        go_on_numbering(connection)
        rebuild(connection)
    return count


def _check_files(folder: Path, faults: Faults) -> frozenset[str]:
    """Returns the tables that the folder has not, being of an older schema."""
    revision = folder / f"{schema.schema_revision.name}.csv"
    missing: frozenset[str] = frozenset()
    if revision.is_file():
        for line, (number,) in _cells(revision, schema.schema_revision, faults):
            missing = schema.OLDER.get(number, missing)
            if number != schema.REVISION and number not in schema.OLDER:
                what = f"The folder has tables of revision {number!r}, this program {schema.REVISION!r}."
                faults.add(line, "version_num", number, what, "Use the qclog that wrote it.", revision.name)
    expected = {f"{table.name}.csv" for table in _TABLES if table.name not in missing}
    found = {path.name for path in folder.iterdir()}
    for name in sorted(found - expected):
        faults.add(1, "", "", "This file is none of a logbook's.", "Take it out of the folder.", name)
    for name in sorted(expected - found):
        faults.add(1, "", "", "This file is missing.", "Export the folder again.", name)
    return missing


def _check_digests(connection: sa.Connection, folder: Path, *, sealed: bool) -> None:
    """Seal the entries of a folder from before there were digests; of any other they must agree."""
    if not sealed:
        seal_all(connection)
    elif wrong := altered(connection):
        where = wrong[0].where
        what = "Entry {sequence} of {station} ({what}, {at_utc})" if "station" in where else "Row {row} of {table}"
        raise RefusedError(
            f"{what.format(**where)} is not as it was written: {folder} was changed by hand.",
            "Nothing was taken in. Export the folder again.",
        )


def _cells(path: Path, table: sa.Table, faults: Faults) -> Iterator[tuple[int, list[str]]]:
    """The line each row begins in and its cells, of a file whose header is that of the table."""
    columns = [column.name for column in table.columns]
    line = 1
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.reader(file, strict=True)
            header = next(reader, [])
            if header != columns:
                what, remedy = f"The header must be {','.join(columns)}.", "Export the folder again."
                faults.add(1, "", "", what, remedy, path.name)
                return
            line = reader.line_num + 1
            for cells in reader:
                if len(cells) == len(columns):
                    yield line, cells
                else:
                    what = f"The row has {len(cells)} fields, the header {len(columns)}."
                    faults.add(line, "", "", what, "Export the folder again.", path.name)
                line = reader.line_num + 1
    except csv.Error as error:
        faults.add(line, "", "", f"This is no CSV ({error}).", "Export the folder again.", path.name)
    except UnicodeDecodeError:
        faults.add(line, "", "", "From here on there are bytes that are no UTF-8.", "Export it again.", path.name)
    except OSError as error:
        faults.add(1, "", "", f"The file cannot be read: {error.strerror}.", "Check its rights.", path.name)


def _read_table(connection: sa.Connection, table: sa.Table, folder: Path, faults: Faults) -> int:
    """Insert the rows of one table; returns how many. After a fault the rest is only looked at."""
    path = folder / f"{table.name}.csv"
    count = 0
    batch: list[tuple[int, dict[str, Any]]] = []
    for line, cells in _cells(path, table, faults):
        row = {}
        for column, cell in zip(table.columns, cells, strict=True):
            try:
                row[column.name] = _typed(column, cell)
            except ValueError as error:
                faults.add(line, column.name, cell, str(error), "Export the folder again.", path.name)
        batch.append((line, row))
        if len(batch) >= _ROWS_AT_ONCE:
            count += _insert(connection, table, batch, faults)
            batch = []
    return count + _insert(connection, table, batch, faults)


def _typed(column: sa.Column[Any], cell: str) -> int | float | str | None:
    """A cell as the column's type. Raises ValueError saying what is wrong."""
    kind = column.type.python_type
    if kind is str:
        try:
            return texts.argument(unguarded(cell), "text")
        except RefusedError as error:
            raise ValueError(error.what) from None
    if not cell:
        if column.nullable:
            return None
        raise ValueError("This cell cannot be empty.")
    try:
        number: int | float = int(cell) if kind is int else float(cell)
    except ValueError:
        raise ValueError("This is not a number." if kind is float else "This is not a whole number.") from None
    if not abs(number) <= _GREATEST:
        raise ValueError("This number is too great.")
    return number


def _insert(connection: sa.Connection, table: sa.Table, batch: list[tuple[int, dict[str, Any]]], faults: Faults) -> int:
    if not batch or faults.total:
        return 0
    try:
        with connection.begin_nested():
            connection.execute(table.insert(), [row for _, row in batch])
    except (sa.exc.IntegrityError, sa.exc.DataError) as error:
        if len(batch) == 1:
            line = batch[0][0]
            message = " ".join(str(error.orig).split())
            faults.add(line, "", "", f"The logbook refuses this row: {message}", "Export again.", f"{table.name}.csv")
            return 0
        half = len(batch) // 2
        return _insert(connection, table, batch[:half], faults) + _insert(connection, table, batch[half:], faults)
    return len(batch)
