"""Writing readings in the exchange form, so that importing the file says the same again.

Struck-out clampings, turns and readings are left out, and turns with too few readings left. What the form has
no column for (lever angle, torque, conditions, pin out, return to zero, calibrations) is in the folder of
tables only.
"""

import csv
import io
import os
import re
from collections.abc import Container, Iterator, Sequence
from contextlib import contextmanager, suppress
from decimal import Decimal
from itertools import groupby
from pathlib import Path
from typing import Any, Final, TextIO

import sqlalchemy as sa

from qclog import times
from qclog.characteristics import told_apart
from qclog.errors import RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.exchange.file import COLUMNS
from qclog.logbook.exchange.gathering import LEAST_READINGS
from qclog.logbook.exchange.spreadsheets import guarded
from qclog.logbook.exchange.written import written_angle, written_limit, written_pins, written_value
from qclog.logbook.figures import Series
from qclog.logbook.lookup import Register
from qclog.records import EVERY_DISTANCE

_ROWS_AT_ONCE: Final = 5_000
_PM_PER_MM: Final = 10**9
_CLAMPING: Final = COLUMNS.index("clamping")
_OF_READING: Final = slice(-7, None)
"""Where the reading's own columns stand in the rows of the query; as they are many, they are taken by place."""
_CLOCKING_ANGLE: Final = re.compile(r"=([0-9.]+)(?=\s|$)")

_clamping, _turn, _reading, _strike = schema.clamping, schema.turn, schema.reading, schema.strike
_revision, _modification, _sitting = schema.setup_revision, schema.modification, schema.sitting


def export_readings(store: Store, path: Path, *, items: Sequence[str] | None = None) -> int:
    """Write the readings of all items, or of some, to ``path`` and return how many.

    The file is there whole or not at all. Raises NotFoundError for an unknown item; RefusedError where the
    file cannot be written or two clampings cannot be told apart in the exchange form.
    """
    with store.reading() as connection:
        register = Register(connection)
        chosen = None if items is None else [register.need(code, "item").id for code in items]
        _refuse_same_labels(connection, register, chosen)
        with replacing(path) as file:
            return _write(file, _rows(connection, register, _standing(chosen)))


def readings_of_series(connection: sa.Connection, one: Series, clampings: Container[int]) -> str:
    """The readings behind the figures of one series, of some of its clampings, in the exchange form.

    Each clamping is labelled with its number in the logbook.
    """
    turns = sa.select(schema.figure.c.turn_id).where(schema.figure.c.series_id == one.id)
    where = sa.and_(_standing([one.item_id]), _turn.c.id.in_(turns))
    made = io.StringIO(newline="")
    _write(made, _rows(connection, Register(connection), where, clampings))
    return made.getvalue()


def _write(file: TextIO, rows: Iterator[list[str]]) -> int:
    """Write header and rows, and return how many rows."""
    writer = csv.writer(file)
    writer.writerow(COLUMNS)
    count = 0
    for row in rows:
        writer.writerow(row)
        count += 1
    return count


