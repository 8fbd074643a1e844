"""A logbook whose rows were put straight into the tables is the one that the program writes."""

from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.logbook import append_only, schema
from qclog.logbook.deriving import rebuild
from qclog.logbook.engine import Store, open_store
from qclog.logbook.exchange import import_readings
from tests.benchmarks import direct, made

_CLAMPINGS = 900
_TABLES = ("sitting", "clamping", "turn", "reading", "gauging", "series", "figure")


def rows(store: Store, table: str, left_out: tuple[str, ...]) -> set[Any]:
    columns = [column for column in schema.metadata.tables[table].columns if column.name not in left_out]
    with store.reading() as connection:
        return {tuple(row) for row in connection.execute(sa.select(*columns))}


def test_rows_put_in_directly_are_those_the_program_writes(tmp_path: Path) -> None:
    with_ids = ("sitting", "turn", "reading", "gauging")
    ours = direct.write_logbook(tmp_path / "direct.sqlite", _CLAMPINGS)
    theirs = made.write_logbook(str(tmp_path / "made.sqlite"), _CLAMPINGS)
    for table in with_ids:
        assert rows(ours, table, ("entry_id",)) == rows(theirs, table, ("entry_id",))
    for table in ("clamping", "series"):
        assert rows(ours, table, ("id", "entry_id", "uuid")) == rows(theirs, table, ("id", "entry_id", "uuid"))
    assert rows(ours, "figure", ("series_id",)) == rows(theirs, "figure", ("series_id",))
    ours.close()
    theirs.close()


@pytest.mark.parametrize("points", [1, 12])
def test_figures_put_in_directly_are_those_made_from_the_readings(tmp_path: Path, points: int) -> None:
    store = direct.write_logbook(tmp_path / "direct.sqlite", _CLAMPINGS, points)
    before = rows(store, "figure", ("series_id",))
    assert len(before) == _CLAMPINGS
    with store.writing() as connection:
        assert set(append_only.triggers("sqlite", schema.FACTS)) == set(append_only.found(connection))
        rebuild(connection)
    assert rows(store, "figure", ("series_id",)) == before
    store.close()


def test_turns_put_in_directly_are_those_of_the_file(tmp_path: Path) -> None:
    made.write_file(tmp_path / "turns.csv", made.turns(12 * _CLAMPINGS))
    theirs = open_store(str(tmp_path / "made.sqlite"), create=True)
    import_readings(theirs, tmp_path / "turns.csv", create=True)
    ours = direct.write_logbook(tmp_path / "direct.sqlite", _CLAMPINGS, 12)
    values = ("id", "entry_id", "turn_id", "text")  # of a rounded nought the file keeps the sign
    assert rows(ours, "reading", values) == rows(theirs, "reading", values)
    ours.close()
    theirs.close()
