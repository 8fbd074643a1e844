"""What is worth noting of a thing beside the sizes on its card, each under a name of the trade.

Of a holder, a machine or a gauge what it is; of work what it was done with: how an insert was bonded, how jaws were
bored.
Few names, so that what was noted is found again; all else is a note.
"""

import calendar
import datetime
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from qclog import texts, times
from qclog.errors import RefusedError, UsageError
from qclog.lengths import parse_length
from qclog.notation import format_clocking, parse_clocking

Of = Literal["item", "work", "setup", "gauge"]


@dataclass(frozen=True, slots=True)
class Particular:
    """One name: of what it is noted, what stands under it, and how it has to be written ('' as one likes)."""

    name: str
    of: Of
    says: str
    form: Literal["", "day", "count", "length", "clocking", "yes or no"] = ""


EVERY, CHECK_EVERY, WITHIN, WHAT = "every", "check every", "within", "what"
MASTER, BEST, TORQUE, PICTURE, EXPIRES = "master", "best clocking", "torque", "picture", "expires"
BONDED, COMPOUND = "bonded", "compound"
PARTICULARS: Final = (
    Particular(PICTURE, "item", "the file of a picture"),
    Particular("wall before", "work", "the wall at the slot root before the work", "length"),
    Particular("tool", "work", "bar, wheel, lap"),
    Particular(BONDED, "work", "yes, or no where only the words sound like it", "yes or no"),
    Particular("surface", "work", "what the bond holds on: Rz, blasted, scratched"),
    Particular("degreaser", "work", "what it was cleaned with"),
    Particular("primer", "work", "activator, or none"),
    Particular(COMPOUND, "work", "the retaining compound"),
    Particular("batch", "work", "the number on its bottle"),
    Particular(EXPIRES, "work", "the last day on its bottle", "day"),
    Particular("cure", "work", "hours and temperature: 24 h at 21 °C"),
    Particular("key", "work", "which way the key stands"),
    Particular("push-out", "work", "the proof, if there was any"),
    Particular("job", "work", "what jaws were bored for"),
    Particular("ring", "work", "ring or slug they were closed on"),
    Particular("stroke", "work", "how far the jaws were closed"),
    Particular("jaws", "work", "the numbers on the jaws"),
    Particular("depth", "work", "how deep they were bored", "length"),
    Particular("machine", "setup", "the machine it is on"),
    Particular("nose", "setup", "the spindle nose"),
    Particular(MASTER, "setup", "the one key position to tighten at"),
    Particular(TORQUE, "setup", "how tight it is closed"),
    Particular(BEST, "setup", "how its parts stand best", "clocking"),
    Particular(WHAT, "gauge", "what it is, as a torque wrench or a micrometer"),
    Particular("class", "gauge", "its class"),
    Particular("range", "gauge", "what it covers"),
    Particular("place", "gauge", "where it is kept"),
    Particular(EVERY, "gauge", "months between calibrations", "count"),
    Particular(CHECK_EVERY, "gauge", "days between quick checks", "count"),
    Particular(WITHIN, "gauge", "how far a quick check may be off", "length"),
)
"""What bonding, soft jaws, holders and gauges are noted with is common practice."""
_LARGEST_COUNT: Final = 1200
_SAID_BONDED: Final = re.compile(r"\bbonded\b", re.IGNORECASE)


def names_of(of: Iterable[Of]) -> list[Particular]:
    """The names something of these sorts is noted under."""
    wanted = tuple(of)
    return [one for one in PARTICULARS if one.of in wanted]


def parse(text: str, of: Iterable[Of]) -> tuple[Particular, str]:
    """ "compound=R-60" as its name and what stands under it; with nothing behind the sign it is taken back.

    Raises UsageError for what is no name=text; RefusedError for a name that is not among those ``of`` something, and
    for a day, a number, a length or a clocking that is none.
    """
    name, equals, said = text.partition("=")
    known = names_of(of)
    found = next((one for one in known if one.name == " ".join(name.casefold().replace("_", " ").split())), None)
    if not equals:
        raise UsageError(
            f"{texts.shown(text)!r} does not say what is noted.", f'Type a name and a text: "{_example(known)}".'
        )
    if found is None:
        raise RefusedError(
            f"Nothing is noted under {texts.shown(name)!r} here.", f"One of: {', '.join(one.name for one in known)}."
        )
    return found, written(found, said)


def written(one: Particular, text: str) -> str:
    """``text`` as it is kept under the name. Raises RefusedError, LengthError."""
    said = texts.note(text.strip(), one.name)
    if not said:
        return said
    if one.form == "day":
        return times.day(times.taken_at(said))
    if one.form == "count":
        if not (said.isascii() and said.isdecimal() and 0 < int(said) <= _LARGEST_COUNT):
            raise RefusedError(f"{one.name}: {texts.shown(said)!r} is no whole number above 0.", "Type it as 12.")
        return str(int(said))
    if one.form == "yes or no":
        if said.casefold() not in ("yes", "no"):
            raise RefusedError(f"{one.name}: {texts.shown(said)!r} is neither yes nor no.", "Type yes or no.")
        return said.casefold()
    if one.form == "clocking":
        return format_clocking(parse_clocking(said))
    if one.form == "length":
        parse_length(said, bare="mm", where=one.name)
    return said


def is_bond(what: str, noted: Mapping[str, str]) -> bool:
    """Whether work bonded an item: as noted (bonded=yes, or no), else with a compound, else by its own words."""
    if noted.get(BONDED):
        return noted[BONDED] == "yes"
    return bool(noted.get(COMPOUND) or _SAID_BONDED.search(what))


def months_later(day: str, months: int) -> str:
    """The same day so many months later, or the last one of that month."""
    first = datetime.date.fromisoformat(times.day(day))
    year, month = divmod(first.year * 12 + first.month - 1 + months, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return first.replace(year=year, month=month + 1, day=min(first.day, last)).isoformat()


def _example(known: list[Particular]) -> str:
    return f"{known[0].name}=..." if known else "name=text"
