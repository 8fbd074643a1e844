"""Does this item, as it is now, hold what it was made to: here, at this key position, at this distance?

Three verdicts are kept apart: the clampings that were read, what more clampings of the same sitting would do,
and what the next clampings of other days will do. Uncertainty counts against whoever makes the claim
(ISO 14253-1): the bounds are widened by that of the indicator before they are held against the limit.
"""

import cmath
import dataclasses
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import sqlalchemy as sa

from qclog.logbook.engine import Store
from qclog.logbook.figures import Figures, Series, count_left_out, read_eccentricities, read_figures, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, OwnedSetup, read_owned, read_setups
from qclog.questions.alike import is_current, others_alike, pools
from qclog.questions.angled import angle_caveats
from qclog.questions.codes import FINDINGS, Caveat, Flag
from qclog.questions.gauging import Gauges, read_gauges_of
from qclog.questions.judging import Judged, judge
from qclog.questions.limits import governing
from qclog.statistics.bounds import Bounds, Method, verdict_confidence
from qclog.statistics.conformity import Verdict, widen, widen_down

QUESTION: Final = "assess"
CONTENT: Final = 0.95
CONFIDENCE: Final = 0.95
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
ONE_SITTING = _METHODS[Method.ONE_SITTING]
LINEAR, ROOT_SUM_OF_SQUARES = "linear", "root sum of squares"
VECTORS: Final = ", from vectors"
HOLDS, DOES_NOT_HOLD, CANNOT_TELL, NO_LIMIT = (_WORDS[v] for v in Verdict)


@dataclass(frozen=True, slots=True)
class Swing:
    mean: float
    sd: float | None
    min: float
    max: float
    last: float


@dataclass(frozen=True, slots=True)
class Eccentricity:
    """The mean once-per-turn vector: the TIR it causes, and where its high spot stands."""

    tir_um: float
    high_spot_deg: float


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
class Decision:
    """How the verdict on the next clampings was reached (ISO 14253-1), in µm.

    ``bound_um``: with ``confidence`` (the price of looking again in it) 19 clampings in 20 stay under it, as read; for
    "does not hold" with that confidence they do not. ``guard_um`` for the indicator is added to it, or taken off,
    about ``centre_um``: as ``added`` says, "root sum of squares" or "linear". ``decides_um`` is held against the limit.
    """

    confidence: float
    bound_um: float
    centre_um: float
    guard_um: float
    added: str
    decides_um: float


