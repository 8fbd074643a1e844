"""What the turns of an item tell: the same figures as the logbook derived, and what stands beside them."""

import dataclasses
import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from qclog.errors import NotFoundError
from qclog.logbook import gauges, items, schema, striking
from qclog.logbook.deriving import rebuild
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.questions.turns import Answer, ReadTurn, document, turns
from qclog.records import Clamping, Reading, Turn, Work
from qclog.statistics.turn.turns import evenly_spaced, pool_residual_sd

UM = 1_000_000
MM = 1_000_000_000
Log = Callable[..., list[int]]


def turn_of(values_um: Any, angles_deg: Any = None, *, step_um: float = 1.0, closure_um: float | None = None) -> Turn:
    angles = evenly_spaced(len(values_um)) if angles_deg is None else angles_deg
    readings = tuple(
        Reading(round(value * UM), f"{value:g}", round(step_um * UM), round(angle * 1000))
        for value, angle in zip(values_um, angles, strict=True)
    )
    return Turn("point", readings, 16 * MM, closure_pm=None if closure_um is None else round(closure_um * UM))


def clamping(*read: Turn, **changes: Any) -> Clamping:
    return dataclasses.replace(Clamping("C-046", "LATHE", "2026-03-04", read, position="A"), **changes)


def lobed(n: int, *lobes: tuple[int, float, float]) -> Any:
    angles = evenly_spaced(n)
    return np.sum([a * np.cos(k * np.radians(angles - high)) for k, a, high in lobes], axis=0)


def rounded(values_um: Any, step_um: float = 0.1) -> list[float]:
    return [round(value / step_um) * step_um for value in values_um]


def only(answer: Answer) -> ReadTurn:
    (one,) = answer.turns
    return one


def strike(store: Store, number: int, **what: int) -> None:
    with new_entry(store, "strike") as entry:
        item = Register(entry.connection).need("C-046", "item")
        striking.strike(entry, item, number, reason="misread", **what)


def test_the_figures_are_those_the_logbook_derived(book: Store, log: Log) -> None:
    rng = np.random.default_rng(3)
    for n in (3, 4, 5, 6, 8, 12, 12, 12, 36):
        noisy = lobed(n, (1, 4, 70), (2, 0.5, 10), (3, 0.8, 50)) + 0.2 * rng.normal(size=n)
        log(book, clamping(turn_of(rounded(noisy), step_um=0.1), instrument="D-1", lever_mdeg=20_000))
    gap = np.delete(evenly_spaced(12), [3, 4])
    log(book, clamping(turn_of(rounded(3 * np.cos(np.radians(gap))), gap, step_um=0.1), setup="TAIL", position=""))
    for _ in range(2):
        found = turns(book, "c-046")
        with book.reading() as connection:
            rows = connection.execute(sa.select(schema.figure).order_by(schema.figure.c.turn_id)).all()
        assert len(found.turns) == len(rows) == 10
        for one, row in zip(sorted(found.turns, key=lambda t: t.clamping), rows, strict=True):
            assert one.clamping == row.clamping_id
            assert one.full_swing_um == row.value_um
            assert one.once_per_turn_um == pytest.approx(
                2 * math.hypot(row.eccentricity_x_um, row.eccentricity_y_um), rel=1e-15
            )
            high = math.degrees(math.atan2(row.eccentricity_y_um, row.eccentricity_x_um)) % 360
            assert one.high_spot_deg == pytest.approx(high, abs=1e-11)
            assert (one.residual_um, one.residual_df) == (row.residual_sd_um, row.residual_df)
        with book.writing() as connection:
            rebuild(connection)


def test_a_turn_says_when_where_and_with_what_it_was_read(book: Store, log: Log) -> None:
    (number,) = log(book, clamping(turn_of([4, 1, -3, 0]), instrument="D-1", lever_mdeg=0, clocking=(("P-65", 9_000),)))
    answer = turns(book, "C-046")
    assert (answer.item, answer.modification, answer.what) == ("C-046", 0, "as received")
    one = only(answer)
    assert (one.clamping, one.turn, one.taken_at) == (number, 1, "2026-03-04")
    assert (one.setup, one.setup_revision, one.sense, one.position) == ("LATHE", 1, "clockwise", "A")
    assert (one.clocking, one.distance_mm, one.characteristic) == ("P-65=9", 16.0, "runout")
    assert (one.instrument, one.readings) == ("D-1", 4)
    assert one.angles_deg == (0.0, 90.0, 180.0, 270.0)
    assert one.readings_um == (4.0, 1.0, -3.0, 0.0)
    assert one.once_per_turn_um == pytest.approx(2 * math.hypot(3.5, 0.5))
    assert one.high_spot_deg == pytest.approx(math.degrees(math.atan2(0.5, 3.5)))
    assert one.lobes_as_runout == (3, 5, 7, 9)


