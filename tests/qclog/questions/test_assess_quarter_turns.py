"""Who judges from quarter turns alone is told what they do not show; nobody else is."""

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from qclog.logbook import striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.questions.codes import Caveat
from qclog.questions.judging.groups import Group
from qclog.records import Clamping, Reading, Turn
from qclog.statistics.turn.turns import evenly_spaced

UM = 1_000_000
MM = 1_000_000_000
VECTORS = (2.1 + 0.9j, 2.6 + 0.4j, 2.4 + 1.3j, 2.2 + 0.6j)
Log = Callable[..., list[int]]


def turn(vector: complex, n: int, *, left_out: Sequence[int] = ()) -> Turn:
    angles = np.delete(evenly_spaced(n), left_out)
    values = np.round(np.real(vector * np.exp(-1j * np.radians(angles))), 1)
    readings = tuple(
        Reading(round(value * UM), f"{value:g}", UM // 10, round(angle * 1000))
        for value, angle in zip(values.tolist(), angles.tolist(), strict=True)
    )
    return Turn("point", readings, 16 * MM)


def swing(vector: complex, angle_deg: float | None = None) -> Turn:
    value = round(2 * abs(vector), 1)
    angle = None if angle_deg is None else round(angle_deg * 1000)
    return Turn("tir", (Reading(round(value * UM), f"{value:g}", UM // 10, angle),), 16 * MM)


def clampings(*turns: Sequence[Turn], **changes: Any) -> list[Clamping]:
    base = Clamping("C-046", "LATHE", "", (), position="A", instrument="D-1", lever_mdeg=0)
    return [
        dataclasses.replace(base, taken_at=f"2026-03-{day:02d}", turns=tuple(read), **changes)
        for day, read in enumerate(turns, start=2)
    ]


def group(store: Store) -> Group:
    (answer,) = [one for one in assess(store) if one.item == "C-046"]
    (alone,) = assess(store, "C-046")
    assert answer.groups == alone.groups
    (found,) = answer.groups
    return found


def warned(store: Store) -> bool:
    return Caveat.FOUR_READINGS in group(store).caveats


def from_vectors(store: Store) -> bool:
    bound = group(store).bound
    return bound is not None and "vectors" in bound.method


def test_a_verdict_from_vectors_of_quarter_turns_alone_names_what_they_do_not_show(book: Store, log: Log) -> None:
    log(book, *clampings(*([turn(v, 4)] for v in VECTORS)))
    assert from_vectors(book)
    assert warned(book)


@pytest.mark.parametrize("n", [6, 8, 12])
def test_six_readings_and_more_need_no_warning_though_some_leave_as_little_in_the_residuals(
    book: Store, log: Log, n: int
) -> None:
    log(book, *clampings(*([turn(v, n)] for v in VECTORS)))
    assert from_vectors(book)
    assert not warned(book)


@pytest.mark.parametrize("swing_first", [False, True])
def test_a_swing_watched_in_the_same_clamping_needs_no_warning(sqlite_book: Store, log: Log, swing_first: bool) -> None:
    log(sqlite_book, *clampings(*([turn(v, 4), swing(v)][:: -1 if swing_first else 1] for v in VECTORS)))
    assert from_vectors(sqlite_book)
    assert not warned(sqlite_book)


def test_swings_with_their_high_spot_need_no_warning(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(*([swing(v, np.degrees(np.angle(v)))] for v in VECTORS)))
    assert from_vectors(sqlite_book)
    assert not warned(sqlite_book)


def test_one_clamping_with_twelve_readings_among_them_has_shown_the_lobes(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(*([turn(v, 12 if i == 0 else 4)] for i, v in enumerate(VECTORS))))
    assert from_vectors(sqlite_book)
    assert not warned(sqlite_book)


def test_one_clamping_judges_nothing_from_vectors_and_needs_no_warning(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings([turn(VECTORS[0], 4)]))
    assert group(sqlite_book).eccentricity is not None
    assert not from_vectors(sqlite_book)
    assert not warned(sqlite_book)


def test_where_the_swings_govern_nothing_is_said_of_quarter_turns(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(*([turn(v, 4)] for v in VECTORS[:3]), [swing(VECTORS[3])]))
    assert not from_vectors(sqlite_book)
    assert not warned(sqlite_book)


def test_a_recalled_turn_or_a_steep_lever_among_them_does_not_silence_the_warning(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(*([turn(v, 4)] for v in VECTORS)))
    log(sqlite_book, *clampings([turn(VECTORS[0], 12)], recalled=True, label="old"))
    (steep,) = clampings([turn(VECTORS[0], 12)], label="steep")
    log(sqlite_book, dataclasses.replace(steep, lever_mdeg=40_000))
    assert warned(sqlite_book)


def test_readings_struck_out_are_not_counted(sqlite_book: Store, log: Log) -> None:
    numbers = log(sqlite_book, *clampings(*([turn(v, 5)] for v in VECTORS)))
    assert not warned(sqlite_book)
    with new_entry(sqlite_book, "strike") as entry:
        item = Register(entry.connection).need("C-046", "item")
        for number in numbers:
            striking.strike(entry, item, number, reason="misread", turn=1, reading=3)
    assert from_vectors(sqlite_book)
    assert warned(sqlite_book)
