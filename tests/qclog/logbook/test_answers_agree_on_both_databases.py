"""The same workshop written to SQLite and to PostgreSQL gives the same answers to twelve digits (own simulation)."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from qclog.logbook import deriving, items, setups, striking
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Register
from qclog.questions import sense, turns
from qclog.questions.assess import assess, document
from qclog.records import Card, Clamping, Limit, Reading, Turn, Work

UM = 1_000_000
MM = 1_000_000_000
ITEMS = 60
DIGITS = 12


def simulate(store: Store, log: Callable[..., list[int]]) -> None:
    """60 collets and what happens to them, the same for every store: a fixed seed."""
    random = np.random.default_rng(60)
    with new_entry(store, "collets") as entry:
        register = Register(entry.connection)
        for i in range(ITEMS):
            card = Card(kind="collet", bore_pm=int(random.integers(2_000, 16_000)) * UM)
            limits = [Limit(int(random.integers(6, 20)) * UM, distance_pm=16 * MM)] if i % 3 else []
            items.add_item(entry, register, f"T-{i:03d}", card, limits)
        limit = Limit(12 * UM, setup="LATHE")
        set_limit(entry, register, register.need("LATHE", "setup"), 0, limit)
    ids: list[int] = []
    for day in range(1, 6):
        if day == 4:
            change(store)
        batch = [one for i in range(ITEMS) if (i + day) % 3 for one in sitting(random, i, day)]
        ids += log(store, *batch)
    with new_entry(store, "strike") as entry:
        register = Register(entry.connection)
        item = register.need("T-000", "item")
        striking.strike(entry, item, ids[0], reason="misread")


def change(store: Store) -> None:
    with new_entry(store, "work") as entry:
        register = Register(entry.connection)
        for i in range(0, ITEMS, 7):
            work = Work("bored", "2026-03-03T18:00", limits=(Limit(9 * UM),))
            items.modify(entry, register, register.need(f"T-{i:03d}", "item"), work)
        setups.refit(entry, register, register.need("TAIL", "setup"), reason="crash", since="2026-03-03T18:00")


def sitting(random: np.random.Generator, i: int, day: int) -> Iterator[Clamping]:
    centre = random.uniform(1, 8)
    for _ in range(int(random.integers(1, 4))):
        angle = np.radians(np.arange(0, 360, 90))
        axis = random.normal(centre, 1.5), random.normal(0, 1.5)
        read = np.round(axis[0] * np.cos(angle) + axis[1] * np.sin(angle) + random.normal(0, 0.3, 4), 1)
        swing = round(float(np.hypot(*axis)) * 2, 1)
        point = tuple(Reading(round(value * UM), f"{value:g}", UM // 10) for value in read.tolist())
        tir = (Reading(round(swing * UM), f"{swing:g}", UM // 10),)
        turn = Turn("point", point, 16 * MM) if i % 2 else Turn("tir", tir, (16, 40)[i % 4 == 0] * MM)
        yield Clamping(
            f"T-{i:03d}",
            *(("LATHE", f"2026-03-{day:02d}T10:00"), ("TAIL", f"2026-03-{day:02d}T10:00"))[i % 5 == 0],
            (turn,),
            position="" if i % 5 == 0 else "AB"[i % 3 == 0],
            clocking=(("P-65", (0, 120_000, 240_000)[int(random.integers(3))]),) if i % 9 == 1 else (),
            instrument=("", "D-1", "D-2")[i % 3],
            lever_mdeg=15_000 if i % 3 == 1 else None,
            pin=("P-65", "")[i % 4 == 1],
            recalled=i % 11 == 0 and day == 1,
        )


def differences(one: Any, other: Any, path: str = "") -> Iterator[str]:
    """Where two documents differ by more than the last digits of a double."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key in one:
            yield from differences(one[key], other[key], f"{path}.{key}")
    elif isinstance(one, list | tuple) and isinstance(other, list | tuple) and len(one) == len(other):
        for index, (left, right) in enumerate(zip(one, other, strict=True)):
            yield from differences(left, right, f"{path}[{index}]")
    elif isinstance(one, float) and isinstance(other, float):
        if abs(one - other) > 10**-DIGITS * max(abs(one), abs(other)):
            yield f"{path}: {one!r} and {other!r}"
    elif one != other:
        yield f"{path}: {one!r} and {other!r}"


@pytest.fixture
def both(
    tmp_path: Path,
    postgresql: Any,
    workshop: Callable[[Store], None],
    log: Callable[..., list[int]],
) -> Iterator[list[Store]]:
    targets = [str(tmp_path / "book.sqlite"), postgresql.new_database()]
    stores = [open_store(target, create=True) for target in targets]
    for store in stores:
        workshop(store)
        simulate(store, log)
    yield stores
    for store in stores:
        store.close()
    postgresql.drop_database(targets[1])


def test_all_answers_agree_to_twelve_digits(both: list[Store]) -> None:
    answers = [document(assess(store)) for store in both]
    groups = [group for answer in answers[0]["answers"] for group in answer["groups"]]
    assert len(answers[0]["answers"]) > ITEMS
    assert len({group["next_clampings"] for group in groups}) >= 3
    assert {group["limit_from"] for group in groups} == {None, "item", "setup"}
    assert list(differences(answers[0], answers[1])) == []

    for code in ("T-001", "T-010", "T-049", "LATHE"):
        one, other = (document(assess(store, code)) for store in both)
        assert list(differences(one, other)) == []

    senses = [sense.document(sense.sense(store)) for store in both]
    assert all(answer["bodies"] for answer in senses[0]["answers"])
    assert list(differences(senses[0], senses[1])) == []
    for code in ("T-001", "T-049"):
        one, other = (turns.document(turns.turns(store, code)) for store in both)
        assert len(one["answers"][0]["turns"]) > 2
        assert list(differences(one, other)) == []

    for store in both:
        with store.writing() as connection:
            deriving.rebuild(connection)
    assert [document(assess(store)) for store in both] == answers
