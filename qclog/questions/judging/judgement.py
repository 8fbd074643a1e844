"""The clampings of items judged: against the limits in force, what they were read with counted against the claim."""

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from math import isfinite, isnan
from typing import Final

import numpy as np
import sqlalchemy as sa

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
from qclog.questions.judging.sums import Sums, joined, summed
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
    known: Known,
    setup: str | None = None,
    position: str | None = None,
    *,
    limit_um: float | None = None,
    sums: Callable[[Sequence[Series]], Sums] | None = None,
) -> Judgement:
    """The groups of items as they are now that have clampings, and how they were judged.

    ``sums``: what series come to, where this was worked out part by part; else of all clampings at once.
    """
    owned, setups, connection = known.owned, known.setups, known.connection
    wanted = [one for one in known.current(setup, position) if is_current(one, owned)]
    series, items = lending_with(wanted, known), owned
    found = summed(series, known.figures, known.gauges) if sums is None else sums(series)
    if known.items is not None:
        own = found.chosen(np.arange(len(wanted)))
        if (lent := known.lenders.lent_to(wanted, owned, own)) is not None:
            series, items, found = series + lent.series, lent.items | owned, joined([found, lent.sums])
    found, series = _in_order(found, series)
    chosen = {one.id for one in wanted}
    told_of = {i: one for i, one in enumerate(series) if one.id in chosen}
    limit, limit_from = governing(series, items, setups)
    if limit_um is not None:
        limit, limit_from = np.full(len(series), limit_um), [None] * len(series)
    of_jaws = np.array([items[one.item_id].kind == JAWS for one in series], dtype=np.bool_)
    judged = with_doubt = judge(found, limit, known.gauges, partial(pools, series, items), of_jaws)
    left_out = found.of.newest_left_out.tolist()
    if any(left_out[i] for i in told_of):
        also = _also_in_doubt(connection, found, series, known.gauges)
        with_doubt = judge(also, limit, known.gauges, lambda *_: judged.pools, of_jaws)
    angled = angle_caveats(connection, told_of, judged.directed, setups)
    told, counts = _Told(judged), judged.swings.clampings.tolist()
    nowhere, recalled, steep = (column.tolist() for column in (np.isnan(limit), found.of.recalled, found.of.steep))
    groups = []
    for i, one in told_of.items():
        if counts[i]:
            current = one.setup_id == 0 or one.revision == setups[one.setup_id].revision
            caveats = [*judged.caveats(i), *angled.get(i, ())]
            caveats += _caveats(one, items[one.item_id], recalled=recalled[i], steep=steep[i])
            if nowhere[i] and any(x.characteristic == one.characteristic for x in items[one.item_id].limits):
                caveats.append(Caveat.LIMIT_ELSEWHERE)
            if not current:
                caveats.append(Caveat.SETUP_CHANGED)
            group = told.group(one, i, limit_from[i], current, tuple(caveats))
            if left_out[i]:
                group = _unless_contradicted(group, with_doubt.verdicts(i))
            groups.append((one, group, i))
    return Judgement(groups, judged, known.gauges)


def lending_with(wanted: Sequence[Series], known: Known) -> list[Series]:
    """The series wanted, and behind them those of jaws as they were bored before, which lend to them."""
    owned = known.owned
    jaws = {label(one, owned) for one in wanted if owned[one.item_id].kind == JAWS}
    return [*wanted, *before(known.series, owned, jaws)]


def _in_order(sums: Sums, series: Sequence[Series]) -> tuple[Sums, list[Series]]:
    at = {one.id: i for i, one in enumerate(series)}
    ordered = in_order(series)
    return sums.chosen(np.array([at[one.id] for one in ordered], dtype=np.int64)), ordered


def _also_in_doubt(connection: sa.Connection, sums: Sums, series: Sequence[Series], gauges: Gauges) -> Sums:
    """As if nothing were in doubt."""
    some = np.flatnonzero(sums.of.left_out)
    others = np.flatnonzero(~sums.of.left_out)
    partly = [series[i] for i in some.tolist()]
    figures = read_figures(connection, [one.id for one in partly], also_in_doubt=True)
    whole = joined([sums.chosen(others), summed(partly, figures, gauges)])
    found = whole.chosen(np.argsort(np.r_[others, some]))
    sure = np.zeros(len(series), dtype=np.bool_)
    return dataclasses.replace(found, of=dataclasses.replace(found.of, in_doubt=sure))


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


def _caveats(one: Series, item: Owned, *, recalled: int, steep: int) -> list[Caveat]:
    found = []
    if recalled:
        found.append(Caveat.RECALLED_LEFT_OUT)
    if steep:
        found.append(Caveat.STEEP_LEVER_LEFT_OUT)
    if item.married_setup and (one.setup, one.position) != (item.married_setup, item.married_position):
        found.append(Caveat.MARRIED_ELSEWHERE)
    return found
