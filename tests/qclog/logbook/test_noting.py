"""What is noted beside the cards, quick checks of gauges, later findings: kept on both databases."""

import contextlib
from pathlib import Path

import pytest

from qclog import particulars
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import findings, gauges, items, noting, recalls
from qclog.logbook.chronicle import Happened, read_chronicle
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.exchange import export_folder, import_folder
from qclog.logbook.lookup import Register
from qclog.logbook.owned import read_kept_gauges, read_owned
from qclog.logbook.safekeeping.verifying import verify
from qclog.records import Work

UM = 10**6


def note(store: Store, code: str, *said: str, modification: int | None = None) -> None:
    with new_entry(store, "note", "AK") as entry:
        register = Register(entry.connection)
        thing = noting.need_thing(register, code)
        parsed = [particulars.parse(one, noting.OF[thing.kind]) for one in said]
        noting.note(entry, register, thing, parsed, modification)


def noted(store: Store, code: str) -> noting.Noted:
    with store.reading() as connection:
        thing = noting.need_thing(Register(connection), code)
        return noting.read_noted(connection, [thing.id]).get(thing.id, {})


def check(store: Store, done_at: str, read: float, code: str = "D-1") -> bool:
    with new_entry(store, "instrument check", "AK") as entry:
        gauge = gauges.need_indicator(Register(entry.connection), code)
        return gauges.add_check(
            entry, gauge, done_at=done_at, read_pm=round(read * UM), true_pm=100 * UM, within_pm=UM, against="block"
        )


def gauge_of(store: Store, code: str) -> str:
    with store.reading() as connection:
        gauge = {one.code: one for one in read_kept_gauges(connection).values()}[code]
        return gauge.check_failed or gauge.check_due


def test_the_newest_of_a_name_wins_and_an_empty_one_takes_it_back(book: Store) -> None:
    note(book, "LATHE", "torque=12 Nm", "machine=by the door")
    note(book, "lathe", "torque=14 Nm")
    assert noted(book, "LATHE") == {"machine": "by the door", "torque": "14 Nm"}
    note(book, "LATHE", "machine=")
    assert noted(book, "LATHE") == {"torque": "14 Nm"}


def test_how_work_was_done_belongs_to_the_modification(book: Store) -> None:
    note(book, "C-046", "picture=c046.jpg", "tool=bar 4 mm")
    with new_entry(book, "modify", "AK") as entry:
        register = Register(entry.connection)
        items.modify(entry, register, register.need("C-046", "item"), Work("bored", "2026-03-06"))
    note(book, "C-046", "tool=bar 6 mm")
    note(book, "C-046", "surface=Rz 2", modification=0)
    with book.reading() as connection:
        register = Register(connection)
        item = register.need("C-046", "item")
        work = noting.read_work(connection, [item.id])
        by_number = {change.number: work[change.id] for change in register.modifications(item.id)}
    assert by_number == {0: {"tool": "bar 4 mm", "surface": "Rz 2"}, 1: {"tool": "bar 6 mm"}}
    assert noted(book, "C-046") == {"picture": "c046.jpg"}


def test_what_does_not_fit_leaves_nothing_behind(book: Store) -> None:
    with pytest.raises(NotFoundError, match="no key position 'C'"):
        note(book, "LATHE", "torque=12 Nm", "master=C")
    with pytest.raises(RefusedError, match="said twice"):
        note(book, "LATHE", "torque=12 Nm", "torque=14 Nm")
    with pytest.raises(NotFoundError, match="There is no 'X-1'"):
        note(book, "X-1", "torque=12 Nm")
    with pytest.raises(NotFoundError, match="modification 7"):
        note(book, "C-046", "tool=bar", modification=7)
    assert noted(book, "LATHE") == {}
    note(book, "LATHE", "master=a")
    assert noted(book, "LATHE") == {"master": "A"}


def test_a_gauge_that_reads_no_lengths_is_no_indicator(book: Store) -> None:
    with new_entry(book, "add", "AK") as entry:
        register = Register(entry.connection)
        gauges.add_other(entry, register, "TW-1", "torque wrench", [("range", "5-25 Nm"), ("class", "")])
        with pytest.raises(RefusedError, match="TW-1 is no indicator: torque wrench"):
            gauges.need_indicator(register, "tw-1")
        assert gauges.need_gauge(register, "TW-1").text == "TW-1"
    assert noted(book, "TW-1") == {"what": "torque wrench", "range": "5-25 Nm"}


