"""The demonstration and simulated items, taken into SQLite and into PostgreSQL, give the same answers to 12 digits.

QCLOG_TEST_ITEMS=1000 simulates that many items (40 unless told): offset and scatter of each drawn once, full swings and
turns at two key positions, six days (own simulation).
"""

import csv
import json
import math
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

import demo_readings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.exchange import import_folder, import_readings
from qclog.questions import assess, compare, drawer, due, pick, wear
from qclog.questions.comparing.key_positions import key_positions
from qclog.questions.picking.fitting import part_of

ITEMS = int(os.environ.get("QCLOG_TEST_ITEMS", "40"))
DEMO = Path(demo_readings.__path__[0])
DIGITS = 12
_TURN = np.radians((0, 90, 180, 270))


def simulated(items: int) -> Iterator[list[str]]:
    """Rows of the exchange form: every other item read at quarter turns; limits about what it runs."""
    random = np.random.default_rng(20261205)
    yield [
        "taken_at",
        "item",
        "setup",
        "position",
        "clamping",
        "distance",
        "kind",
        "value",
        "unit",
        "angle_deg",
        "limit",
    ]
    for item in range(items):
        offset, scatter = random.uniform(0.0, 5.0), random.uniform(0.3, 1.5)
        limit = f"{2 * offset + random.uniform(1, 8):.1f}um"
        for day in range(1, 7):
            for position in "AB":
                x, y = random.normal(0, scatter, 2)
                x += offset + (item % 3 if position == "B" else 0)
                head = [f"2026-05-{day:02d}", f"C-{item:04d}", "L1", position, "1", "25"]
                if item % 2:
                    values = x * np.cos(_TURN) + y * np.sin(_TURN)
                    for angle, value in zip((0, 90, 180, 270), values, strict=True):
                        yield [*head, "point", f"{value:.1f}", "um", str(angle), limit]
                else:
                    yield [*head, "tir", f"{2 * math.hypot(x, y):.1f}", "um", "", limit]


def differences(one: Any, other: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Where two documents differ, and by how much of the larger value; 1 for what are no two numbers."""
    if type(one) is not type(other):
        yield path, 1.0
    elif isinstance(one, dict):
        if one.keys() != other.keys():
            yield path, 1.0
        for key in one.keys() & other.keys():
            yield from differences(one[key], other[key], f"{path}.{key}")
    elif isinstance(one, list):
        if len(one) != len(other):
            yield path, 1.0
        for place, (left, right) in enumerate(zip(one, other, strict=False)):
            yield from differences(left, right, f"{path}[{place}]")
    elif one != other:
        yield path, abs(one - other) / max(abs(one), abs(other)) if isinstance(one, float) else 1.0


def answers(store: Store) -> dict[str, Any]:
    """The documents of the questions about everything, and of one about a part, as JSON gives them back."""
    made = {
        "assess": assess.document(assess.assess(store)),
        "compare": compare.document(compare.compare(store, ()), key_positions(store)),
        "wear": wear.document(wear.wear(store)),
        "drawer": drawer.document(drawer.drawer(store)),
        "due": due.document(due.due(store)),
        "pick": pick.document(pick.pick(store, part_of(9.2, 10.0, 25.0))),
    }
    return dict(json.loads(json.dumps(made)))


def test_both_databases_give_the_same_answers(tmp_path: Path, postgresql: Any) -> None:
    rows = tmp_path / "simulated.csv"
    with rows.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(simulated(ITEMS))
    url = postgresql.new_database()
    found = []
    for target in (str(tmp_path / "book.sqlite"), url):
        began = time.monotonic()
        store = open_store(target, create=True)
        import_folder(store, DEMO / "workshop")
        for path in (*sorted(DEMO.glob("*.csv")), rows):
            import_readings(store, path, create=True)
        imported = time.monotonic()
        found.append(answers(store))
        print(
            f"\n{store.dialect}: import {imported - began:.1f} s, answers {time.monotonic() - imported:.1f} s", end=""
        )
        store.close()
    postgresql.drop_database(url)
    one, other = found
    assert len(one["assess"]["answers"]) >= ITEMS
    apart = list(differences(one, other))
    print(f"\n{ITEMS} items: {len(apart)} figures differ, at most by {max((by for _, by in apart), default=0.0):.1e}")
    assert [(path, by) for path, by in apart if by > 10.0**-DIGITS] == []
