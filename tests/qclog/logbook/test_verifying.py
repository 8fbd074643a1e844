"""verify finds damage and what was changed behind the program's back, says where, and changes nothing."""

import contextlib
import dataclasses
import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog import config
from qclog.errors import DamagedError, RefusedError
from qclog.logbook import append_only, deriving, schema
from qclog.logbook.engine import Store, open_as_it_is, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.logbook.safekeeping.backing_up import backup
from qclog.logbook.safekeeping.digests import Walk, digest
from qclog.logbook.safekeeping.verifying import Check, Fault, Finding, Verified, document, verify
from qclog.logbook.striking import strike
from qclog.records import Clamping, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
Log = Callable[..., list[int]]


@pytest.fixture
def logged(sqlite_book: Store, log: Log, monkeypatch: pytest.MonkeyPatch) -> Store:
    """The workshop of ``fill`` on SQLite."""
    return fill(sqlite_book, log, monkeypatch)


@pytest.fixture
def on_both(book: Store, log: Log, monkeypatch: pytest.MonkeyPatch) -> Store:
    """The same, once on each database."""
    return fill(book, log, monkeypatch)


def fill(store: Store, log: Log, monkeypatch: pytest.MonkeyPatch) -> Store:
    """The small workshop with swings and turns of two stations, one struck out."""
    swing = Turn("tir", (Reading(5 * UM, "5", UM),), 16 * MM)
    turn = Turn("point", tuple(Reading(value * UM, str(value), UM) for value in (4, 1, -3, 0)), 16 * MM)
    for day in (1, 2, 3):
        log(store, Clamping("C-046", "LATHE", f"2026-03-0{day}", (swing, turn), position="A"))
    monkeypatch.setenv(config.STATION_VARIABLE, "grinder")
    (last,) = log(store, Clamping("C-046", "LATHE", "2026-03-04", (turn,), position="A"))
    with new_entry(store, "strike") as entry:
        strike(entry, Register(entry.connection).need("C-046", "item"), last, reason="misread")
    monkeypatch.setenv(config.STATION_VARIABLE, "bench")
    return store


def behind_its_back(store: Store, *statements: str, guarded: bool = True) -> None:
    """Plain SQL with the triggers dropped and, ``guarded``, put up again as if nothing had been."""
    triggers = append_only.triggers(store.dialect, schema.FACTS)
    with store.engine.connect() as connection:
        if store.dialect == "sqlite":
            connection.connection.cursor().execute("PRAGMA foreign_keys=OFF")
        with connection.begin():
            if store.dialect == "postgresql":
                connection.exec_driver_sql("SET TRANSACTION READ WRITE")
                connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
            for name in triggers:
                on = f" ON {name.split('_keeps_')[0]}" if store.dialect == "postgresql" else ""
                connection.exec_driver_sql(f"DROP TRIGGER {name}{on}")
            for statement in statements:
                connection.exec_driver_sql(statement)
            for statement in triggers.values() if guarded else ():
                connection.exec_driver_sql(statement)
    store.engine.dispose()


def faults(found: Verified) -> dict[str, list[Fault]]:
    return {check.check: [one.fault for one in check.findings] for check in found.checks if check.wrong}


def findings(found: Verified, check: Check) -> Sequence[Finding]:
    (one,) = (each for each in found.checks if each.check is check)
    return one.findings


def test_a_sound_logbook_has_nothing_wrong_and_is_left_as_it_is(on_both: Store) -> None:
    def rows() -> list[Any]:
        with on_both.reading() as connection:
            return [list(connection.execute(sa.select(table))) for table in schema.metadata.sorted_tables]

    before = rows()
    found = verify(on_both)
    assert found.sound
    assert rows() == before
    assert [(head.station, head.sequence) for head in found.heads] == [("bench", 4), ("grinder", 2)]
    counted = {check.check: check.looked_at for check in found.checks}
    assert (counted[Check.ENTRIES], counted[Check.FIGURES]) == (6, 6)
    assert (Check.FILE in counted) is (on_both.dialect == "sqlite")


def test_an_empty_logbook_has_nothing_wrong(store: Store) -> None:
    found = verify(store)
    assert (found.sound, found.heads) == (True, ())


