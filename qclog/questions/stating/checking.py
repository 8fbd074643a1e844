"""A statement that is handed in: is it the one that was issued, and does the logbook still say the same?"""

import dataclasses
import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from qclog.errors import RefusedError
from qclog.logbook import statements
from qclog.logbook.engine import Store
from qclog.logbook.evidence import read_struck_of
from qclog.logbook.figures import Series, read_series
from qclog.logbook.owned import read_owned, read_setups
from qclog.logbook.recalls import all_in_doubt
from qclog.logbook.statements import Issued
from qclog.questions.codes import LOCKING, Differs
from qclog.questions.judging.groups import goes_by
from qclog.questions.stating.gathering import prepare_series
from qclog.questions.stating.signing import signed, signed_as
from qclog.questions.stating.statement import FORM, VALUE_FORM, Statement, SwingStatement, digest, document

QUESTION: Final = "statement"
_FIGURES: Final = ("signed", "clampings", "result", "readings_sha256")
_READ_WITH: Final = ("pins", "indicators", "method")
_FOLLOWS: Final = {
    Differs.STRUCK: ("struck", *_READ_WITH),
    Differs.ADDED: _READ_WITH,
    Differs.IN_DOUBT: ("left_out", *_READ_WITH),
    Differs.LIMIT: ("limit",),
}
"""What else is another where one thing is."""


