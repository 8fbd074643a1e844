"""Keeps the present schema as a small dump of a logbook, for the tests that move old logbooks to the newest schema.

    python tests/qclog/logbook/schemas/keep.py

To be run before ``schema.REVISION`` changes; never again for a revision that is past. Writes the same logbook as
SQL for SQLite and for PostgreSQL.
"""

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

from qclog import config
from qclog.logbook import append_only, gauges, items, schema, setups
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.logbook.striking import strike
from qclog.records import Card, Clamping, Limit, Reading, Turn, Work

UM = 1_000_000
MM = 1_000_000_000


def fill(store: Store) -> None:
    """A collet bored once and measured before and after on several days, with strike-outs, and all else there is."""
    with new_entry(store, "what is owned", "AK") as entry:
        register = Register(entry.connection)
        items.add_item(entry, register, "S-1", Card(kind="spindle"))
        items.add_item(entry, register, "C-046", Card(kind="collet", bore_pm=6_500 * UM, note='ø 6,5 "soft"; spare'))
        setups.add_setup(entry, register, "LATHE", links=["S-1"], positions=["A", "B"])
        gauges.add_pin(entry, register, "P-65", diameter_pm=6_479 * UM, roundness_pm=300_000, kind="pin", grade="h4")
        lever = gauges.add_instrument(
            entry,
            register,
            "D-1",
            kind="lever",
            unit="um",
            division_pm=UM,
            range_pm=None,
            correct_at_mdeg=0,
            serial="",
        )
        gauges.add_calibration(
            entry, register, lever, done_on="2026-01-05", due_on="2027-01-05", error_limit_pm=UM, coverage_factor=2.0
        )
        items.change_setting(entry, register, "unit", "um")
    log(store, *(swing(day, 12 + day % 3) for day in (1, 2)))
    with new_entry(store, "bored", "AK") as entry:
        register = Register(entry.connection)
        collet = register.need("C-046", "item")
        items.modify(entry, register, collet, Work("bored", "2026-03-03", limits=(Limit(9 * UM, distance_pm=16 * MM),)))
        items.inspect_item(entry, register, collet, finding="sound", seen_on="2026-03-03", note="")
        items.record_use(entry, collet, used_on="2026-03-04", clampings=120, hours=0.1 + 0.2, note="")
        items.set_state(entry, register, collet, state="in service", limit_pm=None, since="2026-03-04", reason="trial")
    kept = log(store, *(quarters(day, 1 + day % 3) for day in range(4, 12)), *(swing(day, 4) for day in range(4, 12)))
    recalled = Turn("tir", (Reading(7 * UM, "6-8", UM, 120_000, 15_000, 6 * UM, 8 * UM),), 16 * MM)
    log(store, Clamping("C-046", "LATHE", "2019-05", (recalled,), position="B", recalled=True))
    with new_entry(store, "mistakes", "AK") as entry:
        collet = Register(entry.connection).need("C-046", "item")
        strike(entry, collet, kept[-1], reason="misread")
        strike(entry, collet, kept[0], reason="misread", turn=1, reading=2)
        entry.add(schema.doubt, item_id=collet.id, clamping_id=kept[1], why="far off", typed="5", answer="kept")


def log(store: Store, *records: Clamping) -> list[int]:
    ids = []
    for record in records:
        with new_entry(store, "log") as entry:
            ids += write_clampings(entry, [Resolver(Register(entry.connection)).resolve(record)])
    return ids


def swing(day: int, value: int) -> Clamping:
    turn = Turn("tir", (Reading(value * UM, str(value), UM),), 16 * MM)
    return clamping(day, "10:00", turn)


def quarters(day: int, value: int) -> Clamping:
    readings = (Reading(number * UM, str(number), UM) for number in (value, 1, -value, -1))
    return clamping(day, "11:00", Turn("point", tuple(readings), 16 * MM))


def clamping(day: int, hour: str, turn: Turn) -> Clamping:
    return Clamping(
        "C-046",
        "LATHE",
        f"2026-03-{day:02d}T{hour}",
        (turn,),
        position="A",
        clocking=(("P-65", 90_000),),
        pin="P-65",
        instrument="D-1",
        lever_mdeg=12_500,
    )


def for_postgresql(store: Store) -> Iterator[str]:
    """The statements that make the same logbook there."""
    dialect = postgresql.dialect()  # type: ignore[no-untyped-call]
    tables = schema.metadata.sorted_tables
    for table in tables:
        yield str(CreateTable(table).compile(dialect=dialect)).strip()
        for index in sorted(table.indexes, key=lambda index: str(index.name)):
            yield str(CreateIndex(index).compile(dialect=dialect)).strip()
    yield from append_only.statements("postgresql", schema.FACTS)
    with store.reading() as connection:
        for table in tables:
            columns = ", ".join(column.name for column in table.columns)
            for row in connection.execute(sa.select(table).order_by(*table.primary_key.columns)):
                yield f"INSERT INTO {table.name} ({columns}) VALUES ({', '.join(map(literal, row))})"
            if "id" in table.columns:
                name = f"pg_get_serial_sequence('{table.name}', 'id')"
                yield f"SELECT setval({name}, coalesce(max(id), 1), max(id) IS NOT NULL) FROM {table.name}"


def literal(value: object) -> str:
    if value is None:
        return "NULL"
    return "'" + value.replace("'", "''") + "'" if isinstance(value, str) else repr(value)


def main() -> None:
    folder = Path(__file__).parent
    os.environ |= {config.STATION_VARIABLE: "bench", config.PERSON_VARIABLE: "AK"}
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "book.sqlite"
        store = open_store(str(path), create=True)
        fill(store)
        statements = "".join(f"{statement};\n" for statement in for_postgresql(store))
        store.close()
        connection = sqlite3.connect(path)
        dump = "".join(f"{statement}\n" for statement in connection.iterdump())
        connection.close()
    (folder / f"{schema.REVISION}.sqlite.sql").write_text(dump, encoding="utf-8", newline="\n")
    (folder / f"{schema.REVISION}.postgresql.sql").write_text(statements, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
