"""Figures of a turn: what they are, that striking out takes them away, and that rebuilding gives them again."""

import dataclasses
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import deriving, gauges, schema, striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.figures import read_figures, read_series
from qclog.logbook.lookup import Register
from qclog.records import Clamping, Reading, Turn
from qclog.statistics.turn.turns import evenly_spaced, fit_turns

UM = 1_000_000
MM = 1_000_000_000
Log = Callable[..., list[int]]


def turn_of(*values_um: float, kind: str = "point", angle_deg: float | None = None, distance_mm: float = 16) -> Turn:
    angle = None if angle_deg is None else round(angle_deg * 1000)
    readings = tuple(Reading(round(value * UM), f"{value:g}", UM, angle) for value in values_um)
    return Turn(kind, readings, round(distance_mm * MM))  # type: ignore[arg-type]


def clamping(*turns: Turn, **changes: Any) -> Clamping:
    return dataclasses.replace(Clamping("C-046", "LATHE", "2026-03-04", turns, position="A"), **changes)


def figures(store: Store) -> list[Any]:
    with store.reading() as connection:
        return list(connection.execute(sa.select(schema.figure).order_by(schema.figure.c.turn_id)))


def derived(store: Store) -> list[tuple[Any, ...]]:
    """The derived tables as one, by what they say: the numbers of series and gaugings are not part of it."""
    f, s, g = schema.figure, schema.series, schema.gauging
    said = [c for t in (f, s, g) for c in t.columns if c.name not in ("id", "series_id", "gauging_id")]
    query = sa.select(*said).join(s, s.c.id == f.c.series_id).join(g, g.c.id == f.c.gauging_id).order_by(f.c.turn_id)
    with store.reading() as connection:
        return [tuple(row) for row in connection.execute(query)]


def strike(
    store: Store, clamping_id: int, reason: str = "misread", turn: int | None = None, reading: int | None = None
) -> None:
    with new_entry(store, "strike") as entry:
        item = Register(entry.connection).need("C-046", "item")
        striking.strike(entry, item, clamping_id, reason=reason, turn=turn, reading=reading)


def test_a_swing_without_angle_is_only_a_size(book: Store, log: Log) -> None:
    log(book, clamping(turn_of(5.5, kind="tir")))
    (row,) = figures(book)
    assert (row.value_um, row.eccentricity_x_um, row.eccentricity_y_um) == (5.5, None, None)
    assert (row.residual_sd_um, row.residual_df, row.recalled, row.step_pm) == (None, 0, 0, UM)
    assert (row.taken_order, row.method) == (20260304000000, deriving.METHOD)


def test_a_swing_with_its_high_spot_is_half_of_it_as_a_vector(book: Store, log: Log) -> None:
    log(book, clamping(turn_of(6, kind="tir", angle_deg=120)))
    (row,) = figures(book)
    assert row.value_um == 6.0
    assert row.eccentricity_x_um == pytest.approx(3 * math.cos(math.radians(120)), abs=1e-12)
    assert row.eccentricity_y_um == pytest.approx(3 * math.sin(math.radians(120)), abs=1e-12)


def test_quarter_turns_give_the_eccentricity_of_opposite_readings(book: Store, log: Log) -> None:
    """Four readings at quarter turns: half the difference of opposite ones on each axis, by hand."""
    log(book, clamping(turn_of(4, 1, -3, 0)))
    (row,) = figures(book)
    assert row.eccentricity_x_um == pytest.approx((4 - -3) / 2, abs=1e-12)
    assert row.eccentricity_y_um == pytest.approx((1 - 0) / 2, abs=1e-12)
    assert row.value_um == pytest.approx(2 * math.hypot(3.5, 0.5), rel=1e-5)  # the swing is found on a grid
    # what is left is the two-lobe part, (4 - 1 - 3 - 0) / 4 = 0
    assert row.residual_df == 1
    assert row.residual_sd_um == pytest.approx(0.0, abs=1e-12)


def test_a_pure_circle_of_known_size_and_direction_is_found_again(book: Store, log: Log) -> None:
    angles = np.radians(evenly_spaced(12))
    log(book, clamping(turn_of(*(20 + 4 * np.cos(angles - math.radians(75))))))
    (row,) = figures(book)
    assert math.hypot(row.eccentricity_x_um, row.eccentricity_y_um) == pytest.approx(4, abs=2e-6)
    assert math.degrees(math.atan2(row.eccentricity_y_um, row.eccentricity_x_um)) == pytest.approx(75, abs=1e-4)
    assert row.value_um == pytest.approx(8, abs=1e-5)


