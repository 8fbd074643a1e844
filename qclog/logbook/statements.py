"""Statements handed over: what was stated of one item at one place, to whom, and on which clampings it rests.

A statement is a file that others keep. Here stands that it was issued, and the digests that tell whether a file is the
one that was. What it was about, changed since, is issued again as the next revision of the same number.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

import sqlalchemy as sa

from qclog.characteristics import known
from qclog.logbook import schema
from qclog.logbook.entries import Entry, take_ids
from qclog.logbook.figures import Series
from qclog.logbook.in_force import ends_um, limits_in_force
from qclog.logbook.owned import read_limits
from qclog.records import SWINGS


@dataclass(frozen=True, slots=True)
class Issued:
    """A statement as it was issued; ``who`` signed it for the ``issuer``. ``setup_revision`` 0: without a setup.

    ``limit_um`` is the upper limit, ``lower_limit_um`` the lower one of a plain value; None where there was none.
    ``digest`` is that of what it says, ``file_digest`` that of the whole file. ``newest``: no later revision is known.
    ``in_sitting``: it is of a gap that was read in one sitting, for which alone it is stated.
    """

    id: int
    entry: int
    number: int
    revision: int
    issued_at: str
    receiver: str
    issuer: str
    who: str
    item_id: int
    item: str
    modification: int
    setup: str
    setup_revision: int
    position: str
    clocking: str
    diameter_mm: float | None
    distance_mm: float
    characteristic: str
    verdict: str
    limit_um: float | None
    lower_limit_um: float | None
    digest: str
    file_digest: str
    newest: bool
    in_sitting: bool

    def plain(self) -> dict[str, Any]:
        """As plain values, without what only the database needs."""
        return {key: value for key, value in dataclasses.asdict(self).items() if key not in ("id", "entry", "item_id")}


@dataclass(frozen=True, slots=True)
class ToIssue:
    """What is written down of a statement. ``number`` and ``revision`` as ``next_number`` gave them; ``limit_pm`` the
    upper limit, else the lower one. Both stand in the logbook as they were set before it was issued."""

    number: int
    revision: int
    issued_at: str
    receiver: str
    issuer: str
    verdict: str
    limit_pm: int
    digest: str
    file_digest: str


def add_statement(
    entry: Entry, about: Series, modification_id: int, to_issue: ToIssue, clampings: Sequence[int]
) -> int:
    """A statement was issued about a series, resting on these of its clampings; returns the id."""
    statement_id = entry.add(
        schema.statement,
        number=to_issue.number,
        revision=to_issue.revision,
        issued_at=to_issue.issued_at,
        receiver=to_issue.receiver,
        issuer=to_issue.issuer,
        item_id=about.item_id,
        modification_id=modification_id,
        setup_revision_id=about.revision_id or None,
        position=about.position,
        clocking=about.clocking,
        diameter_tenths=about.diameter_tenths,
        distance_tenths=about.distance_tenths,
        characteristic=about.characteristic,
        verdict=to_issue.verdict,
        limit_pm=to_issue.limit_pm,
        digest=to_issue.digest,
        file_digest=to_issue.file_digest,
    )
    ids = take_ids(entry.connection, schema.statement_clamping, len(clampings))
    rows = [
        {"id": new, "statement_id": statement_id, "clamping_id": one} for new, one in zip(ids, clampings, strict=True)
    ]
    entry.add_many(schema.statement_clamping, rows)
    return statement_id


def read_last_about(connection: sa.Connection, about: Series, receiver: str) -> Issued | None:
    """The newest statement to a receiver about an item at the place of a series, whatever it was worked to or the setup
    was changed to meanwhile; None where there is none. Receivers are compared without case."""
    s = schema.statement
    found = [
        one
        for one in _read(
            connection,
            s.c.item_id == about.item_id,
            s.c.position == about.position,
            s.c.clocking == about.clocking,
            s.c.diameter_tenths == about.diameter_tenths,
            s.c.distance_tenths == about.distance_tenths,
            s.c.characteristic == about.characteristic,
        )
        if one.setup == about.setup and one.receiver.casefold() == receiver.casefold()
    ]
    return found[-1] if found else None


def next_number(connection: sa.Connection) -> int:
    """The number of the next statement that is no revision; to be asked in the transaction that writes it."""
    return int(connection.scalar(sa.select(sa.func.max(schema.statement.c.number))) or 0) + 1


def read_statement(connection: sa.Connection, number: int, revision: int) -> Issued | None:
    s = schema.statement
    return next(iter(_read(connection, s.c.number == number, s.c.revision == revision)), None)


def read_newest(connection: sa.Connection, number: int) -> Issued | None:
    """The newest revision of a statement."""
    found = _read(connection, schema.statement.c.number == number)
    return found[-1] if found else None


def read_of_item(connection: sa.Connection, item_id: int) -> list[Issued]:
    """All statements about an item, in the order of number and revision."""
    return _read(connection, schema.statement.c.item_id == item_id)


def read_standing(connection: sa.Connection) -> list[Issued]:
    """The newest revision of every statement, in the order of their numbers."""
    return [one for one in _read(connection) if one.newest]


def read_resting_on(connection: sa.Connection, clampings: Iterable[int]) -> list[tuple[Issued, int]]:
    """The statements that rest on some of these clampings, and on how many of them."""
    t, wanted = schema.statement_clamping, set(clampings)
    count: dict[int, int] = {}
    for statement_id, clamping_id in connection.execute(sa.select(t.c.statement_id, t.c.clamping_id)):
        if clamping_id in wanted:
            count[statement_id] = count.get(statement_id, 0) + 1
    return [(one, count[one.id]) for one in _read(connection) if one.id in count]


def read_clampings(connection: sa.Connection, statement_id: int) -> list[int]:
    """The clampings that a statement rests on."""
    t = schema.statement_clamping
    query = sa.select(t.c.clamping_id).where(t.c.statement_id == statement_id).order_by(t.c.clamping_id)
    return list(connection.scalars(query))


def _read(connection: sa.Connection, *where: sa.ColumnElement[bool]) -> list[Issued]:
    s, m, r, e = schema.statement, schema.modification, schema.setup_revision, schema.entry
    item, setup, newer = schema.name.alias("item"), schema.name.alias("setup"), schema.statement.alias("newer")
    rests_on, c = schema.statement_clamping, schema.clamping
    query: sa.Select[Any] = (
        sa.select(
            s,
            e.c.who,
            item.c.text.label("item"),
            m.c.number.label("modification"),
            sa.func.coalesce(setup.c.text, "").label("setup"),
            sa.func.coalesce(r.c.number, 0).label("setup_revision"),
            sa.func.coalesce(r.c.setup_id, 0).label("setup_id"),
            sa.select(sa.func.max(newer.c.revision))
            .where(newer.c.number == s.c.number)
            .scalar_subquery()
            .label("last"),
            sa.select(sa.func.count(c.c.sitting_id.distinct()))
            .join(rests_on, rests_on.c.clamping_id == c.c.id)
            .where(rests_on.c.statement_id == s.c.id)
            .scalar_subquery()
            .label("sittings"),
        )
        .join(e, e.c.id == s.c.entry_id)
        .join(item, item.c.id == s.c.item_id)
        .join(m, m.c.id == s.c.modification_id)
        .outerjoin(r, r.c.id == s.c.setup_revision_id)
        .outerjoin(setup, setup.c.id == r.c.setup_id)
        .where(*where)
        .order_by(s.c.number, s.c.revision)
    )
    found = []
    for row in connection.execute(query).all():
        lower_um, upper_um = _limits_um(connection, row)
        issued = Issued(
            id=row.id,
            entry=row.entry_id,
            number=row.number,
            revision=row.revision,
            issued_at=row.issued_at,
            receiver=row.receiver,
            issuer=row.issuer,
            who=row.who,
            item_id=row.item_id,
            item=row.item,
            modification=row.modification,
            setup=row.setup,
            setup_revision=row.setup_revision,
            position=row.position,
            clocking=row.clocking,
            diameter_mm=None if row.diameter_tenths < 0 else row.diameter_tenths / 10,
            distance_mm=row.distance_tenths / 10,
            characteristic=row.characteristic,
            verdict=row.verdict,
            limit_um=upper_um,
            lower_limit_um=lower_um,
            digest=row.digest,
            file_digest=row.file_digest,
            newest=row.revision == row.last,
            in_sitting=known(row.characteristic).once and row.sittings == 1,
        )
        found.append(issued)
    return found


def _limits_um(connection: sa.Connection, row: Any) -> tuple[float | None, float | None]:
    """The lower and the upper limit that a statement was issued about; of a plain value those in force then."""
    if row.characteristic in SWINGS:
        return None, row.limit_pm / 1e6
    limits = read_limits(connection, [row.item_id, row.setup_id], before=row.entry_id)
    of_item = limits_in_force(limits.get(row.item_id, ()), row.modification, row)
    of_setup = limits_in_force(limits.get(row.setup_id, ()), 0, row)
    lower, upper = ends_um(row.characteristic, (*of_item, *of_setup))
    return (lower if isfinite(lower) else None), (upper if isfinite(upper) else None)
