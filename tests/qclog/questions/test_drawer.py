"""The drawer of the small workshop: order, sizes, married items, what is to be ordered."""

import datetime
import json
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.logbook import custody, items, setups
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Name, Register
from qclog.questions.codes import Wanted
from qclog.questions.drawer import Drawer, document, drawer
from qclog.questions.drawer import Entry as Listed
from qclog.questions.judging.values import CANNOT_TELL
from qclog.records import Card, Limit, Work
from reports.drawer import drawer as text

MM = 10**9
UM = 10**6
ON = "2026-05-04"


def asked(shop: Any) -> Drawer:
    return drawer(shop.store)


def listed(shop: Any, item: str) -> Listed:
    (found,) = [entry for entry in asked(shop).entries if entry.item.code == item]
    return found


def add(shop: Any, code: str, card: Card) -> None:
    shop.do(lambda entry, register: items.add_item(entry, register, code, card))


def on(shop: Any, code: str, change: Callable[[Entry, Register, Name], object]) -> None:
    shop.do(lambda entry, register: change(entry, register, register.need(code, "item")))


def decide(shop: Any, code: str, state: str) -> None:
    def change(entry: Entry, register: Register, item: Name) -> None:
        items.set_state(entry, register, item, state=state, limit_pm=None, since=ON, reason="told so")

    on(shop, code, change)


def crack(shop: Any, code: str) -> None:
    on(shop, code, lambda e, r, item: items.inspect_item(e, r, item, finding="crack", seen_on=ON, note=""))


def bore(shop: Any, code: str, size_pm: int, setup: str = "", position: str = "") -> None:
    work = Work("bored", ON, size_pm=size_pm, holder=setup, position=position)
    on(shop, code, lambda entry, register, item: items.modify(entry, register, item, work))


@pytest.fixture
def tray(shop: Any) -> Any:
    """Beside the small workshop six collets of a set, 5 to 10 mm."""
    for size in range(5, 11):
        add(shop, f"T-{size}", Card(kind="collet", system="size 20", nominal_pm=size * MM, price="10 EUR"))
    return shop


def sizes_of(shop: Any) -> tuple[float | None, tuple[float, ...], list[float]]:
    (found,) = [one for one in asked(shop).sizes if one.system == "size 20"]
    return found.step_mm, found.present_mm, [missing.size_mm for missing in found.missing]


# --- the list ---


def test_everything_owned_stands_in_the_list_once_the_worst_first(shop: Any) -> None:
    shop.log([3.0, 3.4, 3.2])
    shop.log([12.0, 12.4], item="C-047")
    shop.limit("C-047", Limit(8 * UM, distance_pm=16 * MM))
    crack(shop, "C-048")
    add(shop, "C-049", Card(kind="collet"))
    add(shop, "C-050", Card(kind="collet"))
    decide(shop, "C-050", "scrap")
    assert [entry.item.code for entry in asked(shop).entries] == [
        *("C-048", "C-047", "C-049", "C-046", "K-1", "S-1", "C-050")
    ]


def test_where_wear_retires_comes_before_where_it_holds(shop: Any) -> None:
    shop.limit("C-047", Limit(8 * UM, distance_pm=16 * MM))
    shop.log([3.0, 3.4, 3.2], item="C-047", position="A")
    shop.log([12.0, 12.4, 12.2], item="C-047", position="B")
    worst = listed(shop, "C-047").worst
    assert worst is not None
    assert worst.position == "B"
    assert not listed(shop, "C-047").to_retire


def test_what_is_to_be_retired_for_its_rise_alone_comes_before_what_cannot_be_told(shop: Any) -> None:
    shop.log([4.0, 4.6, 5.2], days=("2026-03-02",))
    shop.limit("C-047", Limit(8 * UM, distance_pm=16 * MM))
    for i in range(9):
        day = (datetime.date(2025, 6, 1) + datetime.timedelta(days=30 * i)).isoformat()
        shop.log([1.0 + i], item="C-047", days=(day,), position="B")
    shop.log([6.0, 7.9, 3.0], item="C-047", days=("2026-03-01", "2026-03-02"), position="A")
    entry = listed(shop, "C-047")
    assert (entry.assessed.reasons, [group.next_clampings for group in entry.assessed.groups]) == (
        (),
        2 * [CANNOT_TELL],
    )
    assert entry.worst is not None
    assert entry.worst.position == "B"
    assert [entry.item.code for entry in asked(shop).entries][:2] == ["C-047", "C-046"]


def test_the_day_it_was_last_measured_is_that_of_the_item_as_it_is_now(shop: Any) -> None:
    shop.log([3.0], days=("2026-03-02", "2026-03-09"))
    shop.log([3.0], days=("2026-03-20",), recalled=True)
    assert listed(shop, "C-046").last_measured == "2026-03-09"
    bore(shop, "C-046", 6_600 * UM)
    assert listed(shop, "C-046").last_measured == ""


