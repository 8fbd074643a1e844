"""This part, this diameter, this run-out, this far out: what do I own that will hold it, and what is second best?

Good enough first: of what will hold, what is mounted already, then what runs least true, to spare the better ones.
Only what was read just so, at this diameter and distance, is ever said to hold; all else is a forecast, and comes
after it by its chance.
"""

import dataclasses
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from qclog.errors import RefusedError
from qclog.logbook.engine import Store
from qclog.logbook.owned import Owned
from qclog.questions.changing.changes import Changes
from qclog.questions.changing.outlook import held
from qclog.questions.codes import LOCKING, PUT_AWAY, Caveat, Ground, Sign, Unfit
from qclog.questions.judging.groups import VECTORS, Group, waits_for_doubt
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from qclog.questions.picking.blanks import ToMake, to_make
from qclog.questions.picking.choices import FORECAST, Choice, in_order
from qclog.questions.picking.clocked import best_clockings
from qclog.questions.picking.fitting import LeftOut, Part, bore_refuses, takes_part, unfit
from qclog.questions.picking.foreseen import Foreseen, at_distance, at_other_place
from qclog.questions.picking.lot import Lot, Where
from qclog.questions.picking.read_places import Read
from qclog.questions.picking.stock import Stock, married_to
from qclog.questions.wear import RETIRE, advice_in
from qclog.statistics.grips import NextGrips, grips_of_swings, grips_of_vectors

QUESTION: Final = "pick"
GOOD_CHANCE: Final = 0.9
"""With a first grip as likely as this nothing has to be made anew."""
_SHOP: Final = "shop's repeat"
_TOLD: Final = {Sign.HOLDS: HOLDS, Sign.DOES_NOT_HOLD: DOES_NOT_HOLD}
_CHANGING: Final = frozenset({Sign.LEVEL_RISES, Sign.STEPPED})


@dataclass(frozen=True, slots=True)
class Picked:
    """``choices``: the first to take first. ``other_sizes``: how many items take another diameter. ``to_make``: only
    where nothing holds and no chance is good."""

    diameter_mm: float
    runout_um: float
    distance_mm: float
    grip_mm: float | None
    now: bool
    choices: tuple[Choice, ...]
    left_out: tuple[LeftOut, ...]
    other_sizes: int
    to_make: ToMake | None


def pick(store: Store, part: Part, *, now: bool = False, first: int | None = None) -> Picked:
    """``now``: only setups that stand ready, with nothing but the item to be put in. ``first``: so many choices are
    told in full, None for all. Of those after them what their order does not need is left None: of what holds the
    chances, of a forecast its swings.

    Raises RefusedError for a diameter, run-out or length to grip that is not above zero and a negative distance.
    """
    grip = 1 if part.grip_pm is None else part.grip_pm
    if part.diameter_pm <= 0 or part.runout_um <= 0 or grip <= 0 or part.distance_pm < 0:
        raise RefusedError(
            "Diameter, run-out and grip of a part are above zero, and its distance is not negative.",
            "As: qclog pick 6.7 --runout 10um --distance 30",
        )
    with store.reading() as connection:
        stock = Stock(connection, part)
        fitting = [item for item in stock.owned.values() if takes_part(item, part)]
        refused = {item.id: unfit(item, stock.out.get(item.id), part) for item in fitting}
        left_out = [why for why in refused.values() if why is not None]
        choices: list[Choice] = []
        for items in stock.lots(item for item in fitting if refused[item.id] is None):
            found, why_not = _of_items(store, Lot(stock, items, full=first is None), now=now)
            choices += found
            left_out += why_not
        ordered = in_order(choices)
        if first is not None and ordered:
            ordered[:first] = _in_full(store, stock, ordered[:first])
        good = any(one.told == HOLDS or (one.chance or 0.0) >= GOOD_CHANCE for one in ordered)
        return Picked(
            diameter_mm=part.diameter_pm / 1e9,
            runout_um=part.runout_um,
            distance_mm=part.distance_pm / 1e9,
            grip_mm=None if part.grip_pm is None else part.grip_pm / 1e9,
            now=now,
            choices=tuple(ordered),
            left_out=tuple(left_out),
            other_sizes=len(stock.owned) - len(fitting),
            to_make=None if good else _to_make(stock, now=now),
        )


def document(found: Picked) -> dict[str, Any]:
    """The answer as plain values for JSON: the choices are its answers."""
    whole = dataclasses.asdict(found)
    return {"question": QUESTION, "answers": whole.pop("choices")} | whole


def _of_items(store: Store, lot: Lot, *, now: bool) -> tuple[list[Choice], list[LeftOut]]:
    """The choices of some items, and why there are no others."""
    choices: list[Choice] = []
    left_out: list[LeftOut] = []
    for item in lot.items:
        if (refused := bore_refuses(item, lot.values[item.id], lot.stock.part)) is not None:
            left_out.append(refused)
            continue
        found, why = _of_item(lot, item, _clocked(store, lot, item), now=now)
        choices += found
        left_out += why
    return choices, left_out


