"""Does this item, as it is now, hold what it was made to: here, at this key position, at this distance?

Three verdicts are kept apart: the clampings that were read, what more clampings of the same sitting would do,
and what the next clampings of other days will do. Uncertainty counts against whoever makes the claim
(ISO 14253-1): the bounds are widened by that of the indicator before they are held against the limit.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog.logbook import owned
from qclog.logbook.engine import Store
from qclog.logbook.figures import Figures, Series, count_left_out, read_figures, read_series
from qclog.logbook.lookup import Limit, Register
from qclog.questions.gauging import Gauges, read_gauges_of
from qclog.records import EVERY_DISTANCE, SWINGS
from qclog.statistics.bounds import Bounds, Method, bounds_next_clampings, bounds_within_sitting
from qclog.statistics.conformity import Verdict, as_read, verdicts
from qclog.statistics.forecast import more_clampings
from qclog.statistics.swings import SwingGroups, group_swings, shop_scatter

QUESTION: Final = "assess"
CONTENT: Final = 0.95
CONFIDENCE: Final = 0.95
_PM_PER_UM: Final = 1e6
_PM_PER_TENTH_MM: Final = 100_000_000
_ISO_15488_SIZES_MM: Final = (1.6, 3, 6, 10, 18, 26)
"""Upper ends of the bore ranges the collet standard gives one limit each; used as size classes."""
_FEW: Final = 3
_TWO_GROUPS_FROM: Final = 8
_TWO_GROUPS_GAP: Final = 4.0
_WORDS: Final = {
    Verdict.HOLDS: "holds",
    Verdict.DOES_NOT_HOLD: "does not hold",
    Verdict.CANNOT_TELL: "cannot tell",
    Verdict.NO_LIMIT: "no limit",
}
_METHODS: Final = {
    Method.ONE_SITTING: "one sitting",
    Method.SITTINGS: "sittings",
    Method.ONE_EACH: "one clamping a sitting",
    Method.SHOP: "shop's repeat",
}
HOLDS, DOES_NOT_HOLD, CANNOT_TELL, NO_LIMIT = (_WORDS[v] for v in Verdict)


@dataclass(frozen=True, slots=True)
class Swing:
    mean: float
    sd: float | None
    min: float
    max: float
    last: float


@dataclass(frozen=True, slots=True)
class Next:
    """Half, and 95 %, of the next clampings stay below."""

    median_um: float
    p95_um: float


@dataclass(frozen=True, slots=True)
class Bound:
    """With this confidence, this share of all clampings stays below the value, as this indicator reads them."""

    value_um: float
    content: float
    confidence: float
    method: str


@dataclass(frozen=True, slots=True)
class Group:
    """One item in one setup at one place. ``caveats`` are short codes."""

    item: str
    setup: str
    setup_revision: int
    position: str
    clocking: str
    distance_mm: float
    diameter_mm: float | None
    characteristic: str
    clampings: int
    sittings: int
    tir_um: Swing
    eccentricity: None
    repeat_um: None
    next: Next | None
    bound: Bound | None
    uncertainty_um: float | None
    resolution_um: float
    limit_um: float | None
    limit_from: str | None
    as_read: str
    this_sitting: str
    next_clampings: str
    more_clampings: int | None
    caveats: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is flagged: a code, and the group it was seen in ('' and None where it is the whole item)."""

    code: str
    item: str = ""
    setup: str = ""
    position: str = ""
    distance_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """About one item (``setup`` ''), or about one setup that has a limit of its own (``item`` '')."""

    item: str
    setup: str
    modification: int
    what: str
    reasons: tuple[Reason, ...]
    groups: tuple[Group, ...]

    def worst(self) -> str:
        """The verdict on the next clampings that stands for the whole: does not hold before cannot tell."""
        told = [group.next_clampings for group in self.groups]
        return next((word for word in (DOES_NOT_HOLD, CANNOT_TELL, HOLDS) if word in told), NO_LIMIT)