def test_a_reading_changed_through_plain_sql_is_found_with_its_entry(on_both: Store) -> None:
    behind_its_back(on_both, "UPDATE reading SET value_pm = 4000000, text = '4' WHERE id = 1")
    found = verify(on_both)
    assert faults(found) == {Check.ENTRIES: [Fault.CHANGED], Check.FIGURES: [Fault.FIGURE_WRONG]}
    (entry,) = findings(found, Check.ENTRIES)
    assert {key: entry.where[key] for key in ("station", "sequence", "what", "who")} == {
        "station": "bench",
        "sequence": 2,
        "what": "log",
        "who": "tester",
    }
    assert findings(found, Check.FIGURES)[0].where == {"turn": 1, "item": "C-046", "clamping": 1}


def test_a_change_whose_figures_were_rebuilt_is_found_all_the_same(logged: Store) -> None:
    behind_its_back(logged, "UPDATE reading SET value_pm = 4000000, text = '4' WHERE id = 1")
    with logged.writing() as connection:
        deriving.rebuild(connection)
    assert faults(verify(logged)) == {Check.ENTRIES: [Fault.CHANGED]}


def test_a_change_with_a_digest_made_to_fit_breaks_the_chain_after_it(logged: Store) -> None:
    behind_its_back(logged, "UPDATE reading SET text = '5,0' WHERE id = 1")
    digest = _fitting(logged, 2)
    behind_its_back(logged, f"UPDATE entry_digest SET digest = '{digest}' WHERE entry_id = 2")
    found = verify(logged)
    assert faults(found) == {Check.ENTRIES: [Fault.CHAIN]}
    assert findings(found, Check.ENTRIES)[0].where["sequence"] == 3


def _fitting(store: Store, entry_id: int) -> str:
    with store.reading() as connection:
        for one in Walk(connection):
            if one.entry[0] == entry_id:
                assert one.sealed is not None
                return digest(one.sealed[2], one.content)
    raise AssertionError


def test_an_entry_taken_out_of_the_middle_is_found(on_both: Store) -> None:
    behind_its_back(
        on_both,
        "DELETE FROM figure WHERE clamping_id = 2",
        *(f"DELETE FROM {table} WHERE entry_id = 3" for table in ("entry_digest", "reading", "turn", "clamping")),
        "DELETE FROM sitting WHERE entry_id = 3",
        "DELETE FROM entry WHERE id = 3",
    )
    found = verify(on_both)
    assert faults(found) == {Check.ENTRIES: [Fault.GAP, Fault.CHAIN]}
    assert findings(found, Check.ENTRIES)[0].where["after"] == 2


def cut_tail(store: Store) -> None:
    """The last entry of the station bench taken out with all its facts."""
    behind_its_back(
        store,
        "DELETE FROM figure WHERE clamping_id = 3",
        *(f"DELETE FROM {table} WHERE entry_id = 4" for table in ("entry_digest", "reading", "turn", "clamping")),
        "DELETE FROM sitting WHERE entry_id = 4",
        "DELETE FROM entry WHERE id = 4",
    )


def test_a_cut_tail_is_found_against_an_earlier_backup_only(on_both: Store, tmp_path: Path) -> None:
    path, _ = backup(on_both, tmp_path / "kept.sqlite")
    cut_tail(on_both)
    assert verify(on_both).sound
    earlier = open_as_it_is(str(path))
    found = verify(on_both, earlier)
    earlier.close()
    assert faults(found) == {Check.AGAINST: [Fault.CUT_OFF]}
    assert findings(found, Check.AGAINST)[0].where == {"station": "bench", "sequence": 4, "last": 3}


def test_a_history_written_anew_is_found_against_an_earlier_backup(logged: Store, tmp_path: Path, log: Log) -> None:
    path, _ = backup(logged, tmp_path / "kept.sqlite")
    cut_tail(logged)
    swing = Turn("tir", (Reading(4 * UM, "4", UM),), 16 * MM)
    log(logged, Clamping("C-046", "LATHE", "2026-03-03", (swing,), position="A"))
    assert verify(logged).sound
    earlier = open_as_it_is(str(path))
    assert faults(verify(logged, earlier)) == {Check.AGAINST: [Fault.OTHER_HISTORY]}
    earlier.close()


def test_what_was_logged_after_a_backup_is_no_fault(logged: Store, tmp_path: Path, log: Log) -> None:
    path, _ = backup(logged, tmp_path / "kept.sqlite")
    swing = Turn("tir", (Reading(4 * UM, "4", UM),), 16 * MM)
    log(logged, Clamping("C-046", "LATHE", "2026-03-09", (swing,), position="A"))
    before = path.read_bytes()
    earlier = open_as_it_is(str(path))
    assert verify(logged, earlier).sound
    earlier.close()
    assert path.read_bytes() == before


