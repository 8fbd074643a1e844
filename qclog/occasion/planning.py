"""A plan from what was said and what goes without saying: the only setup, the distance of the limit, the last pin."""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from instruments.opening import is_recording
from qclog import config, texts, times
from qclog.errors import RefusedError
from qclog.logbook.engine import Store
from qclog.logbook.gauges import need_indicator, refuse_forcing
from qclog.logbook.last_given import last_given
from qclog.logbook.lookup import Name, Register
from qclog.logbook.setups import known_position, setup_for
from qclog.notation import format_clocking, parse_clocking
from qclog.occasion.plan import Plan, Stop
from qclog.questions.chains.plan import Turnable, plan_chain
from qclog.questions.doubts import Doubtful, far_from_face
from qclog.questions.studying.plan import READINGS, plan_study

USUAL: Final = 6
"""Clampings of each position where nothing is said."""
CONFIRMING: Final = 3
"""Clampings that confirm a clocking."""


@dataclass(frozen=True, slots=True)
class Study:
    """A study of the measuring: ``pins`` and ``people`` are changed, each clamping is read ``readings`` times."""

    pins: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    readings: int = READINGS


def planned(
    store: Store,
    item: str,
    *,
    setup: str | None,
    positions: Sequence[str],
    distance_pm: int | None,
    also_pm: Sequence[int] = (),
    clampings: int | None,
    steps: int,
    until_settled: bool,
    pin: str,
    instrument: str,
    operator: str,
    check: str,
    profile: str = "",
    port: str = "",
    turn: Turnable = (),
    clocking: str = "",
    torque: str = "",
    conditions: str = "",
    study: Study | None = None,
) -> Plan:
    """Everything checked before the first prompt.

    ``also_pm``: further distances, read in the same clamping; ``turn``: bodies to tell apart by turning them;
    ``clocking``: one for all clampings; ``study``: how good is the measuring, at all key positions if none is named.
    Raises NotFoundError for what is not registered, RefusedError for what has to be said.
    """
    with store.reading() as connection:
        register = Register(connection)
        owner = register.need(item, "item")
        before = last_given(connection, config.station(), times.day(times.now()))
        place = setup_for(register, owner, setup or before.setup)
        pin = pin or (before.pin if before.item_id == owner.id else "")
        instrument = instrument or before.instrument
        if pin:
            refuse_forcing(register, owner, pin)
        replayed = is_recording(port)
        tried = tuple(register.positions(place.id)) if study and not positions else ()
        tried = tried or _positions(register, place, positions)
        clockings: tuple[str, ...] = (format_clocking(parse_clocking(clocking)),) if clocking else ()
        usual = CONFIRMING if clocking else USUAL
        if turn:
            _refuse_swings(steps)
            found = plan_chain(store, owner.text, setup=place.text, position=tried[0], pin=pin, turn=turn)
            clockings, usual = found.clockings, found.rounds
        plan = Plan(
            item=owner.text,
            setup=place.text,
            positions=tried,
            distance_pm=_distance(register, owner, distance_pm, before.distance_pm),
            also_pm=tuple(also_pm),
            clampings=usual if clampings is None else clampings,
            steps=steps,
            until_settled=until_settled and not clockings,
            pin=register.need(pin, "pin").text if pin else "",
            instrument=need_indicator(register, instrument).text if instrument else "",
            operator=operator or before.operator,
            modification=register.newest_modification(owner).number,
            check=_check(register, owner, check),
            profile="" if replayed else profile,
            port="" if replayed else port,
            note=f"replayed from {Path(port).name}" if replayed else "",
            clockings=clockings,
            torque=texts.note(torque, "torque") or before.torque,
            conditions=texts.note(conditions, "conditions") or before.conditions,
        )
        return plan if study is None else _studied(store, plan, study, clampings)


def doubts_of(store: Store, plan: Plan) -> tuple[Doubtful, ...]:
    """What looks like a slip in a plan: a distance that nothing is read at."""
    with store.reading() as connection:
        register = Register(connection)
        read = [register.need(code, "item") for code in (plan.item, plan.check) if code]
        found = [one for item in read for one in far_from_face(register, item, plan.distances_pm)]
    return tuple(dict.fromkeys(found))


def _studied(store: Store, plan: Plan, study: Study, clampings: int | None) -> Plan:
    """The plan with the clampings of a study, in their order."""
    found = plan_study(
        store,
        plan.item,
        setup=plan.setup,
        positions=[position for position in plan.positions if position],
        pins=study.pins,
        people=study.people,
        clampings=clampings,
        readings=study.readings,
    )
    return dataclasses.replace(
        plan,
        stops=tuple(Stop(step.position, "", step.pin, step.person or plan.operator) for step in found.steps),
        clampings=found.clampings,
        readings=found.readings,
        until_settled=False,
    )


def _refuse_swings(steps: int) -> None:
    if steps == 1:
        raise RefusedError(
            "Swings alone do not tell bodies apart.", "Read each turn in steps: --steps 4, or 8 where lobes are feared."
        )


def _check(register: Register, item: Name, named: str) -> str:
    if not named:
        return ""
    piece = register.need(named, "item")
    if piece.id == item.id:
        raise RefusedError(
            f"{item.text} cannot be the check piece of itself.",
            "Name another item that stays as it is: qclog item add CHECK-1 --kind other",
        )
    return piece.text


def _positions(register: Register, setup: Name, named: Sequence[str]) -> tuple[str, ...]:
    known = register.positions(setup.id)
    if named:
        return tuple(known_position(register, setup, position) for position in named)
    if len(known) > 1:
        raise RefusedError(
            f"{setup.text} has the key positions {', '.join(known)}.",
            f"Say which to try: --positions {known[0]}, or --positions {','.join(known[:2])} for both in turn.",
        )
    return tuple(known) or ("",)


def _distance(register: Register, item: Name, given: int | None, before: int | None) -> int:
    if given is not None:
        return given
    stated = {limit.distance_pm for limit in register.limits(item.id) if limit.distance_pm >= 0}
    if len(stated) == 1:
        return stated.pop()
    if before is not None:
        return before
    raise RefusedError(f"How far from the front face of {item.text} is it read?", "Say it in mm: --distance 16")