@dataclass(frozen=True, slots=True)
class Handed:
    """What a file carries: the digest of the whole file, and its two attachments."""

    file_digest: str
    statement: bytes
    readings: bytes


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not as it was issued: a code, and what it is about, by what it is."""

    code: Differs
    where: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Answer:
    """A statement that was handed in. ``issued`` None: this logbook has issued none of this number and revision.

    ``genuine``: the file is byte for byte the one issued. ``findings``: none where the logbook still says the same.
    """

    number: int
    revision: int
    issued: Issued | None
    genuine: bool
    findings: tuple[Finding, ...]


def check(store: Store, handed: Handed) -> Answer:
    """Hold what was handed in against the logbook as it is now. Raises RefusedError for what is no statement."""
    said = _read(handed.statement)
    number, revision = said["signed"]["number"], said["signed"]["revision"]
    with store.reading() as connection:
        issued = statements.read_statement(connection, number, revision)
        if issued is None:
            return Answer(number, revision, None, False, (Finding(Differs.NOT_ISSUED, {}),))
        findings = list(_altered(handed, said, issued))
        genuine = not findings
        findings += _since(connection, issued, said if digest(handed.statement) == issued.digest else None)
    return Answer(number, revision, issued, genuine, tuple(findings))


def answer_document(answer: Answer) -> dict[str, Any]:
    """The answer as plain values for JSON."""
    issued = None if answer.issued is None else answer.issued.plain()
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) | {"issued": issued}]}


def _read(content: bytes) -> dict[str, Any]:
    """The attached document as far as it is needed. Raises RefusedError for anything that is none."""
    try:
        said = json.loads(content)
        numbers = [said["signed"]["number"], said["signed"]["revision"]]
        known = said["form"] in (FORM, VALUE_FORM) and all(type(one) is int and 0 < one < 2**31 for one in numbers)
    except (ValueError, TypeError, KeyError, RecursionError):
        known = False
    if not known:
        raise RefusedError("What is attached to the file is no statement.", "Name the PDF as it was issued.")
    return dict(said)


def _altered(handed: Handed, said: dict[str, Any], issued: Issued) -> Iterable[Finding]:
    """What of the file is not what was issued."""
    if digest(handed.statement) != issued.digest:
        yield Finding(Differs.CONTENT_ALTERED, {})
    elif digest(handed.readings) != said["readings_sha256"]:
        yield Finding(Differs.READINGS_ALTERED, {})
    elif handed.file_digest != issued.file_digest:
        yield Finding(Differs.FILE_ALTERED, {})


def _since(connection: sa.Connection, issued: Issued, said: dict[str, Any] | None) -> list[Finding]:
    """What has changed in the logbook since. ``said``: what the statement says, where that is what was issued."""
    newest = statements.read_newest(connection, issued.number)
    if newest is not None and newest.revision > issued.revision:
        return [Finding(Differs.REPLACED, {"revision": newest.revision, "issued_at": newest.issued_at})]
    found = []
    (item,) = read_owned(connection, [issued.item_id]).values()
    if locking := [finding for finding in item.findings if finding in LOCKING]:
        found.append(Finding(Differs.LOCKED_OUT, {"finding": locking[0]}))
    one = _series(connection, issued)
    found += _readings(connection, issued, one)
    if item.modification != issued.modification and prepare_series(connection, one) is None:
        found.append(Finding(Differs.WORKED_ON, {"what": item.what, "modified_at": item.modified_at}))
        return found
    setup = read_setups(connection).get(one.setup_id)
    if setup is not None and setup.revision != issued.setup_revision:
        found.append(Finding(Differs.SETUP_CHANGED, {"reason": setup.reason, "since": setup.since}))
        return found
    return found + _today(connection, issued, one, said, found)


def _readings(connection: sa.Connection, issued: Issued, one: Series) -> Iterable[Finding]:
    """What happened to the clampings since."""
    rests_on = set(statements.read_clampings(connection, issued.id))
    for struck in read_struck_of(connection, one):
        if struck.entry > issued.entry and struck.clamping in rests_on:
            yield Finding(Differs.STRUCK, {"clamping": struck.clamping, "part": struck.part, "reason": struck.reason})
    if doubtful := rests_on.intersection(all_in_doubt(connection).tolist()):
        yield Finding(Differs.IN_DOUBT, {"clampings": len(doubtful)})


def _today(
    connection: sa.Connection, issued: Issued, one: Series, said: dict[str, Any] | None, before: list[Finding]
) -> list[Finding]:
    """How what would be stated today differs from what was."""
    prepared = prepare_series(connection, one)
    if prepared is None:
        return [Finding(Differs.VERDICT, {"was": issued.verdict, "verdict": "", "limit_um": issued.limit_um})]
    now = signed(prepared, signed_as(issued))
    if digest(document(now)) == issued.digest:
        return []
    found = []
    rests_on = set(statements.read_clampings(connection, issued.id))
    if added := sum(clamping.number not in rests_on for clamping in now.clampings):
        found.append(Finding(Differs.ADDED, {"clampings": added}))
    lower_um, limit_um = _limits_um(now)
    if (lower_um, limit_um) != (issued.lower_limit_um, issued.limit_um):
        was = {"was_um": issued.limit_um, "was_lower_um": issued.lower_limit_um}
        found.append(Finding(Differs.LIMIT, was | {"limit_um": limit_um, "lower_limit_um": lower_um}))
    if goes_by(now.result) != issued.verdict:
        verdict = {"was": issued.verdict, "verdict": goes_by(now.result), "limit_um": issued.limit_um}
        found.append(Finding(Differs.VERDICT, verdict))
    elif found or before:
        found.append(Finding(Differs.STILL, {"verdict": issued.verdict, "limit_um": limit_um}))
    codes = {finding.code for finding in (*before, *found)}
    if said is not None and (parts := _parts(now, said, codes)):
        found.append(Finding(Differs.PARTS, {"parts": parts}))
    if said is not None and not codes and not found:
        found.append(Finding(Differs.FIGURES, {}))
    return found


def _limits_um(now: Statement) -> tuple[float | None, float | None]:
    """The lower and the upper limit today."""
    if now.limit is None:
        return None, None
    return (None if isinstance(now, SwingStatement) else now.limit.lower_um), now.limit.upper_um


def _parts(now: Statement, said: dict[str, Any], codes: set[Differs]) -> list[str]:
    """The parts of what was stated that are others today, but for those that follow from what was found already."""
    today = json.loads(document(now))
    follow = set(_FIGURES)
    for code, parts in _FOLLOWS.items():
        follow.update(parts if code in codes else ())
    return [part for part in today if part not in follow and today[part] != said.get(part)]


def _series(connection: sa.Connection, issued: Issued) -> Series:
    """The series a statement is about."""
    diameter = -1 if issued.diameter_mm is None else round(issued.diameter_mm * 10)
    return next(
        one
        for one in read_series(connection, items=[issued.item_id])
        if (one.modification, one.setup, one.revision, one.position, one.clocking, one.characteristic)
        == (
            issued.modification,
            issued.setup,
            issued.setup_revision,
            issued.position,
            issued.clocking,
            issued.characteristic,
        )
        and (one.distance_tenths, one.diameter_tenths) == (round(issued.distance_mm * 10), diameter)
    )
