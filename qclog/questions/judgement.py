"""The clampings of items judged: against the limits in force, what they were read with counted against the claim."""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import sqlalchemy as sa

from qclog.logbook.figures import Figures, Series, count_left_out, read_eccentricities, read_figures, read_series
from qclog.logbook.owned import Owned, read_setups
from qclog.questions.alike import JAWS, before, is_current, label, others_alike, pools
from qclog.questions.angled import angle_caveats
from qclog.questions.codes import Caveat
from qclog.questions.gauging import Gauges, read_gauges_of
from qclog.questions.groups import (
    CONFIDENCE,
    CONTENT,
    VECTORS,
    Bound,
    Decision,
    Group,
    Next,
    Swing,
    eccentricity_of,
)
from qclog.questions.judging import Judged, judge
from qclog.questions.limits import governing
from qclog.questions.places import place_of
from qclog.questions.values import (
    CANNOT_TELL,
    DOES_NOT_HOLD,
    HOLDS,
    LINEAR,
    METHODS,
    NO_LIMIT,
    ROOT_SUM_OF_SQUARES,
    WORDS,
)
from qclog.statistics.bounds import Bounds, Method, verdict_confidence
from qclog.statistics.conformity import Verdict, widen, widen_down


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """The groups told, each with its series and its place in ``judged``, and what they were read with."""

    groups: list[tuple[Series, Group, int]]
    judged: Judged
    gauges: Gauges


def judgement_in(
    connection: sa.Connection,
    owned_items: dict[int, Owned],
    items: Sequence[int] | None,
    setup: str | None = None,
    position: str | None = None,
    *,
    limit_um: float | None = None,
) -> Judgement:
    """The groups of some items as they are now or, with None, of all, and how they were judged."""
    current = current_series(connection, owned_items, items, setup, position)
    wanted = [one for one in current if is_current(one, owned_items)]
    alike: list[Series] = []
    theirs: dict[int, Owned] = {}
    if items is None:
        labels = {label(one, owned_items) for one in wanted if owned_items[one.item_id].kind == JAWS}
        alike = before(read_series(connection), owned_items, labels) if labels else []
    else:
        alike, theirs = others_alike(connection, wanted, owned_items)
    return _groups(connection, wanted + alike, len(wanted), owned_items | theirs, items is None, limit_um)


def current_series(
    connection: sa.Connection,
    owned_items: dict[int, Owned],
    items: Sequence[int] | None,
    setup: str | None,
    position: str | None,
) -> list[Series]:
    """The series of items as they are now, of swings and of plain values."""
    return [
        one
        for one in read_series(connection, items=items)
        if one.item_id in owned_items
        and one.modification == owned_items[one.item_id].modification
        and (setup is None or one.setup == setup)
        and (position is None or one.position.casefold() == position.casefold())
    ]


def _groups(
    connection: sa.Connection,
    series: Sequence[Series],
    wanted: int,
    items: dict[int, Owned],
    everything: bool,
    limit_um: float | None,
) -> Judgement:
    """The groups of the first ``wanted`` series that have clampings; the others only lend their repeat."""
    chosen = None if everything else [one.id for one in series]
    setups = read_setups(connection)
    limit, limit_from = governing(series, items, setups)
    if limit_um is not None:
        limit, limit_from = np.full(len(series), limit_um), [None] * len(series)
    eccentricities, gauges = read_eccentricities(connection, chosen), read_gauges_of(connection)

    jaws = np.array([items[one.item_id].kind == JAWS for one in series], dtype=np.bool_)

    def judged_by(figures: Figures) -> Judged:
        lending = partial(pools, series, items)
        return judge(series, figures, eccentricities, limit, gauges, lending, jaws)

    figures = read_figures(connection, chosen)
    judged = judged_by(figures)
    with_doubt = judged_by(read_figures(connection, chosen, also_in_doubt=True)) if figures.newest_left_out else judged
    left_out = count_left_out(connection, chosen)
    angled = angle_caveats(connection, series[:wanted], judged.directed, setups)
    found = []
    for i, one in enumerate(series[:wanted]):
        if judged.swings.clampings[i]:
            current = one.setup_id == 0 or one.revision == setups[one.setup_id].revision
            caveats = [*judged.caveats(i), *angled.get(i, ())]
            caveats += _caveats(one, items[one.item_id], left_out.get(one.id, (0, 0)))
            if np.isnan(limit[i]) and any(x.characteristic == one.characteristic for x in items[one.item_id].limits):
                caveats.append(Caveat.LIMIT_ELSEWHERE)
            if not current:
                caveats.append(Caveat.SETUP_CHANGED)
            group = _group(one, judged, i, limit_from[i], current, tuple(caveats))
            if one.id in figures.newest_left_out:
                group = _unless_contradicted(group, with_doubt.verdicts(i))
            found.append((one, group, i))
    return Judgement(found, judged, gauges)