def _in_full(store: Store, stock: Stock, choices: Sequence[Choice]) -> list[Choice]:
    """The same choices, all of their figures worked out."""

    def key(one: Choice) -> tuple[object, ...]:
        return one.item, one.setup, one.position, one.clocking, one.ground, one.diameter_mm

    codes = {one.item for one in choices}
    items = [item for item in stock.owned.values() if item.code in codes]
    found, _ = _of_items(store, Lot(stock, items, full=True), now=False)
    told = {key(one): one for one in found}
    return [told[key(one)] for one in choices]


def _of_item(lot: Lot, item: Owned, clocked: Sequence[Choice], *, now: bool) -> tuple[list[Choice], list[LeftOut]]:
    """The choices of one item: where it was read just so, where it can be foreseen; and why there are no others.

    ``clocked``: those at a clocking that was worked out.
    """
    stock, groups = lot.stock, lot.groups[item.id]
    places: dict[Where, list[Group]] = defaultdict(list)
    why: list[LeftOut] = []
    for group in groups:
        if Caveat.SETUP_CHANGED in group.caveats:
            why.append(_left_out(Unfit.SETUP_CHANGED, group, stock.by_code[group.setup].reason))
        elif stock.pin_clocked(group.clocking):
            why.append(_left_out(Unfit.PIN_CLOCKED, group))
        elif waits_for_doubt(group):
            why.append(_left_out(Unfit.IN_DOUBT, group))
        else:
            places[group.setup, group.position, group.clocking].append(group)
    found = list(clocked)
    for where, at in places.items():
        one = _at_place(lot, item, where, at)
        if isinstance(one, LeftOut):
            why.append(one)
        else:
            found.append(one)
    found += _elsewhere(lot, item, {where[:2] for where in places})
    out = stock.out.get(item.id)
    found = [one for one in found if out is None or one.setup == out.setup]
    if now:
        why += [
            LeftOut(item.code, Unfit.NEEDS_CHANGE, "", one.setup, one.position)
            for one in found
            if one.setup not in stock.ready
        ]
        found = [one for one in found if one.setup in stock.ready]
    if not found and not groups:
        never = LeftOut(item.code, Unfit.NEVER_MEASURED)
        why.append(LeftOut(item.code, Unfit.MODIFIED, item.what, *married_to(item)) if item.modification else never)
    here = {(one.setup, one.position) for one in found}
    once = {(one.setup, one.position): one for one in reversed(why) if (one.setup, one.position) not in here}
    return found, list(reversed(once.values()))


def _clocked(store: Store, lot: Lot, item: Owned) -> list[Choice]:
    """At a clocking that its chain's own clampings say is best."""
    stock = lot.stock
    if not stock.was_clocked(item):
        return []
    return [
        _foreseen(lot, item, one.where, one.foreseen)
        for one in best_clockings(store, stock.connection, item.code, stock.part.distance_tenths / 10)
        if stock.speaks_for_part(one.diameter_mm)
    ]


def _left_out(why: Unfit, group: Group, because: str = "") -> LeftOut:
    return LeftOut(group.item, why, because, group.setup, group.position, group.distance_mm, group.diameter_mm)


def _at_place(lot: Lot, item: Owned, where: Where, groups: Sequence[Group]) -> Choice | LeftOut:
    """Where an item was read: the verdict if it was at this distance, else a forecast from other distances."""
    stock = lot.stock
    speaking = [group for group in groups if stock.speaks_for_part(group.diameter_mm)]
    if not speaking:
        return _left_out(Unfit.OTHER_DIAMETER, max(groups, key=lambda group: group.clampings))
    here = [group for group in speaking if round(group.distance_mm * 10) == stock.part.distance_tenths]
    if here:
        return _measured(lot, item, max(here, key=lambda group: group.clampings))
    most = max(speaking, key=lambda group: group.clampings)
    if any(_is_changing(lot.changes[item.id][group.place]) for group in speaking):
        return _left_out(Unfit.CHANGES, most)
    by_diameter: dict[float | None, list[Read]] = defaultdict(list)
    for read in lot.reads_of(item, where):
        if stock.speaks_for_part(read.diameter_mm):
            by_diameter[read.diameter_mm].append(read)
    foreseen = [one for reads in by_diameter.values() if (one := at_distance(reads, stock.part.distance_tenths))]
    if not foreseen:
        return _left_out(Unfit.OTHER_DISTANCE, most)
    return _foreseen(lot, item, where, min(foreseen, key=lambda one: one.ground != Ground.TWO_DISTANCES))


