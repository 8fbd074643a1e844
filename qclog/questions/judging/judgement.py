"""The clampings of items judged: against the limits in force, what they were read with counted against the claim."""

import dataclasses
from dataclasses import dataclass
from functools import partial
from math import isfinite, isnan
from typing import Final

import numpy as np

from qclog.logbook.figures import Series, in_order, read_figures
from qclog.logbook.owned import Owned
from qclog.questions.codes import Caveat
from qclog.questions.judging.alike import JAWS, before, is_current, label
from qclog.questions.judging.angled import angle_caveats
from qclog.questions.judging.gauging import Gauges
from qclog.questions.judging.groups import (
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
from qclog.questions.judging.lending import pools
from qclog.questions.judging.limits import governing
from qclog.questions.judging.swings import Judged, judge
from qclog.questions.judging.values import (
    CANNOT_TELL,
    DOES_NOT_HOLD,
    HOLDS,
    LINEAR,
    METHODS,
    NO_LIMIT,
    ROOT_SUM_OF_SQUARES,
    WORDS,
)
from qclog.questions.known import Known
from qclog.questions.places import place_of
from qclog.statistics.bounding.bounds import Method
from qclog.statistics.bounding.conformity import Verdict

_WORDS: Final = {int(verdict): word for verdict, word in WORDS.items()}


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """The groups told, each with its series and its place in ``judged``, and what they were read with."""

    groups: list[tuple[Series, Group, int]]
    judged: Judged
    gauges: Gauges


def judgement_in(
    known: Known, setup: str | None = None, position: str | None = None, *, limit_um: float | None = None
) -> Judgement:
    """The groups of items as they are now that have clampings, and how they were judged."""
    owned, setups, connection = known.owned, known.setups, known.connection
    wanted = [one for one in known.current(setup, position) if is_current(one, owned)]
    jaws = {label(one, owned) for one in wanted if owned[one.item_id].kind == JAWS}
    series, items, figures = wanted + before(known.series, owned, jaws), owned, known.figures
    lent = None if known.items is None else known.lenders.lent_to(wanted, owned, figures)
    if lent is not None:
        series, items, figures = series + lent.series, lent.items | owned, figures.joined(lent.figures)
    series = in_order(series)
    chosen = {one.id for one in wanted}
    told_of = {i: one for i, one in enumerate(series) if one.id in chosen}
    limit, limit_from = governing(series, items, setups)
    if limit_um is not None:
        limit, limit_from = np.full(len(series), limit_um), [None] * len(series)
    of_jaws = np.array([items[one.item_id].kind == JAWS for one in series], dtype=np.bool_)
    judged = with_doubt = judge(series, figures, limit, known.gauges, partial(pools, series, items), of_jaws)
    if not chosen.isdisjoint(figures.newest_left_out):
        everything = read_figures(
            connection, None if known.items is None else [one.id for one in series], also_in_doubt=True
        )
        with_doubt = judge(series, everything, limit, known.gauges, lambda *_: judged.pools, of_jaws)
    angled = angle_caveats(connection, told_of, judged.directed, setups)
    told, counts = _Told(judged), judged.swings.clampings.tolist()
    nowhere = np.isnan(limit).tolist()
    found = []
    for i, one in told_of.items():
        if counts[i]:
            current = one.setup_id == 0 or one.revision == setups[one.setup_id].revision
            caveats = [*judged.caveats(i), *angled.get(i, ())]
            caveats += _caveats(one, items[one.item_id], figures.set_aside.get(one.id, (0, 0)))
            if nowhere[i] and any(x.characteristic == one.characteristic for x in items[one.item_id].limits):
                caveats.append(Caveat.LIMIT_ELSEWHERE)
            if not current:
                caveats.append(Caveat.SETUP_CHANGED)
            group = told.group(one, i, limit_from[i], current, tuple(caveats))
            if one.id in figures.newest_left_out:
                group = _unless_contradicted(group, with_doubt.verdicts(i))
            found.append((one, group, i))
    return Judgement(found, judged, known.gauges)


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


class _Told:
    """What was judged, as plain values: group by group nothing is left to compute."""

    def __init__(self, judged: Judged) -> None:
        swings, directed, shown = judged.swings, judged.directed, judged.shown()
        self.judged, self.mean_vector = judged, directed.mean.tolist()
        self.figures = list(
            zip(
                *(
                    column.tolist()
                    for column in (
                        swings.clampings,
                        swings.sittings,
                        swings.mean_um,
                        swings.sd_um,
                        swings.min_um,
                        swings.max_um,
                        judged.last_um,
                        directed.repeat_um,
                        2 * judged.gauge.u_um,
                        swings.resolution_um,
                        judged.limit_um,
                        judged.holds_from_um,
                        directed.more_days,
                        judged.more_in_sitting,
                        judged.in_doubt,
                    )
                ),
                strict=True,
            )
        )
        self.shown = [column.tolist() for column in (shown.median_um, shown.p95_um, shown.upper_um, shown.method)]
        self.from_vectors, self.assumed = directed.from_vectors.tolist(), judged.gauge.assumed.tolist()
        self.guard_um, self.centre_um = judged.gauge.guard_um.tolist(), directed.next_bounds.centre_um.tolist()
        self.decided = [column.tolist() for column in judged.decided()]

    def group(self, one: Series, i: int, limit_from: str | None, current: bool, caveats: tuple[Caveat, ...]) -> Group:
        n, sittings, mean, sd, least, most, last, repeat, u, step, limit, holds_from, more, more_here, in_doubt = (
            self.figures[i]
        )
        told = [_WORDS[verdict] for verdict in self.judged.verdicts(i)]
        if not current:
            told[1:] = [NO_LIMIT if told[0] == NO_LIMIT else CANNOT_TELL] * 2
        return Group(
            **place_of(one)._asdict(),
            clampings=n,
            sittings=sittings,
            tir_um=Swing(mean, sd if n > 1 else None, least, most, last),
            eccentricity=eccentricity_of(self.mean_vector[i]),
            repeat_um=repeat or None,
            next=None if in_doubt else self._next(i),
            bound=None if in_doubt else self._bound(i),
            uncertainty_um=u,
            resolution_um=step,
            limit_um=None if isnan(limit) else limit,
            limit_from=limit_from,
            as_read=told[0],
            this_sitting=told[1],
            next_clampings=told[2],
            more_clampings=more if current and told[2] == CANNOT_TELL and more > 0 and not in_doubt else None,
            caveats=caveats,
            holds_from_um=holds_from if current and isfinite(holds_from) else None,
            decision=self._decision(i) if told[2] in (HOLDS, DOES_NOT_HOLD) else None,
            more_in_sitting=more_here if current and more_here > 0 else None,
        )

    def _next(self, i: int) -> Next | None:
        median, p95, _, _ = (column[i] for column in self.shown)
        return Next(median, p95) if isfinite(p95) else None

    def _bound(self, i: int) -> Bound | None:
        _, _, upper, method = (column[i] for column in self.shown)
        if not isfinite(upper):
            return None
        return Bound(upper, CONTENT, CONFIDENCE, METHODS[Method(method)] + (VECTORS if self.from_vectors[i] else ""))

    def _decision(self, i: int) -> Decision:
        """Of a group whose next clampings have a verdict."""
        confidence, bound, decides = (column[i] for column in self.decided)
        added = LINEAR if self.assumed[i] else ROOT_SUM_OF_SQUARES
        return Decision(confidence, bound, self.centre_um[i], self.guard_um[i], added, decides)


def _caveats(one: Series, item: Owned, left_out: tuple[int, int]) -> list[Caveat]:
    found = []
    if left_out[0]:
        found.append(Caveat.RECALLED_LEFT_OUT)
    if left_out[1]:
        found.append(Caveat.STEEP_LEVER_LEFT_OUT)
    if item.married_setup and (one.setup, one.position) != (item.married_setup, item.married_position):
        found.append(Caveat.MARRIED_ELSEWHERE)
    return found
