"""A statement that is handed in is held against the logbook, on both databases."""

import dataclasses
import json
from collections.abc import Callable

import pytest

from qclog.errors import RefusedError
from qclog.logbook import recalls, statements, striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.questions.codes import Differs
from qclog.questions.stating.checking import Handed, check
from qclog.questions.stating.gathering import Wanted, prepare
from qclog.questions.stating.signing import sign, signed
from qclog.questions.stating.statement import digest, document
from qclog.records import Clamping, Reading, Turn

DAYS = tuple(f"2026-03-0{day}" for day in range(1, 7))
Log = Callable[..., list[int]]


def read(day: str, value_um: float) -> Clamping:
    turn = Turn("tir", (Reading(round(value_um * 1e6), f"{value_um}", 100_000),), 16_000_000_000)
    return Clamping("C-046", "LATHE", day, (turn,), position="A", instrument="D-1", lever_mdeg=0, pin="P-65")


@pytest.fixture
def handed(book: Store, log: Log) -> Handed:
    """A statement issued on twelve clampings of six days; its file is a stand-in, whose digest alone counts here."""
    for day in DAYS:
        log(book, read(day, 4.2))
        log(book, read(day, 4.7))
    with new_entry(book, "statement", "AK") as entry:
        prepared = prepare(entry.connection, Wanted("C-046"))
        with_, _ = sign(
            entry.connection, prepared, receiver="X", issuer="W", signed_by=entry.who, issued_at="2026-04-01"
        )
        said = signed(prepared, with_)
        found = Handed(digest(b"the file"), document(said), prepared.readings.encode())
        made = statements.ToIssue(
            *(1, 1, "2026-04-01", "X", "W", "holds", 8_000_000), digest(found.statement), found.file_digest
        )
        ids = [one.number for one in said.clampings]
        statements.add_statement(entry, prepared.about, prepared.modification_id, made, ids)
    return found


def codes(book: Store, handed: Handed) -> list[Differs]:
    return [finding.code for finding in check(book, handed).findings]


def test_as_issued_it_stands(book: Store, handed: Handed) -> None:
    answer = check(book, handed)
    assert (answer.number, answer.revision, answer.genuine, answer.findings) == (1, 1, True, ())
    assert answer.issued is not None
    assert answer.issued.receiver == "X"


def test_what_happened_to_its_clampings_is_found(book: Store, log: Log, handed: Handed) -> None:
    log(book, read("2026-04-02", 4.4))
    assert codes(book, handed) == [Differs.ADDED, Differs.STILL]
    with new_entry(book, "strike") as entry:
        striking.strike(entry, Register(entry.connection).need("C-046", "item"), 3, reason="misread")
    assert codes(book, handed) == [Differs.STRUCK, Differs.ADDED, Differs.STILL]
    with new_entry(book, "recall") as entry:
        gauge = Register(entry.connection).need("D-1", "instrument")
        recalls.add_recall(entry, gauge, found_at="2026-04-10", found="17 on 20")
    assert codes(book, handed) == [Differs.STRUCK, Differs.IN_DOUBT, Differs.ADDED, Differs.VERDICT]


def test_a_strike_after_it_was_added_later_does_not_touch_the_statement(book: Store, log: Log, handed: Handed) -> None:
    (late,) = log(book, read("2026-04-02", 40.4))
    with new_entry(book, "strike") as entry:
        striking.strike(entry, Register(entry.connection).need("C-046", "item"), late, reason="misread")
    assert codes(book, handed) == [Differs.PARTS]
    assert check(book, handed).findings[0].where == {"parts": ["struck"]}


def test_what_was_altered_is_told_apart(book: Store, handed: Handed) -> None:
    assert codes(book, dataclasses.replace(handed, file_digest="0" * 64)) == [Differs.FILE_ALTERED]
    assert codes(book, dataclasses.replace(handed, readings=b"other")) == [Differs.READINGS_ALTERED]
    said = json.loads(handed.statement)
    said["signed"]["receiver"] = "Y"
    altered = json.dumps(said).encode()
    assert codes(book, dataclasses.replace(handed, statement=altered)) == [Differs.CONTENT_ALTERED]
    said["signed"]["number"] = 2
    assert codes(book, dataclasses.replace(handed, statement=json.dumps(said).encode())) == [Differs.NOT_ISSUED]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"[]",
        b"null",
        b"\xff\xfe",
        b"{}",
        b'{"form":"qclog statement 1"}',
        b'{"form":"qclog statement 1","signed":[]}',
        b'{"form":"another","signed":{"number":1,"revision":1}}',
        b'{"form":"qclog statement 1","signed":{"number":"1","revision":1}}',
        b'{"form":"qclog statement 1","signed":{"number":true,"revision":1}}',
        b'{"form":"qclog statement 1","signed":{"number":1,"revision":0}}',
        b'{"form":"qclog statement 1","signed":{"number":1e9,"revision":1}}',
        b'{"form":"qclog statement 1","signed":{"number":' + b"9" * 5000 + b',"revision":1}}',
        b'{"form":"qclog statement 1","signed":' + b"[" * 100_000,
        b"[" * 200_000 + b"]" * 200_000,
    ],
    ids=range(15),
)
def test_what_is_no_statement_is_refused_in_a_line(sqlite_book: Store, content: bytes) -> None:
    with pytest.raises(RefusedError) as refused:
        check(sqlite_book, Handed("", content, b""))
    assert "\n" not in str(refused.value)
