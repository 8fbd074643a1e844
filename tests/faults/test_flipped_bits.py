"""One bit of a logbook's file turned over: what changes its content is found by ``verify``.

An experiment with a fixed seed; QCLOG_TEST_FLIPS=200 makes it that long.
"""

import os
import random
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.errors import DamagedError
from qclog.logbook import schema
from qclog.logbook.engine import open_store
from qclog.logbook.safekeeping import files
from qclog.logbook.safekeeping.verifying import Verified, verify
from qclog.logbook.striking import strike

FLIPS = int(os.environ.get("QCLOG_TEST_FLIPS", "40"))
Content = dict[str, list[tuple[Any, ...]]] | str


@pytest.fixture
def whole(shop: Any, tmp_path: Path) -> Path:
    """A logbook with swings, turns and a strike-out, as one closed file."""
    (first, *_) = shop.log([4.2, 5.0, 4.4], pin="P-65", note="as it came off the shelf")
    shop.log_vectors([2 + 1j, 2.5 + 0.5j, 1.5 + 1j, 2 + 1.2j])
    shop.do(lambda entry, register: strike(entry, register.need("C-046", "item"), first, reason="misread"))
    path = tmp_path / "whole.sqlite"
    files.copy_file(Path(shop.store.target), path)
    files.as_one_file(path)
    return path


def content(path: Path) -> Content:
    """Every row of facts, and every figure with what it belongs to; what SQLite says where it cannot be read."""
    f, s, g = schema.figure, schema.series, schema.gauging
    figures = sa.select(f, s, g).outerjoin(s, s.c.id == f.c.series_id).outerjoin(g, g.c.id == f.c.gauging_id)
    engine = sa.create_engine(f"sqlite:///{path}")
    try:
        with engine.connect() as connection:
            found = {t.name: sorted(map(tuple, connection.execute(sa.select(t))), key=repr) for t in schema.FACTS}
            found["figure"] = sorted(map(tuple, connection.execute(figures)), key=repr)
            found["revision"] = [tuple(row) for row in connection.execute(sa.select(schema.schema_revision))]
            return found
    except (sa.exc.DBAPIError, sqlite3.Error, ValueError) as error:
        return str(error)
    finally:
        engine.dispose()


def told(path: Path) -> bool:
    """Whether opening or verifying says that something is wrong, be it in the last digits of a figure."""
    try:
        store = open_store(str(path))
    except DamagedError:
        return True
    try:
        found: Verified = verify(store)
    finally:
        store.close()
    return not found.sound or any(check.last_digits for check in found.checks)


def flipped(whole: Path, number: int) -> Iterator[Path]:
    chance = random.Random(number)
    path = whole.with_name(f"flipped{number}.sqlite")
    data = bytearray(whole.read_bytes())
    data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    path.write_bytes(data)
    yield path
    files.remove(path)


def test_a_turned_bit_that_changes_the_content_is_found(whole: Path) -> None:
    before = content(whole)
    assert not told(whole)
    changed = 0
    missed = []
    for number in range(FLIPS):
        for path in flipped(whole, number):
            differs = content(path) != before
            changed += differs
            if differs and not told(path):
                missed.append(number)
    assert missed == []
    assert changed > FLIPS / 20, "hardly any flip met the content"
