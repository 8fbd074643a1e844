"""The readings behind the figures, as tables: what was typed, what came of it, and what was struck out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qclog.logbook.life import Life, LoggedClamping, LoggedTurn
from qclog.questions.dossier import Dossier
from qclog.records import SWINGS
from reports.numbers import METRIC, UM_PER_MM, NumberStyle, angle, length, micrometres
from reports.turns import lobes_of


@dataclass(frozen=True, slots=True)
class Row:
    """A turn: its readings as typed with those struck out marked, its swing, its high spot."""

    number: str
    taken: str
    readings: tuple[tuple[str, bool], ...]
    tir: str
    high_spot: str
    remarks: str
    struck: bool


@dataclass(frozen=True, slots=True)
class Table:
    """``directed``: some turns have a high spot. ``figure``: what the column of figures shows."""

    anchor: str
    title: str
    rows: tuple[Row, ...]
    directed: bool
    figure: str


def tables(dossier: Dossier, style: NumberStyle = METRIC) -> list[Table]:
    """A table for each history at each place, the newest modification first."""
    lobes = {(turn.clamping, turn.turn): lobes_of(turn, style) for turn in dossier.turns.turns}
    what = {change.number: change.what for change in dossier.life.modifications}
    found: dict[tuple[Any, ...], list[Row]] = {}
    for clamping in _newest_first(dossier.life):
        for number, turn in enumerate(clamping.turns, start=1):
            row = _row(clamping, turn, lobes.get((clamping.number, number), ""), style)
            found.setdefault(_history(clamping, turn), []).append(row)
    return [
        Table(
            anchor=anchor_of(*place[1:]) if i == 0 else "",
            title=_title(place, what),
            rows=tuple(rows),
            directed=any(row.high_spot for row in rows),
            figure="TIR" if place[-1] in SWINGS else "value",
        )
        for i, place, rows in _numbered(found)
    ]


def anchor_of(setup: str, revision: int, position: str, clocking: str, distance_mm: float, characteristic: str) -> str:
    """The name by which a page's verdict points to its readings."""
    text = f"{setup}-{revision}-{position}-{clocking}-{distance_mm:g}-{characteristic}"
    return "r-" + "".join(c if c.isalnum() else f"_{ord(c):x}" for c in text)


def _newest_first(life: Life) -> list[LoggedClamping]:
    return sorted(life.clampings, key=lambda clamping: -clamping.modification)


def _numbered(found: dict[tuple[Any, ...], list[Row]]) -> list[tuple[int, tuple[Any, ...], list[Row]]]:
    """Histories with their number at their place, 0 for the newest."""
    seen: dict[tuple[Any, ...], int] = {}
    numbered = []
    for place, rows in found.items():
        seen[place[1:]] = seen.get(place[1:], -1) + 1
        numbered.append((seen[place[1:]], place, rows))
    return numbered


def _history(clamping: LoggedClamping, turn: LoggedTurn) -> tuple[Any, ...]:
    place = (clamping.setup, clamping.revision, clamping.position, clamping.clocking)
    return (clamping.modification, *place, round(turn.distance_pm / 1e8) / 10, turn.characteristic)


def _title(place: tuple[Any, ...], what: Mapping[int, str]) -> str:
    modification, setup, revision, position, clocking, distance_mm, characteristic = place
    parts = [
        f"{setup} revision {revision}" if setup else "",
        f"position {position}" if position else "",
        f"clocked {clocking}" if clocking else "",
        f"{distance_mm:g} mm out" if distance_mm or characteristic in SWINGS else "",
        characteristic if characteristic != "runout" else "",
        f"{what[modification]}" + (f" (modification {modification})" if modification else ""),
    ]
    return "Readings: " + ", ".join(part for part in parts if part)


def _row(clamping: LoggedClamping, turn: LoggedTurn, lobes: str, style: NumberStyle) -> Row:
    struck = clamping.struck or turn.struck
    remarks: Sequence[str] = (
        f"STRUCK OUT: {struck}" if struck else "",
        "recalled" if clamping.recalled else "",
        "IN DOUBT" if clamping.in_doubt else "",
        lobes,
        f"pin {clamping.pin}" if clamping.pin else "",
        f"indicator {clamping.instrument}" if clamping.instrument else "",
        f"by {clamping.operator}" if clamping.operator else "",
        clamping.note,
    )
    return Row(
        number=str(clamping.number),
        taken=clamping.taken_at.replace("T", " ")[:16],
        readings=tuple((text, i in turn.struck_readings) for i, text in enumerate(turn.texts, start=1)),
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
        return length(round(turn.value_um * 1e6), style=style)
    return micrometres(turn.value_um, step_um=_step(turn), style=style)


def _step(turn: LoggedTurn) -> float:
    """A swing as read is shown as it is, one fitted to readings to a tenth of a micrometre."""
    return 1.0 if turn.kind == "tir" and float(turn.value_um or 0.0).is_integer() else 0.1