def test_a_steep_angle_of_the_lever_leaves_the_turn_out_and_a_flat_one_is_taken_out_of_its_readings(
    book: Store, log: Log
) -> None:
    log(
        book,
        clamping(turn_of([10, 5, 0, 5], closure_um=2.0), instrument="D-1", lever_mdeg=25_000),
        clamping(turn_of([10, 5, 0, 5]), instrument="D-1", lever_mdeg=31_000, label="steep"),
    )
    one = only(turns(book, "C-046"))
    flat = math.cos(math.radians(25))
    assert one.readings_um == pytest.approx((10 * flat, 5 * flat, 0, 5 * flat))
    assert one.full_swing_um == pytest.approx(10 * flat)
    assert one.closure_um == pytest.approx(2 * flat)


def test_what_is_struck_out_recalled_a_swing_or_from_before_the_last_modification_is_not_told(
    book: Store, log: Log
) -> None:
    swing = Turn("tir", (Reading(5 * UM, "5", UM),), 16 * MM)
    first, second, third, fourth, fifth = log(
        book,
        clamping(turn_of([4, 1, -3, 0]), label="whole"),
        clamping(turn_of([5, 1, -3, 0]), swing, turn_of([6, 1, -3, 0]), label="turn"),
        clamping(turn_of([7, 1, -3, 0, 2]), label="reading"),
        clamping(turn_of([4, 1, -3]), label="too few left"),
        clamping(turn_of([4, 1, -3, 0]), label="old", recalled=True),
    )
    del fifth
    strike(book, first)
    strike(book, second, turn=1)
    strike(book, third, turn=1, reading=5)
    strike(book, fourth, turn=1, reading=2)
    found = turns(book, "C-046").turns
    assert [(one.clamping, one.turn, one.readings_um) for one in found] == [
        (second, 3, (6.0, 1.0, -3.0, 0.0)),
        (third, 1, (7.0, 1.0, -3.0, 0.0)),
    ]
    assert found[1].angles_deg == (0.0, 72.0, 144.0, 216.0)
    with new_entry(book, "work") as entry:
        register = Register(entry.connection)
        items.modify(entry, register, register.need("C-046", "item"), Work("ground", "2026-03-20"))
    answer = turns(book, "C-046")
    assert (answer.modification, answer.turns, answer.noise) == (1, (), ())


def test_turns_stand_in_the_order_of_time(book: Store, log: Log) -> None:
    log(book, clamping(turn_of([4, 1, -3, 0]), taken_at="2026-03-09"), clamping(turn_of([5, 1, -3, 0])))
    assert [one.taken_at for one in turns(book, "C-046").turns] == ["2026-03-04", "2026-03-09"]


def test_a_setup_counted_the_other_way_round_is_told_clockwise_and_named(book: Store, log: Log) -> None:
    log(book, clamping(turn_of([0, 4, 0, -4]), setup="TAIL", position=""))
    one = only(turns(book, "C-046"))
    assert (one.sense, one.angles_deg) == ("counterclockwise", (0.0, 270.0, 180.0, 90.0))
    assert one.high_spot_deg == pytest.approx(270)


def test_lobes_are_named_with_the_swing_they_cause(book: Store, log: Log) -> None:
    three = rounded(lobed(12, (1, 4, 70), (3, 0.8, 50)))
    log(book, clamping(turn_of(three, step_um=0.1)))
    one = only(turns(book, "C-046"))
    (lobe,) = one.lobes
    assert lobe.count == 3
    assert lobe.swing_um == pytest.approx(1.6, abs=0.1)
    assert lobe.high_spot_deg == pytest.approx(50, abs=3)
    assert one.lobes_as_runout == (11, 13, 23, 25)
    assert one.once_per_turn_um == pytest.approx(8, abs=0.1)


def test_the_same_lobes_read_at_quarter_turns_pass_for_run_out(book: Store, log: Log) -> None:
    log(book, clamping(turn_of(rounded(lobed(4, (1, 4, 70), (3, 0.8, 50))), step_um=0.1)))
    one = only(turns(book, "C-046"))
    assert one.lobes == ()
    assert 3 in one.lobes_as_runout
    assert abs(one.once_per_turn_um - 8) > 0.5


