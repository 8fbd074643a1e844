"""An item's life: everything that was entered about it, in the order of time, with what was judged then."""

import dataclasses
import itertools
import json
from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any

import pytest

from qclog.cli.main import main
from qclog.errors import NotFoundError
from qclog.logbook import custody, gauges, items, recalls, setups, striking
from qclog.logbook.chronicle import Happened, measured
from qclog.logbook.chronicle import days as by_days
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.gauges import add_calibration
from qclog.logbook.lookup import Register
from qclog.logbook.replay import Replay
from qclog.questions import history as question
from qclog.questions.history import Answer, document, history
from qclog.questions.judging import lending
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from qclog.records import Card, Clamping, Limit, Reading, Turn, Work
from reports.history import Words
from reports.history import history as text
from tests.benchmarks import direct, made

UM = 1_000_000
GOOD = (2.0, 2.3, 1.8)
Log = Callable[..., list[int]]


def what(answer: Answer) -> list[Happened]:
    return [told.event.what for told in answer.events]


def judged(answer: Answer) -> list[tuple[str, str, bool]]:
    """What was judged after which event."""
    return [(told.event.what, one.verdict, one.in_sitting) for told in answer.events for one in told.judged]


def said(answer: Answer) -> str:
    return " ".join(text(answer).split())


def write(store: Store, do: Callable[[Entry, Register], object], who: str = "RT") -> None:
    with new_entry(store, "test", who) as entry:
        do(entry, Register(entry.connection))


def the_item(register: Register) -> Any:
    return register.need("C-046", "item")


