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
from qclog.records import Clamping, Reading, Turn

QUESTIONS: tuple[tuple[Any, Callable[[Store], Any]], ...] = ((drawer, drawer.drawer), (wear, wear.wear))
LINES = """
log B-905 6 --setup LATHE-A --position N --distance 25 --pin P-905 --instrument L-1 --accept --on 2026-11-02T09:00
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
instrument check L-1 "20 on 20" --within 1um --on 2026-11-07T10:00
log B-835 6 --setup LATHE-A --position S --distance 25 --instrument L-1 --accept --on 2026-11-07
log B-835 6 --setup LATHE-A --position S --distance 25 --instrument L-1 --accept --on 2026-11-07T08:00
instrument check L-1 "22 on 20" --within 1um --on 2026-11-08
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
def demo(workshop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demonstration's logbook, of which everything is worth keeping."""
    monkeypatch.setattr(gathered, "_WORTH_KEEPING", 0)
    path = tmp_path / "book.sqlite"
    shutil.copyfile(workshop, path)
    return path


def answers(demo: Path) -> list[Any]:
    store = open_store(str(demo))
    try:
        return [question.document(ask(store)) for question, ask in QUESTIONS]
    finally:
        store.close()


def read_anew(demo: Path) -> list[Any]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kept, "_path", lambda _: None)
        return answers(demo)


def taken(demo: Path) -> frozenset[int]:
    """The items that would be taken from what is kept."""
    store = open_store(str(demo))
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
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """After each line most items but those concerned are taken from what is kept, and every answer is the same."""
    answers(demo)
    assert len(taken(demo)) >= 40
    for line in LINES.strip().splitlines():
        capsys.readouterr()
        before = taken(demo)
        told = main(["--logbook", str(demo), *shlex.split(line)])
        assert told in (0, 1, 8), (line, capsys.readouterr().err)
        gone = before - taken(demo)
        expected = read_anew(demo)
        assert same(answers(demo), expected), line
        if not re.match("strike|rebuild|recall|instrument check", line):
            assert len(gone) <= 1, line


def test_on_a_file_and_on_a_server_alike(book: Store, log: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gathered, "_WORTH_KEEPING", 0)
    swing = Turn("tir", (Reading(4_000_000, "4.0", 100_000),), 16 * 10**9)
    vector = Turn("tir", (Reading(4_000_000, "4.0", 100_000, 30_000),), 16 * 10**9)
    for day in ("2026-03-01", "2026-03-02", "2026-03-03"):
        log(
            book,
            *(
                Clamping(item, "LATHE", day, (turn,), position="A")
                for item, turn in (("C-046", swing), ("C-047", vector), ("C-048", swing))
            ),
        )
    first = drawer.document(drawer.drawer(book))
    with book.reading() as connection:
        found = kept.read_kept(known := Known(connection), gathered.wanted_of(known), changes=True)
    assert found is not None
    assert len(found.items) >= 3
    assert same(drawer.document(drawer.drawer(book)), first)
    log(book, Clamping("C-047", "LATHE", "2026-03-04", (vector,), position="A"))
    again = drawer.document(drawer.drawer(book))
    monkeypatch.setattr(kept, "_path", lambda _: None)
    assert same(again, drawer.document(drawer.drawer(book)))


def test_a_clamping_leaves_all_other_items_as_they_are_kept(demo: Path) -> None:
    answers(demo)
    before = taken(demo)
    log = ["log", "B-905", "6.2", "--setup", "LATHE-A", "--position", "N", "--distance", "25", "--accept"]
    assert main(["--logbook", str(demo), *log]) in (0, 1, 8)
    assert len(before - taken(demo)) == 1


def test_after_a_clamping_was_struck_out_nothing_kept_is_used(demo: Path) -> None:
    answers(demo)
    assert main(["--logbook", str(demo), *shlex.split("strike B-905 last --reason misread")]) == 0
    assert not taken(demo)


@pytest.mark.parametrize("at", [0, 40, 2_000, -40, -2_000])
def test_a_damaged_file_costs_nothing_but_time(demo: Path, at: int) -> None:
    answers(demo)
    content = bytearray(file().read_bytes())
    content[at] ^= 0x10
    file().write_bytes(content)
    assert same(answers(demo), read_anew(demo))


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"nothing of ours"])
def test_a_file_of_something_else_is_written_over(demo: Path, content: bytes) -> None:
    answers(demo)
    whole = len(file().read_bytes())
    file().write_bytes(content)
    assert same(answers(demo), read_anew(demo))
    assert len(file().read_bytes()) == whole


def test_another_program_uses_nothing_of_it(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers(demo)
    assert taken(demo)
    monkeypatch.setattr(kept, "_program", lambda: "another")
    assert not taken(demo)


def test_where_nothing_can_be_written_the_answers_are_the_same(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    blocked = demo.parent / "blocked"
    blocked.write_text("a file, not a folder")
    monkeypatch.setattr(config, "sums", lambda: blocked / "sums")
    assert same(answers(demo), read_anew(demo))


def test_a_small_logbook_leaves_no_file(workshop: Path) -> None:
    answers(workshop)
    assert not list(config.sums().glob("*"))


def test_only_questions_about_everything_look_there(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers(demo)
    monkeypatch.setattr(kept, "read_kept", lambda *_, **__: pytest.fail("what is kept was read"))
    store = open_store(str(demo))
    assert [one.item for one in assess.assess(store, "B-905")] == ["B-905"]
    store.close()


def test_changes_written_down_are_read_again_to_the_last_digit(demo: Path) -> None:
    from qclog.questions.changing.plain import from_plain, plain

    store = open_store(str(demo))
    with store.reading() as connection:
        changes = gathered.gather(Known(connection), histories=True).changes.values()
    store.close()
    assert len(changes) > 30
    for one in changes:
        again = from_plain(one.series, plain(one))
        assert repr(dataclasses.astuple(again)) == repr(dataclasses.astuple(one))
