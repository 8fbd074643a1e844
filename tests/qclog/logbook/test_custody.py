"""Two people, one drawer: who has which item out, and where."""

from pathlib import Path

import pytest

from qclog.cli.main import main
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook.custody import Out, bring_back, read_out, take
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.questions.dossier import dossiers
from qclog.questions.drawer import drawer
from reports.pages.drawer import drawer_page
from reports.pages.item import item_page


def took(store: Store, *codes: str, who: str = "RT", setup: str = "", place: str = "") -> dict[str, Out]:
    with new_entry(store, "took", who) as entry:
        register = Register(entry.connection)
        mounted = register.need(setup, "setup") if setup else None
        items = [register.need(code, "item") for code in codes]
        return take(entry, items, setup=mounted, place=place, done_at="2026-03-02T10:00")


def back(store: Store, *codes: str) -> dict[str, Out]:
    with new_entry(store, "back", "RT") as entry:
        register = Register(entry.connection)
        return bring_back(entry, [register.need(code, "item") for code in codes], done_at="2026-03-03")


def out(store: Store) -> list[Out]:
    with store.reading() as connection:
        return list(read_out(connection).values())


def test_what_was_taken_is_out_with_whom_and_where_until_it_is_back(book: Store) -> None:
    assert out(book) == []
    assert took(book, "c-047", "C-046", setup="lathe") == {}
    with_rt = [Out(code, "RT", "LATHE", "", "2026-03-02T10:00") for code in ("C-046", "C-047")]
    assert out(book) == with_rt
    assert back(book, "C-047") == {"C-047": with_rt[1]}
    assert out(book) == with_rt[:1]


def test_what_another_one_has_is_handed_over_and_who_had_it_is_said(book: Store) -> None:
    took(book, "C-046", setup="LATHE")
    before = took(book, "C-046", "C-047", who="MO", place=" the grinder ")
    assert before == {"C-046": Out("C-046", "RT", "LATHE", "", "2026-03-02T10:00")}
    assert {(one.item, one.who, one.setup, one.place) for one in out(book)} == {
        ("C-046", "MO", "", "the grinder"),
        ("C-047", "MO", "", "the grinder"),
    }


def test_one_that_is_not_out_or_is_named_twice_leaves_nothing_noted(book: Store) -> None:
    took(book, "C-046")
    for codes in (("C-046", "C-047"), ("C-046", "c-046")):
        with pytest.raises(RefusedError):
            back(book, *codes)
    with pytest.raises(RefusedError):
        took(book, "C-047", "C-047")
    with pytest.raises(NotFoundError):
        took(book, "C-048", setup="NOWHERE")
    assert [one.item for one in out(book)] == ["C-046"]


def test_only_the_items_asked_about_are_told(book: Store) -> None:
    took(book, "C-046", "C-047")
    with book.reading() as connection:
        item = Register(connection).need("C-047", "item").id
        assert [one.item for one in read_out(connection, [item]).values()] == ["C-047"]


def test_lists_and_pages_say_where_it_is(sqlite_book: Store, capsys: pytest.CaptureFixture[str]) -> None:
    logbook = ["--logbook", sqlite_book.target]
    assert main([*logbook, "took", "C-046", "C-047", "--in", "LATHE", "--by", "RT", "--on", "2026-03-02"]) == 0
    assert main([*logbook, "took", "C-046", "--at", "the grinder", "--by", "MO", "--on", "2026-03-03"]) == 0
    where = "with MO, the grinder, since 2026-03-03"
    assert f"C-046 is {where}. It was with RT, in LATHE, since 2026-03-02." in capsys.readouterr().err
    for command in (["item", "list"], ["item", "show", "C-046"]):
        assert main([*logbook, *command]) == 0
        assert where in capsys.readouterr().out
    (dossier,) = dossiers(sqlite_book, ["C-046"])
    assert f"out: {where}" in item_page(dossier)
    assert f"out: {where}" in drawer_page(drawer(sqlite_book))
    assert main([*logbook, "back", "C-046", "--on", "2026-03-04"]) == 0
    assert main([*logbook, "item", "show", "C-046"]) == 0
    assert where not in capsys.readouterr().out


def test_nothing_can_be_taken_from_a_logbook_that_is_not_there(tmp_path: Path) -> None:
    assert main(["--logbook", str(tmp_path / "none.sqlite"), "took", "C-046"]) == 3
    assert list(tmp_path.iterdir()) == []