def test_who_has_it_out_is_told(shop: Any) -> None:
    def take(entry: Entry, register: Register) -> None:
        item, setup = register.need("C-046", "item"), register.need("LATHE", "setup")
        custody.take(entry, [item], setup=setup, place="", done_at=ON)

    shop.do(take)
    out = listed(shop, "C-046").out
    assert out is not None
    assert (out.who, out.setup, out.since) == ("tester", "LATHE", ON)
    assert listed(shop, "C-047").out is None


def test_a_setup_that_does_not_hold_its_own_limit_is_told(shop: Any) -> None:
    shop.limit("LATHE", Limit(2 * UM, distance_pm=16 * MM))
    shop.log([3.0, 3.4, 3.2])
    (setup,) = asked(shop).setups
    assert setup.setup == "LATHE"
    assert [reason.item for reason in setup.reasons] == ["C-046"]


def test_twice_as_many_items_ask_the_database_no_more_often(shop: Any) -> None:
    def statements(store: Store) -> int:
        counted: list[str] = []

        def count(*args: object) -> None:
            counted.append(str(args[2]))

        sa.event.listen(store.engine, "before_cursor_execute", count)
        drawer(store)
        sa.event.remove(store.engine, "before_cursor_execute", count)
        return len(counted)

    shop.log([3.0, 3.4])
    before = statements(shop.store)
    for i in range(20):
        add(shop, f"X-{i}", Card(kind="collet", nominal_pm=(i + 1) * MM))
        shop.log([3.0, 3.4], item=f"X-{i}", days=("2026-03-02",))
    assert statements(shop.store) == before


def test_the_document_is_plain_values(tray: Any) -> None:
    tray.log([3.0, 3.4])
    crack(tray, "T-7")
    told = json.loads(json.dumps(document(asked(tray))))
    assert told["question"] == "drawer"
    assert told["answers"][0]["item"] == "T-7"
    assert told["answers"][0]["last_measured"] is None
    (place,) = next(one for one in told["answers"] if one["item"] == "C-046")["places"]
    assert (place["setup"], place["position"], place["clampings"]) == ("LATHE", "A", 8)
    assert told["totals"] == [{"amount": 10.0, "currency": "EUR", "pieces": 1}]


# --- sizes ---


def test_a_set_tells_what_is_there_and_what_became_of_the_rest(tray: Any) -> None:
    assert sizes_of(tray) == (1.0, (5.0, 6.0, 7.0, 8.0, 9.0, 10.0), [])
    bore(tray, "T-6", 6_480 * UM)
    decide(tray, "T-8", "scrap")
    crack(tray, "T-10")
    assert sizes_of(tray) == (1.0, (5.0, 7.0, 9.0), [6.0, 8.0, 10.0])
    (found,) = [one for one in asked(tray).sizes if one.system == "size 20"]
    assert [missing.bored_out for missing in found.missing] == [("T-6",), (), ()]
    assert [missing.gone for missing in found.missing] == [(), ("T-8",), ("T-10",)]
    assert [(odd.size_mm, odd.item, odd.worked) for odd in found.beside] == [(6.48, "T-6", True)]


def test_a_set_of_which_less_than_half_is_left_is_none(tray: Any) -> None:
    for size in (5, 6, 7, 8):
        bore(tray, f"T-{size}", size * MM + 480 * UM)
    (found,) = [one for one in asked(tray).sizes if one.system == "size 20"]
    assert (found.step_mm, found.present_mm, found.missing) == (None, (), ())
    assert [odd.item for odd in found.beside] == ["T-5", "T-6", "T-7", "T-8"]


def test_one_worked_to_exactly_a_size_of_the_set_is_that_size(tray: Any) -> None:
    bore(tray, "T-5", 6 * MM)
    assert sizes_of(tray) == (1.0, (6.0, 7.0, 8.0, 9.0, 10.0), [5.0])
    (found,) = [one for one in asked(tray).sizes if one.system == "size 20"]
    assert [(double.size_mm, double.items) for double in found.doubles] == [(6.0, ("T-5", "T-6"))]
    decide(tray, "T-6", "scrap")
    assert sizes_of(tray) == (1.0, (6.0, 7.0, 8.0, 9.0, 10.0), [5.0])


