"""The readings behind the figures, as tables: what was typed, what came of it, and what was struck out."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from qclog.errors import LengthError
from qclog.lengths import PICOMETRES, Unit, finest_place
from qclog.logbook.life import LoggedClamping, LoggedTurn
from qclog.questions.chart import Answer as Charted
from qclog.questions.dossier import Dossier, Place, Stretch
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup
from qclog.records import FACE_RUNOUT, SWINGS
from reports.anchors import dot_of, row_of, table_of, verdict_of
from reports.cards import circumstances
from reports.numbers import METRIC, UM_PER_MM, NumberStyle, angle, count, micrometres, size
from reports.turns import lobes_of, unit_left_out, without_unit
from reports.value_points import points_of
from reports.wording.flags import locked
from reports.wording.places import out, what


@dataclass(frozen=True, slots=True)
class Row:
    """A turn: its readings as typed with those struck out marked, its swing, its high spot."""

    readings: tuple[tuple[str, bool], ...]
    tir: str
    high_spot: str
    remarks: str
    struck: bool


@dataclass(frozen=True, slots=True)
class Clamping:
    """The turns of a clamping at one place. ``counts``: the figures of its table rest on it; ``dot``: the name of its
    dot in the picture over time, '' where it has none."""

    anchor: str
    dot: str
    number: str
    taken: str
    counts: bool
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """``directed``: some turns have a high spot. ``verdict``: the name of the verdict that rests on it, '' for none.
    ``figure``: what the column of figures shows."""

    anchor: str
    verdict: str
    title: str
    clampings: tuple[Clamping, ...]
    directed: bool
    figure: str

    @property
    def drawn(self) -> bool:
        """Whether its clampings stand in a picture over time."""
        return any(clamping.dot for clamping in self.clampings)


@dataclass(frozen=True, slots=True)
class Link:
    """What leads to readings: its words, and the name of where."""

    text: str
    anchor: str


class History(NamedTuple):
    """What tells one history at one place from another."""

    modification: int
    setup: str
    revision: int
    position: str
    clocking: str
    distance_mm: float
    characteristic: str


def tables(dossier: Dossier, style: NumberStyle = METRIC) -> list[Table]:
    """A table for each history at each place with each pin, the newest modification first."""
    lobes = {(turn.clamping, turn.turn): lobes_of(turn, style) for turn in dossier.turns.turns}
    done = {change.number: change.what for change in dossier.life.modifications}
    of_values = [one.place for one in dossier.values_gained]
    pins, dots = _pins([*dossier.places, *of_values]), {**_dots(dossier.places), **_value_dots(dossier)}
    stamped = () if locked(dossier.assessed) else dossier.assessed.groups
    verdicts = {anchor_of(dossier.assessed.modification, group) for group in stamped}
    if not locked(dossier.assessed):
        verdicts |= {anchor_of(dossier.assessed.modification, value) for value in dossier.assessed.values}
    found: dict[tuple[History, float | None], dict[int, Clamping]] = {}
    last: dict[tuple[History, float | None], LoggedClamping] = {}
    for clamping in sorted(dossier.life.clampings, key=lambda one: -one.modification):
        for number, turn in enumerate(clamping.turns, start=1):
            history = _history(clamping, turn)
            anchor = row_of(clamping.number, history.distance_mm, history.characteristic)
            diameter_mm, counts = dots.get(anchor, (pins.get(history, [None])[-1], None))
            table = found.setdefault((history, diameter_mm), {})
            known = table.get(clamping.number) or Clamping(
                anchor=anchor,
                dot="" if counts is None else dot_of(anchor),
                number=str(clamping.number),
                taken=clamping.taken_at.replace("T", " ")[:16],
                counts=bool(counts),
                rows=(),
            )
            row = _row(
                clamping, turn, lobes.get((clamping.number, number), ""), style, last.get((history, diameter_mm))
            )
            last[history, diameter_mm] = clamping
            table[clamping.number] = replace(known, rows=(*known.rows, row))
    return [
        Table(
            anchor=(anchor := _table(history, diameter_mm)),
            verdict=verdict_of(anchor) if anchor in verdicts else "",
            title=_title(history, diameter_mm if _on_circle(history) or len(pins.get(history, ())) > 1 else None, done),
            clampings=tuple(clampings.values()),
            directed=any(row.high_spot for clamping in clampings.values() for row in clamping.rows),
            figure="TIR" if history.characteristic in SWINGS else "value",
        )
        for (history, diameter_mm), clampings in found.items()
    ]


def anchor_of(modification: int, group: Group | ValueGroup | Charted) -> str:
    """The name of the table of the readings behind a group of an item at its newest modification; of a gap that was
    bonded since, of those before."""
    if isinstance(group, ValueGroup) and group.before_bonding is not None:
        modification = group.before_bonding
    place = (group.setup, group.setup_revision, group.position, group.clocking, group.distance_mm)
    return table_of(modification, *place, group.diameter_mm, group.characteristic)


def link_to(place: Place, stretch: Stretch, noun: str = "clamping") -> Link:
    """What leads to the table of a stretch of clampings; ``noun``: what they are counted as."""
    where = (place.setup, stretch.revision, place.position, place.clocking, place.distance_mm)
    anchor = table_of(stretch.modification, *where, stretch.diameter_mm, place.characteristic)
    counted = sum(point.counts for point in stretch.points)
    return Link(f"{count(counted, noun)}, {stretch.what}", anchor)


def _pins(places: Iterable[Place]) -> dict[History, list[float | None]]:
    """The diameters of the pins that each history was read with."""
    found: dict[History, list[float | None]] = {}
    for place in places:
        for stretch in place.stretches:
            where = (stretch.modification, place.setup, stretch.revision, place.position, place.clocking)
            history = History(*where, place.distance_mm, place.characteristic)
            found.setdefault(history, []).append(stretch.diameter_mm)
    return found


def _dots(places: Iterable[Place]) -> dict[str, tuple[float | None, bool]]:
    """By the name of its row, what diameter each clamping that is drawn was read at, and whether it counts."""
    return {
        row_of(point.clamping, place.distance_mm, place.characteristic): (stretch.diameter_mm, point.counts)
        for place in places
        for stretch in place.stretches
        for point in stretch.points
    }


def _value_dots(dossier: Dossier) -> dict[str, tuple[float | None, bool]]:
    """The same of sizes, gaps and differences."""
    return {
        point.row: (group.diameter_mm, point.counts)
        for group in dossier.assessed.values
        for point in points_of(dossier.life, group)
    }


def _history(clamping: LoggedClamping, turn: LoggedTurn) -> History:
    where = (clamping.modification, clamping.setup, clamping.revision, clamping.position, clamping.clocking)
    return History(*where, round(turn.distance_pm / 1e8) / 10, turn.characteristic)


def _table(history: History, diameter_mm: float | None) -> str:
    return table_of(*history[:-1], diameter_mm, history.characteristic)


def _on_circle(history: History) -> bool:
    """Whether its diameter is the circle on which a face was read, and no pin's."""
    return history.characteristic == FACE_RUNOUT