def assess(
    store: Store, code: str | None = None, *, setup: str | None = None, position: str | None = None
) -> list[Answer]:
    """One answer an item, as it is now; of all items that have clampings, or of the one named.

    ``code`` may name a setup: then the items measured in it are judged against the setup's own limit.
    Raises NotFoundError.
    """
    with store.reading() as connection:
        register = Register(connection)
        if code is not None and (found := register.find(code)) is not None and found.kind == "setup":
            return [a for a in _answers(connection, None, found.text, None) if a.setup == found.text]
        items = None if code is None else [register.need(code, "item").id]
        if setup is not None:
            setup = register.need(setup, "setup").text
        answers = _answers(connection, items, setup, position)
        return [a for a in answers if a.item] if code is not None else answers


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def _answers(
    connection: sa.Connection, items: Sequence[int] | None, setup: str | None, position: str | None
) -> list[Answer]:
    owned_items = owned.read_owned(connection, items)
    setups = owned.read_setups(connection)
    wanted = [
        one
        for one in read_series(connection, items=items)
        if _is_current(one, owned_items)
        and (setup is None or one.setup == setup)
        and (position is None or one.position.casefold() == position.casefold())
    ]
    alike = _alike(connection, wanted, items)
    series = wanted + alike
    figures = read_figures(connection, None if items is None else [one.id for one in series])
    left_out = count_left_out(connection, None if items is None else [one.id for one in wanted])
    kinds = owned_items if items is None else owned_items | owned.read_owned(connection, [s.item_id for s in alike])
    judged = _judge(series, len(wanted), figures, kinds, setups, read_gauges_of(connection), left_out)
    groups: dict[int, list[Group]] = {}
    for one, group in judged:
        groups.setdefault(one.item_id, []).append(group)
    answers = [
        Answer(
            item=item.code,
            setup="",
            modification=item.modification,
            what=item.what,
            reasons=_item_reasons(item, groups.get(item.id, [])),
            groups=tuple(groups.get(item.id, ())),
        )
        for item in owned_items.values()
        if item.id in groups or items is not None or item.findings
    ]
    return answers + _setup_answers(judged, setups)


def _is_current(one: Series, items: dict[int, owned.Owned]) -> bool:
    item = items.get(one.item_id)
    return item is not None and one.modification == item.modification and one.characteristic in SWINGS


def _alike(connection: sa.Connection, wanted: list[Series], items: Sequence[int] | None) -> list[Series]:
    """Series of other items in the same setup revisions, whose repeat may speak for a new item."""
    if items is None or not wanted:
        return []
    known = {one.id for one in wanted}
    others = read_series(connection, revisions=sorted({one.revision_id for one in wanted}))
    their = owned.read_owned(connection, sorted({one.item_id for one in others}))
    labels = {_label(one, their) for one in wanted}
    return [
        one
        for one in others
        if one.id not in known
        and one.item_id not in items
        and _is_current(one, their)
        and _label(one, their) in labels
        and their[one.item_id].kind != "other"
    ]


def _label(one: Series, items: dict[int, owned.Owned]) -> tuple[Any, ...]:
    """What two series must share for the repeat of one to say something about the other."""
    item = items[one.item_id]
    size_mm = -1.0 if item.size_pm is None else item.size_pm / 1e9
    size_class = sum(size_mm > end for end in _ISO_15488_SIZES_MM) if size_mm > 0 else -1
    return (
        item.kind,
        size_class,
        one.revision_id,
        one.position,
        one.clocking,
        one.distance_tenths,
        one.characteristic,
    )