def test_a_backup_from_before_there_were_digests_cannot_be_compared_with(logged: Store, tmp_path: Path) -> None:
    file = sqlite3.connect(tmp_path / "old.sqlite")
    file.executescript((Path(__file__).parent / "schemas" / "0001.sqlite.sql").read_text(encoding="utf-8"))
    file.close()
    earlier = open_as_it_is(str(tmp_path / "old.sqlite"))
    with pytest.raises(RefusedError, match="before entries had digests"):
        verify(logged, earlier)
    earlier.close()


@pytest.mark.parametrize(
    ("statement", "expected"),
    [
        ("DELETE FROM entry_digest WHERE entry_id = 4", {Check.ENTRIES: [Fault.NOT_SEALED]}),
        ("UPDATE entry_digest SET digest = previous WHERE entry_id = 4", {Check.ENTRIES: [Fault.CHANGED]}),
        ("UPDATE entry_digest SET id = 77 WHERE entry_id = 6", {Check.ENTRIES: [Fault.CHANGED]}),
        ("UPDATE entry SET who = 'nobody' WHERE id = 4", {Check.ENTRIES: [Fault.CHANGED]}),
        (
            "UPDATE strike SET entry_id = 99",
            {Check.LINKS: [Fault.NO_OWNER], Check.ENTRIES: [Fault.CHANGED, Fault.STRAY]},
        ),
        ("UPDATE figure SET value_um = value_um + 0.001 WHERE turn_id = 2", {Check.FIGURES: [Fault.FIGURE_WRONG]}),
        ("UPDATE figure SET residual_df = 7 WHERE turn_id = 2", {Check.FIGURES: [Fault.FIGURE_WRONG]}),
        ("UPDATE figure SET eccentricity_x_um = NULL WHERE turn_id = 2", {Check.FIGURES: [Fault.FIGURE_WRONG]}),
        ("UPDATE figure SET series_id = 999 WHERE turn_id = 2", {Check.FIGURES: [Fault.FIGURE_WRONG]}),
        ("DELETE FROM figure WHERE turn_id = 2", {Check.FIGURES: [Fault.FIGURE_MISSING]}),
        (
            "UPDATE figure SET turn_id = -5 WHERE turn_id = 2",
            {Check.FIGURES: [Fault.FIGURE_STRANGE, Fault.FIGURE_MISSING]},
        ),
        ("UPDATE series SET position = 'B'", {Check.FIGURES: [Fault.FIGURE_WRONG] * 6}),
        ("UPDATE gauging SET lever_mdeg = 9000", {Check.FIGURES: [Fault.FIGURE_WRONG] * 6}),
    ],
)
def test_each_kind_of_change_is_found_as_what_it_is(
    logged: Store, statement: str, expected: dict[Check, list[Fault]]
) -> None:
    behind_its_back(logged, statement)
    assert faults(verify(logged)) == expected


def test_figures_of_a_struck_out_turn_are_strange(logged: Store) -> None:
    behind_its_back(
        logged,
        "INSERT INTO figure SELECT 7, series_id, 4, sitting_id, gauging_id, taken_order, recalled, step_pm, value_um, "
        "eccentricity_x_um, eccentricity_y_um, angle_within_mdeg, residual_sd_um, residual_df, method FROM figure "
        "WHERE turn_id = 6",
    )
    assert faults(verify(logged)) == {Check.FIGURES: [Fault.FIGURE_STRANGE]}


def test_last_digits_of_a_figure_are_told_and_no_fault(logged: Store) -> None:
    behind_its_back(logged, "UPDATE figure SET value_um = value_um * (1 + 4e-16) WHERE turn_id = 2")
    found = verify(logged)
    assert found.sound
    assert [check.last_digits for check in found.checks if check.check is Check.FIGURES] == [1]