def live(book: Store, log: Log) -> Store:
    """A life of C-046 in which everything happens."""

    def read(day: str, um: float) -> int:
        swing = Turn("tir", (Reading(round(um * UM), f"{um:g}", UM // 10),), 16_000 * UM)
        (number,) = log(
            book, Clamping("C-046", "LATHE", day, (swing,), position="A", instrument="D-1", lever_mdeg=0, pin="P-65")
        )
        return number

    numbers = [read(day, 4.0) for day in ("2026-03-01", "2026-03-01", "2026-03-02", "2026-03-03")]
    write(
        book,
        lambda e, r: custody.take(e, [the_item(r)], setup=r.need("LATHE", "setup"), place="", done_at="2026-03-04"),
    )
    write(book, lambda e, r: items.record_use(e, the_item(r), used_on="2026-03-05", clampings=30, hours=None, note=""))
    write(book, lambda e, r: custody.bring_back(e, [the_item(r)], done_at="2026-03-06"))
    write(
        book,
        lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="re-seated", since="2026-03-07"),
    )
    work = Work("bored", "2026-03-08", size_pm=6_600 * UM, holder="LATHE", position="A", limits=(Limit(9 * UM),))
    write(book, lambda e, r: items.modify(e, r, the_item(r), work))
    read("2026-03-09", 5.5)
    write(
        book,
        lambda e, r: items.inspect_item(e, r, the_item(r), finding="slip", seen_on="2026-03-10", note="short part"),
    )
    write(
        book,
        lambda e, r: items.set_state(
            e, r, the_item(r), state="restricted", limit_pm=15 * UM, since="2026-03-11", reason="slipped"
        ),
    )
    write(book, lambda e, r: items.write_card(e, r, the_item(r), Card(place="drawer 3")))
    write(book, lambda e, r: recalls.add_recall(e, r.need("D-1", "instrument"), found_at="2026-03-12", found="bent"))
    write(book, lambda e, r: recalls.clear(e, r.need("D-1", "instrument"), "good then", before="2026-03-03"))
    write(book, lambda e, r: striking.strike(e, the_item(r), numbers[1], reason="misread"))
    return book


@pytest.fixture
def lived(sqlite_book: Store, log: Log) -> Store:
    """An item that everything happened to."""
    return live(sqlite_book, log)


def test_everything_that_happened_to_an_item_is_there_in_the_order_of_time(book: Store, log: Log) -> None:
    answer = history(live(book, log), "c-046")
    assert (answer.code, answer.kind) == ("C-046", "item")
    dated = [told.event.what for told in answer.events if told.event.at]
    assert dated == [
        *(Happened.CLAMPED, Happened.CLAMPED, Happened.CLAMPED),
        *(Happened.TOOK, Happened.USED, Happened.BACK, Happened.CHANGED),
        *(Happened.NEW_CARD, Happened.MODIFIED, Happened.LIMITED),
        *(Happened.CLAMPED, Happened.INSPECTED, Happened.STATE, Happened.FOUND_WRONG),
    ]
    undated = {told.event.what for told in answer.events if not told.event.at}
    assert undated == {Happened.ENTERED, Happened.LIMITED, Happened.NEW_CARD, Happened.CLEARED, Happened.STRUCK}
    assert what(answer)[0] == Happened.ENTERED
    assert {told.event.who for told in answer.events} == {"tester", "RT"}
    assert {told.event.station for told in answer.events} == {"bench"}


def test_it_reads_as_a_toolmaker_would_tell_it(lived: Store) -> None:
    told = said(history(lived, "C-046"))
    for sentence in (
        "Entered: collet, bore 6.5 mm, grip 16 mm (tester).",
        "2026-03-01 2 clampings in LATHE, position A: 4 µm at 16 mm; pin P-65; indicator D-1; "
        "in 1 of them something was struck out since (tester, written ",
        "2026-03-02 1 clamping in LATHE, position A: 4 µm at 16 mm; pin P-65; indicator D-1 (tester, written ",
        "2026-03-04 Taken by RT, in LATHE (RT, written ",
        "2026-03-05 Used: 30 clampings (RT",
        "2026-03-06 Brought back by RT (RT",
        "2026-03-07 Setup LATHE, revision 2: re-seated (RT",
        "2026-03-08 Bored to 6.6 mm, modification 1; in LATHE, position A (RT",
        "2026-03-08 Made to 9 µm (RT",
        "2026-03-10 Seen: slip, short part (RT",
        "2026-03-11 Restricted to 15 µm: slipped (RT",
        "Newer card: kept at drawer 3 (RT",
        '2026-03-12 D-1 found wrong ("bent"): 4 clampings since 2026-01-05 in doubt (RT',
        "3 clampings with D-1 no longer in doubt: good then (RT",
        "(4) struck out: misread (RT",
    ):
        assert sentence in told, sentence


def test_a_setup_and_gauges_have_a_life_too(lived: Store) -> None:
    setup = said(history(lived, "LATHE"))
    for sentence in (
        "Revision 1: as first written down; from the spindle outward S-1, K-1 (tester).",
        "Key position B (tester).",
        "2 clampings of C-046, position A: 4 µm at 16 mm; pin P-65; indicator D-1; in 1 of them",
        "2026-03-04 C-046 taken by RT (RT",
        "2026-03-07 Revision 2: re-seated; from the spindle outward S-1, K-1 (RT",
        "1 clamping of C-046 (modification 1), position A: 5.5 µm at 16 mm; pin P-65; indicator D-1 (",
    ):
        assert sentence in setup, sentence
    write(
        lived,
        lambda e, r: add_calibration(
            e,
            r,
            r.need("D-1", "instrument"),
            done_on="2026-03-20",
            error_limit_pm=UM,
            due_on="2027-03-20",
            as_found="bent",
        ),
    )
    gauge = said(history(lived, "D-1"))
    for sentence in (
        "Entered: lever, division 1 µm (tester).",
        "2026-01-05 Calibrated: error to 1.2 µm, due 2027-01-05 (tester",
        "1 clamping of C-046 in LATHE, position A: 4 µm at 16 mm; pin P-65 (tester",
        'D-1 found wrong ("bent"): 4 clampings since 2026-01-05 in doubt (RT',
        "3 clampings with D-1 no longer in doubt: good then (RT",
        "Calibrated: error to 1 µm, due 2027-03-20, as found: bent (RT",
    ):
        assert sentence in gauge, sentence
    assert "Entered: pin, diameter 6.479 mm, out of round 0.3 µm, class h4" in said(history(lived, "P-65"))
    assert "Part of setup LATHE, revision 2 (re-seated) (RT" in said(history(lived, "K-1"))


def test_what_was_judged_is_what_the_logbook_said_then(shop: Any) -> None:
    shop.log((2.0, 2.1, 1.9, 2.0), days=("2026-03-01",))
    for day in ("2026-03-02", "2026-03-03"):
        shop.log(GOOD, days=(day,))
    (wrong,) = shop.log((70.0,), days=("2026-03-03",), note="second try")
    shop.do(lambda e, r: striking.strike(e, the_item(r), wrong, reason="misread"))
    answer = history(shop.store, "C-046")
    assert judged(answer) == [
        (Happened.CLAMPED, HOLDS, True),
        (Happened.CLAMPED, HOLDS, False),
        (Happened.CLAMPED, DOES_NOT_HOLD, False),
        (Happened.STRUCK, HOLDS, False),
    ]
    assert "judged: HOLDS 8 µm in this sitting" in said(answer)


def test_a_limit_and_a_recall_change_what_is_judged(shop: Any) -> None:
    shop.log(GOOD)
    shop.limit("C-046", Limit(1 * UM, distance_pm=16_000 * UM))
    shop.do(lambda e, r: recalls.add_recall(e, r.need("D-1", "instrument"), found_at="2026-03-10", found="bent"))
    shop.do(lambda e, r: recalls.clear(e, r.need("D-1", "instrument"), "it was good"))
    answer = history(shop.store, "C-046")
    told = [(told.event.what, one.verdict, one.limit_um, one.in_doubt) for told in answer.events for one in told.judged]
    assert sorted(told) == sorted(
        [
            (Happened.CLAMPED, HOLDS, 8.0, False),
            (Happened.LIMITED, DOES_NOT_HOLD, 1.0, False),
            (Happened.FOUND_WRONG, CANNOT_TELL, 1.0, True),
            (Happened.CLEARED, DOES_NOT_HOLD, 1.0, False),
        ]
    )
    assert "judged: LATHE, position A, 16 mm out: IN DOUBT: 1 µm" in said(answer)


def test_a_verdict_that_stays_is_not_told_again(shop: Any) -> None:
    for day in ("2026-03-01", "2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05", "2026-03-06"):
        shop.log(GOOD, days=(day,))
    assert len(judged(history(shop.store, "C-046"))) < 4


def test_a_setup_changed_takes_its_verdicts_along_and_nothing_is_judged_of_it(shop: Any) -> None:
    shop.log(GOOD)
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="re-seated", since="2026-03-05"))
    answer = history(shop.store, "C-046")
    assert Happened.CHANGED in what(answer)
    assert judged(answer) == [(Happened.CLAMPED, HOLDS, False)]


