"""Every write is one entry with its facts, kept whole or not at all."""

import uuid

import pytest
import sqlalchemy as sa

from qclog import config
from qclog.errors import DamagedError, RefusedError
from qclog.logbook import items, schema
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry, take_ids
from qclog.logbook.lookup import Register


def entries(store: Store) -> list[sa.Row[tuple[object, ...]]]:
    with store.reading() as connection:
        return list(connection.execute(sa.select(schema.entry).order_by(schema.entry.c.id)))


def set_unit(store: Store, unit: str) -> None:
    with new_entry(store, "unit of bare numbers") as entry:
        items.change_setting(entry, Register(entry.connection), "unit", unit)


def write_and_break_off(store: Store, break_off: BaseException) -> None:
    with new_entry(store, "broken off") as entry:
        items.change_setting(entry, Register(entry.connection), "unit", "in")
        raise break_off


def test_an_entry_says_who_wrote_what_when_and_where(store: Store) -> None:
    set_unit(store, "um")
    (row,) = entries(store)
    assert (row.station, row.sequence, row.who, row.what) == ("bench", 1, "tester", "unit of bare numbers")
    assert uuid.UUID(row.uuid).version == 4
    assert row.at_utc.endswith("Z")
    assert "T" in row.at_utc


def test_the_person_of_an_entry_may_be_given(store: Store) -> None:
    with new_entry(store, "unit", who="toolroom") as entry:
        items.change_setting(entry, Register(entry.connection), "unit", "um")
    assert entries(store)[0].who == "toolroom"


def test_each_station_counts_its_own_entries_without_gaps(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    for station in ("bench", "lathe", "bench", "bench", "lathe"):
        monkeypatch.setenv(config.STATION_VARIABLE, station)
        set_unit(store, "um")
    counted = [(row.station, row.sequence) for row in entries(store)]
    assert counted == [("bench", 1), ("lathe", 1), ("bench", 2), ("bench", 3), ("lathe", 2)]


def test_the_facts_of_one_block_share_one_entry(store: Store) -> None:
    with new_entry(store, "settings") as entry:
        register = Register(entry.connection)
        items.change_setting(entry, register, "unit", "um")
        items.change_setting(entry, register, "person", "tester")
    (row,) = entries(store)
    with store.reading() as connection:
        owners = list(connection.scalars(sa.select(schema.setting.c.entry_id)))
    assert owners == [row.id, row.id]


def test_an_entry_without_facts_leaves_no_trace(store: Store) -> None:
    with new_entry(store, "looked, wrote nothing") as entry:
        entry.connection.execute(sa.select(schema.setting)).all()
    assert entries(store) == []
    set_unit(store, "um")
    assert entries(store)[0].sequence == 1


def test_an_entry_that_fails_leaves_nothing_and_no_gap_in_the_sequence(store: Store) -> None:
    set_unit(store, "um")
    with pytest.raises(ZeroDivisionError):
        write_and_break_off(store, ZeroDivisionError())
    assert len(entries(store)) == 1
    with store.reading() as connection:
        assert Register(connection).setting("unit") == "um"
    set_unit(store, "mm")
    assert [row.sequence for row in entries(store)] == [1, 2]


def test_an_interrupted_entry_leaves_nothing(store: Store) -> None:
    with pytest.raises(KeyboardInterrupt):
        write_and_break_off(store, KeyboardInterrupt())
    assert entries(store) == []


def test_ids_taken_ahead_are_fresh_and_follow_what_is_there(store: Store) -> None:
    set_unit(store, "um")
    with new_entry(store, "settings") as entry:
        first = take_ids(entry.connection, schema.setting, 3)
        entry.add_many(schema.setting, [{"id": i, "key": f"k{i}", "value": "v"} for i in first])
        second = take_ids(entry.connection, schema.setting, 2)
        entry.add_many(schema.setting, [{"id": i, "key": f"k{i}", "value": "v"} for i in second])
    assert len({*first, *second}) == 5
    set_unit(store, "mm")
    with store.reading() as connection:
        ids = list(connection.scalars(sa.select(schema.setting.c.id).order_by(schema.setting.c.id)))
    assert len(ids) == 7
    assert len(set(ids)) == 7


def test_no_rows_to_add_are_no_entry(store: Store) -> None:
    with new_entry(store, "nothing") as entry:
        entry.add_many(schema.setting, [])
    assert entries(store) == []


def test_what_the_database_refuses_while_nobody_waits_is_refused_at_the_end_of_the_block(store: Store) -> None:
    def write_twice() -> None:
        with new_entry(store, "names") as entry, entry.not_waiting():
            for key in (71, 72):
                entry.add_columns(schema.name, [[key], ["c-735"], ["C-735"], ["item"]])

    with pytest.raises(RefusedError, match=r"refused it|only added"):
        write_twice()
    assert entries(store) == []
    set_unit(store, "um")
    assert len(entries(store)) == 1


def test_nothing_is_written_once_a_newer_program_has_moved_the_logbook(store: Store) -> None:
    set_unit(store, "um")
    with store.writing() as connection:
        connection.execute(schema.schema_revision.update().values(version_num="9998"))
    with pytest.raises(DamagedError, match="'9998'"):
        set_unit(store, "in")
    assert len(entries(store)) == 1
