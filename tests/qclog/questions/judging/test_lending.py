"""Of all that might lend their repeat the fifty newest do, whoever is asked about: alone as with all."""

from collections.abc import Callable, Collection, Iterator

import numpy as np
import pytest

from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.figures import Series
from qclog.logbook.items import add_item, modify
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned
from qclog.logbook.replay import Replay
from qclog.logbook.setups import add_setup
from qclog.questions import history as history_question
from qclog.questions import known
from qclog.questions.assess import Answer, assess
from qclog.questions.codes import Caveat
from qclog.questions.drawer import drawer
from qclog.questions.due import due
from qclog.questions.history import history
from qclog.questions.judging.groups import VECTORS, Group
from qclog.questions.judging.lending import MOST, Pools, pools
from qclog.questions.wear import wear
from qclog.records import Card, Clamping, Limit, Reading, Turn, Work

TENTH, UM, MM = 100_000, 1_000_000, 1_000_000_000
COLLETS = [f"C-{number:03d}" for number in range(150)]
JAWS = [f"JW-{number:02d}" for number in range(56)]
ASKED = (*COLLETS[:4], *COLLETS[60:63], *COLLETS[98:102], *COLLETS[-3:], *JAWS[:2], *JAWS[-2:])


def turn(rng: np.random.Generator, own: complex, points: int) -> Turn:
    vector = own + 0.4 * (rng.standard_normal() + 1j * rng.standard_normal())
    if points == 1:
        tenths = [round(20 * abs(vector))]
    else:
        tenths = [round(10 * (vector * np.exp(-2j * np.pi * i / points)).real) for i in range(points)]
    angles = [None] if points == 1 else [360_000 * i // points for i in range(points)]
    readings = [Reading(x * TENTH, f"{x / 10:.1f}", TENTH, at) for x, at in zip(tenths, angles, strict=True)]
    return Turn("tir" if points == 1 else "point", tuple(readings), 25 * MM)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Collets read on one day to five, as swings, quarter turns and turns of twelve, more of them than can lend; and
    jaws, bored twice, with two or three clampings for each job."""
    rng = np.random.default_rng(7)
    opened = open_store(str(tmp_path_factory.mktemp("lending") / "book.sqlite"), create=True)
    with new_entry(opened, "simulated") as entry:
        register = Register(entry.connection)
        add_setup(entry, register, "L1", positions=["A"])
        for code in COLLETS:
            add_item(entry, register, code, Card(kind="collet", nominal_pm=7 * MM), [Limit(9 * UM, 25 * MM)])
        for code in JAWS:
            add_item(entry, register, code, Card(kind="jaws"), [Limit(9 * UM)])

    def clamp(codes: list[str], first: int, days: int, each: int) -> None:
        with new_entry(opened, "simulated") as entry:
            resolver = Resolver(Register(entry.connection))
            found = []
            for number, code in enumerate(codes):
                own = complex(*rng.normal(0, 1.6, 2))
                for day in range(1 + number % days):
                    at = own + complex(*rng.normal(0, 0.3, 2))
                    for take in range(each + number % 2):
                        stamp = f"2026-03-{first + day:02d}T09:{take:02d}"
                        read = turn(rng, at, (1, 12, 4)[number % 3])
                        found.append(Clamping(code, "L1", stamp, (read,), position="A"))
            write_clampings(entry, [resolver.resolve(one) for one in found])

    clamp(COLLETS, 1, 5, 2)
    clamp(JAWS, 1, 1, 2)
    with new_entry(opened, "simulated") as entry:
        register = Register(entry.connection)
        for code in JAWS[::2]:
            work = Work(what="bored on a slug", done_at="2026-03-10", limits=(Limit(9 * UM),))
            modify(entry, register, register.need(code, "item"), work)
    clamp(JAWS[::2], 11, 1, 2)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def answered(store: Store) -> dict[str, Answer]:
    return {answer.item: answer for answer in assess(store) if answer.item}


@pytest.mark.parametrize("code", ASKED)
def test_an_item_asked_about_alone_is_told_to_the_last_digit_what_it_is_told_with_all(
    store: Store, answered: dict[str, Answer], code: str
) -> None:
    assert assess(store, code) == [answered[code]]


def test_borrowed_and_own_figures_and_both_kinds_of_bounds_are_among_them(answered: dict[str, Answer]) -> None:
    told: list[Group] = [group for code in ASKED for group in answered[code].groups]
    methods = {group.bound.method for group in told if group.bound is not None}
    assert {"shop's repeat", "shop's repeat" + VECTORS, "sittings", "sittings" + VECTORS} <= methods
    assert any(Caveat.CHUCK_REPEAT in group.caveats for group in told)


def owned(number: int) -> Owned:
    return Owned(
        id=number,
        code=f"C-{number}",
        kind="collet",
        system="",
        size_pm=7 * MM,
        nominal_pm=None,
        worked_to_pm=None,
        material="",
        place="",
        price="",
        modification=0,
        modified_at="",
        what="",
        married_setup="",
        married_position="",
        state="in service",
        restricted_pm=None,
        findings=(),
        limits=(),
    )


def read(number: int) -> Series:
    return Series(number, number, f"C-{number}", 0, "L1", 1, 1, 1, "A", "", -1, 250, "runout")


def lending(sittings: list[int], doubt: tuple[int, ...] = ()) -> Pools:
    """Of items numbered in the order they were added, each read so often."""
    series, items = [read(i) for i in range(len(sittings))], {i: owned(i) for i in range(len(sittings))}
    often = np.array(sittings)
    return pools(series, items, 2 * often, often, np.isin(np.arange(len(sittings)), doubt))


def test_the_newest_lend_and_all_that_were_measured_alike_borrow() -> None:
    found = lending([3] * (MOST + 20))
    assert np.flatnonzero(found.lends).tolist() == list(range(20, MOST + 20))
    assert np.flatnonzero(found.witness).tolist() == list(range(20, MOST + 20))
    assert set(found.alike.tolist()) == {0}


def test_new_items_that_cannot_lend_yet_take_the_place_of_none_that_can() -> None:
    found = lending([3] * 20 + [1] * MOST)
    assert np.flatnonzero(found.lends).tolist() == list(range(20))


def test_what_is_in_doubt_lends_nothing_and_bears_no_witness() -> None:
    found = lending([3] * 4, doubt=(2,))
    assert found.lends.tolist() == found.witness.tolist() == [True, True, False, True]
    assert found.alike[2] != found.alike[0]


@pytest.mark.parametrize("question", [assess, drawer, wear, due])
def test_a_logbook_worked_through_in_parts_is_told_what_it_is_told_at_once(
    store: Store, monkeypatch: pytest.MonkeyPatch, question: Callable[[Store], object]
) -> None:
    at_once = question(store)
    monkeypatch.setattr(known, "_AT_ONCE", 60)
    assert question(store) == at_once


@pytest.mark.parametrize("code", ASKED[::3])
def test_what_was_judged_of_an_item_then_is_told_from_those_that_lend_as_from_all(
    store: Store, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = history(store, code)
    assert any(event.judged for event in told.events)
    for first in (2, 1_000):
        monkeypatch.setattr(history_question, "MOST", first)
        assert history(store, code) == told


def test_of_all_that_were_measured_alike_a_history_replays_few(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    replayed: set[int] = set()

    class Counted(Replay):
        def add(self, items: Collection[int]) -> None:
            replayed.update(items)
            super().add(items)

    monkeypatch.setattr(history_question, "Replay", Counted)
    history(store, COLLETS[0])
    assert MOST <= len(replayed) < len(COLLETS)