def test_an_item_entered_after_the_recall_has_it_in_its_life_all_the_same(shop: Any) -> None:
    shop.do(lambda e, r: recalls.add_recall(e, r.need("D-1", "instrument"), found_at="2026-03-10", found="bent"))
    shop.do(lambda e, r: items.add_item(e, r, "C-9", Card(kind="collet"), [Limit(8 * UM)]))
    shop.log(GOOD, item="C-9")
    assert Happened.FOUND_WRONG in what(history(shop.store, "C-9"))


def test_of_what_was_cleared_each_item_is_told_its_own(shop: Any) -> None:
    shop.log(GOOD)
    shop.log(GOOD[:1], item="C-047")
    shop.do(lambda e, r: recalls.add_recall(e, r.need("D-1", "instrument"), found_at="2026-03-10", found="bent"))
    shop.do(lambda e, r: recalls.clear(e, r.need("D-1", "instrument"), "it was good", before="2026-03-03"))
    assert "6 clampings with D-1 no longer in doubt" in said(history(shop.store, "C-046"))
    assert "2 clampings with D-1 no longer in doubt" in said(history(shop.store, "C-047"))
    assert "8 clampings with D-1 no longer in doubt" in said(history(shop.store, "D-1"))
    shop.do(lambda e, r: recalls.clear(e, r.need("D-1", "instrument"), "all of it"))
    assert "2 clampings with D-1 no longer in doubt: all of it" in said(history(shop.store, "C-047"))


