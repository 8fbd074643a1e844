"""In which clockings to clamp so that the bodies of a chain come apart, and how often for a wanted certainty."""

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from qclog.errors import NotFoundError, RefusedError
from qclog.logbook.engine import Store
from qclog.logbook.last_given import LastGiven, last_in_setup
from qclog.logbook.lookup import Name, Register
from qclog.logbook.owned import read_owned
from qclog.logbook.setups import known_position, setup_for
from qclog.notation import format_clocking
from qclog.questions.chains.runs import from_the_spindle, kind_of, repeat_of_shop
from qclog.statistics.chains.index_plan import MOST_BODIES, index_plan

QUESTION: Final = "chain plan"
MOST_CLAMPINGS: Final = 50
Turnable = tuple[tuple[str, tuple[int, ...]], ...]


@dataclass(frozen=True, slots=True)
class ChainPlan:
    """What to clamp, in the order of the hands. ``clockings``: one round, gone through forth and back ``rounds`` times.

    ``bodies`` and their ``kinds``, from the spindle out; ``unturned``: other parts that stay where they are.
    ``repeat_um``: of re-clamping, as TIR, from the "shop" or as "told"; None where not known. ``circle_um``: how well
    the worst known vector will be known, radius of its 95 % circle as TIR; None without a repeat. ``reaches``: no more
    than what was wanted, None where nothing was. ``proves_sense``: it shows which way round the angles are counted.
    """

    item: str
    setup: str
    position: str
    pin: str
    distance_mm: float | None
    bodies: tuple[str, ...]
    kinds: tuple[str, ...]
    unturned: tuple[str, ...]
    turnable: str
    clockings: tuple[str, ...]
    rounds: int
    clampings: int
    repeat_um: float | None
    repeat_from: str | None
    circle_um: float | None
    reaches: bool | None
    proves_sense: bool
    counted: str


def plan_chain(
    store: Store,
    item: str,
    *,
    setup: str | None = None,
    position: str | None = None,
    pin: str | None = None,
    turn: Turnable = (),
    within_um: float | None = None,
    repeat_um: float | None = None,
    rounds: int | None = None,
) -> ChainPlan:
    """The shortest plan that tells the item, its pin and the bodies of ``turn`` apart.

    ``turn``: codes with the millidegrees they can stand at, none for any; without it the item and the pin.
    ``within_um``: how well each vector is to be known, as TIR; ``repeat_um``: how much re-clamping moves it, where the
    logbook does not tell. Raises NotFoundError and RefusedError for what is not known or has to be said.
    """
    with store.reading() as connection:
        register = Register(connection)
        owner = register.need(item, "item")
        place = setup_for(register, owner, setup)
        revision = register.revisions(place.id)[-1]
        last = last_in_setup(connection, revision.id)
        named = position or (last.position if last.item_id == owner.id else "")
        where = known_position(register, place, named)
        used = register.need(pin, "pin").text if pin else _last_pin(register, owner, last)
        links = [link.text for link in register.links(revision.id)]
        wanted = turn or tuple((code, ()) for code in (owner.text, used) if code)
        bodies = _bodies(register, revision.id, owner.text, wanted)
        found = index_plan(tuple(tuple(a / 1000 for a in angles) or None for _, _, angles in bodies))
        shop = repeat_of_shop(connection, read_owned(connection, [owner.id])[owner.id], revision.id)
        repeat = repeat_um if repeat_um is not None else None if shop is None else 2 * shop[0]
        turned = {code.casefold() for code, _, _ in bodies}
        distance = last.distance_pm if last.item_id == owner.id else None
    if rounds is None:
        enough = math.inf if within_um is None or not repeat else within_um / repeat
        rounds = found.rounds_within(enough, MOST_CLAMPINGS // len(found.runs))
    circle = None if repeat is None else repeat * found.circle(rounds)
    return ChainPlan(
        item=owner.text,
        setup=place.text,
        position=where,
        pin=used,
        distance_mm=None if distance is None else distance / 1e9,
        bodies=tuple(code for code, _, _ in bodies),
        kinds=tuple(kind for _, kind, _ in bodies),
        unturned=tuple(code for code in (*links, owner.text, used) if code and code.casefold() not in turned),
        turnable=",".join(_as_typed(code, angles) for code, _, angles in bodies),
        clockings=tuple(_clocking(bodies, run) for run in found.runs),
        rounds=rounds,
        clampings=rounds * len(found.runs),
        repeat_um=repeat,
        repeat_from=None if repeat is None else "shop" if repeat_um is None else "told",
        circle_um=circle,
        reaches=None if within_um is None or circle is None else circle <= within_um,
        proves_sense=found.proves_sense,
        counted=revision.sense,
    )


def document(plan: ChainPlan) -> dict[str, Any]:
    """The plan as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(plan)]}


def _last_pin(register: Register, item: Name, last: LastGiven) -> str:
    """The pin the item was clamped on last, else the only one there is."""
    pins = register.names("pin")
    return last.pin if last.item_id == item.id and last.pin else pins[0].text if len(pins) == 1 else ""


def _bodies(
    register: Register, revision_id: int, item: str, wanted: Turnable
) -> list[tuple[str, str, tuple[int, ...]]]:
    """Code, kind and angles of the bodies to turn, from the spindle out."""
    if len(wanted) > MOST_BODIES:
        raise RefusedError(
            f"{len(wanted)} bodies at once are more than a plan has.",
            f"Turn {MOST_BODIES} at the most; the rest stays.",
        )
    found = []
    for code, angles in wanted:
        body = register.find(code)
        if body is None or body.kind not in ("item", "pin"):
            raise NotFoundError(
                f"There is no item or pin {code!r} to turn.", "Enter it: qclog item add, qclog pin add."
            )
        found.append((body.text, kind_of(register, body.text), angles))
    order = from_the_spindle(register, revision_id, item, [code for code, _, _ in found])
    return sorted(found, key=lambda one: order.index(one[0]))


def _clocking(bodies: Sequence[tuple[str, str, tuple[int, ...]]], run: Sequence[float]) -> str:
    return format_clocking(tuple((code, round(1000 * at)) for (code, _, _), at in zip(bodies, run, strict=True)))


def _as_typed(code: str, angles: tuple[int, ...]) -> str:
    return f"{code}={'/'.join(f'{angle / 1000:g}' for angle in angles)}" if angles else code
