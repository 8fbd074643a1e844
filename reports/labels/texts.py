"""What stands on a label, line by line, and what is engraved."""

from qclog.questions.owned.labelled import Labelled
from reports.numbers import METRIC, NumberStyle, date, length

_TOGETHER = "\u00a0"
"""A blank at which no line is broken."""
REFUSED = {
    "crack": "it is cracked: out of service whatever its run-out; mark it and scrap it",
    "blue": "its nose is heat-blued, the temper is gone: mark it and scrap it",
    "scrap": "it is scrap by decision",
}


def size(item: Labelled, style: NumberStyle = METRIC) -> str:
    """Its size, "8.15 mm"; '' if unknown."""
    return "" if item.size_pm is None else length(item.size_pm, style=style).replace(" mm", f"{_TOGETHER}mm")


def married(item: Labelled) -> str:
    """The one place it was worked on for: "in L2 at A"; '' where there is none."""
    parts = (("in", item.married_setup), ("at", item.married_position))
    return " ".join(f"{word}{_TOGETHER}{name}" for word, name in parts if name)


def rating(item: Labelled) -> str:
    """ "BORED: NOT RATED"; '' for an item as its maker rated it."""
    return f"{', '.join(item.not_rated).upper()}: NOT{_TOGETHER}RATED" if item.not_rated else ""


def refusal(item: Labelled) -> str:
    """Why an item gets no label, "B-870: it is cracked..."."""
    return f"{item.item} gets no label: {REFUSED[item.barred]}"


def engraving(item: Labelled) -> str:
    """Lines to engrave on the front face or the rear end: code; size in mm, setup and position; day."""
    bare = size(item).removesuffix(f"{_TOGETHER}mm")
    place = "-".join(part for part in (item.married_setup, item.married_position) if part)
    lines = (item.item, " ".join(part for part in (bare, place) if part), date(item.worked_on))
    return "\n".join(line for line in lines if line)
