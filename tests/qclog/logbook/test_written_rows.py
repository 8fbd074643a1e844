"""What is hashed while it is written is what the database holds afterwards."""

import tempfile
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry, take_ids
from qclog.logbook.safekeeping import written
from qclog.logbook.safekeeping.digests import encoded_as_read, encoded_as_written, read_rows
from qclog.logbook.safekeeping.verifying import altered

ODD = ("", "%", "%s 100 %", "ø5", '"7/8" \\', "\U0001f529", "5 um")
ROWS = 600


def joined(table: sa.Table, rows: list[tuple[Any, ...]]) -> bytes:
    return b"".join(encoded_as_read(table, rows))


def columns(rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    return list(zip(*rows, strict=True))


@pytest.mark.parametrize(
    "rows",
    [
        [(1, 1, 1, 0, None, 0, 5, None, None, 1, "5")],
        [(i, 1, 1, i, None if i % 3 else i, 0, -i, None, i, 1, text) for i, text in enumerate(ODD)],
        [(i, 1, 2 * i, 0, None, 0, 2**62 + i, None, None, 1, "%d") for i in range(3)],
    ],
)
def test_rows_are_encoded_by_columns_as_they_are_one_by_one(rows: list[tuple[Any, ...]]) -> None:
    assert encoded_as_written(schema.reading, columns(rows)) == joined(schema.reading, rows)


@pytest.mark.parametrize("closures", [(None, None), (None, 5), (5, None, 6), (5, 6)])
def test_nulls_at_the_end_are_left_out_row_by_row(closures: tuple[int | None, ...]) -> None:
    rows = [(i, 1, 1, "", 0, "runout", "tir", closure) for i, closure in enumerate(closures)]
    assert encoded_as_written(schema.turn, columns(rows)) == joined(schema.turn, rows)


@pytest.mark.parametrize("hours", [0.1 + 0.2, -0.0, 7, 1e300, None])
def test_real_numbers_are_encoded_as_the_database_will_hold_them(store: Store, hours: float | None) -> None:
    with new_entry(store, "odd") as entry:
        item = entry.add(schema.name, folded="c", text="C", kind="item")
        key = entry.add(schema.use_record, item_id=item, used_on="", hours=hours)
        given = [(key, entry.id, item, "", None, hours, "")]
    with store.reading() as connection:
        held = list(read_rows(connection, schema.use_record))
    assert encoded_as_written(schema.use_record, columns(given)) == joined(schema.use_record, held)


def write_many(store: Store) -> None:
    with new_entry(store, "many") as entry:
        for _ in range(3):
            ids = take_ids(entry.connection, schema.setting, ROWS)
            entry.add_many(schema.setting, [{"id": i, "key": f"k{i}", "value": ODD[i % len(ODD)]} for i in ids])


def assert_sealed_as_held(store: Store) -> None:
    with store.reading() as connection:
        assert altered(connection) == []
        assert connection.scalar(sa.select(sa.func.count()).select_from(schema.entry_digest)) == 1


def test_rows_that_are_too_many_for_memory_are_sealed_as_they_are(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(written, "_IN_MEMORY", 1_000)
    monkeypatch.setattr(written, "_AT_ONCE", 77)
    write_many(store)
    assert_sealed_as_held(store)


def test_rows_that_no_disk_had_room_for_are_read_once_more(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(written, "_IN_MEMORY", 1_000)
    monkeypatch.setattr(tempfile, "TemporaryFile", full)
    write_many(store)
    assert_sealed_as_held(store)