@dataclass(frozen=True, slots=True)
class Group:
    """One item in one setup at one place. ``caveats`` are short codes.

    ``holds_from_um``: the least limit that its next clampings would be found to hold; None where none would.
    ``decision``: None where the next clampings have no verdict.
    """

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
    eccentricity: Eccentricity | None
    repeat_um: float | None
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
    caveats: tuple[Caveat, ...]
    holds_from_um: float | None = None
    decision: Decision | None = None


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is flagged: a code, and the group it was seen in ('' and None where it is the whole item).

    ``limit_from``: whose limit is not held, the "item"'s or the "setup"'s.
    """

    code: Flag
    item: str = ""
    setup: str = ""
    position: str = ""
    distance_mm: float | None = None
    limit_from: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """About one item (``setup`` ''), or about one setup that has a limit of its own (``item`` '').

    ``state``: what a person decided: in service, restricted, out, scrap; '' for a setup.
    """

    item: str
    setup: str
    modification: int
    what: str
    reasons: tuple[Reason, ...]
    groups: tuple[Group, ...]
    state: str = ""


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
            return [a for a in answers_in(connection, None, found.text, position) if a.setup == found.text]
        items = None if code is None else [register.need(code, "item").id]
        if setup is not None:
            setup = register.need(setup, "setup").text
        answers = answers_in(connection, items, setup, position)
        return [a for a in answers if a.item] if code is not None else answers


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def answers_in(
    connection: sa.Connection,
    items: Sequence[int] | None,
    setup: str | None = None,
    position: str | None = None,
    *,
    limit_um: float | None = None,
) -> list[Answer]:
    """The answers about some items or, with None, about all, those about setups after them; within a transaction.

    ``limit_um``: held against this everywhere, instead of what they were made to.
    """
    owned_items = read_owned(connection, items)
    judged = judgement_in(connection, owned_items, items, setup, position, limit_um=limit_um).groups
    groups: dict[int, list[Group]] = {}
    for one, group, _ in judged:
        groups.setdefault(one.item_id, []).append(group)
    answers = [
        Answer(
            item=item.code,
            setup="",
            modification=item.modification,
            what=item.what,
            reasons=_item_reasons(item, groups.get(item.id, [])),
            groups=tuple(groups.get(item.id, ())),
            state=item.state,
        )
        for item in owned_items.values()
        if item.id in groups or items is not None or item.findings
    ]
    return answers + _setup_answers(judged, read_setups(connection))


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
    wanted = [
        one
        for one in read_series(connection, items=items)
        if is_current(one, owned_items)
        and (setup is None or one.setup == setup)
        and (position is None or one.position.casefold() == position.casefold())
    ]
    alike, theirs = ([], {}) if items is None else others_alike(connection, wanted, owned_items)
    return _groups(connection, wanted + alike, len(wanted), owned_items | theirs, items is None, limit_um)


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

    def judged_by(figures: Figures) -> Judged:
        return judge(series, figures, eccentricities, limit, gauges, lambda clampings: pools(series, items, clampings))

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
            if np.isnan(limit[i]) and items[one.item_id].limits:
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
    agreed = [a if a == _WORDS[Verdict(b)] else CANNOT_TELL for a, b in zip(told, with_doubt, strict=True)]
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
    told = [_WORDS[Verdict(verdict)] for verdict in judged.verdicts(i)]
    if not current:
        told[1:] = [NO_LIMIT if told[0] == NO_LIMIT else CANNOT_TELL] * 2
    more, holds_from = int(judged.directed.more_days[i]), float(judged.holds_from_um[i])
    return Group(
        item=one.item,
        setup=one.setup,
        setup_revision=one.revision,
        position=one.position,
        clocking=one.clocking,
        distance_mm=one.distance_tenths / 10,
        diameter_mm=None if one.diameter_tenths < 0 else one.diameter_tenths / 10,
        characteristic=one.characteristic,
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
    method = _METHODS[Method(bounds.method[i])] + (VECTORS if from_vectors else "")
    return Bound(float(bounds.upper_um[i]), CONTENT, CONFIDENCE, method)


def eccentricity_of(vector: complex) -> Eccentricity | None:
    """A once-per-turn vector in µm as the TIR it causes and the angle of its high spot; None for NaN."""
    if not math.isfinite(vector.real):
        return None
    return Eccentricity(2 * abs(vector), math.degrees(cmath.phase(vector)) % 360)


def _caveats(one: Series, item: Owned, left_out: tuple[int, int]) -> list[Caveat]:
    found = []
    if left_out[0]:
        found.append(Caveat.RECALLED_LEFT_OUT)
    if left_out[1]:
        found.append(Caveat.STEEP_LEVER_LEFT_OUT)
    if item.married_setup and (one.setup, one.position) != (item.married_setup, item.married_position):
        found.append(Caveat.MARRIED_ELSEWHERE)
    return found


def unmeasured(item: Owned) -> Answer:
    """What there is to say of an item that was not measured as it is now, and has no finding."""
    return Answer(item.code, "", item.modification, item.what, (), (), item.state)


def waits_for_doubt(group: Group) -> bool:
    """Whether nothing can be said of a group before what is in doubt is measured again or cleared."""
    left_out = Caveat.IN_DOUBT_LEFT_OUT in group.caveats and group.next_clampings == CANNOT_TELL
    return left_out or Caveat.IN_DOUBT in group.caveats


def _item_reasons(item: Owned, groups: list[Group]) -> tuple[Reason, ...]:
    found = [Reason(FINDINGS[finding], item.code) for finding in item.findings]
    return tuple(dict.fromkeys(found + [reason for group in groups for reason in _group_reasons(group)]))


def _group_reasons(group: Group) -> list[Reason]:
    """Why a group is flagged: the strongest thing that can be said of it."""
    for word, code in (
        (group.next_clampings, Flag.NEXT_CLAMPINGS),
        (group.this_sitting, Flag.THIS_SITTING),
        (group.as_read, Flag.AS_READ),
    ):
        if word == DOES_NOT_HOLD:
            return [Reason(code, group.item, group.setup, group.position, group.distance_mm, group.limit_from or "")]
    if waits_for_doubt(group):
        return [Reason(Flag.IN_DOUBT, group.item, group.setup, group.position, group.distance_mm)]
    return []


def _setup_answers(judged: list[tuple[Series, Group, int]], setups: dict[int, OwnedSetup]) -> list[Answer]:
    """One answer for each setup with a limit of its own: the groups that this limit governs."""
    answers = []
    for setup in setups.values():
        groups = [g for one, g, _ in judged if one.setup_id == setup.id and g.limit_from == "setup"]
        if groups:
            reasons = tuple(reason for group in groups for reason in _group_reasons(group))
            answers.append(Answer("", setup.code, setup.revision, setup.reason, reasons, tuple(groups)))
    return answers


def gate(answers: Iterable[Answer]) -> int:
    """The exit code for a script: 1 if anything does not hold or is flagged for more than being in doubt, 8 if
    anything cannot be told or has no limit, else 0. Without any group nothing can be told."""
    answers = list(answers)
    told = {group.next_clampings for answer in answers for group in answer.groups}
    if DOES_NOT_HOLD in told or any(r.code != Flag.IN_DOUBT for answer in answers for r in answer.reasons):
        return 1
    return 0 if told == {HOLDS} and all(answer.groups for answer in answers) else 8
