"""Looking a whole logbook through for what was damaged, or changed behind the program's back. Changes nothing."""

import contextlib
import dataclasses
import math
from collections.abc import Callable, Container, Generator
from enum import StrEnum
from itertools import islice
from typing import Any, Final

import sqlalchemy as sa

from qclog.addresses import shown
from qclog.errors import BusyError, DamagedError, QclogError, RefusedError
from qclog.logbook import append_only, deriving, schema
from qclog.logbook.databases import explained
from qclog.logbook.engine import Store
from qclog.logbook.safekeeping.digests import Walk, digest

_MOST_KEPT: Final = 20
_SAME: Final = 1e-9
"""Figures differ in their last digits between kinds of processor; relative, and in µm for what is near zero."""


class Check(StrEnum):
    """What is looked at, in this order."""

    FILE = "file"
    RULE = "rule"
    LINKS = "links"
    ENTRIES = "entries"
    FIGURES = "figures"
    AGAINST = "against"


class Fault(StrEnum):
    """What can be wrong."""

    UNREADABLE = "unreadable"
    STRUCTURE = "structure"
    TRIGGER_MISSING = "trigger_missing"
    TRIGGER_CHANGED = "trigger_changed"
    TRIGGER_STRANGE = "trigger_strange"
    NO_OWNER = "no_owner"
    GAP = "gap"
    NOT_SEALED = "not_sealed"
    CHANGED = "changed"
    CHAIN = "chain"
    STRAY = "stray"
    FIGURE_WRONG = "figure_wrong"
    FIGURE_MISSING = "figure_missing"
    FIGURE_STRANGE = "figure_strange"
    CUT_OFF = "cut_off"
    OTHER_HISTORY = "other_history"


