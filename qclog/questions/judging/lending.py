"""Who lends what to whom: its repeat to those measured alike, the shape of its scatter to those in one frame.

Of all that might, the ``MOST`` newest do: items in the order they were added, the last first, and of jaws every
history, the last first. That is a rule of the logbook and not of the question, so that an item is told the same to the
last digit whether it is asked about alone or with all, and one item is answered without reading thousands.

Fifty lose nothing. A bound counts what others lend as 6 degrees of freedom (``statistics.bounding.sittings``), and
fifty items of two days have 50: what they lend is then known to 20 % at the worst, where 6 degrees of freedom allow for
58 %. Bounds that lean on fifty cover as those that lean on two hundred, and are as wide (``test_bound_coverage.py``).
The newest are nearest to how the machine is now. Of the scatter in all directions a test on ever more clampings would
in the end find differences of no consequence.

Only the newest history of an item lends its repeat, and lends it once: the place with most clampings, on two days at
least; jaws, which count for their sitting, with two clampings. What is in doubt lends nothing.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from qclog.logbook.figures import Figures, Series, read_figures, read_measured_in, read_series
from qclog.logbook.owned import Owned, read_owned
from qclog.questions.judging.alike import JAWS, before, frame, is_current, label
from qclog.questions.known import Known
from qclog.statistics.bounding.bounds import OWN_DATA_FROM_SITTINGS
from qclog.statistics.grouping import Grouping

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

MOST: Final = 50
_FIRST_LOT: Final = 64


@dataclass(frozen=True, slots=True, eq=False)
class Pools:
    """Of S series, arrays (S,). ``alike``: those with one number may borrow the repeat of those that lend
    (``lends``); ``frame``: vectors of those with one number stand in one frame, and some are ``witness`` for all."""

    alike: Ints
    lends: Bools
    frame: Ints
    witness: Bools


@dataclass(frozen=True, slots=True, eq=False)
class Lent:
    """Series of others, or of jaws as they were before, whose items and figures judge those wanted with them."""

    series: list[Series]
    items: dict[int, Owned]
    figures: Figures


def pools(series: Sequence[Series], items: Mapping[int, Owned], clampings: Ints, sittings: Ints, doubt: Bools) -> Pools:
    """Who lends to whom among series with so many clampings and sittings, arrays (S,); ``doubt``: all is in doubt."""
    labels: dict[tuple[Any, ...], int] = {}
    frames: dict[tuple[int, str], int] = {}
    counted: set[tuple[Any, ...]] = set()
    alike = np.arange(len(series)) + len(series)
    for i in np.argsort(-clampings, kind="stable").tolist():
        one = series[i]
        measured_alike = label(one, items)
        lender = (measured_alike, one.item_id, one.modification if items[one.item_id].kind == JAWS else -1)
        if measured_alike is not None and lender not in counted:
            counted.add(lender)
            if not doubt[i]:
                alike[i] = labels.setdefault(measured_alike, len(labels))
    lends, witness = np.zeros((2, len(series)), dtype=np.bool_)
    lent: Counter[int] = Counter()
    seen: dict[tuple[int, str], set[int]] = defaultdict(set)
    fewest = np.array([1 if items[one.item_id].kind == JAWS else 2 for one in series], dtype=np.int64)
    able = (alike < len(series)) & (np.where(fewest == 1, clampings - 1, sittings) >= fewest)
    for i in sorted(range(len(series)), key=lambda i: (-series[i].item_id, -series[i].modification)):
        one, number = series[i], int(alike[i])
        if able[i] and lent[number] < MOST:
            lends[i] = True
            lent[number] += 1
        there = seen[frame(one)]
        if is_current(one, items) and (one.item_id in there or len(there) < MOST):
            witness[i] = not doubt[i]
            there.add(one.item_id)
    in_frame = np.array([frames.setdefault(frame(one), len(frames)) for one in series], dtype=np.int64)
    return Pools(alike, lends, in_frame, witness)


def lent_to(known: Known, wanted: Sequence[Series]) -> Lent:
    """What those wanted are judged with beside themselves: where they may borrow at all, those that may lend.

    Own clampings on so many days need nobody's repeat, and swings no frame: then nobody else is read.
    """
    owned, figures = known.owned, known.figures
    jaws = {label(one, owned) for one in wanted if owned[one.item_id].kind == JAWS}
    own = before(known.series, owned, jaws)
    if known.items is None:
        return Lent(own, {}, figures)
    cells = _grouped(wanted, figures)
    few = (cells.sittings > 0) & (cells.sittings < OWN_DATA_FROM_SITTINGS)
    labels = {label(one, owned) for one, so_few in zip(wanted, few.tolist(), strict=True) if so_few}
    vectors = np.isfinite(figures.vector.real[figures.places_in(wanted) >= 0])
    directed = np.bincount(cells.group, vectors, len(wanted)) > 0
    frames = {frame(one) for one, has in zip(wanted, directed.tolist(), strict=True) if has}
    theirs = _others(known, (labels | jaws) - {None}, frames)
    return Lent(own + theirs.series, theirs.items, figures.joined(theirs.figures))


def _others(known: Known, labels: set[Any], frames: set[tuple[int, str]]) -> Lent:
    """Those of other items that lend to these labels or are witnesses in these frames, the newest items first."""
    connection, lending, seen = known.connection, Counter[Any](), defaultdict[tuple[int, str], set[int]](set)
    found = Lent([], {}, read_figures(connection, []))
    revisions = {frame[0] for frame in frames} | {label[-5] for label in labels}
    newest = [item for item in read_measured_in(connection, sorted(revisions)) if item not in known.owned]
    for lot in _lots(newest):
        labels = {label for label in labels if lending[label] < MOST}
        frames = {frame for frame in frames if len(seen[frame]) < MOST}
        if not labels and not frames:
            break
        items = read_owned(connection, lot)
        series = read_series(connection, items=lot, revisions=sorted(revisions))
        current = [one for one in series if is_current(one, items)]
        alike = [one for one in current if label(one, items) in labels] + before(series, items, labels)
        witnesses = [one for one in current if frame(one) in frames]
        figures = read_figures(connection, sorted({one.id for one in alike + witnesses}))
        cells = _grouped(alike, figures)
        doubt = np.bincount(cells.group, figures.in_doubt[figures.places_in(alike) >= 0], len(alike)) > 0
        lends = pools(alike, items, cells.clampings, cells.sittings, doubt).lends
        lenders = [one for one, does in zip(alike, lends.tolist(), strict=True) if does]
        lending.update(label(one, items) for one in lenders)
        for one in witnesses:
            seen[frame(one)].add(one.item_id)
        kept = {one.id: one for one in lenders + witnesses}
        rows = np.isin(figures.series, list(kept))
        found.series.extend(kept.values())
        found.items.update(items)
        found = Lent(found.series, found.items, found.figures.joined(figures.of(rows)))
    return found


def _lots(items: Sequence[int]) -> Iterator[Sequence[int]]:
    """Some at once, each lot twice the last."""
    start, size = 0, _FIRST_LOT
    while start < len(items):
        yield items[start : start + size]
        start, size = start + size, 2 * size


def _grouped(series: Sequence[Series], figures: Figures) -> Grouping:
    place = figures.places_in(series)
    return Grouping(place[place >= 0], figures.sitting[place >= 0], len(series))