@pytest.mark.parametrize("count", [3, 4, 5, 6, 7, 8, 12, 36])
def test_figures_are_those_of_the_fit(sqlite_book: Store, log: Log, count: int) -> None:
    values = np.round(np.random.default_rng(count).normal(0, 5, (5, count)), 1)
    log(sqlite_book, *(clamping(turn_of(*row)) for row in values))
    fit = fit_turns(values, evenly_spaced(count).round(3))
    got = figures(sqlite_book)
    np.testing.assert_allclose([r.value_um for r in got], fit.full_swing_um, rtol=1e-12)
    np.testing.assert_allclose([r.eccentricity_x_um for r in got], fit.eccentricity.real, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose([r.eccentricity_y_um for r in got], fit.eccentricity.imag, rtol=1e-9, atol=1e-12)
    assert {r.residual_df for r in got} == {fit.residual_df}
    if fit.residual_df:
        np.testing.assert_allclose([r.residual_sd_um for r in got], fit.residual_sd_um, rtol=1e-9, atol=1e-12)
    else:
        assert {r.residual_sd_um for r in got} == {None}


def test_a_setup_read_counterclockwise_turns_the_high_spot_round(book: Store, log: Log) -> None:
    log(book, clamping(turn_of(4, 1, -3, 0)), clamping(turn_of(4, 1, -3, 0), setup="TAIL", position=""))
    one, other = figures(book)
    assert other.eccentricity_x_um == pytest.approx(one.eccentricity_x_um, abs=1e-12)
    assert other.eccentricity_y_um == pytest.approx(-one.eccentricity_y_um, abs=1e-12)
    assert other.value_um == pytest.approx(one.value_um, abs=1e-9)


def test_a_lever_at_an_angle_is_corrected_against_the_angle_it_reads_right_at(book: Store, log: Log) -> None:
    with new_entry(book, "another lever") as entry:
        gauges.add_instrument(
            entry,
            Register(entry.connection),
            "D-3",
            kind="lever",
            unit="um",
            division_pm=UM,
            range_pm=None,
            correct_at_mdeg=12_000,
            serial="",
        )
    log(
        book,
        clamping(turn_of(10, kind="tir"), instrument="D-1", lever_mdeg=20_000),
        clamping(turn_of(10, kind="tir"), instrument="D-3", lever_mdeg=20_000),
        clamping(turn_of(10, kind="tir"), instrument="D-3", lever_mdeg=12_000),
        clamping(turn_of(10, kind="tir"), instrument="D-3"),
        clamping(turn_of(10, kind="tir"), instrument="D-2", lever_mdeg=20_000),
        clamping(turn_of(5, 0, -5, 0), instrument="D-1", lever_mdeg=60_000),
    )
    cos = {angle: math.cos(math.radians(angle)) for angle in (12, 20, 60)}
    expected = [10 * cos[20], 10 * cos[20] / cos[12], 10.0, 10.0, 10.0, 10 * cos[60]]
    assert [row.value_um for row in figures(book)] == pytest.approx(expected, abs=1e-9)


def test_turns_of_a_clamping_count_once_with_their_mean(book: Store, log: Log) -> None:
    log(book, clamping(turn_of(4, kind="tir"), turn_of(6, kind="tir"), turn_of(20, kind="tir", distance_mm=40)))
    log(book, clamping(turn_of(8, kind="tir")))
    with book.reading() as connection:
        series = {one.id: one.distance_tenths for one in read_series(connection)}
        found = read_figures(connection)
    values = sorted((series[int(s)], float(v)) for s, v in zip(found.series, found.value_um, strict=True))
    assert values == [(160, 5.0), (160, 8.0), (400, 20.0)]


def test_series_hold_what_is_alike_to_a_tenth_of_a_millimetre(book: Store, log: Log) -> None:
    for distance, pm in ((16.0, 6_479 * UM), (16.04, 6_520 * UM), (16.06, 6_500 * UM), (16.0, 6_600 * UM)):
        log(book, clamping(turn_of(5, kind="tir", distance_mm=distance), diameter_pm=pm))
    log(book, clamping(turn_of(5, kind="tir")))
    log(book, clamping(turn_of(5, kind="tir"), position="B"))
    log(book, clamping(turn_of(5, kind="tir"), clocking=(("C-046", 90_000),)))
    with book.reading() as connection:
        found = read_figures(connection)
        places = {
            (s.distance_tenths, s.diameter_tenths, s.position, s.clocking): int((found.series == s.id).sum())
            for s in read_series(connection)
        }
    assert places == {
        (160, 65, "A", ""): 2,
        (161, 65, "A", ""): 1,
        (160, 66, "A", ""): 1,
        (160, -1, "A", ""): 1,
        (160, -1, "B", ""): 1,
        (160, -1, "A", "C-046=90"): 1,
    }


def test_recalled_and_steep_readings_are_kept_but_stand_behind_no_verdict(book: Store, log: Log) -> None:
    log(
        book,
        clamping(turn_of(5, kind="tir")),
        clamping(turn_of(6, kind="tir"), recalled=True, taken_at="2019-05"),
        clamping(turn_of(7, kind="tir"), instrument="D-1", lever_mdeg=30_001),
        clamping(turn_of(8, kind="tir"), instrument="D-1", lever_mdeg=30_000),
    )
    assert len(figures(book)) == 4
    with book.reading() as connection:
        found = read_figures(connection)
        (series,) = read_series(connection)
        assert read_figures(connection).set_aside == {series.id: (1, 1)}
    assert sorted(found.value_um) == pytest.approx([5, 8 * math.cos(math.radians(30))])


# --- striking out ---


def test_a_struck_clamping_has_no_figures_and_stays_readable(book: Store, log: Log) -> None:
    first, second = log(book, clamping(turn_of(4, 1, -3, 0), turn_of(5, kind="tir")), clamping(turn_of(5, kind="tir")))
    strike(book, first)
    assert [row.clamping_id for row in figures(book)] == [second]
    with book.reading() as connection:
        assert connection.scalar(sa.select(sa.func.count()).select_from(schema.reading)) == 6
        assert connection.scalar(sa.select(schema.strike.c.reason)) == "misread"


def test_a_struck_turn_leaves_the_others(book: Store, log: Log) -> None:
    (clamping_id,) = log(book, clamping(turn_of(4, kind="tir"), turn_of(50, kind="tir"), turn_of(6, kind="tir")))
    strike(book, clamping_id, turn=2)
    assert [row.value_um for row in figures(book)] == [4.0, 6.0]


def test_a_struck_reading_is_left_out_of_the_fit(book: Store, log: Log) -> None:
    (clamping_id,) = log(book, clamping(turn_of(4, 1, -3, 70, 2)))
    strike(book, clamping_id, turn=1, reading=4)
    (row,) = figures(book)
    fit = fit_turns([[4, 1, -3, 2]], [0, 72, 144, 288])
    assert row.value_um == pytest.approx(float(fit.full_swing_um[0]), rel=1e-12)
    assert row.eccentricity_x_um == pytest.approx(float(fit.eccentricity[0].real), rel=1e-12)
    assert row.residual_df == 1


def test_a_turn_with_too_few_readings_left_has_no_figure(book: Store, log: Log) -> None:
    (clamping_id,) = log(book, clamping(turn_of(4, 1, -3), turn_of(5, kind="tir")))
    strike(book, clamping_id, turn=1, reading=2)
    assert [row.value_um for row in figures(book)] == [5.0]
    strike(book, clamping_id, turn=2, reading=1)
    assert figures(book) == []


def test_what_is_not_there_or_struck_before_cannot_be_struck(sqlite_book: Store, log: Log) -> None:
    (clamping_id,) = log(sqlite_book, clamping(turn_of(4, 1, -3)))
    (other,) = log(sqlite_book, clamping(turn_of(5, kind="tir"), item="C-047"))
    for turn, reading in ((2, None), (0, None), (1, 4)):
        with pytest.raises(NotFoundError):
            strike(sqlite_book, clamping_id, turn=turn, reading=reading)
    for elsewhere in (other, 999):
        with pytest.raises(NotFoundError, match="C-046 has no clamping"):
            strike(sqlite_book, elsewhere)
    with pytest.raises(RefusedError, match="Which turn"):
        strike(sqlite_book, clamping_id, reading=1)
    with pytest.raises(RefusedError, match="Why"):
        strike(sqlite_book, clamping_id, reason=" ")
    strike(sqlite_book, clamping_id, turn=1, reading=1)
    with pytest.raises(RefusedError, match="struck out before"):
        strike(sqlite_book, clamping_id, turn=1, reading=1)
    strike(sqlite_book, clamping_id)
    assert [row.clamping_id for row in figures(sqlite_book)] == [other]


# --- rebuilding ---


def test_rebuilding_gives_the_same_rows_to_the_last_bit(book: Store, log: Log) -> None:
    generator = np.random.default_rng(20260304)
    for day in range(1, 8):
        records = []
        for count in (1, 3, 4, 5, 8, 12, 12):
            values = generator.normal(0, 5, count).round(2)
            one = turn_of(abs(values[0]), kind="tir", angle_deg=30) if count == 1 else turn_of(*values)
            records.append(
                clamping(
                    one,
                    taken_at=f" 2026-03-{day:02d} 10:{count}0+01:00" if count < 6 else f"2026-03-{day:02d}",
                    item=f"C-04{6 + day % 3}",
                    instrument=("", "D-1", "D-2")[count % 3],
                    lever_mdeg=(None, 20_000)[day % 2],
                    pin=("", "P-65")[count % 2],
                    recalled=count == 5,
                )
            )
        log(book, *records)
    strike(book, 17)
    strike(book, 21, turn=1, reading=5)
    before = derived(book)
    assert len(before) == 48
    with book.writing() as connection:
        assert deriving.rebuild(connection) == 48
    assert derived(book) == before


def test_rebuilding_some_clampings_leaves_the_others_alone(book: Store, log: Log) -> None:
    ids = log(book, *(clamping(turn_of(4, 1, -3, step)) for step in range(5)))
    before = figures(book)
    with book.writing() as connection:
        assert deriving.rebuild(connection, ids[1:3]) == 2
    assert figures(book) == before


def test_every_figure_says_which_method_made_it(book: Store, log: Log) -> None:
    log(book, clamping(turn_of(4, 1, -3, 0)), clamping(turn_of(5, kind="tir")))
    assert {row.method for row in figures(book)} == {deriving.METHOD}