def test_clampings_entered_together_are_judged_once(shop: Any) -> None:
    shop.log(GOOD)
    answer = history(shop.store, "C-046")
    assert what(answer).count(Happened.CLAMPED) == 4
    assert [(told.event.at, len(told.judged)) for told in answer.events if told.judged] == [("2026-03-04", 1)]


def test_nothing_is_judged_before_there_is_a_clamping_or_a_limit(shop: Any) -> None:
    assert what(history(shop.store, "C-048")) == [Happened.ENTERED]
    shop.log(GOOD, item="C-047")
    assert judged(history(shop.store, "C-047")) == []


def test_a_setup_changed_before_the_item_came_is_none_of_its_life(shop: Any) -> None:
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="re-seated", since="2026-02-01"))
    shop.do(lambda e, r: items.add_item(e, r, "C-9", Card(kind="collet"), [Limit(8 * UM)]))
    shop.log(GOOD, item="C-9")
    assert Happened.CHANGED not in what(history(shop.store, "C-9"))
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="crashed", since="2026-03-05"))
    assert "Setup LATHE, revision 3: crashed" in said(history(shop.store, "C-9"))


def test_of_a_setup_with_many_clampings_those_of_a_day_are_told_together(shop: Any) -> None:
    days = tuple(f"2026-03-{day:02d}" for day in range(1, 28))
    shop.log(GOOD, days=days)
    setup = history(shop.store, "LATHE", by_day=True)
    shop.log((3.0, 4.5), item="C-047", days=days)
    for position in ("A", "B"):
        shop.log((3.0,), item="C-048", position=position, days=days)
    together = said(history(shop.store, "LATHE", by_day=True))
    assert "2026-03-01 3 clampings of C-046, position A: 1.8 to 2.3 µm at 16 mm; indicator D-1 (tester" in said(setup)
    assert "the first one first; clampings of a day together (--json has each)." not in said(setup)
    assert "the first one first; clampings of a day together (--json has each)." in together
    for day in days:
        assert f"{day} 7 clampings of 3 items: 1.8 to 4.5 µm at 16 mm (tester)." in together
    assert "Key position B (tester)." in together


@pytest.mark.parametrize("code", ["LATHE", "D-1"])
def test_a_day_is_summed_up_from_what_was_clamped_on_it(shop: Any, monkeypatch: pytest.MonkeyPatch, code: str) -> None:
    """Item by item, a few clampings at once; other events between those of a day part them."""
    days = [f"2026-03-{day:02d}" for day in range(1, 10)]
    for number, item in enumerate(("C-047", "C-046", "C-048")):
        for operator, hour in (("EF", "16"), ("", "09"), ("GH", "15")):
            times = [f"{day}T{hour}:00" for day in days]
            shop.log(
                (3.0 + number, 4.5 - number), item=item, days=times, operator=operator, distance_mm=16 + number % 2
            )
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="re-seated", since="2026-03-04T12:00"))
    shop.log((9.0,), item="C-047", days=["2026-03-20"])
    shop.do(lambda e, r: recalls.add_recall(e, r.need("D-1", "instrument"), found_at="2026-03-10", found="bent"))
    singly = [told.event for told in history(shop.store, code).events]
    monkeypatch.setattr(measured, "_AT_ONCE", 5)
    monkeypatch.setattr(by_days, "MOST_SINGLY", 20)
    summed = [told.event for told in history(shop.store, code, by_day=True).events]
    assert sum(event.facts.get("entries", 1) for event in summed) == len(singly)
    parts = itertools.groupby(singly, key=lambda one: one.at[:10] if one.what == Happened.CLAMPED else one)
    for event, (_, some) in zip(summed, parts, strict=True):
        alike = list(some)
        if len(alike) == 1:
            assert event == alike[0]
            continue
        facts, read = event.facts, [one for other in alike for one in other.facts["read"]]
        assert (event.what, event.at, facts["entries"]) == (Happened.CLAMPED_ON_A_DAY, alike[0].at[:10], len(alike))
        assert facts["items"] == len({one.facts["item"] for one in alike})
        assert facts["clampings"] == sum(one.facts["clampings"] for one in alike)
        assert facts["who"] == list(dict.fromkeys(one.facts["operator"] or one.who for one in alike))
        for one in facts["read"]:
            there = [other for other in read if other["distance_pm"] == one["distance_pm"]]
            assert one["least_um"] == min(other["least_um"] for other in there)
            assert one["most_um"] == max(other["most_um"] for other in there)
        assert [one["distance_pm"] for one in facts["read"]] == list(dict.fromkeys(one["distance_pm"] for one in read))
    assert sum(event.what == Happened.CLAMPED_ON_A_DAY for event in summed) == len(days) + (code == "LATHE")