def _judge(
    series: list[Series],
    wanted: int,
    figures: Figures,
    items: dict[int, owned.Owned],
    setups: dict[int, owned.OwnedSetup],
    gauges: Gauges,
    left_out: dict[int, tuple[int, int]],
) -> list[tuple[Series, Group]]:
    """The groups of the first ``wanted`` series that have clampings; the others only lend their repeat."""
    index = {one.id: i for i, one in enumerate(series)}
    row_group = _positions(figures.series, index)
    rows = row_group >= 0
    group, value = row_group[rows], figures.value_um[rows]
    sitting, order, gauging = figures.sitting[rows], figures.order[rows], figures.gauging[rows]
    count = len(series)
    resolution = np.full(count, np.inf)
    np.minimum.at(resolution, group, figures.step_um[rows])
    resolution[~np.isfinite(resolution)] = 1.0
    swings = group_swings(value, group, sitting, groups=count, resolution_um=resolution)
    shop = shop_scatter(swings, _kind_numbers(series, items, swings))
    limit, limit_from = _limits(series, items, setups)
    latest, last_rows = _last_sitting(group, sitting, order, count)
    here = group_swings(value[latest], group[latest], sitting[latest], groups=count, resolution_um=resolution)
    gauge = gauges.of_groups(group, gauging, order, swings.mean_um, resolution)
    guard = gauge.guard_um
    next_bounds = bounds_next_clampings(swings, shop, np.where(gauge.assumed, limit + guard, limit))
    here_bounds = bounds_within_sitting(here)
    told = {
        "as_read": as_read(swings.max_um, limit, gauge.u_um),
        "this_sitting": _verdicts(here_bounds, limit, gauge.u_um, gauge.assumed),
        "next": _verdicts(next_bounds, limit, gauge.u_um, gauge.assumed),
    }
    more_days = more_clampings(swings, limit, gauge_um=guard, within_sitting=False)
    last = np.zeros(count)
    last[group[last_rows]] = value[last_rows]
    two_groups = _two_groups(group, value, swings)
    found = []
    for i, one in enumerate(series[:wanted]):
        n = int(swings.clampings[i])
        if n == 0:
            continue
        multi = int(swings.sittings[i]) > 1 or next_bounds.method[i] != Method.NONE
        shown = next_bounds if multi else here_bounds
        verdict_next = _WORDS[Verdict(told["next"][i])]
        current = one.setup_id == 0 or one.revision == setups[one.setup_id].revision
        verdict_here = _WORDS[Verdict(told["this_sitting"][i])]
        if not current:
            verdict_next = verdict_here = NO_LIMIT if verdict_next == NO_LIMIT else CANNOT_TELL
        caveats = [
            *gauge.caveats(i),
            *(["one_sitting"] if swings.sittings[i] == 1 and next_bounds.method[i] == Method.NONE else []),
            *(["few_clampings"] if n < _FEW and next_bounds.method[i] == Method.NONE else []),
            *(["rough_bound"] if _is_rough(next_bounds.method[i], here, swings, i) else []),
            *(["shop_repeat"] if next_bounds.method[i] == Method.SHOP else []),
            *(["looked_again"] if verdict_next in (HOLDS, DOES_NOT_HOLD) and n > _FEW else []),
            *(["resolution_floor"] if n > 1 and _is_floored(swings, i) else []),
            *(["two_groups"] if two_groups[i] else []),
            *(["indicator_not_suited"] if np.isfinite(limit[i]) and limit[i] < 3 * gauge.u_um[i] else []),
            *(["recalled_left_out"] if left_out.get(one.id, (0, 0))[0] else []),
            *(["steep_lever_left_out"] if left_out.get(one.id, (0, 0))[1] else []),
            *(["setup_changed"] if not current else []),
            *(["limit_elsewhere"] if np.isnan(limit[i]) and items[one.item_id].limits else []),
        ]
        needed = int(more_days[i])
        found.append(
            (
                one,
                Group(
                    item=one.item,
                    setup=one.setup,
                    setup_revision=one.revision,
                    position=one.position,
                    clocking=one.clocking,
                    distance_mm=one.distance_tenths / 10,
                    diameter_mm=None if one.diameter_tenths < 0 else one.diameter_tenths / 10,
                    characteristic=one.characteristic,
                    clampings=n,
                    sittings=int(swings.sittings[i]),
                    tir_um=Swing(
                        mean=float(swings.mean_um[i]),
                        sd=float(swings.sd_um[i]) if n > 1 else None,
                        min=float(swings.min_um[i]),
                        max=float(swings.max_um[i]),
                        last=float(last[i]),
                    ),
                    eccentricity=None,
                    repeat_um=None,
                    next=_next(shown, i),
                    bound=_bound(shown, i),
                    uncertainty_um=float(2 * gauge.u_um[i]),
                    resolution_um=float(resolution[i]),
                    limit_um=None if np.isnan(limit[i]) else float(limit[i]),
                    limit_from=limit_from[i],
                    as_read=_WORDS[Verdict(told["as_read"][i])],
                    this_sitting=verdict_here,
                    next_clampings=verdict_next,
                    more_clampings=needed if verdict_next == CANNOT_TELL and needed > 0 and current else None,
                    caveats=tuple(caveats),
                ),
            )
        )
    return found


