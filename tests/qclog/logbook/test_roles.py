"""The roles README grants on a PostgreSQL server: who reads asks, who logs logs, and neither changes a fact."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.errors import QclogError, RefusedError
from qclog.logbook import schema, striking
from qclog.logbook.deriving import rebuild
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.records import Clamping, Reading, Turn

README = Path(__file__).parents[3] / "README.md"
CLAMPING = Clamping(
    "C-046", "LATHE", "2026-03-01", (Turn("tir", (Reading(4_000_000, "4", 1_000_000),), 16_000_000_000),), position="A"
)


def grants() -> str:
    """The only SQL that README has."""
    _, _, rest = README.read_text(encoding="utf-8").partition("```sql\n")
    return rest.partition("```")[0]


@pytest.fixture
def opened_as(postgresql: Any, workshop: Callable[[Store], None]) -> Iterator[Callable[[str], Store]]:
    """``opened_as(role)``: the small workshop on a server, opened by somebody who has that role only."""
    url = postgresql.new_database()
    owner = open_store(url)
    workshop(owner)
    owner.close()
    plain = sa.create_engine(url.replace("postgresql:", "postgresql+psycopg:"), poolclass=sa.NullPool)
    with plain.begin() as connection:
        connection.exec_driver_sql(grants())
        for role in ("reads", "logs"):
            connection.exec_driver_sql(f"CREATE ROLE who_{role} LOGIN IN ROLE logbook_{role}")
    stores = []

    def open_as(role: str) -> Store:
        stores.append(open_store(sa.engine.make_url(url).set(username=f"who_{role}").render_as_string()))
        return stores[-1]

    yield open_as
    for store in stores:
        store.close()
    with plain.begin() as connection:
        for role in ("who_reads", "who_logs", "logbook_logs", "logbook_reads"):
            connection.exec_driver_sql(f"DROP OWNED BY {role}")
            connection.exec_driver_sql(f"DROP ROLE {role}")
    postgresql.drop_database(url)


def test_who_logs_logs_strikes_out_and_asks(opened_as: Callable[[str], Store], log: Any) -> None:
    store = opened_as("logs")
    first, second = log(store, CLAMPING, CLAMPING)
    with new_entry(store, "strike") as entry:
        striking.strike(entry, Register(entry.connection).need("C-046", "item"), first, reason="misread")
    (answer,) = assess(store, "C-046")
    assert answer.groups[0].clampings == 1
    with store.writing() as connection:
        rebuild(connection)
    assert second > first


def test_who_reads_asks_and_is_told_that_it_may_not_log(opened_as: Callable[[str], Store], log: Any) -> None:
    log(opened_as("logs"), CLAMPING)
    store = opened_as("reads")
    (answer,) = assess(store, "C-046")
    assert answer.groups[0].clampings == 1
    with pytest.raises(RefusedError, match="You may not do this in the logbook"):
        log(store, CLAMPING)


@pytest.mark.parametrize("role", ["reads", "logs"])
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE reading SET value_pm = 1",
        "DELETE FROM clamping",
        "TRUNCATE entry CASCADE",
        "DROP TRIGGER reading_keeps_row ON reading",
        "DROP TABLE figure",
        "INSERT INTO schema_revision VALUES ('9')",
    ],
)
def test_neither_changes_a_fact_or_a_table(opened_as: Callable[[str], Store], role: str, statement: str) -> None:
    store = opened_as(role)
    with pytest.raises(QclogError), store.writing() as connection:
        connection.exec_driver_sql(statement)


def test_every_table_of_facts_can_be_written_by_who_logs(opened_as: Callable[[str], Store]) -> None:
    with opened_as("logs").reading() as connection:
        for table in (*schema.FACTS, *schema.DERIVED):
            assert connection.exec_driver_sql(f"SELECT has_table_privilege('{table.name}', 'INSERT')").scalar()
