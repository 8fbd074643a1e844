"""A gauge was found wrong: which verdicts rest on what was read with it, and which of them would be another?

Each verdict is given three times: as it was given (as the logbook stood right before the recall), as it stands now
(what is in doubt left out), and, where it is known what the gauge showed for what, as it would stand had it read so
all the time. All three are ``assess``'s own answers, asked of a replay of the logbook. Nothing that was logged changes.
"""

import dataclasses
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from qclog.logbook import recalls
from qclog.logbook.engine import Store
from qclog.logbook.figures import Series, count_by_series, read_figures, read_series
from qclog.logbook.gauges import need_gauge
from qclog.logbook.lookup import Register
from qclog.logbook.owned import read_owned, read_setups
from qclog.logbook.recalls import Cleared, Recall
from qclog.logbook.replay import Replay, read_measured_alike
from qclog.logbook.statements import Issued, read_resting_on
from qclog.questions.assess import Answer as Assessed
from qclog.questions.assess import answers_in
from qclog.questions.codes import NextStep
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import CANNOT_TELL, HOLDS, NO_LIMIT, Limits, ValueGroup
from qclog.questions.known import Known
from qclog.questions.places import AtPlace, place_of
from qclog.questions.places import Place as There

QUESTION: Final = "recall"
_PM_PER_UM: Final = 1e6


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was told of a place: of the next clampings, of the last sitting, as read; and the bound shown beside it."""

    next_clampings: str
    this_sitting: str
    as_read: str
    bound_um: float | None

    @property
    def told(self) -> tuple[str, bool]:
        """The verdict in a word, and whether it is about the last sitting only."""
        if self.next_clampings == CANNOT_TELL and self.this_sitting != CANNOT_TELL:
            return self.this_sitting, True
        return self.next_clampings, False


@dataclass(frozen=True, slots=True)
class Place(AtPlace):
    """One item at one modification in one setup revision, at one place.

    ``clampings``: how many were read with the gauge since its last good check, ``in_doubt``: how many of them still
    are in doubt; none where the verdict rests on them only through the repeat of other items. ``as_it_is``: the item
    was not worked on since nor the setup changed. ``given`` None: it was measured later only. ``had_it_read_so`` None:
    it is not known what the gauge showed for what. ``limits_um``: of what is no swing, in place of ``limit_um``.
    """

    modification: int
    limit_um: float | None
    clampings: int
    in_doubt: int
    as_it_is: bool
    given: Verdict | None
    now: Verdict | None
    had_it_read_so: Verdict | None
    changes: bool
    next_step: NextStep
    limits_um: Limits | None = None


@dataclass(frozen=True, slots=True)
class Stated:
    """A statement handed over that rests on so many clampings in doubt. ``newest``: no later revision replaces it."""

    number: int
    revision: int
    issued_at: str
    receiver: str
    item: str
    setup: str
    position: str
    distance_mm: float
    verdict: str
    limit_um: float | None
    lower_limit_um: float | None
    characteristic: str
    newest: bool
    in_sitting: bool
    in_doubt: int


@dataclass(frozen=True, slots=True)
class Answer:
    """One recall. ``read_um`` for ``true_um``: what the gauge showed, and for what. ``since`` '': no good check known.

    ``unchanged`` and ``change`` count the verdicts that were given: as they would stand had the gauge read so all the
    time or, where that is not known, as they stand now. ``untold``: how many of them cannot be told now.
    ``statements``: those handed over that rest on what is in doubt; ``to_tell``: who received them.
    """

    gauge: str
    kind: str
    found_at: str
    found: str
    since: str
    read_um: float | None
    true_um: float | None
    note: str
    who: str
    good_again: str
    withdrawn: str
    cleared: tuple[Cleared, ...]
    clampings: int
    in_doubt: int
    unchanged: int
    change: int
    untold: int
    places: tuple[Place, ...]
    statements: tuple[Stated, ...]
    to_tell: tuple[str, ...]


class _Key(NamedTuple):
    """What a verdict is about."""

    modification: int
    place: There


class _Era(NamedTuple):
    """An item before later work, in a setup before later changes."""

    item_id: int
    modification: int
    setup_id: int
    setup_revision: int


class _Used(NamedTuple):
    """What is known of a place beside its verdicts. ``past``: it is no longer as it was; ``newest``: what was read
    there last is in doubt, and left out."""

    clampings: int
    in_doubt: int
    past: bool
    newest: bool


_Told = dict[_Key, Group | ValueGroup]


def recall(store: Store, gauge: str | None = None) -> list[Answer]:
    """The recalls of a gauge or of all, the newest first. Raises NotFoundError."""
    with store.reading() as connection:
        gauge_id = None if gauge is None else need_gauge(Register(connection), gauge).id
        return [_answer(connection, one) for one in reversed(recalls.read_recalls(connection, gauge_id))]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def _answer(connection: sa.Connection, recalled: Recall) -> Answer:
    concerned = recalls.read_concerned(connection, recalled)
    doubtful = recalls.in_doubt(connection, recalled)
    places = _places(connection, recalled, concerned, doubtful) if concerned else []
    stated = [_stated(one, count) for one, count in read_resting_on(connection, doubtful)]
    given = [place for place in places if place.given is not None and place.given.next_clampings != NO_LIMIT]
    return Answer(
        gauge=recalled.gauge,
        kind=recalled.kind,
        found_at=recalled.found_at,
        found=recalled.found,
        since=recalled.since,
        read_um=None if recalled.read_pm is None else recalled.read_pm / _PM_PER_UM,
        true_um=None if recalled.true_pm is None else recalled.true_pm / _PM_PER_UM,
        note=recalled.note,
        who=recalled.who,
        good_again=recalled.good_again,
        withdrawn=recalled.withdrawn,
        cleared=tuple(recalls.read_cleared(connection, recalled)),
        clampings=len(concerned),
        in_doubt=len(doubtful),
        unchanged=sum(not place.changes for place in given),
        change=sum(place.changes for place in given),
        untold=sum(place.now is None or place.now.told[0] == CANNOT_TELL for place in given),
        places=tuple(places),
        statements=tuple(stated),
        to_tell=tuple({one.receiver.casefold(): one.receiver for one in stated}.values()),
    )


def _stated(one: Issued, in_doubt: int) -> Stated:
    shared = {field.name: getattr(one, field.name) for field in dataclasses.fields(Stated) if field.name != "in_doubt"}
    return Stated(**shared, in_doubt=in_doubt)


def _places(
    connection: sa.Connection, recalled: Recall, concerned: Sequence[int], doubtful: Sequence[int]
) -> list[Place]:
    """Where the gauge was used, and where a verdict is another because of it."""
    items = read_measured_alike(connection, concerned)
    series = read_series(connection, items=sorted(items))
    used, still = _counted(connection, series, concerned), _counted(connection, series, doubtful)
    eras = _past(connection, [one for one in series if _key_of(one) in used])
    with Replay(connection, items) as replay:
        replay.advance(recalled.entry_id - 1)
        given = _told(replay, eras)
        replay.advance()
        now, so = _told(replay, eras), None
        if recalled.ratio is not None:
            replay.suppose_never_recalled(recalled.id)
            replay.suppose_scaled(doubtful, recalled.ratio)
            so = _told(replay, eras)
    newest = read_figures(connection, [one.id for one in series]).newest_left_out
    last = {_key_of(one) for one in series if one.id in newest}
    used_at = {
        key: _Used(used[key], still[key], past=any(key in keys for keys in eras.values()), newest=key in last)
        for key in sorted(used.keys() | given.keys(), key=_by_item)
    }
    places = [
        _place(key, of, given.get(key), now.get(key), None if so is None else so.get(key))
        for key, of in used_at.items()
    ]
    return [
        place for place in places if place.clampings or place.changes or _told_of(place.given) != _told_of(place.now)
    ]


def _by_item(key: _Key) -> tuple[str, int, str]:
    return key.place.item.casefold(), key.modification, str(key.place[1:])


def _place(
    key: _Key,
    of: _Used,
    given: Group | ValueGroup | None,
    now: Group | ValueGroup | None,
    so: Group | ValueGroup | None,
) -> Place:
    """``so`` None: as it stands now decides whether the verdict changes."""
    was, stands, would = _verdict(given), _verdict(now), _verdict(so)
    changes = was is not None and _told_of(would or stands) != was.told
    group = given or now
    return Place(
        **key.place._asdict(),
        modification=key.modification,
        limit_um=group.limit_um if isinstance(group, Group) else None,
        clampings=of.clampings,
        in_doubt=of.in_doubt,
        as_it_is=not of.past,
        given=was,
        now=stands,
        had_it_read_so=would,
        changes=changes,
        next_step=_next_step(of, was, stands, changes=changes),
        limits_um=group.limits_um if isinstance(group, ValueGroup) else None,
    )


def _next_step(of: _Used, given: Verdict | None, now: Verdict | None, *, changes: bool) -> NextStep:
    if of.past:
        return NextStep.TELL if changes else NextStep.NONE_WORKED_ON
    told = now is not None and now.next_clampings != CANNOT_TELL
    if changes and _told_of(given)[0] == HOLDS and (of.newest or not told):
        return NextStep.MEASURE_FIRST
    return NextStep.NONE if told or not (of.in_doubt or changes) else NextStep.MEASURE_AGAIN


def _counted(connection: sa.Connection, series: Iterable[Series], clampings: Sequence[int]) -> Counter[_Key]:
    """How many of some clampings there are at each place."""
    counts = count_by_series(connection, clampings)
    return Counter({_key_of(one): counts[one.id] for one in series if one.id in counts})


def _past(connection: sa.Connection, series: Iterable[Series]) -> dict[_Era, set[_Key]]:
    """The places that are no longer as they were then, by when they were."""
    owned, setups = read_owned(connection), read_setups(connection)
    found: dict[_Era, set[_Key]] = {}
    for one in series:
        changed = bool(one.setup_id) and one.revision != setups[one.setup_id].revision
        if changed or one.modification != owned[one.item_id].modification:
            era = _Era(one.item_id, one.modification, one.setup_id, one.revision)
            found.setdefault(era, set()).add(_key_of(one))
    return found


def _told(replay: Replay, eras: dict[_Era, set[_Key]]) -> _Told:
    """What is told of every place as it is, and of some as they were."""
    with replay.store.reading() as connection:
        told = _by_key(answers_in(Known(connection)))
    for era, keys in eras.items():
        with replay.before_later_work(*era) as connection:
            then = _by_key(answers_in(Known(connection, [era.item_id])))
        told |= {key: then[key] for key in keys if key in then}
    return told


def _by_key(answers: Collection[Assessed]) -> _Told:
    return {
        _Key(answer.modification, group.place): group for answer in answers if answer.item for group in _all_of(answer)
    }


def _all_of(answer: Assessed) -> Iterator[Group | ValueGroup]:
    yield from answer.groups
    yield from answer.values


def _key_of(one: Series) -> _Key:
    return _Key(one.modification, place_of(one))


def _verdict(group: Group | ValueGroup | None) -> Verdict | None:
    if group is None:
        return None
    bound = group.bound.value_um if isinstance(group, Group) and group.bound else None
    return Verdict(group.next_clampings, group.this_sitting, group.as_read, bound)


def _told_of(verdict: Verdict | None) -> tuple[str, bool]:
    return (CANNOT_TELL, False) if verdict is None else verdict.told