def _positions(ids: npt.NDArray[np.int64], index: dict[int, int]) -> npt.NDArray[np.int64]:
    """The place of each id in the index, -1 where it has none."""
    present, inverse = np.unique(ids, return_inverse=True)
    return np.array([index.get(int(i), -1) for i in present], dtype=np.int64)[inverse]


def _last_sitting(
    group: npt.NDArray[np.int64], sitting: npt.NDArray[np.int64], order: npt.NDArray[np.int64], count: int
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.int64]]:
    """Which rows belong to each group's last sitting, and the last row of each group (rows are in time order)."""
    by_time = np.lexsort((np.arange(len(group)), order, group))
    last_of_group = np.r_[np.flatnonzero(np.diff(group[by_time])), len(group) - 1] if len(group) else []
    last_rows = by_time[np.asarray(last_of_group, dtype=np.int64)]
    newest = np.full(count, -1, dtype=np.int64)
    newest[group[last_rows]] = sitting[last_rows]
    return sitting == newest[group], last_rows


def _verdicts(
    bounds: Bounds, limit: npt.NDArray[np.float64], u_um: npt.NDArray[np.float64], assumed: npt.NDArray[np.bool_]
) -> npt.NDArray[np.int8]:
    return verdicts(bounds.upper_verdict_um, bounds.lower_verdict_um, bounds.centre_um, limit, u_um, assumed)


def _kind_numbers(series: list[Series], items: dict[int, owned.Owned], swings: SwingGroups) -> npt.NDArray[np.int64]:
    """A number for each series; those that may lend each other their repeat share one. An item lends once."""
    shared: dict[tuple[Any, ...], int] = {}
    lent: dict[tuple[Any, ...], int] = {}
    numbers = np.arange(len(series)) + len(series)
    for i in np.argsort(-swings.clampings, kind="stable"):
        one = series[i]
        item = items[one.item_id]
        if item.kind == "other" or item.size_pm is None:
            continue
        label = _label(one, items)
        if lent.setdefault((label, one.item_id), int(i)) == i:
            numbers[i] = shared.setdefault(label, len(shared))
    return numbers


def _limits(
    series: list[Series], items: dict[int, owned.Owned], setups: dict[int, owned.OwnedSetup]
) -> tuple[npt.NDArray[np.float64], list[str | None]]:
    """The limit that governs each series, µm (NaN: none), and whether the item or the setup has it."""
    values = np.full(len(series), np.nan)
    sources: list[str | None] = [None] * len(series)
    for i, one in enumerate(series):
        item = items[one.item_id]
        candidates = [(limit.upper_pm, "item") for limit in _in_force(item.limits, item.modification, one)]
        if one.setup_id:
            candidates += [(limit.upper_pm, "setup") for limit in _in_force(setups[one.setup_id].limits, 0, one)]
        stated = [(upper, source) for upper, source in candidates if upper is not None]
        if stated:
            strictest, sources[i] = min(stated)
            values[i] = strictest / _PM_PER_UM
    return values, sources


