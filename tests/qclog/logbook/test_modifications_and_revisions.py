"""Work on an item starts its history anew, and that of every setup it is part of."""

from collections.abc import Callable

import pytest

from qclog.errors import NotFoundError, QclogError, RefusedError
from qclog.logbook import items, setups
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.figures import read_figures, read_series
from qclog.logbook.lookup import Link, Modification, Register, Revision
from qclog.records import Card, Clamping, Limit, Reading, Turn, Work

UM = 1_000_000
MM = 1_000_000_000
SWING = Turn("tir", (Reading(5 * UM, "5", UM),), 16 * MM)
Log = Callable[..., list[int]]


def modify(store: Store, code: str, work: Work) -> tuple[int, list[str]]:
    with new_entry(store, "modify") as entry:
        register = Register(entry.connection)
        return items.modify(entry, register, register.need(code, "item"), work)


def refit(
    store: Store,
    code: str,
    since: str,
    exchange: tuple[str, str] | None = None,
    clocking: dict[str, int] | None = None,
) -> Revision:
    with new_entry(store, "refit") as entry:
        register = Register(entry.connection)
        return setups.refit(
            entry,
            register,
            register.need(code, "setup"),
            reason="re-seated",
            since=since,
            exchange=exchange,
            clocking=clocking,
        )


def modifications(store: Store, code: str) -> list[Modification]:
    with store.reading() as connection:
        register = Register(connection)
        return register.modifications(register.need(code, "item").id)


def number_at(store: Store, code: str, taken_at: str) -> int:
    with store.reading() as connection:
        register = Register(connection)
        return register.modification_at(register.need(code, "item"), taken_at).number


def revisions(store: Store, code: str) -> list[tuple[Revision, list[Link]]]:
    with store.reading() as connection:
        register = Register(connection)
        found = register.revisions(register.need(code, "setup").id)
        return [(revision, register.links(revision.id)) for revision in found]


def revision_at(store: Store, code: str, taken_at: str) -> int:
    with store.reading() as connection:
        register = Register(connection)
        return register.revision_at(register.need(code, "setup"), taken_at).number


def test_modifications_are_numbered_per_item(book: Store) -> None:
    assert modify(book, "C-046", Work("bored", "2026-03-01"))[0] == 1
    assert modify(book, "C-047", Work("annealed", "2026-03-02"))[0] == 1
    assert modify(book, "c-046", Work("ground", "2026-03-03"))[0] == 2
    assert [(m.number, m.what) for m in modifications(book, "C-046")] == [
        (0, "as received"),
        (1, "bored"),
        (2, "ground"),
    ]


def test_a_modification_brings_size_limits_and_the_place_it_was_held_in(book: Store) -> None:
    work = Work(
        " bored ",
        "2026-03-01",
        size_before_pm=6_500 * UM,
        size_pm=7_000 * UM,
        holder="lathe",
        position="b",
        clocking=(("C-046", 90_000),),
        limits=(Limit(5 * UM, distance_pm=16 * MM),),
    )
    modify(book, "C-046", work)
    with book.reading() as connection:
        register = Register(connection)
        item = register.need("C-046", "item")
        newest = register.newest_modification(item)
        card = register.item_card(item.id)
        limits = {x.modification_number: x.upper_pm for x in register.limits(item.id)}
    assert (newest.what, newest.size_pm, newest.holder, newest.position) == ("bored", 7_000 * UM, "LATHE", "B")
    assert card is not None
    assert (card["bore_pm"], card["kind"]) == (7_000 * UM, "collet")
    assert limits == {0: 8 * UM, 1: 5 * UM}


@pytest.mark.parametrize(
    ("work", "error", "said"),
    [
        (Work("  ", "2026-03-01"), RefusedError, "What was done to C-046"),
        (Work("bored", "2026-03-01", holder="MILL"), NotFoundError, "no setup 'MILL'"),
        (Work("bored", "2026-03-01", holder="LATHE"), RefusedError, "key positions A, B"),
        (Work("bored", "2026-03-01", holder="LATHE", position="C"), NotFoundError, "no key position"),
    ],
)
def test_work_that_cannot_be_is_refused(sqlite_book: Store, work: Work, error: type[QclogError], said: str) -> None:
    with pytest.raises(error, match=said):
        modify(sqlite_book, "C-046", work)
    assert len(modifications(sqlite_book, "C-046")) == 1


