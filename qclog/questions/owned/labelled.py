"""What a label says of an item as it is now: its size, the place it is married to, and what took its rating away."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from qclog import times
from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, read_owned
from qclog.questions.codes import LOCKING

SCRAP: Final = "scrap"
BORED, ANNEALED, SOFT, MODIFIED = "bored", "annealed", "soft", "modified"
"""What an item is no longer rated for; MODIFIED for any other work."""


@dataclass(frozen=True, slots=True)
class Labelled:
    """An item for its label. ``size_pm`` the bore, else the nominal size, None if unknown; ``worked_on`` the day of
    its newest modification, '' as received; ``barred``: why it gets no label (a locking finding, or scrap)."""

    item: str
    size_pm: int | None
    married_setup: str
    married_position: str
    worked_on: str
    not_rated: tuple[str, ...]
    barred: str


def labelled(store: Store, codes: Sequence[str] = ()) -> list[Labelled]:
    """The items named, in that order, or all in the order of their codes. Raises NotFoundError."""
    with store.reading() as connection:
        register = Register(connection)
        named = list(dict.fromkeys(register.need(code, "item").id for code in codes))
        owned = read_owned(connection, named or None)
        return [_labelled(register, owned[item_id]) for item_id in named or owned]


def _labelled(register: Register, item: Owned) -> Labelled:
    locking = next((finding for finding in item.findings if finding in LOCKING), "")
    return Labelled(
        item=item.code,
        size_pm=item.size_pm,
        married_setup=item.married_setup,
        married_position=item.married_position,
        worked_on=times.day(item.modified_at) if item.modified_at else "",
        not_rated=_not_rated(register, item),
        barred=locking or (SCRAP if item.state == SCRAP else ""),
    )


def _not_rated(register: Register, item: Owned) -> tuple[str, ...]:
    """Why its maker's rating is gone; empty for an item as received that is not soft."""
    done = " ".join(change.what for change in register.modifications(item.id) if change.number).casefold()
    card = register.item_card(item.id)
    of_card = (card["material"] or "").casefold() if card is not None else ""
    found = tuple(word for word, text in ((BORED, done), (ANNEALED, done), (SOFT, of_card)) if word in text)
    return found or ((MODIFIED,) if done else ())
