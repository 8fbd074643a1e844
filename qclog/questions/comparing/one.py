"""One comparison: the best of a set against the second best, from their swings; is it settled, and what is missing?"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qclog.questions.codes import Caveat, Worth
from qclog.questions.comparing.directions import Vectors, compare_directions
from qclog.questions.comparing.sets import By, Measured, diameter_mm, high_spots_missing, name_of
from qclog.questions.places import Place, place_of
from qclog.statistics.comparing.settling import Outcome, settle
from qclog.statistics.comparing.several import rank
from qclog.statistics.comparing.swings import FEWEST_EACH, FEWEST_FOR_VERDICT, compare

BETTER, NO_DIFFERENCE, UNDECIDED = "better", "no difference", "cannot tell"


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
    the next clamping in the best one is better than the next in the second best, from ``vectors`` where there are
    any. ``p_permutation``, ``pairs_better`` (share of pairs of clampings in which the best was better): of the two
    best. ``pins_mm``: the diameters of the pins used, the smallest first, where ``diameter_mm`` tells pins to a tenth.
    ``mark``: what the difference is worth among all comparisons of a list, None where that is nothing.
    """

    by: str
    item: str | None
    setup: str | None
    position: str | None
    distance_mm: float
    diameter_mm: float | None
    pins_mm: tuple[float, ...]
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
    vectors: Vectors | None
    p_permutation: float | None
    pairs_better: float | None
    mark: Worth | None
    caveats: tuple[Caveat, ...]


def answer_of(by: By, members: list[Measured], matters_um: float, bounds: Mapping[Place, float]) -> Answer:
    """The answer about a set that differs in nothing but what is compared; ``bounds`` by where they hold."""
    members = sorted(members, key=lambda member: float(member.swings.mean()))
    first = members[0].series
    told = _told(members, matters_um)
    names = (name_of(first, by), name_of(members[1].series, by))
    vectors = None if _doubtful(members) else compare_directions(members[0], members[1], names)
    if vectors is not None:
        told["p_better_next"] = vectors.p_better_next
    return Answer(
        by=by,
        item=None if by == "item" else first.item,
        setup=None if by == "setup" else first.setup,
        position=first.position if by == "item" else None,
        distance_mm=first.distance_tenths / 10,
        diameter_mm=None if by == "item" else diameter_mm(first),
        pins_mm=() if by == "item" else tuple(sorted({size for member in members for size in member.pins_mm})),
        clocking=first.clocking,
        characteristic=first.characteristic,
        groups=tuple(_member(member, by, bounds) for member in members),
        better=names[0] if told["outcome"] == BETTER else None,
        settled=told["outcome"] != UNDECIDED,
        matters_um=matters_um,
        vectors=vectors,
        mark=None,
        caveats=tuple(_caveats(members, bool(told["method"]))),
        **told,
    )


def _member(measured: Measured, by: By, bounds: Mapping[Place, float]) -> Member:
    swings = measured.swings
    return Member(
        name=name_of(measured.series, by),
        clampings=swings.size,
        sittings=len(measured.sittings),
        mean_um=float(swings.mean()),
        sd_um=float(swings.std(ddof=1)) if swings.size > 1 else None,
        bound_um=bounds.get(place_of(measured.series)),
    )


def _told(members: list[Measured], matters_um: float) -> dict[str, Any]:
    """What can be said of the best against the second best, and of the best against all where there are more."""
    fewest = min(member.swings.size for member in members)
    told: dict[str, Any] = {
        "outcome": UNDECIDED,
        "difference_um": None,
        "p_better_next": None,
        "p_value": None,
        "method": "",
        "p_permutation": None,
        "pairs_better": None,
        "more_clampings": max(FEWEST_FOR_VERDICT - fewest, 1),
    }
    if _doubtful(members):
        return told | {"more_clampings": FEWEST_FOR_VERDICT}
    if fewest < FEWEST_EACH:
        return told
    best, second = members[0], members[1]
    step = max(best.step_um, second.step_um)
    pair = compare(best.swings, second.swings, resolution_um=step)
    settled = settle(best.swings, second.swings, resolution_um=step, matters_um=matters_um)
    outcome = {Outcome.A_BETTER: BETTER, Outcome.NO_DIFFERENCE: NO_DIFFERENCE}.get(settled.outcome, UNDECIDED)
    told |= {
        "outcome": outcome,
        "difference_um": Difference(pair.difference_um, pair.low_um, pair.high_um, pair.confidence),
        "p_better_next": pair.p_a_better_next,
        "p_value": settled.p_value,
        "method": "two groups of swings",
        "p_permutation": pair.p_permutation,
        "pairs_better": pair.pairs_a_better,
        "more_clampings": settled.more if outcome == UNDECIDED else 0,
    }
    if len(members) > 2:
        ranking = rank([member.swings for member in members], resolution_um=max(m.step_um for m in members))
        told |= {"method": "several groups of swings", "p_value": float(ranking.p_all)}
        if outcome == BETTER and not ranking.settled:
            told |= {"outcome": UNDECIDED, "more_clampings": settled.more or 1}
    return told


def _caveats(members: list[Measured], compared: bool) -> list[Caveat]:
    found = []
    fewest = min(member.swings.size for member in members)
    if _doubtful(members):
        found.append(Caveat.IN_DOUBT)
    elif not compared:
        found.append(Caveat.FEW_CLAMPINGS)
    elif fewest < FEWEST_FOR_VERDICT:
        found.append(Caveat.INDICATIVE)
    if len({member.sittings for member in members}) > 1:
        found.append(Caveat.DIFFERENT_DAYS)
    elif len(members[0].sittings) == 1:
        found.append(Caveat.ONE_SITTING)
    if any(member.left_out for member in members):
        found.append(Caveat.IN_DOUBT_LEFT_OUT)
    if any(member.check_failed for member in members):
        found.append(Caveat.CHECK_FAILED)
    return found + high_spots_missing(members[:2])


def _doubtful(members: list[Measured]) -> bool:
    return any(member.in_doubt for member in members)
