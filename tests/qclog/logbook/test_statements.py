"""Statements in the logbook: numbers, revisions, who received them, and which clampings they rest on."""

from collections.abc import Callable

import pytest

from qclog.errors import RefusedError
from qclog.logbook import statements
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.figures import Series, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.safekeeping.verifying import verify
from qclog.logbook.statements import ToIssue
from qclog.records import Clamping, Reading, Turn

SWING = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)
Log = Callable[..., list[int]]


def read(taken_at: str, position: str = "A", **more: object) -> Clamping:
    base = {"position": position, "instrument": "D-1", "lever_mdeg": 0, "pin": "P-65"}
    return Clamping("C-046", "LATHE", taken_at, (SWING,), **base | more)  # type: ignore[arg-type]


def issue(
    store: Store, clampings: list[int], number: int, revision: int = 1, receiver: str = "A", place: int = 0
) -> None:
    with new_entry(store, "statement", "AK") as entry:
        one = series(store)[place]
        modification = Register(entry.connection).modifications(one.item_id)[0]
        made = ToIssue(number, revision, f"2026-04-0{revision}", receiver, "W", "holds", 8_000_000, "a" * 64, "b" * 64)
        statements.add_statement(entry, one, modification.id, made, clampings)


def series(store: Store) -> list[Series]:
    with store.reading() as connection:
        return read_series(connection)


def test_a_statement_is_read_as_it_was_written(book: Store, log: Log) -> None:
    ids = log(book, read("2026-03-01"), read("2026-03-02"))
    issue(book, ids, 1, receiver="Gauge room")
    with book.reading() as connection:
        (one,) = statements.read_of_item(connection, series(book)[0].item_id)
        assert statements.read_clampings(connection, one.id) == ids
        assert statements.read_statement(connection, 1, 1) == one
        assert statements.read_statement(connection, 1, 2) is None
    assert (one.number, one.revision, one.receiver, one.issuer, one.who) == (1, 1, "Gauge room", "W", "AK")
    assert (one.item, one.setup, one.setup_revision, one.position) == ("C-046", "LATHE", 1, "A")
    assert (one.distance_mm, one.diameter_mm, one.verdict, one.limit_um) == (16.0, 6.5, "holds", 8.0)
    assert one.newest
    assert not {"id", "entry", "item_id"} & one.plain().keys()
    assert verify(book).sound


def test_the_newest_revision_stands_and_the_next_number_follows_the_highest(book: Store, log: Log) -> None:
    ids = log(book, read("2026-03-01"))
    issue(book, ids, 1)
    issue(book, ids, 1, revision=2)
    issue(book, ids, 2, receiver="B")
    with book.reading() as connection:
        assert statements.next_number(connection) == 3
        assert [(one.number, one.revision) for one in statements.read_standing(connection)] == [(1, 2), (2, 1)]
        newest = statements.read_newest(connection, 1)
        assert newest is not None
        assert newest.revision == 2
        assert [one.newest for one in statements.read_of_item(connection, newest.item_id)] == [False, True, True]


def test_a_number_and_revision_is_given_once(book: Store, log: Log) -> None:
    ids = log(book, read("2026-03-01"))
    issue(book, ids, 1)
    with pytest.raises(RefusedError):
        issue(book, ids, 1)


def test_what_a_receiver_has_is_told_by_item_and_place(book: Store, log: Log) -> None:
    log(book, read("2026-03-01"), read("2026-03-01", position="B"))
    there, elsewhere = series(book)
    issue(book, [1], 1, receiver="Gauge room")
    with book.reading() as connection:
        found = statements.read_last_about(connection, there, "gauge ROOM")
        assert found is not None
        assert found.number == 1
        assert statements.read_last_about(connection, elsewhere, "Gauge room") is None
        assert statements.read_last_about(connection, there, "Another") is None


def test_which_statements_rest_on_some_clampings(book: Store, log: Log) -> None:
    first, second, third = log(book, read("2026-03-01"), read("2026-03-02"), read("2026-03-03"))
    issue(book, [first, second], 1)
    issue(book, [second, third], 2, receiver="B")
    with book.reading() as connection:
        found = statements.read_resting_on(connection, [first, second])
        assert [(one.number, count) for one, count in found] == [(1, 2), (2, 1)]
        assert statements.read_resting_on(connection, [999]) == []