def test_work_is_written_down_in_the_order_it_was_done(sqlite_book: Store) -> None:
    modify(sqlite_book, "C-046", Work("bored", "2026-03-05"))
    with pytest.raises(RefusedError, match=r"already modified on 2026-03-05 \(bored\)"):
        modify(sqlite_book, "C-046", Work("ground", "2026-03-04"))
    assert modify(sqlite_book, "C-046", Work("ground", "2026-03-05"))[0] == 2


@pytest.mark.parametrize(
    ("taken_at", "number"),
    [
        ("2020-01-01", 0),
        ("2026-03-03", 0),
        ("2026-03-04T09:59", 0),
        ("2026-03-04T10:00", 1),
        ("2026-03-04T10:00:00", 1),
        ("2026-03-05", 1),
        ("2026-04-01T23:59:59", 1),
        ("2026-04-03", 2),
    ],
)
def test_the_modification_is_the_newest_not_later_than_the_time(sqlite_book: Store, taken_at: str, number: int) -> None:
    modify(sqlite_book, "C-046", Work("bored", "2026-03-04T10:00"))
    modify(sqlite_book, "C-046", Work("ground", "2026-04-02"))
    assert number_at(sqlite_book, "C-046", taken_at) == number


@pytest.mark.parametrize(
    ("done_at", "taken_at"),
    [("2026-03-04", "2026-03-04"), ("2026-03-04T10:00", "2026-03-04"), ("2026-03-04", "2026-03-04T10:00")],
)
def test_an_equal_date_without_time_is_refused_naming_both(sqlite_book: Store, done_at: str, taken_at: str) -> None:
    modify(sqlite_book, "C-046", Work("annealed", "2026-02-01"))
    modify(sqlite_book, "C-046", Work("bored", done_at))
    with pytest.raises(RefusedError, match=r"C-046 .*bored.*--modification 1 \(before\) or 2 \(after\)"):
        number_at(sqlite_book, "C-046", taken_at)


def test_a_clamping_may_say_its_modification_itself(book: Store, log: Log) -> None:
    modify(book, "C-046", Work("bored", "2026-03-04"))
    same_day = Clamping("C-046", "LATHE", "2026-03-04", (SWING,), position="A")
    with pytest.raises(RefusedError, match="--modification"):
        log(book, same_day)
    for number in (0, 1):
        log(
            book,
            Clamping("C-046", "LATHE", "2026-03-04", (SWING,), position="A", modification=number, label=f"{number}"),
        )
    with pytest.raises(NotFoundError, match=r"no modification 2\. Its newest is 1"):
        log(book, Clamping("C-046", "LATHE", "2026-03-04", (SWING,), position="A", modification=2))


@pytest.mark.parametrize("offset", ["", "Z", "+02:00", "-0500"])
def test_the_order_of_times_is_that_of_the_wall_clock_whatever_the_offset(sqlite_book: Store, offset: str) -> None:
    modify(sqlite_book, "C-046", Work("bored", f"2026-03-04T10:00{offset}"))
    assert number_at(sqlite_book, "C-046", f"2026-03-04T09:59:59{offset}") == 0
    assert number_at(sqlite_book, "C-046", f"2026-03-04T10:00:00{offset}") == 1
    assert number_at(sqlite_book, "C-046", f"2026-03-04T10:00:01{offset}") == 1


def test_modifying_a_link_opens_a_new_revision_of_its_setups_only(book: Store) -> None:
    assert modify(book, "K-1", Work("ground", "2026-03-04")) == (1, ["LATHE"])
    assert modify(book, "C-046", Work("bored", "2026-03-04")) == (1, [])
    assert modify(book, "S-1", Work("new bearings", "2026-03-05")) == (1, ["LATHE", "TAIL"])
    lathe = revisions(book, "LATHE")
    assert [(r.number, r.since, r.reason) for r, _ in lathe] == [
        (1, "", "as first written down"),
        (2, "2026-03-04", "K-1: ground"),
        (3, "2026-03-05", "S-1: new bearings"),
    ]
    newest = {m.number: m.id for m in modifications(book, "K-1")}
    assert [link.modification_id for _, links in lathe for link in links if link.text == "K-1"] == [
        newest[0],
        newest[1],
        newest[1],
    ]
    assert [r.sense for r, _ in revisions(book, "TAIL")] == ["counterclockwise", "counterclockwise"]


