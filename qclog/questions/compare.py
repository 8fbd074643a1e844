"""Which key position (or setup, or item) is better, is the difference real, and what would settle it?

Groups are compared at the same distance, pin diameter and clocking, from their swings; less is better. Whether it
is settled follows a rule that keeps the error of naming a better one at 5 % whenever one stops looking.
"""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from qclog.errors import NotFoundError
from qclog.logbook.engine import Store
from qclog.logbook.figures import Figures, Series, read_figures, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import read_owned, read_setups
from qclog.questions.alike import is_current
from qclog.questions.assess import Group, assess
from qclog.questions.codes import LOCKING, Caveat
from qclog.statistics.comparing import FEWEST_EACH, FEWEST_FOR_VERDICT
from qclog.statistics.comparing import compare as compare_two
from qclog.statistics.settling import Outcome, settle
from qclog.statistics.several import rank

QUESTION: Final = "compare"
MATTERS: Final = "difference that matters, um"
"""The setting of the logbook that keeps what difference would make one change."""
BETTER, NO_DIFFERENCE, UNDECIDED = "better", "no difference", "cannot tell"
_DEFAULT_MATTERS_UM: Final = 2.0

By = Literal["position", "setup", "item"]


@dataclass(frozen=True, slots=True)
class Member:
    """One of those compared, with its figures."""

    name: str
    clampings: int
    sittings: int
    mean_um: float
    sd_um: float | None
    bound_um: float | None


@dataclass(frozen=True, slots=True)
class Difference:
    """How much more the second best swings than the best, on the mean."""

    value: float
    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Answer:
    """One comparison. ``groups`` from the best mean to the worst; ``better`` is named only when it is settled.

    ``outcome``: "better", "no difference" (none that matters) or "cannot tell". ``p_better_next``: the chance that
    the next clamping in the best one is better than the next in the second best.
    """

    by: str
    item: str | None
    setup: str | None
    position: str | None
    distance_mm: float
    diameter_mm: float | None
    clocking: str
    characteristic: str
    groups: tuple[Member, ...]
    better: str | None
    settled: bool
    outcome: str
    matters_um: float
    difference_um: Difference | None
    p_better_next: float | None
    p_value: float | None
    method: str
    more_clampings: int | None
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Swings:
    series: Series
    swings: npt.NDArray[np.float64]
    sittings: frozenset[int]
    step_um: float


def compare(
    store: Store,
    codes: Sequence[str] = (),
    *,
    by: By = "position",
    setup: str | None = None,
    matters_um: float | None = None,
) -> list[Answer]:
    """One answer for each set of at least two that were measured alike, of the items named or of all.

    ``matters_um``: the smallest difference that would make one change; without it the logbook's setting, else
    2 µm. Raises NotFoundError for what is not registered.
    """
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in codes] or None
        if setup is not None:
            setup = register.need(setup, "setup").text
        owned, setups = read_owned(connection, items), read_setups(connection)
        series = [
            one
            for one in read_series(connection, items=items)
            if is_current(one, owned)
            and not LOCKING.intersection(owned[one.item_id].findings)
            and (not one.setup_id or one.revision == setups[one.setup_id].revision)
            and (setup is None or one.setup == setup)
        ]
        figures = read_figures(connection, [one.id for one in series])
        matters = matters_um or float(register.setting(MATTERS, str(_DEFAULT_MATTERS_UM)))
    bounds = _bounds(store, codes)
    sets: dict[tuple[Any, ...], list[_Swings]] = {}
    for one in series:
        if (measured := _swings_of(one, figures)) is not None:
            sets.setdefault(_alike_but_for(one, by), []).append(measured)
    return [
        _answer(by, members, matters, bounds) for members in map(_worth_comparing, sets.values()) if len(members) > 1
    ]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def need_something(answers: Sequence[Answer], codes: Sequence[str], by: By) -> None:
    """Raises NotFoundError where there are no two things to compare."""
    if not answers:
        what = {"position": "key positions", "setup": "setups", "item": "items"}[by]
        of = f" of {', '.join(codes)}" if codes else ""
        raise NotFoundError(
            f"There are no two {what}{of} measured at the same distance.",
            f"Log clampings at both{', with --position' if by == 'position' else ''}.",
        )


def _bounds(store: Store, codes: Sequence[str]) -> dict[tuple[Any, ...], float]:
    """The bounds that ``assess`` gives, by where they were measured."""
    answers = [answer for code in codes for answer in assess(store, code)] if codes else assess(store)
    return {_key_of(group): group.bound.value_um for answer in answers for group in answer.groups if group.bound}


def _key_of(group: Group) -> tuple[Any, ...]:
    place = (group.item, group.setup, group.position, group.clocking)
    return (*place, group.distance_mm, group.diameter_mm, group.characteristic)


