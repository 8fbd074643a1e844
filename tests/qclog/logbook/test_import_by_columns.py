"""What an import hands on as columns is what the same clampings leave that are written one by one."""

import csv
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from qclog.logbook import schema
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import import_readings
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.file import COLUMNS, ExchangeFile
from qclog.logbook.exchange.gathering import Gatherer, Survey
from qclog.logbook.lookup import Register
from qclog.logbook.safekeeping.digests import SEALED, digest, read_rows
from qclog.logbook.safekeeping.verifying import verify
from qclog.notation import format_clocking
from qclog.records import Clamping, Reading, Turn

UM, MM = 10**6, 10**9
MADE_ANEW = (schema.entry, schema.entry_digest)


def reading(rng: random.Random, angle_deg: int | None = None) -> Reading:
    tenths = rng.randrange(1, 120)
    angle = None if angle_deg is None else 1000 * angle_deg
    return Reading(tenths * UM // 10, f"{tenths / 10} um", UM // 10, angle)


def clamped(rng: random.Random, number: int) -> Clamping:
    """A clamping as many are, or one that asks for care: several turns, a value without a setup."""
    kind = rng.choices(["swing", "high spot", "turn", "two distances", "value"], [60, 10, 15, 10, 5])[0]
    turns: tuple[Turn, ...] = (Turn("tir", (reading(rng, 30 if kind == "high spot" else None),), 16 * MM),)
    if kind == "turn":
        turns = (Turn("point", tuple(reading(rng, angle) for angle in range(0, 360, 30)), 16 * MM),)
    elif kind == "two distances":
        turns = (*turns, Turn("tir", (reading(rng),), 40 * MM))
    elif kind == "value":
        turns = (Turn("value", (Reading(6_480 * UM + number * UM, f"{6480 + number} um", UM),), 0, "bore"),)
    setup, position = ("", "") if kind == "value" else rng.choice([("LATHE", "A"), ("LATHE", "B"), ("TAIL", "")])
    return Clamping(
        rng.choice(["C-046", "C-047"]),
        setup,
        f"2026-03-{1 + number // 200:02d}T10:{number % 60:02d}",
        turns,
        position=position,
        clocking=rng.choice([(), (), (("C-048", 120_000),)]) if setup else (),
        label=f"no. {number}",
        operator=rng.choice(["", "M 1"]),
        note=rng.choice(["", "50 % tight", "dry, \u00b5"]),
    )


def rows_of(one: Clamping) -> Iterator[dict[str, str]]:
    for turn in one.turns:
        for read in turn.readings:
            value, unit = read.text.split()
            yield {
                "taken_at": one.taken_at,
                "item": one.item,
                "setup": one.setup,
                "position": one.position,
                "clocking": format_clocking(one.clocking) if one.clocking else "",
                "clamping": one.label,
                "operator": one.operator,
                "note": one.note,
                "distance": f"{turn.distance_pm // MM}",
                "characteristic": turn.characteristic,
                "kind": turn.kind,
                "value": value,
                "unit": unit,
                "angle_deg": "" if read.angle_mdeg is None else f"{read.angle_mdeg // 1000}",
            }


def facts(store: Store) -> dict[str, Any]:
    """All rows of facts but what is made anew, the figures with their keys, and a digest over the facts."""
    with store.reading() as connection:
        found: dict[str, Any] = {
            table.name: list(read_rows(connection, table)) for table in SEALED if table not in MADE_ANEW
        }
        found["digest"] = digest(
            "", ((table, read_rows(connection, table)) for table in SEALED if table not in MADE_ANEW)
        )
        figures = [column.name for column in schema.figure.columns if column.name not in ("series_id", "gauging_id")]
        keys = [f"{t.name}.{c.name}" for t in (schema.series, schema.gauging) for c in t.columns if c.name != "id"]
        query = f"SELECT {', '.join((*figures, *keys))} FROM figure JOIN series ON series.id = series_id "
        query += "JOIN gauging ON gauging.id = gauging_id ORDER BY turn_id"
        found["figures"] = [tuple(row) for row in connection.exec_driver_sql(query)]
    return found


def test_an_import_leaves_the_rows_and_digests_of_clampings_written_one_by_one(
    two_books: tuple[Store, Store], tmp_path: Path
) -> None:
    rng = random.Random(1)
    clampings = [clamped(rng, number) for number in range(1_500)]
    path = tmp_path / "readings.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, restval="")
        writer.writeheader()
        writer.writerows(row for one in clampings for row in rows_of(one))
    opened = ExchangeFile(path)
    together = [len(some.lines) for some in Gatherer(opened, Survey(opened), Faults(path.name)).clampings()]
    assert sum(together) == len(clampings)
    assert max(together) > 10  # many went at once
    imported, written = two_books
    assert import_readings(imported, path).clampings == len(clampings)
    with new_entry(written, "log") as entry:
        resolver = Resolver(Register(entry.connection))
        for one in clampings:
            write_clampings(entry, [resolver.resolve(one)])
    assert facts(imported) == facts(written)
    assert not [check.findings for store in two_books for check in verify(store).checks if check.findings]