def test_an_exchanged_link_is_out_of_the_newest_revision_only(book: Store) -> None:
    with new_entry(book, "a second chuck") as entry:
        items.add_item(entry, Register(entry.connection), "K-2", Card(kind="chuck"))
    refit(book, "lathe", "2026-03-04", exchange=("k-1", "K-2"))
    assert [[link.text for link in links] for _, links in revisions(book, "LATHE")] == [["S-1", "K-1"], ["S-1", "K-2"]]
    assert modify(book, "K-1", Work("ground", "2026-03-05")) == (1, [])
    assert modify(book, "K-2", Work("ground", "2026-03-05")) == (1, ["LATHE"])


def test_a_part_that_is_not_in_the_setup_cannot_be_exchanged(sqlite_book: Store) -> None:
    with pytest.raises(NotFoundError, match=r"C-046 is not part of setup LATHE\. Its parts: S-1, K-1"):
        refit(sqlite_book, "LATHE", "2026-03-04", exchange=("C-046", "C-047"))
    with pytest.raises(NotFoundError, match="no item 'K-7'"):
        refit(sqlite_book, "LATHE", "2026-03-04", exchange=("K-1", "K-7"))
    assert len(revisions(sqlite_book, "LATHE")) == 1


def test_the_clocking_of_a_link_is_kept_until_it_is_turned_again(book: Store) -> None:
    refit(book, "LATHE", "2026-03-04", clocking={"k-1": 120_000})
    refit(book, "LATHE", "2026-03-05")
    refit(book, "LATHE", "2026-03-06", clocking={"k-1": 240_000, "s-1": 0})
    turned = [[link.clocking_mdeg for link in links] for _, links in revisions(book, "LATHE")]
    assert turned == [[None, None], [None, 120_000], [None, 120_000], [0, 240_000]]


def test_revisions_are_written_down_in_the_order_they_happened(sqlite_book: Store) -> None:
    refit(sqlite_book, "LATHE", "2026-03-05")
    with pytest.raises(RefusedError, match="already changed on 2026-03-05"):
        refit(sqlite_book, "LATHE", "2026-03-04")
    assert refit(sqlite_book, "LATHE", "2026-03-05").number == 3


def test_the_revision_in_force_is_told_by_the_time(sqlite_book: Store) -> None:
    refit(sqlite_book, "LATHE", "2026-03-04T10:00")
    refit(sqlite_book, "LATHE", "2026-04-02")
    times = ("2020-01-01", "2026-03-04T09:59", "2026-03-04T10:00", "2026-04-01", "2026-04-03")
    assert [revision_at(sqlite_book, "LATHE", time) for time in times] == [1, 1, 2, 2, 3]
    with pytest.raises(RefusedError, match=r"LATHE was changed \(re-seated\) on 2026-03-04"):
        revision_at(sqlite_book, "LATHE", "2026-03-04")


def test_a_change_noted_with_its_day_only_counts_from_the_start_of_that_day(sqlite_book: Store) -> None:
    refit(sqlite_book, "LATHE", "2026-03-04")
    assert revision_at(sqlite_book, "LATHE", "2026-03-04T08:00") == 2
    assert revision_at(sqlite_book, "LATHE", "2026-03-03T23:59") == 1


def test_histories_are_never_pooled(book: Store, log: Log) -> None:
    """The same item before and after work on it, and before and after its setup changed: four series."""

    def swing(taken_at: str) -> None:
        log(book, Clamping("C-046", "LATHE", taken_at, (SWING,), position="A"))

    swing("2026-03-01")
    swing("2026-03-02")
    modify(book, "C-046", Work("bored", "2026-03-03"))
    swing("2026-03-04")
    refit(book, "LATHE", "2026-03-05")
    swing("2026-03-06")
    modify(book, "K-1", Work("ground", "2026-03-07"))
    swing("2026-03-08")
    swing("2026-02-01")  # written down late: belongs to the first
    with book.reading() as connection:
        series = read_series(connection)
        figures = read_figures(connection)
    counts = {(s.modification, s.revision): int((figures.series == s.id).sum()) for s in series}
    assert counts == {(0, 1): 3, (1, 1): 1, (1, 2): 1, (1, 3): 1}