@dataclasses.dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong, and where: names and numbers by what they are."""

    fault: Fault
    where: dict[str, Any]


@dataclasses.dataclass(frozen=True, slots=True)
class Checked:
    """One check: how many things it looked at and found wrong, and the first of these.

    ``last_digits``: of the figures, how many are equal to 9 digits but not to the last bit, as figures are that
    another kind of processor computed.
    """

    check: Check
    looked_at: int
    wrong: int
    findings: tuple[Finding, ...]
    last_digits: int = 0


@dataclasses.dataclass(frozen=True, slots=True)
class Head:
    """The last entry of a station: the digest stands for all its entries up to there."""

    station: str
    sequence: int
    digest: str


@dataclasses.dataclass(frozen=True, slots=True)
class Verified:
    """Everything that was looked at in one logbook."""

    logbook: str
    checks: tuple[Checked, ...]
    heads: tuple[Head, ...]

    @property
    def sound(self) -> bool:
        return not any(check.wrong for check in self.checks)


def verify(store: Store, against: Store | None = None) -> Verified:
    """Look a logbook through, at one moment, while others may write. ``against``: an earlier backup of it.

    Raises RefusedError for a backup that was made before there were digests.
    """
    before = None if against is None else read_heads(against)
    found: Verified | None = None
    try:
        with store.reading() as connection:
            found = verified(connection, store.target, before)
    except DamagedError:  # on a badly damaged file even the end of reading may fail
        if found is None or found.sound:
            raise
    return found


def verified(
    connection: sa.Connection,
    target: str,
    before: list[Head] | None = None,
    only: Container[Check] = frozenset(Check),
) -> Verified:
    """The same within a transaction. ``before``: the last entries of the stations at an earlier time."""
    heads: list[Head] = []
    checks: dict[Check, Callable[[_Counter], Generator[Finding, None, None]]] = {
        Check.FILE: lambda counter: _structure(connection, counter),
        Check.RULE: lambda counter: _triggers(connection, counter),
        Check.LINKS: lambda counter: _links(connection, counter),
        Check.ENTRIES: lambda counter: _entries(connection, counter, heads),
        Check.FIGURES: lambda counter: _figures(connection, counter),
        Check.AGAINST: lambda counter: _earlier(connection, counter, before or []),
    }
    if connection.dialect.name != "sqlite":
        del checks[Check.FILE]  # a server looks after its own files
    if before is None:
        del checks[Check.AGAINST]
    found = tuple(_run(check, find, target) for check, find in checks.items() if check in only)
    return Verified(shown(target), found, tuple(heads))


def read_heads(store: Store) -> list[Head]:
    """The last entry of every station. Raises RefusedError for a logbook from before there were digests."""
    entry, sealed = schema.entry, schema.entry_digest
    with store.reading() as connection:
        if not sa.inspect(connection).has_table(sealed.name):
            raise RefusedError(
                f"{shown(store.target)} was made before entries had digests.", "Compare with a newer backup."
            )
        last = sa.select(sa.func.max(entry.c.id)).group_by(entry.c.station)
        query = sa.select(entry.c.station, entry.c.sequence, sealed.c.digest).join(sealed).where(entry.c.id.in_(last))
        return [Head(*row) for row in connection.execute(query.order_by(entry.c.station))]


def altered(connection: sa.Connection) -> list[Finding]:
    """The first entries that are not as they were sealed, or out of their order."""
    return list(islice(_entries(connection, _Counter(), []), _MOST_KEPT))


def document(verified: Verified) -> dict[str, Any]:
    """One JSON document."""
    return {"question": "verify", "answers": [{**dataclasses.asdict(verified), "sound": verified.sound}]}


@dataclasses.dataclass(slots=True)
class _Counter:
    looked_at: int = 0
    last_digits: int = 0


def _run(check: Check, find: Callable[[_Counter], Generator[Finding, None, None]], target: str) -> Checked:
    """One check. What cannot be read is a finding too, and the end of it."""
    counter = _Counter()
    kept: list[Finding] = []
    wrong = 0
    try:
        with explained(target), contextlib.closing(find(counter)) as found:
            kept += islice(found, _MOST_KEPT)
            wrong = len(kept) + sum(1 for _ in found)
    except BusyError:
        raise
    except (QclogError, TypeError, ValueError, ArithmeticError, LookupError, AttributeError) as error:  # all of damage
        kept.append(Finding(Fault.UNREADABLE, {"what": str(error)}))
        wrong = max(wrong, len(kept))
    return Checked(check, counter.looked_at, wrong, tuple(kept), counter.last_digits)


def _structure(connection: sa.Connection, counter: _Counter) -> Generator[Finding, None, None]:
    counter.looked_at = 1
    for (line,) in connection.exec_driver_sql("PRAGMA integrity_check"):
        if line != "ok":
            yield Finding(Fault.STRUCTURE, {"what": line})


def _triggers(connection: sa.Connection, counter: _Counter) -> Generator[Finding, None, None]:
    declared = append_only.triggers(connection.dialect.name, schema.FACTS)
    found = append_only.found(connection)
    counter.looked_at = len(declared)
    for name in sorted(declared.keys() | found.keys()):
        if name not in found:
            yield Finding(Fault.TRIGGER_MISSING, {"trigger": name})
        elif name not in declared:
            yield Finding(Fault.TRIGGER_STRANGE, {"trigger": name})
        elif found[name] != declared[name]:
            yield Finding(Fault.TRIGGER_CHANGED, {"trigger": name})


def _links(connection: sa.Connection, counter: _Counter) -> Generator[Finding, None, None]:
    for table in schema.FACTS:
        for key in table.foreign_keys:
            counter.looked_at += 1
            column, owner = key.parent.name, key.column.table.name
            query = (
                f"SELECT min(t.id), count(*) FROM {table.name} t LEFT JOIN {owner} o ON o.id = t.{column} "
                f"WHERE t.{column} IS NOT NULL AND o.id IS NULL GROUP BY t.{column} ORDER BY 1"
            )
            for first, rows in connection.exec_driver_sql(query):
                yield Finding(Fault.NO_OWNER, {"table": table.name, "row": first, "rows": rows, "column": column})


def _entries(connection: sa.Connection, counter: _Counter, heads: list[Head]) -> Generator[Finding, None, None]:
    """Sequences without gaps and digests, entry by entry; fills ``heads``."""
    columns = [column.name for column in schema.entry.columns]
    last: dict[str, Head] = {}
    walk = Walk(connection)
    for one in walk:
        counter.looked_at += 1
        entry = dict(zip(columns, one.entry, strict=True))
        station = entry["station"]
        before = last.get(station, Head(station, 0, ""))
        where = {key: entry[key] for key in ("station", "sequence", "at_utc", "who", "what")}
        if entry["sequence"] != before.sequence + 1:
            yield Finding(Fault.GAP, {**where, "after": before.sequence})
        made = digest(before.digest, one.content)
        row_id, _, previous, kept = one.sealed or (None, None, "", "")
        last[station] = Head(station, entry["sequence"], kept)
        if one.sealed is None:
            yield Finding(Fault.NOT_SEALED, where)
        elif previous != before.digest:
            yield Finding(Fault.CHAIN, where)
        elif kept != made or row_id != entry["id"]:
            yield Finding(Fault.CHANGED, where)
    for table, row, count in walk.strays:
        yield Finding(Fault.STRAY, {"table": table, "row": row, "rows": count})
    heads += [last[station] for station in sorted(last)]


def _figures(connection: sa.Connection, counter: _Counter) -> Generator[Finding, None, None]:
    f, s, g = schema.figure, schema.series, schema.gauging
    series, gauging = list(s.columns)[1:], list(g.columns)[1:]
    query: sa.Select[Any] = sa.select(f, *series, *gauging)
    query = query.outerjoin(s, s.c.id == f.c.series_id).outerjoin(g, g.c.id == f.c.gauging_id)
    width, own = len(f.columns), [column.name for column in f.columns]
    for first, last in deriving.turns_at_once(connection):
        facts = list(deriving.read_facts(connection, schema.turn.c.id.between(first, last)))
        computed = {
            fact.turn_id: (fact, dict(zip(deriving.FIGURES, values, strict=True)))
            for fact, values in deriving.figures_of(facts)
        }
        for row in connection.execute(query.where(f.c.turn_id.between(first, last)).order_by(f.c.turn_id)):
            counter.looked_at += 1
            if row.turn_id not in computed:
                yield Finding(Fault.FIGURE_STRANGE, _place(connection, row.turn_id))
                continue
            fact, values = computed.pop(row.turn_id)
            figures = dict(zip(own, row[:width], strict=True))
            key = tuple(row[width:])
            off = [name for name in values if not _equal(figures[name], values[name])]
            if off or key != (*fact.series, *fact.gauging):
                yield Finding(Fault.FIGURE_WRONG, _place(connection, row.turn_id))
            elif any(figures[name] != values[name] for name in values):
                counter.last_digits += 1
        for turn_id in computed:
            yield Finding(Fault.FIGURE_MISSING, _place(connection, turn_id))


def _equal(kept: Any, computed: Any) -> bool:
    if isinstance(kept, float) and isinstance(computed, float):
        return math.isclose(kept, computed, rel_tol=_SAME, abs_tol=_SAME)
    return bool(kept == computed)


def _place(connection: sa.Connection, turn_id: int) -> dict[str, Any]:
    query = (
        sa.select(schema.name.c.text, schema.clamping.c.id)
        .join(schema.clamping, schema.clamping.c.item_id == schema.name.c.id)
        .join(schema.turn, schema.turn.c.clamping_id == schema.clamping.c.id)
        .where(schema.turn.c.id == turn_id)
    )
    row = connection.execute(query).first()
    return {"turn": turn_id, "item": row[0] if row else "", "clamping": row[1] if row else None}


def _earlier(connection: sa.Connection, counter: _Counter, before: list[Head]) -> Generator[Finding, None, None]:
    """Whether everything that an earlier backup has is still there as it was."""
    entry, sealed = schema.entry, schema.entry_digest
    for head in before:
        counter.looked_at += 1
        of_station = entry.c.station == head.station
        query = sa.select(sealed.c.digest).join(entry).where(of_station, entry.c.sequence == head.sequence)
        found = connection.scalar(query)
        where = {"station": head.station, "sequence": head.sequence}
        if found is None:
            last = connection.scalar(sa.select(sa.func.max(entry.c.sequence)).where(of_station))
            yield Finding(Fault.CUT_OFF, {**where, "last": last or 0})
        elif found != head.digest:
            yield Finding(Fault.OTHER_HISTORY, where)
