"""Bodies turned against each other between the clampings of an occasion."""

from dataclasses import dataclass

from qclog.logbook.lookup import Register
from qclog.notation import parse_clocking
from qclog.occasion.plan import Plan
from qclog.questions.chains.runs import from_the_spindle, kind_of


@dataclass(frozen=True, slots=True)
class TurnTo:
    """A body and the angle its mark stands at in a clamping; ``moved``: it stood elsewhere in the one before."""

    body: str
    kind: str
    angle_mdeg: int
    moved: bool


def kinds_of(register: Register, plan: Plan) -> dict[str, str]:
    """What the bodies of a plan are, "collet", "pin", from the spindle out, as hands put them in."""
    if not plan.clockings:
        return {}
    revision = register.revisions(register.need(plan.setup, "setup").id)[-1]
    bodies = [body for body, _ in parse_clocking(plan.clockings[0])]
    return {body: kind_of(register, body) for body in from_the_spindle(register, revision.id, plan.item, bodies)}


def turn_to(kinds: dict[str, str], clocking: str, before: str) -> tuple[TurnTo, ...]:
    """Where the bodies stand in a clamping, ``before`` the clocking of the one before."""
    stood, turned = dict(parse_clocking(before)), dict(parse_clocking(clocking))
    return tuple(
        TurnTo(body, kind, turned[body], moved=stood.get(body) != turned[body])
        for body, kind in kinds.items()
        if body in turned
    )
