"""Writing what an item or a setup must hold."""

from qclog import texts
from qclog.characteristics import check_limits
from qclog.errors import RefusedError
from qclog.logbook import schema
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Name, Register
from qclog.records import EVERY_DISTANCE, Limit


def set_limit(entry: Entry, register: Register, body: Name, modification_number: int, limit: Limit) -> None:
    """What an item (from a modification on) or a setup must hold. Raises RefusedError for one that cannot be."""
    texts.check(limit)
    texts.name(limit.characteristic, "characteristic")
    if limit.upper_pm is None and limit.lower_pm is None:
        raise RefusedError(f"The limit of {body.text} has no end.", "Give it as 8um@16mm or 12.00..12.05mm.")
    check_limits(limit.characteristic, limit.lower_pm, limit.upper_pm, limit.text or limit.characteristic)
    if limit.distance_pm < 0 and limit.distance_pm != EVERY_DISTANCE:
        raise RefusedError(f"The distance of {body.text}'s limit is negative.", "Count from the item's front face.")
    setup_id = register.need(limit.setup, "setup").id if limit.setup else None
    entry.add(
        schema.made_to,
        body_id=body.id,
        modification_number=modification_number,
        characteristic=limit.characteristic,
        distance_pm=limit.distance_pm,
        setup_id=setup_id,
        position=limit.position,
        upper_pm=limit.upper_pm,
        lower_pm=limit.lower_pm,
        text=limit.text,
    )
    register.forget()