def _key(one: Series) -> tuple[Any, ...]:
    diameter = None if one.diameter_tenths < 0 else one.diameter_tenths / 10
    return (one.item, one.setup, one.position, one.clocking, one.distance_tenths / 10, diameter, one.characteristic)


def _worth_comparing(members: list[_Swings]) -> list[_Swings]:
    """Those with clampings enough, if at least two have; else all, so that what is missing can be said."""
    enough = [member for member in members if member.swings.size >= FEWEST_EACH]
    return enough if len(enough) > 1 else members


def _swings_of(one: Series, figures: Figures) -> _Swings | None:
    start, end = np.searchsorted(figures.series, [one.id, one.id + 1])
    if start == end:
        return None
    sittings = frozenset(int(sitting) for sitting in figures.sitting[start:end])
    return _Swings(one, figures.value_um[start:end], sittings, float(figures.step_um[start:end].min()))


def _alike_but_for(one: Series, by: By) -> tuple[Any, ...]:
    """What the members of a comparison share."""
    common = (one.diameter_tenths, one.distance_tenths, one.clocking, one.characteristic)
    if by == "position":
        return (one.item_id, one.setup_id, *common)
    if by == "setup":
        return (one.item_id, *common)
    return (one.setup_id, one.position, *common[1:])


def _name(one: Series, by: By) -> str:
    return {
        "position": one.position,
        "setup": " ".join(part for part in (one.setup, one.position) if part),
        "item": one.item,
    }[by]


def _answer(by: By, members: list[_Swings], matters_um: float, bounds: Mapping[tuple[Any, ...], float]) -> Answer:
    members = sorted(members, key=lambda member: float(member.swings.mean()))
    first = members[0].series
    told = _told(members, matters_um)
    return Answer(
        by=by,
        item=None if by == "item" else first.item,
        setup=None if by == "setup" else first.setup,
        position=first.position if by == "item" else None,
        distance_mm=first.distance_tenths / 10,
        diameter_mm=None if first.diameter_tenths < 0 or by == "item" else first.diameter_tenths / 10,
        clocking=first.clocking,
        characteristic=first.characteristic,
        groups=tuple(_member(member, by, bounds) for member in members),
        better=_name(first, by) if told["outcome"] == BETTER else None,
        settled=told["outcome"] != UNDECIDED,
        matters_um=matters_um,
        caveats=tuple(_caveats(members, bool(told["method"]))),
        **told,
    )


def _member(measured: _Swings, by: By, bounds: Mapping[tuple[Any, ...], float]) -> Member:
    swings = measured.swings
    return Member(
        name=_name(measured.series, by),
        clampings=swings.size,
        sittings=len(measured.sittings),
        mean_um=float(swings.mean()),
        sd_um=float(swings.std(ddof=1)) if swings.size > 1 else None,
        bound_um=bounds.get(_key(measured.series)),
    )


def _told(members: list[_Swings], matters_um: float) -> dict[str, Any]:
    """What can be said of the best against the second best, and of the best against all where there are more."""
    fewest = min(member.swings.size for member in members)
    told: dict[str, Any] = {
        "outcome": UNDECIDED,
        "difference_um": None,
        "p_better_next": None,
        "p_value": None,
        "method": "",
        "more_clampings": max(FEWEST_FOR_VERDICT - fewest, 1),
    }
    if fewest < FEWEST_EACH:
        return told
    best, second = members[0], members[1]
    step = max(best.step_um, second.step_um)
    pair = compare_two(best.swings, second.swings, resolution_um=step)
    settled = settle(best.swings, second.swings, resolution_um=step, matters_um=matters_um)
    outcome = {Outcome.A_BETTER: BETTER, Outcome.NO_DIFFERENCE: NO_DIFFERENCE}.get(settled.outcome, UNDECIDED)
    told |= {
        "outcome": outcome,
        "difference_um": Difference(pair.difference_um, pair.low_um, pair.high_um, pair.confidence),
        "p_better_next": pair.p_a_better_next,
        "p_value": settled.p_value,
        "method": "two groups of swings",
        "more_clampings": settled.more if outcome == UNDECIDED else 0,
    }
    if len(members) > 2:
        ranking = rank([member.swings for member in members], resolution_um=max(m.step_um for m in members))
        told |= {"method": "several groups of swings", "p_value": float(ranking.p_all)}
        if outcome == BETTER and not ranking.settled:
            told |= {"outcome": UNDECIDED, "more_clampings": settled.more or 1}
    return told


def _caveats(members: list[_Swings], compared: bool) -> list[Caveat]:
    found = []
    fewest = min(member.swings.size for member in members)
    if not compared:
        found.append(Caveat.FEW_CLAMPINGS)
    elif fewest < FEWEST_FOR_VERDICT:
        found.append(Caveat.INDICATIVE)
    if len({member.sittings for member in members}) > 1:
        found.append(Caveat.DIFFERENT_DAYS)
    elif len(members[0].sittings) == 1:
        found.append(Caveat.ONE_SITTING)
    return found
