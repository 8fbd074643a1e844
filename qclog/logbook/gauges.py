"""Writing what readings are taken with: test pins, indicators, their calibrations."""

import difflib
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

import sqlalchemy as sa

from qclog import particulars, texts, times
from qclog.errors import NotFoundError, RefusedError, UsageError
from qclog.logbook import schema
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Name, Register
from qclog.logbook.naming import add_name
from qclog.logbook.noting import note, read_noted

_KINDS: Final = schema.INSTRUMENT_KINDS
_READS_LENGTHS: Final = re.compile(
    r"micromet|callip|caliper|vernier|\b(?:depth|height|bore|dial|test)\b.*\b(?:gau?ge|indicator)\b", re.IGNORECASE
)
"""What is entered without a division by an oversight only."""


def add_pin(
    entry: Entry, register: Register, code: str, *, diameter_pm: int, roundness_pm: int | None, kind: str, grade: str
) -> Name:
    """A test pin, mandrel, ring or part with its actual diameter."""
    if diameter_pm <= 0:
        raise RefusedError(f"The pin {code} needs a diameter above zero.", "Give its actual diameter, as 6.479mm.")
    texts.note(kind, "kind")
    texts.note(grade, "grade")
    pin = add_name(entry, register, code, "pin")
    entry.add(
        schema.pin_card, pin_id=pin.id, diameter_pm=diameter_pm, roundness_pm=roundness_pm, kind=kind, grade=grade
    )
    return pin


def refuse_forcing(register: Register, item: Name, pin: str) -> None:
    """A collet must never be forced: raises RefusedError for a pin larger than its bore, NotFoundError."""
    card = register.item_card(item.id)
    bore = (card["bore_pm"] or card["nominal_pm"]) if card and card["kind"] == "collet" else None
    pin_card = register.pin_card(register.need(pin, "pin").id)
    if bore is not None and pin_card is not None and pin_card["diameter_pm"] > bore:
        raise RefusedError(
            f"The pin {pin} ({pin_card['diameter_pm'] / 1e9:g} mm) is larger than the bore of {item.text} "
            f"({bore / 1e9:g} mm).",
            "A collet must never be forced. Name another pin.",
        )


def add_instrument(
    entry: Entry,
    register: Register,
    code: str,
    *,
    kind: str,
    unit: str,
    division_pm: int,
    range_pm: int | None,
    correct_at_mdeg: int,
    serial: str,
) -> Name:
    """An indicator: its division, range, unit, and the lever angle at which it reads right. A ``kind`` of its own, as
    a micrometer, is noted beside its card."""
    if slip := difflib.get_close_matches(kind, schema.INSTRUMENT_KINDS, 1, 0.8) if kind not in _KINDS else []:
        raise RefusedError(f"{kind!r} is no kind of indicator.", f"Did you mean {slip[0]}? Say --kind {slip[0]}.")
    if division_pm <= 0:
        raise RefusedError(f"The division of {code} must be above zero.", "Give it as 1um or .0001in.")
    texts.note(serial, "serial number")
    instrument = add_name(entry, register, code, "instrument")
    entry.add(
        schema.instrument_card,
        instrument_id=instrument.id,
        kind=kind if kind in _KINDS else "other",
        unit=unit,
        division_pm=division_pm,
        range_pm=range_pm,
        correct_at_mdeg=correct_at_mdeg,
        serial=serial,
    )
    if kind not in _KINDS:
        _note_all(entry, register, instrument, [(particulars.WHAT, kind)])
    return instrument


def add_other(entry: Entry, register: Register, code: str, what: str, noted: Sequence[tuple[str, str]] = ()) -> Name:
    """What is kept and calibrated like a gauge and reads no lengths: a torque wrench, a set of gauge blocks."""
    if what in _KINDS or _READS_LENGTHS.search(what):
        raise UsageError(
            f"What is one division of {texts.shown(code)}?", "Say it as --division 1um; what reads no lengths has none."
        )
    gauge = add_name(entry, register, code, "instrument")
    _note_all(entry, register, gauge, [(particulars.WHAT, what), *noted])
    return gauge


def _note_all(entry: Entry, register: Register, gauge: Name, said: Sequence[tuple[str, str]]) -> None:
    named = {one.name: one for one in particulars.names_of(["gauge"])}
    note(entry, register, gauge, [(named[name], particulars.written(named[name], text)) for name, text in said if text])


