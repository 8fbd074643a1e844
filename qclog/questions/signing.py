"""What a statement is issued with: its number, its revision, and whether just this was issued before."""

import dataclasses

import sqlalchemy as sa

from qclog.logbook import statements
from qclog.logbook.statements import Issued
from qclog.questions.statement import Signed, Statement, digest, document
from qclog.questions.stating import Prepared


def signed(prepared: Prepared, with_: Signed) -> Statement:
    return dataclasses.replace(prepared.statement, signed=with_)


def sign(
    connection: sa.Connection, prepared: Prepared, *, receiver: str, issuer: str, signed_by: str, issued_at: str
) -> tuple[Signed, Issued | None]:
    """What to issue a statement with, and the one it is, where just this was issued to the receiver before.

    Else it is the next revision of what the receiver has about this place, or a new number. To be asked in the
    transaction that writes it.
    """
    last = statements.read_last_about(connection, prepared.about, receiver)
    if last is None:
        return Signed(statements.next_number(connection), 1, 0, issued_at, issuer, signed_by, receiver), None
    if last.issuer == issuer and digest(document(signed(prepared, signed_as(last)))) == last.digest:
        return signed_as(last), last
    return next_revision(last, issuer=issuer, signed_by=signed_by, issued_at=issued_at), None


def next_revision(last: Issued, *, issuer: str, signed_by: str, issued_at: str) -> Signed:
    return Signed(last.number, last.revision + 1, last.revision, issued_at, issuer, signed_by, last.receiver)


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
