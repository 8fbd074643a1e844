"""What an occasion writes into the logbook: clampings once each, strike-outs, and what was sent and not taken."""

import dataclasses
from collections.abc import Sequence

import sqlalchemy as sa

from qclog.capture import Prepared, Typed, keep, prepare
from qclog.lengths import Unit, as_unit, split_number
from qclog.logbook import schema, striking
from qclog.logbook.clampings import Resolver
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.notation import parse_clocking
from qclog.occasion.plan import Plan
from qclog.occasion.progress import Whole


def prepared(store: Store, plan: Plan, key: str, whole: Whole, bare: Unit) -> Prepared:
    """The clamping as it would be typed, under the label that names it for good: ``key`` of the occasion, attempt.

    ``bare``: the unit of a bare number, which is said where another reading of the turn has its own.
    """
    each = len(plan.angles_deg) or 1
    texts = [event.text for event in whole.readings]
    turns = [_alike(tuple(texts[start : start + each]), bare) for start in range(0, len(texts), each)]
    often = 1 if whole.of_check_piece else plan.readings
    read = tuple(
        (distance, tuple("; ".join(turn) for turn in turns[i * often : (i + 1) * often]))
        for i, distance in enumerate(plan.distances_pm)
        if turns[i * often :]
    )
    made = prepare(
        store,
        Typed(
            item=plan.check if whole.of_check_piece else plan.item,
            swings=read if plan.steps == 1 else (),
            turns=() if plan.steps == 1 else read,
            setup=plan.setup,
            position=whole.stop.position,
            clocking=parse_clocking(whole.stop.clocking),
            pin=whole.stop.pin,
            instrument=plan.instrument,
            distance_pm=plan.distance_pm,
            torque=plan.torque,
            conditions=plan.conditions,
            operator=whole.stop.operator or None,
            on=whole.readings[0].at,
            modification=None if whole.of_check_piece else plan.modification,
            same_clamping=True,
            note=plan.note,
        ),
    )
    label = f"{key}-{whole.attempt + 1}"
    (one,) = made.clampings
    return dataclasses.replace(made, clampings=(dataclasses.replace(one, label=label, pin_out="yes"),))


def _alike(texts: tuple[str, ...], bare: Unit) -> tuple[str, ...]:
    """The readings of a turn, all with their unit or none."""
    if len(texts) == 1:
        return texts
    units = [split_number(text)[2] for text in texts]
    if all(units) or not any(units):
        return texts
    return tuple(text if unit else f"{text} {as_unit(bare)}" for text, unit in zip(texts, units, strict=True))


def figures_of(store: Store, number: int) -> list[tuple[int, float, complex | None]]:
    """Of each turn of a clamping, as read: distance in pm, swing and once-per-turn vector in µm."""
    f, t = schema.figure.c, schema.turn.c
    query = (
        sa.select(t.distance_pm, f.value_um, f.eccentricity_x_um, f.eccentricity_y_um)
        .join(schema.turn, t.id == f.turn_id)
        .where(f.clamping_id == number)
        .order_by(t.distance_pm, f.turn_id)
    )
    with store.reading() as connection:
        return [(at, swing, None if x is None else complex(x, y)) for at, swing, x, y in connection.execute(query)]


def number_of(store: Store, made: Prepared) -> int | None:
    """The number of the clamping where the logbook has it already, from before an interruption or a lost reply."""
    with store.reading() as connection:
        resolved = Resolver(Register(connection)).resolve(made.clampings[0])
        return connection.scalar(sa.select(schema.clamping.c.id).where(schema.clamping.c.uuid == resolved.uuid))


def log(store: Store, plan: Plan, key: str, whole: Whole, bare: Unit) -> int:
    """The number of the clamping in the logbook, which has it once however often this is asked for."""
    made = prepared(store, plan, key, whole, bare)
    there = number_of(store, made)
    return keep(store, made)[0] if there is None else there


def strike(store: Store, plan: Plan, wholes: Sequence[Whole], reason: str) -> None:
    """Strike out clampings of the occasion that the logbook has."""
    with new_entry(store, "measure: undo", plan.operator) as entry:
        register = Register(entry.connection)
        for whole in wholes:
            assert whole.number is not None
            owner = register.need(plan.check if whole.of_check_piece else plan.item, "item")
            striking.strike(entry, owner, whole.number, reason=reason)


def struck(store: Store, numbers: Sequence[int]) -> list[int]:
    """Which of these clampings are struck out."""
    column = schema.strike.c.clamping_id
    with store.reading() as connection:
        return list(connection.scalars(sa.select(column).where(column.in_(numbers))))


def keep_doubt(store: Store, plan: Plan, numbers: Sequence[int], why: str, typed: str) -> None:
    """Clampings that are kept in spite of a doubt, which stays beside them."""
    with new_entry(store, "measure: kept in doubt", plan.operator) as entry:
        owner = Register(entry.connection).need(plan.item, "item").id
        for number in numbers:
            entry.add(schema.doubt, item_id=owner, clamping_id=number, why=why, typed=typed, answer="kept")


def keep_not_taken(store: Store, plan: Plan, lines: Sequence[tuple[str, str]]) -> None:
    """What was sent during an occasion and is no reading: why, and its text."""
    with new_entry(store, "measure: not taken", plan.operator) as entry:
        owner = Register(entry.connection).need(plan.item, "item").id
        for why, text in lines:
            entry.add(schema.doubt, item_id=owner, why=why, typed=text, answer="withdrawn")