def test_one_worked_close_to_a_fraction_of_an_inch_is_not_that_size(shop: Any) -> None:
    for k in range(8, 14):
        add(shop, f"I-{k}", Card(kind="collet", system="size 20", nominal_pm=k * 25_400 * UM // 64))
    bore(shop, "I-10", 10 * 25_400 * UM // 64 + 9 * UM)
    assert sizes_of(shop)[2] == [10 * 25.4 / 64]


def test_systems_are_the_same_whatever_their_case_and_blanks_and_not_mixed(tray: Any) -> None:
    decide(tray, "T-7", "scrap")
    add(tray, "T-7B", Card(kind="collet", system=" Size  20", nominal_pm=7 * MM))
    add(tray, "T-8B", Card(kind="collet", system="size 32", nominal_pm=8 * MM))
    (found,) = [one for one in asked(tray).sizes if one.step_mm is not None]
    assert (found.missing, found.doubles) == ((), ())


# --- married ---


def test_worked_on_in_place_is_married_to_it_and_told_when_that_was_changed_since(shop: Any) -> None:
    bore(shop, "C-046", 6_600 * UM, "LATHE", "A")
    bore(shop, "C-047", 6_700 * UM)
    (married,) = asked(shop).married
    assert (married.item, married.setup, married.position, married.size_mm) == ("C-046", "LATHE", "A", 6.6)
    assert married.changed == ""
    shop.log([3.0, 3.4], days=("2026-05-10",))
    setup_changes(shop, "2026-05-20")
    (married,) = asked(shop).married
    assert (married.changed, married.reason) == ("2026-05-20", "crashed")
    shop.log([3.0, 3.4], days=("2026-05-21",))
    assert [one.changed for one in asked(shop).married] == [""]


def setup_changes(shop: Any, since: str) -> None:
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="crashed", since=since))


# --- to order ---


def ordered(shop: Any) -> list[tuple[float | None, float | None, tuple[str, ...], tuple[Wanted, ...]]]:
    return [(one.size_mm, one.work_to_mm, one.instead_of, one.why) for one in asked(shop).reorder]


def test_a_gap_and_what_is_broken_are_ordered_once(tray: Any) -> None:
    bore(tray, "T-6", 6_480 * UM)
    crack(tray, "T-8")
    assert ordered(tray) == [
        (6.0, None, (), (Wanted.MISSING,)),
        (8.0, None, ("T-8",), (Wanted.OUT_OF_SERVICE, Wanted.MISSING)),
    ]
    found = asked(tray)
    assert [(total.amount, total.currency, total.pieces) for total in found.totals] == [(Decimal(20), "EUR", 2)]
    assert found.unpriced == 0


def test_instead_of_a_bored_one_a_blank_is_ordered_to_work_to_its_size(tray: Any) -> None:
    bore(tray, "T-6", 6_480 * UM)
    add(tray, "T-6B", Card(kind="collet", system="size 20", nominal_pm=6 * MM, price="soon"))
    decide(tray, "T-6", "scrap")
    assert ordered(tray) == [(6.0, 6.48, ("T-6",), (Wanted.SCRAP,))]


def test_what_has_a_sound_one_of_its_size_beside_it_is_not_ordered(tray: Any) -> None:
    decide(tray, "T-7", "scrap")
    assert [one[2] for one in ordered(tray)] == [("T-7",)]
    add(tray, "T-7B", Card(kind="collet", system="size 20", nominal_pm=7 * MM))
    assert ordered(tray) == []
    crack(tray, "T-7B")
    assert [one[2] for one in ordered(tray)] == [("T-7", "T-7B")]
    assert [one.price for one in asked(tray).reorder] == ["10 EUR"]


def test_what_was_put_away_is_not_wanted_again(tray: Any) -> None:
    decide(tray, "T-7", "out")
    assert sizes_of(tray)[2] == [7.0]
    assert ordered(tray) == []
    add(tray, "T-7B", Card(kind="collet", system="size 20", nominal_pm=7 * MM))
    decide(tray, "T-7B", "scrap")
    assert [one[2] for one in ordered(tray)] == [("T-7B",)]
    crack(tray, "T-7")
    assert [one[2] for one in ordered(tray)] == [("T-7B",)]


def test_what_holds_nowhere_any_more_is_ordered_what_holds_somewhere_is_not(shop: Any) -> None:
    on(shop, "C-046", lambda e, r, item: items.write_card(e, r, item, Card(bore_pm=6_400 * UM)))
    on(shop, "C-048", lambda e, r, item: items.write_card(e, r, item, Card(bore_pm=6_600 * UM)))
    for code in ("C-047", "C-048"):
        shop.limit(code, Limit(8 * UM, distance_pm=16 * MM))
        shop.log([12.0, 12.4, 12.2], item=code)
    shop.log([3.0, 3.4, 3.2], item="C-048", position="B")
    assert [(one[2], one[3]) for one in ordered(shop)] == [(("C-047",), (Wanted.WORN,))]


def test_a_price_that_cannot_be_read_is_counted_and_not_added(tray: Any) -> None:
    on(tray, "T-7", lambda e, r, item: items.write_card(e, r, item, Card(price="about 12")))
    for code in ("T-7", "T-8"):
        decide(tray, code, "scrap")
    found = asked(tray)
    assert [(total.amount, total.pieces) for total in found.totals] == [(Decimal(10), 1)]
    assert found.unpriced == 1


def test_jaws_that_do_not_hold_are_bored_again_and_never_ordered(shop: Any) -> None:
    add(shop, "JW-1", Card(kind="jaws"))
    bore(shop, "JW-1", 24 * MM, "LATHE", "A")
    shop.limit("JW-1", Limit(18 * UM), modification=1)
    shop.log([40.0, 41.0, 40.0, 41.0, 40.0], item="JW-1", days=("2026-05-05",))
    assert listed(shop, "JW-1").to_bore_again
    assert "jaws" not in {order.kind for order in asked(shop).reorder}
    assert "To bore again:\n  JW-1 (does not hold any more)." in text(asked(shop))