def test_a_turn_of_few_readings_leans_on_the_noise_of_its_indicator_over_all_items(book: Store, log: Log) -> None:
    rng = np.random.default_rng(5)
    read = [turn_of(rounded(lobed(12, (1, 4, 70)) + 0.4 * rng.normal(size=12), 0.01), step_um=0.01) for _ in range(4)]
    log(book, *(clamping(one, item="C-047", instrument="D-2", label=str(i)) for i, one in enumerate(read)))
    log(book, clamping(read[0], item="C-047", instrument="D-1", lever_mdeg=0, label="another indicator"))
    log(book, clamping(turn_of([4, 1, -3, 0.5], step_um=0.1), instrument="D-2"))
    others = [one for one in turns(book, "C-047").turns if one.instrument == "D-2"]
    answer = turns(book, "C-046")
    one = only(answer)
    sd, df = pool_residual_sd(
        [*(float(t.residual_um or 0) for t in others), one.residual_um or 0], [*(t.residual_df for t in others), 1]
    )
    (noise,) = answer.noise
    assert (noise.instrument, noise.df, noise.turns) == ("D-2", df, 5)
    assert noise.noise_um == pytest.approx(sd)
    assert df == 4 * 5 + 1
    assert (one.noise_um, one.noise_df) == (noise.noise_um, 21)
    assert one.u_once_per_turn_um == pytest.approx(sd * math.sqrt(2))
    assert one.u_full_swing_um == pytest.approx(sd * math.sqrt(2), rel=1e-3)
    assert one.u_high_spot_deg == pytest.approx(math.degrees(sd / math.sqrt(2) / (one.once_per_turn_um / 2)))
    assert all((t.noise_um, t.noise_df) == (t.residual_um, 5) for t in others)


def test_turns_for_which_no_indicator_was_named_lean_on_those_of_the_item_alone(book: Store, log: Log) -> None:
    log(book, clamping(turn_of([4, 1, -3, 0]), item="C-047"), clamping(turn_of([4, 1, -3, 2])))
    (noise,) = turns(book, "C-046").noise
    assert (noise.instrument, noise.df, noise.turns) == ("", 1, 1)


def test_recalled_turns_and_a_steep_lever_tell_nothing_of_the_indicator(book: Store, log: Log) -> None:
    log(
        book,
        clamping(turn_of([4, 1, -3, 0]), item="C-047", instrument="D-1", lever_mdeg=40_000),
        clamping(turn_of([4, 1, -3, 0]), item="C-047", instrument="D-1", lever_mdeg=0, recalled=True, label="old"),
        clamping(turn_of([4, 1, -3, 0]), instrument="D-1", lever_mdeg=0),
    )
    (noise,) = turns(book, "C-046").noise
    assert noise.turns == 1


def test_readings_that_fit_exactly_are_known_no_better_than_their_step(book: Store, log: Log) -> None:
    log(book, clamping(turn_of([4, 1, -2, 1])))
    one = only(turns(book, "C-046"))
    assert one.residual_um == pytest.approx(0, abs=1e-9)
    assert one.noise_um == pytest.approx(1 / math.sqrt(12))
    assert one.u_once_per_turn_um == pytest.approx(math.sqrt(2 / 12))


def test_of_a_digital_indicator_the_step_is_one_of_its_digits(book: Store, log: Log) -> None:
    with new_entry(book, "indicator") as entry:
        gauges.add_instrument(
            entry,
            Register(entry.connection),
            "E-1",
            kind="electronic",
            unit="um",
            division_pm=2 * UM,
            range_pm=None,
            correct_at_mdeg=0,
            serial="",
        )
    log(book, clamping(turn_of([4, 1, -2, 1]), instrument="E-1"))
    assert only(turns(book, "C-046")).noise_um == pytest.approx(2 / math.sqrt(12))


def test_three_readings_of_an_indicator_never_seen_before_have_no_uncertainty_to_show(book: Store, log: Log) -> None:
    log(book, clamping(turn_of([4, 1, -2])))
    answer = turns(book, "C-046")
    one = only(answer)
    assert (one.u_full_swing_um, one.u_once_per_turn_um, one.u_high_spot_deg) == (None, None, None)
    assert (one.residual_um, one.residual_df, one.noise_um, one.noise_df) == (None, 0, None, 0)
    assert answer.noise == ()


def test_the_answer_is_one_json_document_without_surprises(book: Store, log: Log) -> None:
    log(
        book, clamping(turn_of(rounded(lobed(12, (1, 4, 70), (3, 0.8, 50))), step_um=0.1)), clamping(turn_of([4, 1, 0]))
    )
    said = json.loads(json.dumps(document(turns(book, "C-046")), allow_nan=False))
    assert said["question"] == "turns"
    (answer,) = said["answers"]
    assert {len(one["readings_um"]) for one in answer["turns"]} == {3, 12}
    assert answer["turns"][0]["lobes"][0]["count"] == 3


def test_an_item_without_turns_has_an_empty_answer_and_an_unknown_one_is_refused(book: Store) -> None:
    assert turns(book, "C-048").turns == ()
    with pytest.raises(NotFoundError, match="C-049"):
        turns(book, "C-049")
