"""A replay of the logbook gives the answers of the logbook, as it stood after each of its entries."""

from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

import demo_readings
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry
from qclog.logbook.exchange import import_folder
from qclog.logbook.figures import read_figures
from qclog.logbook.lookup import Register
from qclog.logbook.replay import Replay, read_measured_alike
from qclog.logbook.setups import refit
from qclog.logbook.striking import strike
from qclog.questions.assess import Answer, answers_in, assess
from qclog.questions.known import Known
from qclog.questions.wear import wear

DEMO = Path(demo_readings.__file__).parent / "workshop"


def newest_entry(store: Store) -> int:
    with store.reading() as connection:
        return int(connection.scalar(sa.select(sa.func.max(schema.entry.c.id))) or 0)


def test_at_its_end_it_gives_the_same_answers_to_the_last_digit(store: Store) -> None:
    import_folder(store, DEMO)
    with store.reading() as connection, Replay(connection) as replay:
        for entry in (3, 60, 61, None):
            replay.advance(entry)
        assert assess(replay.store) == assess(store)
        assert wear(replay.store) == wear(store)


def test_at_an_entry_it_gives_the_answers_of_that_time(shop: Any) -> None:
    """Logged on three days, one clamping struck out and its reading misread, worked in again: asked after each."""
    then: dict[int, list[Answer]] = {}

    def noted() -> None:
        then[newest_entry(shop.store)] = assess(shop.store)

    for day in ("2026-03-01", "2026-03-02", "2026-03-03"):
        numbers = shop.log([4, 5, 4], days=(day,))
        noted()
    for number, where in ((numbers[0], {}), (numbers[1], {"turn": 1}), (numbers[2], {"turn": 1, "reading": 1})):

        def struck(entry: Entry, register: Register, number: int = number, where: dict[str, int] = where) -> None:
            strike(entry, register.need("C-046", "item"), number, reason="misread", **where)

        shop.do(struck)
        noted()
    shop.log([6, 7], item="C-047")
    noted()
    with shop.store.reading() as connection, Replay(connection) as replay:
        for entry, answers in then.items():
            replay.advance(entry)
            assert assess(replay.store) == answers


def test_with_the_items_measured_alike_an_item_is_answered_as_with_all(shop: Any) -> None:
    numbers = shop.log([4, 5, 4])
    shop.log([5, 6, 4], item="C-047")
    shop.log([5, 6, 4], item="C-048", setup="TAIL", position="")
    with shop.store.reading() as connection:
        items = read_measured_alike(connection, numbers)
        assert {Register(connection).text(one) for one in items} == {"C-046", "C-047"}
        with Replay(connection, items) as replay:
            replay.advance()
            assert assess(replay.store, "C-046") == assess(shop.store, "C-046")
            assert assess(replay.store, "C-048")[0].groups == ()


def test_what_is_supposed_of_it_stays_out_of_the_logbook(shop: Any) -> None:
    numbers = shop.log([4, 5, 4])
    before = assess(shop.store)
    with shop.store.reading() as connection, Replay(connection) as replay:
        replay.advance()
        replay.suppose_scaled(numbers[:4], 2.0)
        (group,) = assess(replay.store, "C-046")[0].groups
    assert group.tir_um.max == 10.0
    assert group.tir_um.min == 4.0
    assert assess(shop.store) == before


def test_vectors_are_supposed_scaled_with_their_swings(shop: Any) -> None:
    numbers = shop.log_vectors([3 + 1j, 2 - 1j])
    with shop.store.reading() as connection, Replay(connection) as replay:
        before = read_figures(connection).vector
        replay.advance()
        replay.suppose_scaled(numbers, 2.0)
        with replay.store.reading() as own:
            assert read_figures(own).vector == pytest.approx(2 * before)


def test_a_view_before_later_work_shows_the_item_and_the_setup_as_they_were(shop: Any) -> None:
    shop.log([4, 5, 4])
    (before,) = shop.answer().groups

    def changed(entry: Entry, register: Register) -> None:
        refit(entry, register, register.need("LATHE", "setup"), reason="re-seated", since="2026-03-05")

    shop.do(changed)
    shop.log([6], days=("2026-03-06",))
    with shop.store.reading() as connection, Replay(connection) as replay:
        item, setup = Register(connection).need("C-046", "item").id, Register(connection).need("LATHE", "setup").id
        replay.advance()
        with replay.before_later_work(item, 0, setup, 1) as own:
            assert answers_in(Known(own, [item]))[0].groups == (before,)
        assert len(assess(replay.store, "C-046")[0].groups) == 2


@pytest.mark.parametrize("entry", [0, 1])
def test_before_the_first_clamping_it_is_empty(shop: Any, entry: int) -> None:
    shop.log([4])
    with shop.store.reading() as connection, Replay(connection) as replay:
        replay.advance(entry)
        assert assess(replay.store) == []