def _measured(lot: Lot, item: Owned, group: Group) -> Choice:
    """Read just so. With a rise that is shown all is told as of its next check."""
    change, limit = lot.changes[item.id][group.place], lot.stock.part.runout_um
    read, drift = lot.reads[change.series.id], change.drift
    told = _TOLD.get(held(change, group), CANNOT_TELL)
    caveats = tuple(code for code in group.caveats if code != Caveat.LOOKED_AGAIN)
    found: dict[str, Any] = {"chance": None, "regripped": None, "median_um": None, "p95_um": None, "bound_um": None}
    if drift is not None:
        from qclog.statistics.changing.crossing import exceedance_at, prediction_bound

        ahead = change.next_check
        found["chance"] = 1.0 - float(exceedance_at(drift, ahead, limit))
        found["median_um"], found["p95_um"] = float(drift.at(ahead)), float(prediction_bound(drift, ahead))
    elif group.bound is not None and group.next is not None:
        found |= {"median_um": group.next.median_um, "p95_um": group.next.p95_um, "bound_um": group.bound.value_um}
        if lot.full or told != HOLDS:
            found["chance"], found["regripped"] = _grips(lot, read, group).gripped(limit)
    return lot.choice(
        item,
        (group.setup, group.position, group.clocking),
        [read],
        told=told,
        ground=Ground.MEASURED,
        from_places=(),
        resolution_um=group.resolution_um,
        more_clampings=group.more_clampings if told == CANNOT_TELL and drift is None else None,
        caveats=(*caveats, Caveat.ITEM_CHANGES) if _is_changing(change) else caveats,
        **found,
    )


def _grips(lot: Lot, read: Read, group: Group) -> NextGrips:
    """By the method that the bound was found by."""
    method = "" if group.bound is None else group.bound.method
    vectors = method.endswith(VECTORS) and read.directed
    shop = lot.shop(read, vectors=vectors) if method.startswith(_SHOP) else None
    if vectors:
        return grips_of_vectors(read.vectors, read.sitting, floor_um=read.floor_um, shop=shop)
    return grips_of_swings(read.swings, read.sitting, step_um=group.resolution_um, shop=shop)


def _elsewhere(lot: Lot, item: Owned, known: set[tuple[str, str]]) -> list[Choice]:
    """Where others of its kind were read at this distance, and it was not; from where it was clamped on most."""
    stock, married = lot.stock, married_to(item)
    steady = {change.series.id for change in lot.changes[item.id].values() if not _is_changing(change)}
    own = [read for read in lot.reads_at_distance(item) if read.series.id in steady]
    elsewhere = sorted(stock.places_of_alike(item) - known - {married})
    if not own or not elsewhere:
        return []
    best = max(own, key=lambda read: read.swings.size)
    here = best.series.setup, best.series.position
    where_married = stock.others(item, here) if married == here else None
    found = []
    for there in elsewhere:
        foreseen = at_other_place(best, stock.others(item, there), where_married)
        if foreseen is not None:
            found.append(_foreseen(lot, item, (*there, ""), foreseen))
    return found


def _foreseen(lot: Lot, item: Owned, where: Where, foreseen: Foreseen) -> Choice:
    grips = foreseen.grips
    chance, regripped = grips.gripped(lot.stock.part.runout_um)
    series = [*(read.series for read in foreseen.reads), *(level.series for level in foreseen.others)]
    places = [" ".join(filter(None, place)) for place in dict.fromkeys((one.setup, one.position) for one in series)]
    return lot.choice(
        item,
        where,
        foreseen.reads,
        told=FORECAST,
        ground=foreseen.ground,
        from_places=tuple(places) if foreseen.ground == Ground.OTHER_PLACE else (),
        median_um=grips.under(0.5) if lot.full else None,
        p95_um=grips.under(0.95) if lot.full else None,
        bound_um=None,
        resolution_um=max(read.step_um for read in foreseen.reads),
        chance=chance,
        regripped=regripped,
        more_clampings=None,
        caveats=foreseen.caveats,
    )


def _to_make(stock: Stock, *, now: bool) -> ToMake:
    worn: dict[str, set[str]] = defaultdict(set)
    for advice in advice_in(stock.known):
        worn[advice.item].add(advice.decision)
    spare = {
        item.id
        for item in stock.owned.values()
        if item.id not in stock.out and item.state not in PUT_AWAY and not LOCKING.intersection(item.findings)
    }
    return to_make(
        stock.owned,
        stock.bored_in_place(),
        stock.part,
        spare=spare,
        worn_out={item.id for item in stock.owned.values() if worn[item.code] == {RETIRE}},
        ready=stock.ready if now else None,
    )


def _is_changing(changes: Changes) -> bool:
    """Whether its level rises or went up in a step: figures of all its clampings then say little of the next ones."""
    return bool(_CHANGING.intersection(changes.signs))