@contextmanager
def replacing(path: Path) -> Iterator[TextIO]:
    """A file written beside ``path`` that takes its place once it is whole and on the disk."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        raise RefusedError(
            f"{path} could not be written: {error.strerror}.", "Make room, or name another place."
        ) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _standing(chosen: Sequence[int] | None) -> sa.ColumnElement[bool]:
    """The clampings that are wanted and not struck out."""
    struck = sa.select(_strike.c.clamping_id).where(_strike.c.clamping_id.is_not(None))
    wanted = sa.true() if chosen is None else _clamping.c.item_id.in_(chosen)
    return sa.and_(wanted, _clamping.c.id.not_in(struck))


def _refuse_same_labels(connection: sa.Connection, register: Register, chosen: Sequence[int] | None) -> None:
    key = (
        _clamping.c.item_id,
        _revision.c.setup_id,
        _clamping.c.position,
        _clamping.c.clocking,
        _sitting.c.label,
        _clamping.c.label,
    )
    query = (
        sa.select(*key)
        .join(_sitting, _sitting.c.id == _clamping.c.sitting_id)
        .outerjoin(_revision, _revision.c.id == _clamping.c.setup_revision_id)
        .where(_standing(chosen))
        .group_by(*key)
        .having(sa.func.count() > 1)
        .limit(1)
    )
    if row := connection.execute(query).first():
        raise RefusedError(
            f"Two clampings of {register.text(row[0])} in sitting {row[4]} have the same label {row[5]!r}; "
            "in the exchange form they would become one.",
            "Export to a folder, which keeps everything, or strike out the one that is there twice.",
        )


def _rows(
    connection: sa.Connection,
    register: Register,
    where: sa.ColumnElement[bool],
    numbered: Container[int] | None = None,
) -> Iterator[list[str]]:
    """The rows of readings. ``numbered``: of these clampings only, with their numbers for labels."""
    struck_turns = sa.select(_strike.c.turn_id).where(_strike.c.turn_id.is_not(None))
    struck_readings = sa.select(_strike.c.reading_id).where(_strike.c.reading_id.is_not(None))
    query = (
        sa.select(
            _clamping.c.id.label("clamping_id"),
            _clamping.c.item_id,
            _clamping.c.position,
            _clamping.c.clocking,
            _clamping.c.label,
            _clamping.c.taken_at,
            _clamping.c.pin_id,
            _clamping.c.diameter_pm,
            _clamping.c.instrument_id,
            _clamping.c.operator,
            _clamping.c.recalled,
            _clamping.c.note,
            _sitting.c.label.label("sitting"),
            _modification.c.number.label("modification"),
            _revision.c.setup_id,
            _revision.c.sense,
            _turn.c.id.label("turn_id"),
            _turn.c.label.label("turn"),
            _turn.c.distance_pm,
            _turn.c.characteristic,
            _turn.c.kind,
            _reading.c.value_pm,
            _reading.c.text,
            _reading.c.step_pm,
            _reading.c.low_pm,
            _reading.c.high_pm,
            _reading.c.angle_mdeg,
            _reading.c.angle_within_mdeg,
        )
        .join(_sitting, _sitting.c.id == _clamping.c.sitting_id)
        .join(_modification, _modification.c.id == _clamping.c.modification_id)
        .outerjoin(_revision, _revision.c.id == _clamping.c.setup_revision_id)
        .join(_turn, _turn.c.clamping_id == _clamping.c.id)
        .join(_reading, _reading.c.turn_id == _turn.c.id)
        .where(where, _turn.c.id.not_in(struck_turns), _reading.c.id.not_in(struck_readings))
        .order_by(_clamping.c.id, _turn.c.id, _reading.c.rank)
    )
    found: Any = connection.execute(query, execution_options={"yield_per": _ROWS_AT_ONCE})
    for clamping_id, rows in groupby(found, key=lambda row: row.clamping_id):
        if numbered is None:
            yield from _rows_of_clamping(register, list(rows))
        elif clamping_id in numbered:
            for row in _rows_of_clamping(register, list(rows)):
                row[_CLAMPING] = str(clamping_id)
                yield row


def _rows_of_clamping(register: Register, rows: list[sa.Row[Any]]) -> Iterator[list[str]]:
    first = rows[0]
    backwards = first.sense == "counterclockwise"
    without_day = len(times.day(first.taken_at)) < len("2026-03-04")
    mark = bool(first.recalled) and not without_day and all(row.low_pm is None for row in rows)
    texts = [
        first.taken_at,
        first.sitting,
        register.text(first.item_id),
        str(first.modification),
        register.text(first.setup_id) if first.setup_id else "",
        first.position,
        _turned_back(first.clocking) if backwards else first.clocking,
        first.label,
        register.text(first.pin_id) if first.pin_id else "",
        _mm(first.diameter_pm),
        register.text(first.instrument_id) if first.instrument_id else "",
        first.operator,
        first.note,
    ]
    head = list(map(guarded, texts))
    turns = [list(turn) for _, turn in groupby(rows, key=lambda row: row.turn_id)]
    for label, turn in zip(_labels(turns), turns, strict=True):
        if turn[0].kind == "point" and len(turn) < LEAST_READINGS:
            continue
        one = turn[0]
        limit = _limit(register, first.item_id, one.characteristic, one.distance_pm)
        of_turn = [guarded(label), _mm(one.distance_pm), guarded(told_apart(one.characteristic)), one.kind]
        pins = one.kind == "value" and not first.recalled
        for row in turn:
            value_pm, text, step_pm, low_pm, high_pm, angle_mdeg, within_mdeg = row[_OF_READING]
            if pins and low_pm is not None:
                value, unit = written_pins(low_pm, high_pm, step_pm)
            else:
                value, unit = written_value(value_pm, text, step_pm, low_pm, high_pm, mark)
            angle = written_angle(angle_mdeg, within_mdeg, backwards=backwards)
            yield [*head, *of_turn, value, unit, angle, limit]


def _labels(turns: list[list[sa.Row[Any]]]) -> list[str]:
    """The labels of a clamping's turns, numbered where two could not be told apart."""
    keys = [(turn[0].turn, turn[0].distance_pm, turn[0].characteristic, turn[0].kind) for turn in turns]
    if len(set(keys)) == len(keys):
        return [turn[0].turn for turn in turns]
    return [str(number) for number in range(1, len(turns) + 1)]


def _limit(register: Register, item_id: int, characteristic: str, distance_pm: int) -> str:
    """What the item is made to by now, at this distance or at all."""
    limits = {
        limit.distance_pm: limit
        for limit in sorted(register.limits(item_id), key=lambda limit: limit.modification_number)
        if limit.characteristic == characteristic and limit.setup_id is None and not limit.position
    }
    limit = limits.get(distance_pm, limits.get(EVERY_DISTANCE))
    return "" if limit is None else written_limit(characteristic, limit.lower_pm, limit.upper_pm)


def _turned_back(clocking: str) -> str:
    """A clocking seen from a setup whose angles count the other way round."""
    return _CLOCKING_ANGLE.sub(lambda angle: f"={(360 - Decimal(angle[1])) % 360:f}", clocking)


def _mm(picometres: int | None) -> str:
    return "" if picometres is None else f"{(Decimal(picometres) / _PM_PER_MM).normalize():f}"