def test_a_quick_check_out_of_its_limit_stays_until_a_good_one_or_a_calibration(book: Store) -> None:
    assert check(book, "2026-02-02", 101)  # just within
    assert gauge_of(book, "D-1") == ""
    assert not check(book, "2026-02-09", 102)
    assert gauge_of(book, "D-1") == "102um on 100um"
    assert check(book, "2026-02-09T14:00", 100.5)
    assert gauge_of(book, "D-1") == ""
    assert not check(book, "2026-02-16", 97)
    with new_entry(book, "calibrate", "AK") as entry:
        gauge = gauges.need_gauge(Register(entry.connection), "D-1")
        gauges.add_calibration(entry, Register(entry.connection), gauge, done_on="2026-02-20", error_limit_pm=UM)
    assert gauge_of(book, "D-1") == ""


def test_the_next_quick_check_is_counted_from_the_last_or_from_a_calibration(book: Store) -> None:
    note(book, "D-1", "check every=7")
    assert gauge_of(book, "D-1") == "2026-01-12"  # calibrated on 2026-01-05
    check(book, "2026-02-02T07:00", 100)
    assert gauge_of(book, "D-1") == "2026-02-09"
    note(book, "D-1", "check every=")
    assert gauge_of(book, "D-1") == ""


def test_a_recall_begins_at_the_last_good_quick_check(book: Store) -> None:
    for done_at, read in (("2026-02-02", 100), ("2026-02-09T07:00", 100.4), ("2026-02-16", 104), ("2026-03-30", 100)):
        check(book, done_at, read)

    def recall(entry: Entry) -> str:
        gauge = gauges.need_gauge(Register(entry.connection), "D-1")
        recalls.add_recall(entry, gauge, found_at="2026-02-20", found="104 on 100", read_pm=104 * UM, true_pm=100 * UM)
        return recalls.read_recalls(entry.connection, gauge.id)[-1].since

    with new_entry(book, "recall", "AK") as entry:
        assert recall(entry) == "2026-02-09T07:00"


def test_findings_whose_words_came_later_stand_until_it_is_found_sound(book: Store) -> None:
    def inspect(finding: str, seen_on: str) -> None:
        with new_entry(book, "inspect", "AK") as entry:
            register = Register(entry.connection)
            item = register.need("C-046", "item")
            items.inspect_item(entry, register, item, finding=finding, seen_on=seen_on, note="")

    def now() -> tuple[tuple[str, ...], str]:
        with book.reading() as connection:
            (owned,) = (one for one in read_owned(connection).values() if one.code == "C-046")
            return owned.findings, owned.crashed_at

    for finding, day in (
        ("slip", "2026-03-01"),
        ("crash", "2026-03-02"),
        ("burr", "2026-03-02"),
        ("slip", "2026-03-03"),
    ):
        inspect(finding, day)
    assert now() == (("slip", "crash", "burr"), "2026-03-02")
    inspect("sound", "2026-03-04")
    assert now() == ((), "")
    for finding in findings.FINDINGS:
        inspect(finding, "2026-03-05")
    inspect("fretting", "2026-03-06")
    assert now() == (("fretting",), "")
    with pytest.raises(RefusedError, match="no finding"):
        inspect("wobble", "2026-03-07")


def test_all_of_it_is_sealed_told_and_carried_in_the_folder(book: Store, tmp_path: Path) -> None:
    note(book, "D-1", "check every=7", "class=1")
    check(book, "2026-02-02", 104)
    note(book, "C-046", "picture==c046.jpg", "cure=24 h")
    with new_entry(book, "inspect", "AK") as entry:
        register = Register(entry.connection)
        items.inspect_item(
            entry, register, register.need("C-046", "item"), finding="crash", seen_on="2026-03-02", note="jaw"
        )
    assert verify(book).sound
    export_folder(book, tmp_path / "folder")
    with contextlib.closing(open_store(str(tmp_path / "copy.sqlite"), create=True)) as copy:
        import_folder(copy, tmp_path / "folder")
        assert verify(copy).sound
        for store in (book, copy):
            assert noted(store, "D-1") == {"class": "1", "check every": "7"}
            assert noted(store, "C-046") == {"picture": "=c046.jpg"}
            assert gauge_of(store, "D-1") == "104um on 100um"
            with store.reading() as connection:
                register = Register(connection)
                told = [event.what for event in read_chronicle(connection, register.need("C-046", "item"))]
                of_gauge = [event.what for event in read_chronicle(connection, register.need("D-1", "instrument"))]
            assert [told.count(one) for one in (Happened.NOTED, Happened.INSPECTED)] == [2, 1]
            assert of_gauge.count(Happened.CHECKED) == 1
