"""What a statement is issued with: its number, its revision, and whether just this was issued before.

A statement takes a second to draw, in which nobody should wait: it is drawn as it would be issued, and kept in a short
transaction if that is still so; else it is drawn anew.
"""

import dataclasses
from dataclasses import dataclass

import sqlalchemy as sa

from qclog.errors import UsageError
from qclog.logbook import statements
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.logbook.statements import Issued, ToIssue, add_statement
from qclog.questions.judging.groups import goes_by
from qclog.questions.stating.gathering import Prepared, Wanted, prepare
from qclog.questions.stating.statement import Signed, Statement, digest, document


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be issued: about what, to whom, by whom, and the moment it is dated."""

    wanted: Wanted
    receiver: str
    who: str
    issued_at: str


@dataclass(frozen=True, slots=True)
class Ready:
    """A statement as it would be issued now. ``before``: just this was issued to the receiver before."""

    prepared: Prepared
    signed: Signed
    before: Issued | None


def ready(connection: sa.Connection, asked: Asked) -> Ready:
    """What would be issued. Raises UsageError while it is not known whose it is, and what ``prepare`` raises."""
    issuer = Register(connection).setting("workshop")
    if not issuer:
        raise UsageError("Whose statement is it?", 'Say it once: qclog settings --workshop "Name, place"')
    prepared = prepare(connection, asked.wanted)
    with_, before = sign(
        connection,
        prepared,
        receiver=asked.receiver,
        issuer=issuer,
        signed_by=asked.who,
        issued_at=asked.issued_at,
    )
    return Ready(prepared, with_, before)


def sign(
    connection: sa.Connection, prepared: Prepared, *, receiver: str, issuer: str, signed_by: str, issued_at: str
) -> tuple[Signed, Issued | None]:
    """What to issue a statement with, and the one it is, where just this was issued to the receiver before.

    Else it is the next revision of what the receiver has about this place, or a new number.
    """
    last = statements.read_last_about(connection, prepared.about, receiver)
    if last is None:
        return Signed(statements.next_number(connection), 1, 0, issued_at, issuer, signed_by, receiver), None
    if last.issuer == issuer and digest(document(signed(prepared, signed_as(last)))) == last.digest:
        return signed_as(last), last
    return next_revision(last, issuer=issuer, signed_by=signed_by, issued_at=issued_at), None


def next_revision(last: Issued, *, issuer: str, signed_by: str, issued_at: str) -> Signed:
    return Signed(last.number, last.revision + 1, last.revision, issued_at, issuer, signed_by, last.receiver)


def keep(store: Store, asked: Asked, made: Ready, statement: Statement, file: bytes) -> bool:
    """Write down that a statement was issued as it was drawn. False, and nothing is written, where it would be issued
    otherwise by now: something was logged about it, or its number is taken."""
    with new_entry(store, "statement", asked.who) as entry:
        if ready(entry.connection, asked) != made:
            return False
        to_issue = ToIssue(
            number=statement.signed.number,
            revision=statement.signed.revision,
            issued_at=statement.signed.issued_at,
            receiver=statement.signed.receiver,
            issuer=statement.signed.issuer,
            verdict=goes_by(statement.result),
            limit_pm=_limit_pm(statement),
            digest=digest(document(statement)),
            file_digest=digest(file),
        )
        clampings = [one.number for one in statement.clampings]
        add_statement(entry, made.prepared.about, made.prepared.modification_id, to_issue, clampings)
    return True


def _limit_pm(said: Statement) -> int:
    """The upper limit, else the lower one."""
    limit = said.limit
    lower_um = getattr(limit, "lower_um", None)
    ends = (limit.upper_um, lower_um) if limit is not None else ()
    return round(next((end for end in ends if end is not None), 0.0) * 1e6)


def signed(prepared: Prepared, with_: Signed) -> Statement:
    return dataclasses.replace(prepared.statement, signed=with_)


def signed_as(issued: Issued) -> Signed:
    """What a statement was issued with."""
    return Signed(
        number=issued.number,
        revision=issued.revision,
        replaces=issued.revision - 1,
        issued_at=issued.issued_at,
        issuer=issued.issuer,
        signed_by=issued.who,
        receiver=issued.receiver,
    )