def need_indicator(register: Register, code: str) -> Name:
    """The indicator of this code. Raises NotFoundError; RefusedError for a gauge that reads no lengths."""
    gauge = register.need(code, "instrument")
    if register.instrument_card(gauge.id) is None:
        what = read_noted(register.connection, [gauge.id]).get(gauge.id, {}).get(particulars.WHAT, "another gauge")
        raise RefusedError(
            f"{gauge.text} is no indicator: {what}.",
            "Name what it was read with; if this reads lengths, enter it under another code with --division 1um.",
        )
    return gauge


def need_gauge(register: Register, code: str) -> Name:
    """The indicator, pin or other gauge of this code. Raises NotFoundError."""
    gauge = register.find(code)
    if gauge is None or gauge.kind not in ("instrument", "pin"):
        raise NotFoundError(
            f"There is no indicator or pin {texts.shown(code)!r}.", "See: qclog instrument list, qclog pin list"
        )
    return gauge


def add_check(
    entry: Entry,
    gauge: Name,
    *,
    done_at: str,
    read_pm: int,
    true_pm: int,
    within_pm: int,
    against: str = "",
    remark: str = "",
) -> bool:
    """A quick check of an indicator on a step that is known; returns whether it was within. Raises RefusedError."""
    if within_pm <= 0:
        raise RefusedError(f"How far may {gauge.text} be off?", "Say it above zero: --within 1um.")
    entry.add(
        schema.gauge_check,
        gauge_id=gauge.id,
        done_at=done_at,
        read_pm=read_pm,
        true_pm=true_pm,
        within_pm=within_pm,
        against=texts.note(against, "what it was checked against"),
        note=texts.note(remark, "note"),
    )
    return abs(read_pm - true_pm) <= within_pm


def newest_check(connection: sa.Connection, gauge_id: int) -> sa.RowMapping | None:
    """The quick check of a gauge that was done last, None where there was none."""
    t = schema.gauge_check
    rows = connection.execute(sa.select(t).where(t.c.gauge_id == gauge_id).order_by(t.c.id)).mappings().all()
    return sorted(rows, key=lambda row: times.order(row["done_at"]))[-1] if rows else None


def read_checks(connection: sa.Connection) -> dict[int, sa.RowMapping]:
    """By gauge the quick check that was done last."""
    rows = connection.execute(sa.select(schema.gauge_check).order_by(schema.gauge_check.c.id)).mappings().all()
    return {row["gauge_id"]: row for row in sorted(rows, key=lambda row: times.order(row["done_at"]))}


def is_good(check: Mapping[str, Any] | sa.RowMapping) -> bool:
    """Whether a quick check was within."""
    return bool(abs(check["read_pm"] - check["true_pm"]) <= check["within_pm"])


def add_calibration(
    entry: Entry,
    register: Register,
    gauge: Name,
    *,
    done_on: str,
    due_on: str = "",
    error_limit_pm: int | None = None,
    uncertainty_pm: int | None = None,
    coverage_factor: float | None = None,
    certificate: str = "",
    as_found: str = "",
    as_left: str = "",
) -> None:
    """A dated calibration of an indicator or a pin: error limit over the range used, or U with its k."""
    if min(error_limit_pm or 1, uncertainty_pm or 1) <= 0 or 0 in (error_limit_pm, uncertainty_pm):
        raise RefusedError(f"No gauge is without error, {gauge.text} neither.", "Give its error limit, or U and k.")
    if uncertainty_pm is not None and (coverage_factor is None or coverage_factor <= 0):
        raise RefusedError(f"The uncertainty of {gauge.text} needs its coverage factor.", "Give k, most often 2.")
    texts.note(certificate, "number of the certificate")
    texts.note(as_found, "state as found")
    texts.note(as_left, "state as left")
    entry.add(
        schema.calibration,
        gauge_id=gauge.id,
        done_on=times.taken_at(done_on),
        due_on=times.taken_at(due_on) if due_on else "",
        error_limit_pm=error_limit_pm,
        uncertainty_pm=uncertainty_pm,
        coverage_factor=coverage_factor,
        certificate=certificate,
        as_found=as_found,
        as_left=as_left,
    )
    register.forget()
