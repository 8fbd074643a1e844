"""What one look through the clampings of items leaves: all that questions about everything need of them.

Of a large logbook the clampings are looked through part by part; what is left grows with places, not with readings.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from qclog.logbook.figures import NewestRows, Series
from qclog.questions.judging.alike import is_current
from qclog.questions.judging.judgement import lending_with
from qclog.questions.judging.sums import Sums, joined, summed
from qclog.questions.known import Known
from qclog.statistics import many

if TYPE_CHECKING:
    from qclog.questions.changing.changes import Changes
    from qclog.questions.changing.histories import History

_WORTH_KEEPING: Final = 30_000
"""Clampings: to look through so many takes longer than to read and write what is kept."""


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """``series``: those that ``sums`` are of; ``changes`` by the id of the series; ``newest`` of every series.

    ``histories`` by the id of the series, where they were asked for.
    """

    series: Sequence[Series]
    sums: Sums
    changes: "dict[int, Changes]"
    newest: NewestRows
    histories: "dict[int, History]"

    def sums_of(self, series: Sequence[Series]) -> Sums:
        """What some of the series come to, in their order."""
        at = {one.id: i for i, one in enumerate(self.series)}
        return self.sums.chosen(np.array([at[one.id] for one in series], dtype=np.int64))


def wanted_of(known: Known) -> list[Series]:
    """The series whose sums verdicts about items as they are now need."""
    return lending_with([one for one in known.current() if is_current(one, known.owned)], known)


def gather(known: Known, *, changes: bool = True, histories: bool = False) -> Gathered:
    """Look through the clampings of items as they are now, but for what is kept of a large logbook.

    Without ``changes`` nothing is asked of records over time. ``histories``: give these too.
    """
    wanted = wanted_of(known)
    if known.items is not None or histories or sum(known.sizes.values()) < _WORTH_KEEPING:
        return _joined([_gathered(part, wanted, changes=changes, histories=histories) for part in known.parts()])
    from qclog.questions.kept import keep, read_kept

    kept = read_kept(known, wanted, changes=changes)
    apart = frozenset[int]() if kept is None else kept.items
    found = [_gathered(part, wanted, changes=changes, histories=False) for part in known.parts(apart)]
    if kept is not None:
        found.append(Gathered(kept.series, kept.sums, kept.changes, kept.newest, {}))
    whole = _joined(found)
    read_anew = sum(known.sizes.get(one.id, 0) for one in known.series if one.item_id not in apart)
    if changes and read_anew >= _WORTH_KEEPING:
        keep(known, whole.series, whole.sums, whole.changes, whole.newest)
    return whole


def _joined(found: Sequence[Gathered]) -> Gathered:
    return Gathered(
        series=[one for part in found for one in part.series],
        sums=joined([part.sums for part in found]),
        changes={key: value for part in found for key, value in part.changes.items()},
        newest=many.joined([part.newest for part in found]),
        histories={key: value for part in found for key, value in part.histories.items()},
    )


def _gathered(part: Known, wanted: Sequence[Series], *, changes: bool, histories: bool) -> Gathered:
    read = {one.id for one in part.series}
    series = [one for one in wanted if one.id in read]
    past: dict[int, History] = {}
    changed: dict[int, Changes] = {}
    if changes:  # a verdict alone does not need it
        from qclog.questions.changing.changes import changes_of
        from qclog.questions.changing.histories import read_histories

        past = {one.series.id: one for one in read_histories(part).histories}
        changed = {one.series.id: one for one in changes_of(past.values())}
    return Gathered(
        series=series,
        sums=summed(series, part.figures, part.gauges),
        changes=changed,
        newest=part.figures.newest,
        histories=past if histories else {},
    )