def _title(history: History, diameter_mm: float | None, done: Mapping[int, str]) -> str:
    number, name = history.modification, what(history.characteristic)
    on = "" if diameter_mm is None else f"{diameter_mm:g} mm"
    parts = [
        f"{history.setup} revision {history.revision}" if history.setup else "",
        f"position {history.position}" if history.position else "",
        f"clocked {history.clocking}" if history.clocking else "",
        out(history.distance_mm, history.characteristic),
        f"pin {on}" if on and not _on_circle(history) else "",
        f"{name} on {on}" if on and _on_circle(history) else name,
        f"{done[number]}" + (f" (modification {number})" if number else ""),
    ]
    return "Readings: " + ", ".join(part for part in parts if part)


def _row(
    clamping: LoggedClamping, turn: LoggedTurn, lobes: str, style: NumberStyle, before: LoggedClamping | None
) -> Row:
    struck = clamping.struck or turn.struck
    remarks: Sequence[str] = (
        f"STRUCK OUT: {struck}" if struck else "",
        "recalled" if clamping.recalled else "",
        "IN DOUBT" if clamping.in_doubt else "",
        lobes,
        f"pin {clamping.pin}" if clamping.pin else "",
        f"indicator {clamping.instrument}" if clamping.instrument else "",
        f"by {clamping.operator}" if clamping.operator else "",
        *circumstances(clamping, before),
        clamping.note,
    )
    typed, unit = without_unit(turn.texts) if turn.kind != "value" else (turn.texts, "")
    readings = tuple((text, i in turn.struck_readings) for i, text in enumerate(typed, start=1))
    return Row(
        readings=(*readings, (unit, False)) if unit else readings,
        tir=_figure(turn, style),
        high_spot="" if turn.high_spot_deg is None else angle(turn.high_spot_deg),
        remarks="; ".join(remark for remark in remarks if remark),
        struck=bool(struck),
    )


def _figure(turn: LoggedTurn, style: NumberStyle) -> str:
    """What came of a turn. Of what pins tell there is no one figure; its readings say between what it lies."""
    if turn.value_um is None or turn.by_pins:
        return ""
    if turn.kind == "value" and abs(turn.value_um) >= UM_PER_MM:
        return size(turn.value_um, step_um=_read_to(turn), style=style)
    return micrometres(turn.value_um, step_um=_step(turn), style=style)


def _read_to(turn: LoggedTurn) -> float:
    """The finest place a size was typed to, µm; of one in words a micrometre."""
    bare: Unit = "in" if unit_left_out(turn) == "in" else "mm"
    try:
        return min(finest_place(text, bare=bare) for text in turn.texts) / PICOMETRES["um"]
    except LengthError:
        return 1.0


def _step(turn: LoggedTurn) -> float:
    """A swing as read is shown as it is, one fitted to readings to a tenth of a micrometre."""
    return 1.0 if turn.kind == "tir" and float(turn.value_um or 0.0).is_integer() else 0.1
