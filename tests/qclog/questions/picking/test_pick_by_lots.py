"""A choice is told the same to the last digit whether all that was read is worked on at once or lot by lot, and whether
all choices are told in full or only the first of them."""

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from qclog.logbook import items
from qclog.logbook.engine import Store
from qclog.logbook.figures import read_figures
from qclog.questions.assess import answers_in
from qclog.questions.judging.groups import VECTORS, Group
from qclog.questions.judging.values import HOLDS
from qclog.questions.known import Known
from qclog.questions.pick import document, pick
from qclog.questions.picking import stock
from qclog.questions.picking.choices import FORECAST
from qclog.questions.picking.fitting import Part
from qclog.questions.picking.read_places import Read, as_now, read_places, shop_scatters
from qclog.records import Card
from qclog.statistics.grips import grips_of_swings, grips_of_vectors
from tests.benchmarks import direct, made

ITEMS = 130
LIMITS_UM = (7.0, 20.0)
FIRST = 8
MM = 10**9
DAYS = ("2026-03-01", "2026-03-02")
SHOP = "shop's repeat"


def part(runout_um: float) -> Part:
    return Part(7 * MM, runout_um, 25 * MM)


@pytest.fixture(scope="module", params=[(8, 1), (8, 12), (20, 1), (20, 12)], ids="{0[0]} of {0[1]}".format)
def drawer(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Collets of 7 mm at two key positions, each clamped so often, read as swings or as turns of twelve."""
    each, points = request.param
    path: Path = tmp_path_factory.mktemp("drawer") / "drawer.sqlite"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(made, "items_for", lambda _: ITEMS)
        store = direct.write_logbook(path, each * ITEMS, points)
    yield store
    store.close()


@pytest.fixture
def small_lots(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stock, "_AT_ONCE", 100)


def all_at_once(store: Store, limit_um: float) -> dict[tuple[str, str], tuple[Group, Any]]:
    """By item and position its verdict, and chances, from all figures and all that might lend together."""
    with store.reading() as connection:
        known = Known(connection)
        groups = {(g.item, g.position): g for one in answers_in(known, limit_um=limit_um) for g in one.groups}
        reads = read_places(as_now(known.series, known.owned, known.setups), read_figures(connection))
        shops = {vectors: shop_scatters(reads, known.owned, vectors=vectors) for vectors in (True, False)}

    def chances(read: Read, group: Group) -> Any:
        method = group.bound.method if group.bound is not None else ""
        vectors = method.endswith(VECTORS) and read.directed
        shop = shops[vectors][read.series.id] if method.startswith(SHOP) else None
        if vectors:
            return grips_of_vectors(read.vectors, read.sitting, floor_um=read.floor_um, shop=shop).gripped(limit_um)
        return grips_of_swings(read.swings, read.sitting, step_um=group.resolution_um, shop=shop).gripped(limit_um)

    by_place = {(read.series.item, read.series.position): read for read in reads}
    return {place: (group, chances(by_place[place], group)) for place, group in groups.items()}


@pytest.mark.usefixtures("small_lots")
@pytest.mark.parametrize("limit_um", LIMITS_UM)
def test_choices_are_those_of_all_figures_at_once(drawer: Store, limit_um: float) -> None:
    found, plain = pick(drawer, part(limit_um)).choices, all_at_once(drawer, limit_um)
    assert len(found) == len(plain) == 2 * ITEMS
    for one in found:
        group, chances = plain[one.item, one.position]
        if one.bound_um is None:
            continue  # it rises, and is told as of its next check
        assert (one.chance, one.regripped) == chances
        assert group.next is not None
        assert group.bound is not None
        told = (one.median_um, one.p95_um, one.bound_um)
        assert told == (group.next.median_um, group.next.p95_um, group.bound.value_um)


def test_few_days_lean_on_others(drawer: Store) -> None:
    """Else nothing above would show that those that lend are the same."""
    methods = {group.bound.method for group, _ in all_at_once(drawer, 7.0).values() if group.bound is not None}
    assert any(method.startswith(SHOP) for method in methods) == (pick(drawer, part(7.0)).choices[0].sittings < 3)


@pytest.mark.usefixtures("small_lots")
@pytest.mark.parametrize("limit_um", LIMITS_UM)
def test_the_first_are_told_as_if_all_were(drawer: Store, limit_um: float) -> None:
    assert_first_as_whole(drawer, part(limit_um))


def assert_first_as_whole(store: Store, wanted: Part) -> None:
    whole, some = pick(store, wanted).choices, pick(store, wanted, first=FIRST).choices
    assert some[:FIRST] == whole[:FIRST]
    assert len(some) == len(whole)
    for one, full in zip(some[FIRST:], whole[FIRST:], strict=True):
        left: dict[str, Any] = {}
        if one.told == HOLDS and one.bound_um is not None:
            left = {"chance": None, "regripped": None}
        elif one.told == FORECAST:
            left = {"median_um": None, "p95_um": None}
        assert one == dataclasses.replace(full, **left)


def test_forecasts_from_others_do_not_depend_on_the_lots(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(10):
        code = f"T-{number}"
        card = Card(kind="collet", system="draw-in 20", nominal_pm=7 * MM)
        shop.do(lambda entry, register, code=code, card=card: items.add_item(entry, register, code, card))
        for position in "AB" if number % 2 else "A":
            um = 2.0 + number + (position == "B") / 2
            shop.log([um, um + 0.4], item=code, days=DAYS, position=position, diameter_pm=7 * MM)
    wanted = Part(7 * MM, 6.0, 16 * MM)
    whole = document(pick(shop.store, wanted))
    monkeypatch.setattr(stock, "_AT_ONCE", 5)
    assert document(pick(shop.store, wanted)) == whole
    assert sum(one["told"] == FORECAST for one in whole["answers"]) == 5
    assert_first_as_whole(shop.store, wanted)