def _in_force(limits: Iterable[Limit], modification: int, one: Series) -> list[Limit]:
    """Limits of the newest modification that has any, as far as they apply where ``one`` was measured."""
    same = [x for x in limits if x.characteristic == one.characteristic and x.modification_number <= modification]
    newest = max((x.modification_number for x in same), default=-1)
    return [
        x
        for x in same
        if x.modification_number == newest
        and x.setup_id in (None, one.setup_id)
        and x.position.casefold() in ("", one.position.casefold())
        and (x.distance_pm == EVERY_DISTANCE or round(x.distance_pm / _PM_PER_TENTH_MM) == one.distance_tenths)
    ]


def _two_groups(
    group: npt.NDArray[np.int64], value: npt.NDArray[np.float64], swings: SwingGroups
) -> npt.NDArray[np.bool_]:
    """Whether the sorted swings of a group show a gap that looks like two seats (from 8 clampings on)."""
    found = np.zeros(len(swings.clampings), dtype=np.bool_)
    for i in np.flatnonzero(swings.clampings >= _TWO_GROUPS_FROM):
        gaps = np.diff(np.sort(value[group == i]))
        usual = max(float(np.median(gaps)), float(swings.resolution_um[i]))
        found[i] = gaps.max() > _TWO_GROUPS_GAP * usual
    return found


def _is_rough(method: int, here: SwingGroups, swings: SwingGroups, i: int) -> bool:
    if method == Method.NONE:
        return bool(here.clampings[i] == _FEW)
    return method in (Method.SITTINGS, Method.ONE_EACH) and bool(
        swings.sittings[i] < _FEW + (method == Method.ONE_EACH)
    )


def _is_floored(swings: SwingGroups, i: int) -> bool:
    return bool(swings.sd_um[i] < swings.resolution_um[i] / np.sqrt(12.0))


def _next(bounds: Bounds, i: int) -> Next | None:
    if not np.isfinite(bounds.p95_um[i]):
        return None
    return Next(float(bounds.median_um[i]), float(bounds.p95_um[i]))


def _bound(bounds: Bounds, i: int) -> Bound | None:
    if not np.isfinite(bounds.upper_um[i]):
        return None
    return Bound(float(bounds.upper_um[i]), CONTENT, CONFIDENCE, _METHODS[Method(bounds.method[i])])


def _item_reasons(item: owned.Owned, groups: list[Group]) -> tuple[Reason, ...]:
    found = [Reason(f"found_{finding.replace(' ', '_').replace('-', '_')}", item.code) for finding in item.findings]
    return tuple(found + [reason for group in groups for reason in _group_reasons(group)])


def _group_reasons(group: Group) -> list[Reason]:
    """Why a group is flagged: the strongest thing that can be said of it."""
    for word, code in (
        (group.next_clampings, "next_clampings_exceed"),
        (group.this_sitting, "this_sitting_exceeds"),
        (group.as_read, "read_over_limit"),
    ):
        if word == DOES_NOT_HOLD:
            return [Reason(code, group.item, group.setup, group.position, group.distance_mm)]
    return []


def _setup_answers(judged: list[tuple[Series, Group]], setups: dict[int, owned.OwnedSetup]) -> list[Answer]:
    """One answer for each setup with a limit of its own: the groups that this limit governs."""
    answers = []
    for setup in setups.values():
        groups = [g for one, g in judged if one.setup_id == setup.id and g.limit_from == "setup"]
        if groups:
            reasons = tuple(reason for group in groups for reason in _group_reasons(group))
            answers.append(Answer("", setup.code, setup.revision, setup.reason, reasons, tuple(groups)))
    return answers