def test_triggers_that_are_missing_changed_or_strange_are_found(on_both: Store) -> None:
    sqlite = on_both.dialect == "sqlite"
    refuse = "BEGIN SELECT RAISE(ABORT, 'never'); END" if sqlite else "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
    first, second = ("reading_keeps_update", "reading_keeps_delete") if sqlite else ("reading_keeps_row",) * 2
    on = "" if sqlite else " ON reading"
    behind_its_back(on_both)
    changes = [f"DROP TRIGGER {first}{on}", f"CREATE TRIGGER mine BEFORE DELETE ON turn {refuse}"]
    if sqlite:
        changes += [f"DROP TRIGGER {second}", f"CREATE TRIGGER {second} BEFORE DELETE ON reading WHEN 0 {refuse}"]
    else:
        changes += ["ALTER TABLE turn DISABLE TRIGGER turn_keeps_row"]
    with on_both.writing() as connection:
        for statement in changes:
            connection.exec_driver_sql(statement)
    found = faults(verify(on_both))
    assert sorted(found[Check.RULE]) == [Fault.TRIGGER_CHANGED, Fault.TRIGGER_MISSING, Fault.TRIGGER_STRANGE]
    assert found.keys() == {Check.RULE}


def test_a_guard_that_lets_everything_through_is_found_on_postgresql(postgresql: Any) -> None:
    url = postgresql.new_database()
    store = open_store(url)
    with store.writing() as connection:
        connection.exec_driver_sql(
            "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NEW; END $$"
        )
    (rule,) = (check for check in verify(store).checks if check.check is Check.RULE)
    assert rule.wrong == rule.looked_at
    store.close()
    postgresql.drop_database(url)


def test_a_table_that_is_gone_is_a_finding_and_no_defect(sqlite_book: Store) -> None:
    with sqlite_book.writing() as connection:
        connection.exec_driver_sql("DROP TABLE doubt")
    found = faults(verify(sqlite_book))
    assert found[Check.ENTRIES] == [Fault.UNREADABLE]


def test_what_was_found_is_told_even_where_reading_cannot_end(
    sqlite_book: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a badly damaged file the end of the transaction may fail; where nothing was found, that is what is told."""
    reading = sqlite_book.reading

    @contextlib.contextmanager
    def ends_badly() -> Iterator[sa.Connection]:
        with reading() as connection:
            yield connection
        raise DamagedError("malformed")

    monkeypatch.setattr(sqlite_book, "reading", ends_badly)
    with pytest.raises(DamagedError):
        verify(sqlite_book)
    with sqlite_book.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER turn_keeps_update")
    assert faults(verify(sqlite_book)) == {Check.RULE: [Fault.TRIGGER_MISSING]}


def test_of_many_findings_the_first_are_kept_and_all_counted(sqlite_book: Store, log: Log) -> None:
    swing = Turn("tir", (Reading(5 * UM, "5", UM),), 16 * MM)
    log(sqlite_book, *(Clamping("C-046", "LATHE", "2026-03-01", (swing,), position="A") for _ in range(30)))
    behind_its_back(sqlite_book, "UPDATE figure SET value_um = 3.0")
    (figures,) = (check for check in verify(sqlite_book).checks if check.check is Check.FIGURES)
    assert (figures.looked_at, figures.wrong, len(figures.findings)) == (30, 30, 20)


def test_figures_are_gone_through_some_thousand_turns_at_a_time(
    sqlite_book: Store, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    turn = Turn("point", tuple(Reading(value * UM, str(value), UM) for value in (4, 1, -3, 0)), 16 * MM)
    log(sqlite_book, *(Clamping("C-046", "LATHE", "2026-03-01", (turn,), position="A") for _ in range(50)))
    monkeypatch.setattr(deriving, "_TURNS_AT_ONCE", 7)
    behind_its_back(sqlite_book, "UPDATE figure SET value_um = 3.0 WHERE turn_id IN (1, 7, 8, 14, 50)")
    found = findings(verify(sqlite_book), Check.FIGURES)
    assert [one.where["turn"] for one in found] == [1, 7, 8, 14, 50]
    with sqlite_book.writing() as connection:
        assert deriving.rebuild(connection) == 50
    assert verify(sqlite_book).sound


def test_the_document_can_be_written_as_json(logged: Store) -> None:
    behind_its_back(logged, "UPDATE strike SET reason = 'none'")
    found = verify(logged)
    written = json.loads(json.dumps(document(found)))
    assert written["question"] == "verify"
    (answer,) = written["answers"]
    assert answer["sound"] is False
    assert answer["heads"] == [dataclasses.asdict(head) for head in found.heads]


def test_the_password_of_a_server_is_not_shown(postgresql: Any) -> None:
    url = postgresql.new_database()
    store = open_store(sa.engine.make_url(url).set(password="secret").render_as_string(hide_password=False))
    assert "secret" not in verify(store).logbook
    store.close()
    postgresql.drop_database(url)
