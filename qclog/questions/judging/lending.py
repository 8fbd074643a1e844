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
import sqlalchemy as sa

from qclog.logbook.figures import Series, read_figures, read_measured_in, read_series
from qclog.logbook.owned import Owned, read_owned
from qclog.questions.judging.alike import JAWS, before, frame, is_current, label
from qclog.questions.judging.gauging import Gauges
from qclog.questions.judging.sums import OfSeries, Sums, joined, summed
from qclog.statistics.bounding.bounds import OWN_DATA_FROM_SITTINGS

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
    """Series of others that lend, what is known of their items, and what they come to."""

    series: list[Series]
    items: dict[int, Owned]
    sums: Sums


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


class Lenders:
    """Those of all items that lend to some that are asked about alone.

    ``apart``: the items that are read anyway. ``back_to``: by the label or frame that others were sought for, the id of
    the first added item that was looked at, 0 where they were looked through to the end and more would have lent.
    """

    def __init__(self, connection: sa.Connection, apart: Sequence[int], gauges: Gauges) -> None:
        self._connection, self._apart, self._gauges = connection, frozenset(apart), gauges
        self._alike: dict[tuple[Any, ...], list[Series]] = {}
        self._in_frame: dict[tuple[int, str], list[Series]] = {}
        self._items: dict[int, Owned] = {}
        self._lots: list[tuple[list[Series], Sums]] = []
        self.back_to: dict[tuple[Any, ...], int] = {}

    def lent_to(self, wanted: Sequence[Series], items: Mapping[int, Owned], sums: Sums) -> Lent | None:
        """What those wanted, with these ``sums``, are judged with beside the ``items`` that were read with them.

        None where that is nothing. Own clampings on so many days need nobody's repeat, and swings no frame: then nobody
        else is read.
        """
        directed = sums.of.directed | sums.of.some_missing
        labels = {
            known
            for one, days in zip(wanted, sums.of.swings.sittings.tolist(), strict=True)
            if (0 < days < OWN_DATA_FROM_SITTINGS or items[one.item_id].kind == JAWS)
            and (known := label(one, items)) is not None
        }
        frames = {frame(one) for one, has in zip(wanted, directed.tolist(), strict=True) if has}
        self._seek({key for key in labels if key not in self._alike}, frames - self._in_frame.keys())
        lenders = [one for key in labels for one in self._alike[key]]
        witnesses = [one for key in frames for one in self._in_frame[key]]
        wanted_ids = {one.id for one in lenders + witnesses if one.item_id not in items}
        found: list[Series] = []
        some: list[Sums] = []
        for series, of_lot in self._lots:
            places = [i for i, one in enumerate(series) if one.id in wanted_ids]
            found += [series[i] for i in places]
            some.append(of_lot.chosen(np.array(places, dtype=np.int64)))
        return Lent(found, self._items, joined(some)) if found else None

    def _seek(self, labels: set[Any], frames: set[tuple[int, str]]) -> None:
        """Find those that lend to these labels or are witnesses in these frames, the newest items first."""
        self._alike |= {key: [] for key in labels}
        self._in_frame |= {key: [] for key in frames}
        seen = defaultdict[tuple[int, str], set[int]](set)
        revisions = sorted({key[0] for key in frames} | {key[-5] for key in labels})
        newest = read_measured_in(self._connection, revisions) if revisions else []
        for lot in _lots([item for item in newest if item not in self._apart]):
            labels = {key for key in labels if len(self._alike[key]) < MOST}
            frames = {key for key in frames if len(seen[key]) < MOST}
            if not labels and not frames:
                return
            self.back_to |= dict.fromkeys(labels | frames, lot[-1])
            items = read_owned(self._connection, lot)
            series = read_series(self._connection, items=lot, revisions=revisions)
            current = [one for one in series if is_current(one, items)]
            alike = [one for one in current if label(one, items) in labels] + before(series, items, labels)
            witnesses = [one for one in current if frame(one) in frames]
            if not alike and not witnesses:
                continue
            either = list({one.id: one for one in alike + witnesses}.values())
            sums = summed(either, read_figures(self._connection, [one.id for one in either]), self._gauges)
            lenders = _able(alike, items, sums.chosen(_places(alike, either)).of)
            for one in lenders:
                self._alike[label(one, items) or ()].append(one)
            for one in witnesses:
                self._in_frame[frame(one)].append(one)
                seen[frame(one)].add(one.item_id)
            self._lots.append((either, sums))
            self._items |= items
        self.back_to |= {key: 0 for key in labels if len(self._alike[key]) < MOST}
        self.back_to |= {key: 0 for key in frames if len(seen[key]) < MOST}


def _able(series: Sequence[Series], items: Mapping[int, Owned], of: OfSeries) -> list[Series]:
    """Those of series that lend their repeat."""
    lends = pools(series, items, of.swings.clampings, of.swings.sittings, of.in_doubt).lends
    return [one for one, does in zip(series, lends.tolist(), strict=True) if does]


def _places(some: Sequence[Series], among: Sequence[Series]) -> Ints:
    """Where some series stand among others."""
    at = {one.id: i for i, one in enumerate(among)}
    return np.array([at[one.id] for one in some], dtype=np.int64)


def _lots(items: Sequence[int]) -> Iterator[Sequence[int]]:
    """Some at once, each lot twice the last."""
    start, size = 0, _FIRST_LOT
    while start < len(items):
        yield items[start : start + size]
        start, size = start + size, 2 * size