def _unless_contradicted(group: Group, with_doubt: tuple[int, int, int]) -> Group:
    """A verdict without the newest clampings, which are in doubt, stands only if it is the same with them."""
    told = (group.as_read, group.this_sitting, group.next_clampings)
    agreed = [a if a == WORDS[Verdict(b)] else CANNOT_TELL for a, b in zip(told, with_doubt, strict=True)]
    if agreed[2] == group.next_clampings:
        return dataclasses.replace(group, as_read=agreed[0], this_sitting=agreed[1])
    return dataclasses.replace(
        group,
        as_read=agreed[0],
        this_sitting=agreed[1],
        next_clampings=agreed[2],
        holds_from_um=None,
        decision=None,
        caveats=(*group.caveats, Caveat.IN_DOUBT_CONTRADICTS),
    )


def _group(
    one: Series, judged: Judged, i: int, limit_from: str | None, current: bool, caveats: tuple[Caveat, ...]
) -> Group:
    swings, shown, in_doubt = judged.swings, judged.shown(i), bool(judged.in_doubt[i])
    told = [WORDS[Verdict(verdict)] for verdict in judged.verdicts(i)]
    if not current:
        told[1:] = [NO_LIMIT if told[0] == NO_LIMIT else CANNOT_TELL] * 2
    more, holds_from = int(judged.directed.more_days[i]), float(judged.holds_from_um[i])
    return Group(
        **place_of(one)._asdict(),
        clampings=int(swings.clampings[i]),
        sittings=int(swings.sittings[i]),
        tir_um=Swing(
            mean=float(swings.mean_um[i]),
            sd=float(swings.sd_um[i]) if swings.clampings[i] > 1 else None,
            min=float(swings.min_um[i]),
            max=float(swings.max_um[i]),
            last=float(judged.last_um[i]),
        ),
        eccentricity=eccentricity_of(complex(judged.directed.mean[i])),
        repeat_um=float(judged.directed.repeat_um[i]) or None,
        next=Next(float(shown.median_um[i]), float(shown.p95_um[i]))
        if np.isfinite(shown.p95_um[i]) and not in_doubt
        else None,
        bound=None if in_doubt else _bound(shown, i, from_vectors=bool(judged.directed.from_vectors[i])),
        uncertainty_um=float(2 * judged.gauge.u_um[i]),
        resolution_um=float(swings.resolution_um[i]),
        limit_um=None if np.isnan(judged.limit_um[i]) else float(judged.limit_um[i]),
        limit_from=limit_from,
        as_read=told[0],
        this_sitting=told[1],
        next_clampings=told[2],
        more_clampings=more if current and told[2] == CANNOT_TELL and more > 0 and not in_doubt else None,
        caveats=caveats,
        holds_from_um=holds_from if current and np.isfinite(holds_from) else None,
        decision=_decision(judged, i) if told[2] in (HOLDS, DOES_NOT_HOLD) else None,
    )


def _decision(judged: Judged, i: int) -> Decision:
    """Of a group whose next clampings have a verdict."""
    bounds, u = judged.directed.next_bounds, float(judged.gauge.u_um[i])
    holds, linear = judged.verdicts(i)[2] == Verdict.HOLDS, bool(judged.gauge.assumed[i])
    bound = float((bounds.upper_verdict_um if holds else bounds.lower_verdict_um)[i])
    centre = float(bounds.centre_um[i])
    return Decision(
        confidence=verdict_confidence(int(judged.swings.clampings[i]), Method(bounds.method[i]), holds=holds),
        bound_um=bound,
        centre_um=centre,
        guard_um=float(judged.gauge.guard_um[i]),
        added=LINEAR if linear else ROOT_SUM_OF_SQUARES,
        decides_um=float((widen if holds else widen_down)(bound, centre, u, linear)),
    )


def _bound(bounds: Bounds, i: int, *, from_vectors: bool) -> Bound | None:
    if not np.isfinite(bounds.upper_um[i]):
        return None
    method = METHODS[Method(bounds.method[i])] + (VECTORS if from_vectors else "")
    return Bound(float(bounds.upper_um[i]), CONTENT, CONFIDENCE, method)


def _caveats(one: Series, item: Owned, left_out: tuple[int, int]) -> list[Caveat]:
    found = []
    if left_out[0]:
        found.append(Caveat.RECALLED_LEFT_OUT)
    if left_out[1]:
        found.append(Caveat.STEEP_LEVER_LEFT_OUT)
    if item.married_setup and (one.setup, one.position) != (item.married_setup, item.married_position):
        found.append(Caveat.MARRIED_ELSEWHERE)
    return found