def test_what_was_entered_with_clampings_has_their_time_among_days_too(book: Store) -> None:
    """An import enters the setup's positions with the clampings."""
    swing = Turn("tir", (Reading(4 * UM, "4", UM // 10),), 16_000 * UM)
    base = Clamping("C-046", "LATHE", "", (swing,), position="Z", instrument="D-1", lever_mdeg=0)
    several = [f"2026-03-{day:02d}T{hour:02d}:00" for day in range(1, 15) for hour in range(8, 17)]
    with new_entry(book, "test") as entry:
        register = Register(entry.connection)
        setups.add_positions(entry, register, register.need("LATHE", "setup"), ["Z"])
        resolver = Resolver(register)
        clampings = [dataclasses.replace(base, taken_at=at, operator=at[11:13]) for at in several]
        write_clampings(entry, [resolver.resolve(clamping) for clamping in clampings])
    singly, summed = (history(book, "LATHE", by_day=by_day).events for by_day in (False, True))
    assert [told.event for told in summed if told.event.what == Happened.POSITION] == [
        told.event for told in singly if told.event.what == Happened.POSITION
    ]
    assert any(told.event.what == Happened.CLAMPED_ON_A_DAY for told in summed)


def test_a_gauge_without_a_card_has_a_life_too(shop: Any) -> None:
    shop.do(lambda e, r: gauges.add_other(e, r, "TW-9", "torque wrench"))
    assert what(history(shop.store, "TW-9"))[0] == Happened.ENTERED


def test_every_code_has_words() -> None:
    assert [code for code in Happened if not callable(getattr(Words, code, None))] == []


def test_the_document_is_plain_json(lived: Store) -> None:
    told = json.loads(json.dumps(document(history(lived, "C-046"))))
    assert told["question"] == "history"
    (answer,) = told["answers"]
    assert {"what", "at", "written", "who", "station", "entry", "facts", "judged"} == answer["events"][0].keys()


def test_on_the_command_line(sqlite_book: Store, capsys: pytest.CaptureFixture[str]) -> None:
    logbook = ["--logbook", sqlite_book.target]
    for code in ("C-046", "LATHE", "P-65", "D-2"):
        assert main([*logbook, "history", code]) == 0
        assert capsys.readouterr().out.startswith(f"{code}, ")
    assert main([*logbook, "history", "C-046", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["question"] == "history"
    assert main([*logbook, "history", "C-9"]) == 3
    with pytest.raises(NotFoundError):
        history(sqlite_book, "C-9")


def test_read_once_at_a_distance_of_its_own_an_item_is_judged_without_replaying_all_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(made, "items_for", lambda _: 12)
    monkeypatch.setattr(lending, "MOST", 2)
    book = tmp_path / "book.sqlite"
    direct.write_logbook(book, 12 * 16, 4).close()
    assert (
        main(["--logbook", str(book), "log", "C-00003", "4", "--setup", "L1", "--position", "A", "--distance", "20"])
        == 0
    )
    replayed: set[int] = set()
    add = Replay.add

    def counted(replay: Replay, more: Collection[int]) -> None:
        replayed.update(more)
        add(replay, more)

    monkeypatch.setattr(Replay, "add", counted)
    store = open_store(str(book))
    told = []
    for most in (2, 12):
        replayed.clear()
        monkeypatch.setattr(question, "MOST", most)
        told.append((judged(history(store, "C-00003")), len(replayed)))
    store.close()
    (few, so_many), (all_of_them, everybody) = told
    assert few == all_of_them
    assert few
    assert so_many < everybody == 12
