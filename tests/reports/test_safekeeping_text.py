"""What is said of a logbook that was looked through: a sentence for everything that can be found, the answer first."""

from enum import StrEnum
from pathlib import Path
from string import Formatter

import pytest

from qclog.logbook.safekeeping.backing_up import Restored
from qclog.logbook.safekeeping.verifying import Check, Checked, Fault, Finding, Head, Verified
from reports import safekeeping
from reports.tables import WIDTH

EVERYTHING = {
    "station": "bench",
    "sequence": 7,
    "what": "log",
    "at_utc": "2026-03-04T10:00:00.000Z",
    "who": "AK",
    "after": 5,
    "last": 3,
    "trigger": "turn_keeps_row",
    "table": "reading",
    "row": 4,
    "rows": 2,
    "column": "turn_id",
    "item": "C-735",
    "clamping": 12,
    "turn": 31,
}
HEADS = (Head("bench", 7, "a" * 64), Head("Bohrwerk 2", 12_345, "b" * 64))


@pytest.mark.parametrize(
    ("codes", "sentences"),
    [(Fault, safekeeping.FAULTS), (Check, safekeeping.SOUND), (Check, safekeeping.REMEDIES)],
)
def test_every_code_has_a_sentence(codes: type[StrEnum], sentences: dict[StrEnum, str]) -> None:
    assert set(sentences) == set(codes)
    assert all(sentences.values())


def test_sentences_ask_only_for_what_findings_say() -> None:
    for sentence in safekeeping.FAULTS.values():
        assert {name for _, name, _, _ in Formatter().parse(sentence) if name} <= EVERYTHING.keys()


def test_of_a_sound_logbook_that_is_said_first_then_each_check_and_the_digests() -> None:
    checks = tuple(Checked(check, 1_234, 0, ()) for check in Check)
    lines = safekeeping.looked_through(Verified("book.sqlite", checks, HEADS)).splitlines()
    assert lines[0] == "book.sqlite: NOTHING WRONG."
    assert [line.split()[0] for line in lines[2 : 2 + len(Check)]] == [str(check) for check in Check]
    assert "  entries  1,234, none missing, each as it was written" in lines
    assert f"  bench             7  {'a' * 64}" in lines
    assert f"  Bohrwerk 2    12345  {'b' * 64}" in lines


def test_faults_are_counted_named_and_followed_by_what_to_do() -> None:
    findings = tuple(Finding(fault, EVERYTHING) for fault in Fault)
    checks = (Checked(Check.FILE, 1, 0, ()), Checked(Check.ENTRIES, 9, 99, findings))
    text = safekeeping.looked_through(Verified("book.sqlite", checks, HEADS))
    assert text.startswith("book.sqlite: 99 FAULTS.\n")
    assert f"... and {99 - len(findings)} more." in text
    assert "- bench 7 (log, 2026-03-04T10:00:00.000Z, by AK): has no digest." in text
    assert " ".join(text.split()).count("go back to a backup: qclog restore BACKUP") == 1
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "1 FAULT." in safekeeping.looked_through(Verified("b", (Checked(Check.FILE, 1, 1, findings[:1]),), ()))


def test_last_digits_are_no_fault() -> None:
    text = safekeeping.looked_through(Verified("b", (Checked(Check.FIGURES, 9, 0, (), 3),), ()))
    assert text.startswith("b: NOTHING WRONG.")
    assert "3 figures differ from their readings' in the last digits only" in " ".join(text.split())


def test_what_was_there_before_is_named_and_what_is_only_there_counted() -> None:
    found = Verified("kept.sqlite", (Checked(Check.ENTRIES, 1, 0, ()),), HEADS)
    assert safekeeping.restored(Restored(found, None, 0)) == (
        "The logbook is that of kept.sqlite again: 1 entry of 2 stations."
    )
    text = safekeeping.restored(Restored(found, Path("aside.sqlite"), 2))
    assert "kept in aside.sqlite." in text
    assert "2 entries of it are only in that file now." in text
