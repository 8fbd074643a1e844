"""Sums kept from one question to the next: whatever happens, the answers are those of reading everything anew."""

import dataclasses
import re
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from qclog import config
from qclog.cli.main import main
from qclog.logbook.engine import Store, open_store
from qclog.questions import assess, drawer, gathered, kept, wear
from qclog.questions.known import Known

QUESTIONS: tuple[tuple[Any, Callable[[Store], Any]], ...] = ((drawer, drawer.drawer), (wear, wear.wear))
LINES = """
log B-905 6.2 --setup LATHE-A --position N --distance 25 --instrument L-1 --accept --on 2026-11-02T09:00
item add B-906 --kind collet --bore 9.06 --made-to 9um@25mm
log B-906 6.2 5.9 --setup LATHE-A --position N --distance 25 --accept --on 2026-11-02T09:00
used B-860 --clampings 400 --on 2026-11-02
strike B-905 last --reason misread
rebuild
recall L-1 --found "17 on 20" --on 2026-09-30
recall L-1 --clear "ring read right that day" --before 2026-08-03
recall L-1 --clear "ring read right"
instrument calibrate I-1 --on 2026-11-03 --due 2027-11-03 --uncertainty 0.4um
instrument check L-1 "22 on 20" --within 1um --on 2026-11-03
instrument check L-1 "20 on 20" --within 1um --on 2026-11-04
instrument check E-2 "102 on 100" --within 1um --on 2026-11-03
limit B-835 9um@25mm
modify B-640 bored --size 6.5 --in LATHE-A --position N --on 2026-11-05T09:00
log B-640 4.1 4.4 --position N --distance 25 --accept --on 2026-11-05T10:00
refit LATHE-B --reason re-seated --on 2026-11-05
log B-655 4.1 --setup LATHE-B --position 1 --distance 25 --accept --on 2026-11-06T10:00
inspect B-815 crack --on 2026-11-06
state B-1231 scrap --reason "worn out" --on 2026-11-06
modify JW-1 "bored for job 12" --size 20 --in HEAD --on 2026-11-06T11:00
log JW-1 8.1 8.3 --setup HEAD --distance 10 --accept --on 2026-11-06T12:00
"""


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kept") / "workshop.sqlite"
    assert main(["demo", "--keep", str(path)]) == 0
    return path


@pytest.fixture
def book(workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demonstration's logbook, of which everything is worth keeping."""
    monkeypatch.setattr(gathered, "_WORTH_KEEPING", 0)
    path = tmp_path / "book.sqlite"
    shutil.copyfile(workshop, path)
    return path


def answers(book: Path) -> list[Any]:
    store = open_store(str(book))
    try:
        return [question.document(ask(store)) for question, ask in QUESTIONS]
    finally:
        store.close()


def read_anew(book: Path) -> list[Any]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kept, "_path", lambda _: None)
        return answers(book)


def taken(book: Path) -> frozenset[int]:
    """The items that would be taken from what is kept."""
    store = open_store(str(book))
    try:
        with store.reading() as connection:
            known = Known(connection)
            found = kept.read_kept(known, gathered.wanted_of(known), changes=True)
        return frozenset() if found is None else found.items
    finally:
        store.close()


def file() -> Path:
    (path,) = config.sums().glob("*.npz")
    return path


def same(ours: Any, theirs: Any) -> bool:
    """Equal to the last digit, where nothing is nothing."""
    return bool(np.array_equal(repr(ours), repr(theirs)))


def test_what_is_kept_gives_the_answers_of_reading_anew_whatever_happens(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """After each line most items but those concerned are taken from what is kept, and every answer is the same."""
    answers(book)
    assert len(taken(book)) >= 40
    for line in LINES.strip().splitlines():
        capsys.readouterr()
        before = taken(book)
        told = main(["--logbook", str(book), *shlex.split(line)])
        assert told in (0, 1, 8), (line, capsys.readouterr().err)
        gone = before - taken(book)
        expected = read_anew(book)
        assert same(answers(book), expected), line
        if not re.match("strike|rebuild|recall|instrument check", line):
            assert len(gone) <= 1, line


def test_a_clamping_leaves_all_other_items_as_they_are_kept(book: Path) -> None:
    answers(book)
    before = taken(book)
    log = ["log", "B-905", "6.2", "--setup", "LATHE-A", "--position", "N", "--distance", "25", "--accept"]
    assert main(["--logbook", str(book), *log]) in (0, 1, 8)
    assert len(before - taken(book)) == 1


def test_after_a_clamping_was_struck_out_nothing_kept_is_used(book: Path) -> None:
    answers(book)
    assert main(["--logbook", str(book), *shlex.split("strike B-905 last --reason misread")]) == 0
    assert not taken(book)


@pytest.mark.parametrize("at", [0, 40, 2_000, -40, -2_000])
def test_a_damaged_file_costs_nothing_but_time(book: Path, at: int) -> None:
    answers(book)
    content = bytearray(file().read_bytes())
    content[at] ^= 0x10
    file().write_bytes(content)
    assert same(answers(book), read_anew(book))


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"nothing of ours"])
def test_a_file_of_something_else_is_written_over(book: Path, content: bytes) -> None:
    answers(book)
    whole = len(file().read_bytes())
    file().write_bytes(content)
    assert same(answers(book), read_anew(book))
    assert len(file().read_bytes()) == whole


def test_another_program_uses_nothing_of_it(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers(book)
    assert taken(book)
    monkeypatch.setattr(kept, "_program", lambda: "another")
    assert not taken(book)


def test_where_nothing_can_be_written_the_answers_are_the_same(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    blocked = book.parent / "blocked"
    blocked.write_text("a file, not a folder")
    monkeypatch.setattr(config, "sums", lambda: blocked / "sums")
    assert same(answers(book), read_anew(book))


def test_a_small_logbook_leaves_no_file(workshop: Path) -> None:
    answers(workshop)
    assert not list(config.sums().glob("*"))


def test_only_questions_about_everything_look_there(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers(book)
    monkeypatch.setattr(kept, "read_kept", lambda *_, **__: pytest.fail("what is kept was read"))
    store = open_store(str(book))
    assert [one.item for one in assess.assess(store, "B-905")] == ["B-905"]
    store.close()


def test_changes_written_down_are_read_again_to_the_last_digit(book: Path) -> None:
    from qclog.questions.changing.plain import from_plain, plain

    store = open_store(str(book))
    with store.reading() as connection:
        changes = gathered.gather(Known(connection), histories=True).changes.values()
    store.close()
    assert len(changes) > 30
    for one in changes:
        again = from_plain(one.series, plain(one))
        assert repr(dataclasses.astuple(again)) == repr(dataclasses.astuple(one))
