"""A gauge was found wrong: what was read with it since its last good check is in doubt, until cleared.

Nothing that was read is changed. Which clampings are concerned follows from the gauge and the times, so that one
entered later is among them too; they end with the first calibration on the day it was found wrong or later.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import times
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.entries import Entry, take_ids
from qclog.logbook.gauges import is_good, read_checks
from qclog.logbook.lookup import Name
from qclog.logbook.told_by_pins import read_told_with

_DAY: Final = 10
_FEW, _AT_ONCE = 10_000, 500
"""Clampings that are looked up by their ids, so many with one query; of more, all are read."""


@dataclass(frozen=True, slots=True)
class Recall:
    """A gauge found wrong. ``since``: its last good check, '' where none is known. ``read_pm`` and ``true_pm``: what it
    showed, and for what, both None where that was not noted. ``good_again``: the calibration that ended it, '', and
    the entry it was written in. ``withdrawn``: the reason why all of it is no longer in doubt, '' while some may be.
    """

    id: int
    entry_id: int
    gauge_id: int
    gauge: str
    kind: str
    found_at: str
    found: str
    since: str
    read_pm: int | None
    true_pm: int | None
    note: str
    who: str
    good_again: str
    good_again_entry: int
    withdrawn: str

    @property
    def ratio(self) -> float | None:
        """What a reading is multiplied by to undo the error, if it was the same all the time."""
        return None if self.read_pm is None or self.true_pm is None else self.true_pm / self.read_pm

    @property
    def still_wrong(self) -> bool:
        """Whether it was neither calibrated since nor in order after all."""
        return not self.good_again and not self.withdrawn

    def concerns(self, taken_at: str, entry_id: int) -> bool:
        """Whether a clamping with the gauge, taken then and written by that entry, is concerned.

        Where days alone cannot tell, it is; after a calibration of the same day, where it was written later.
        """
        if self.since and _surely_before(taken_at, self.since):
            return False
        if not self.good_again or times.day(taken_at) < times.day(self.good_again):
            return True
        if times.day(taken_at) > times.day(self.good_again):
            return False
        if times.has_time(taken_at) and times.has_time(self.good_again):
            return times.order(taken_at) < times.order(self.good_again)
        return entry_id < self.good_again_entry


@dataclass(frozen=True, slots=True)
class Cleared:
    """A clamping no longer in doubt, why, and on whose word."""

    clamping: int
    reason: str
    who: str


def add_recall(
    entry: Entry,
    gauge: Name,
    *,
    found_at: str,
    found: str,
    since: str | None = None,
    read_pm: int | None = None,
    true_pm: int | None = None,
    note: str = "",
) -> int:
    """A gauge was found wrong; returns the id. ``since`` None: its last calibration or good quick check before.

    Raises RefusedError for what cannot be, and for what was noted before.
    """
    if not found.strip():
        raise RefusedError(f"What was found wrong with {gauge.text}?", 'Say it: --found "23 on 20".')
    if read_pm is not None and read_pm == true_pm:
        raise RefusedError(f"{gauge.text} read what it should.", "There is nothing to recall.")
    if since and times.order(since) > times.order(found_at):
        raise RefusedError(f"{since} is later than {found_at}.", "Give its last good check before that with --since.")
    t = schema.gauge_recall
    for before in read_recalls(entry.connection, gauge.id):
        if (before.found_at, before.found) == (found_at, found.strip()):
            raise RefusedError(f"{gauge.text} was recalled for that before.", f"See: qclog recall {gauge.text}")
    if since is None:
        since = _last_good(entry.connection, gauge.id, found_at)
    return entry.add(
        t,
        gauge_id=gauge.id,
        found_at=found_at,
        found=found.strip(),
        since=since,
        read_pm=read_pm,
        true_pm=true_pm,
        note=note.strip(),
    )


def read_failed_checks(connection: sa.Connection) -> dict[int, str]:
    """Gauges whose newest quick check was out, neither calibrated nor recalled since, and when each was last known to
    be right, '' where it never was."""
    failed = {gauge_id: check["done_at"] for gauge_id, check in read_checks(connection).items() if not is_good(check)}
    if not failed:
        return {}
    c = schema.calibration
    calibrated = connection.execute(sa.select(c.c.gauge_id, c.c.done_on).where(c.c.gauge_id.in_(failed)))
    since = [(row.gauge_id, row.done_on) for row in calibrated]
    since += [(one.gauge_id, one.found_at) for one in read_recalls(connection)]
    settled = {gauge_id for gauge_id, at in since if times.day(at) >= times.day(failed.get(gauge_id, "9999"))}
    return {
        gauge_id: _last_good(connection, gauge_id, at) for gauge_id, at in failed.items() if gauge_id not in settled
    }


def _last_good(connection: sa.Connection, gauge_id: int, found_at: str) -> str:
    """When a gauge was last known to be right: by a calibration on a day before, or a quick check that was within."""
    c, q = schema.calibration, schema.gauge_check
    days = connection.scalars(sa.select(c.c.done_on).where(c.c.gauge_id == gauge_id))
    good = [day for day in days if times.day(day) < times.day(found_at)]
    checks = connection.execute(sa.select(q).where(q.c.gauge_id == gauge_id)).mappings()
    good += [one["done_at"] for one in checks if is_good(one) and _surely_before(one["done_at"], found_at)]
    return max(good, key=times.order, default="")


def clear(entry: Entry, gauge: Name, reason: str, *, items: Sequence[int] = (), before: str = "") -> int:
    """What was read with a gauge is in order after all; returns how many clampings are no longer in doubt.

    Of the ``items`` named, and read before the day ``before``; with neither, everything, also what is entered later:
    the recalls are withdrawn. Raises RefusedError without a reason, NotFoundError where nothing of that is in doubt.
    """
    if not reason.strip():
        raise RefusedError(f"Why is what {gauge.text} read in order?", 'Say how you know: --clear "why".')
    rows: list[dict[str, Any]] = []
    count = 0
    for recall in read_recalls(entry.connection, gauge.id):
        if recall.withdrawn:
            continue
        doubtful = set(in_doubt(entry.connection, recall))
        chosen: Sequence[int | None] = [
            row.id
            for row in _concerned(entry.connection, recall)
            if row.id in doubtful
            and (not items or row.item_id in items)
            and (not before or times.day(row.taken_at) < times.day(before))
        ]
        count += len(chosen)
        if not items and not before:
            chosen = [None]
        rows += [{"recall_id": recall.id, "clamping_id": one, "reason": reason.strip()} for one in chosen]
    if not rows:
        raise NotFoundError(f"Nothing of that is in doubt for {gauge.text}.", f"See: qclog recall {gauge.text}")
    ids = take_ids(entry.connection, schema.recall_clearing, len(rows))
    entry.add_many(schema.recall_clearing, [{"id": new, **row} for new, row in zip(ids, rows, strict=True)])
    return count


def read_recalls(connection: sa.Connection, gauge_id: int | None = None) -> list[Recall]:
    """All recalls, or those of a gauge, in the order they were written."""
    t, name, entry = schema.gauge_recall, schema.name, schema.entry
    query = (
        sa.select(t, name.c.text, name.c.kind, entry.c.who)
        .join(name, name.c.id == t.c.gauge_id)
        .join(entry, entry.c.id == t.c.entry_id)
        .order_by(t.c.id)
    )
    if gauge_id is not None:
        query = query.where(t.c.gauge_id == gauge_id)
    found = []
    for row in connection.execute(query).all():
        good_again, good_entry = _good_again(connection, row.gauge_id, row.found_at)
        found.append(
            Recall(
                id=row.id,
                entry_id=row.entry_id,
                gauge_id=row.gauge_id,
                gauge=row.text,
                kind=row.kind,
                found_at=row.found_at,
                found=row.found,
                since=row.since,
                read_pm=row.read_pm,
                true_pm=row.true_pm,
                note=row.note,
                who=row.who,
                good_again=good_again,
                good_again_entry=good_entry,
                withdrawn=_withdrawn(connection, row.id),
            )
        )
    return found


def read_concerned(connection: sa.Connection, recall: Recall) -> list[int]:
    """The clampings a recall concerns, cleared or not, without those struck out or recalled from a notebook."""
    return [row.id for row in _concerned(connection, recall)]


def read_cleared(connection: sa.Connection, recall: Recall) -> list[Cleared]:
    """What was cleared clamping by clamping, in the order it was written."""
    t, entry = schema.recall_clearing, schema.entry
    query = (
        sa.select(t.c.clamping_id, t.c.reason, entry.c.who)
        .join(entry, entry.c.id == t.c.entry_id)
        .where(t.c.recall_id == recall.id, t.c.clamping_id.is_not(None))
        .order_by(t.c.id)
    )
    return [Cleared(*row) for row in connection.execute(query)]


def in_doubt(connection: sa.Connection, recall: Recall, among: Sequence[int] | None = None) -> list[int]:
    """The clampings that a recall leaves in doubt; of ``among``, if given."""
    if recall.withdrawn:
        return []
    cleared = {one.clamping for one in read_cleared(connection, recall)}
    return [row.id for row in _concerned(connection, recall, among) if row.id not in cleared]


def all_in_doubt(connection: sa.Connection, among: Sequence[int] | None = None) -> npt.NDArray[np.int64]:
    """The ids of all clampings in doubt, ascending; those of ``among`` without looking at others, where they are few.

    Of many clampings, all that are in doubt.
    """
    few = among if among is not None and len(among) <= _FEW else None
    found: Collection[int] = {one for recall in read_recalls(connection) for one in in_doubt(connection, recall, few)}
    return np.array(sorted(found), dtype=np.int64)


def _concerned(connection: sa.Connection, recall: Recall, among: Sequence[int] | None = None) -> list[Any]:
    c, struck = schema.clamping, schema.strike
    out = sa.select(struck.c.clamping_id).where(struck.c.clamping_id.is_not(None))
    read_with = c.c.instrument_id == recall.gauge_id
    if recall.kind == "pin":
        read_with = sa.or_(c.c.pin_id == recall.gauge_id, c.c.id.in_(read_told_with(connection, recall.gauge)))
    query = sa.select(c.c.id, c.c.item_id, c.c.taken_at, c.c.entry_id).where(
        read_with, c.c.recalled == 0, c.c.id.not_in(out), c.c.taken_at >= recall.since[:_DAY]
    )
    if among is None:
        rows = list(connection.execute(query.order_by(c.c.id)))
    else:
        some = (among[start : start + _AT_ONCE] for start in range(0, len(among), _AT_ONCE))
        rows = [row for ids in some for row in connection.execute(query.where(c.c.id.in_(ids)))]
    return [row for row in rows if recall.concerns(row.taken_at, row.entry_id)]


def _good_again(connection: sa.Connection, gauge_id: int, found_at: str) -> tuple[str, int]:
    """The first calibration on the day a gauge was found wrong or later, and its entry."""
    c = schema.calibration
    rows = connection.execute(sa.select(c.c.done_on, c.c.entry_id).where(c.c.gauge_id == gauge_id).order_by(c.c.id))
    later = [row for row in rows if not _surely_before(row.done_on, found_at)]
    first = min(later, key=lambda row: times.order(row.done_on), default=None)
    return ("", 0) if first is None else (first.done_on, first.entry_id)


def _withdrawn(connection: sa.Connection, recall_id: int) -> str:
    t = schema.recall_clearing
    query = sa.select(t.c.reason).where(t.c.recall_id == recall_id, t.c.clamping_id.is_(None)).order_by(t.c.id)
    return connection.scalar(query.limit(1)) or ""


def _surely_before(one: str, other: str) -> bool:
    """Whether a time lies before another; on the same day only where both have their time."""
    if times.day(one) != times.day(other):
        return times.day(one) < times.day(other)
    return times.has_time(one) and times.has_time(other) and times.order(one) < times.order(other)
