"""How a kept reading is written in the exchange form, so that reading it gives the same."""

import re
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Final

from qclog.errors import RefusedError
from qclog.lengths import PICOMETRES, Unit
from qclog.logbook.exchange.cells import Value, read_value
from qclog.records import SWINGS

_UNITS: Final[tuple[Unit, ...]] = ("um", "mm", "in", "thou", "tenths")
_FULL_TURN: Final = 360_000
_HOUR: Final = 30_000
_ANGLE_BEHIND: Final = re.compile(r"\s*@.*|\s+(max |high )?at\s.*", re.IGNORECASE | re.DOTALL)
_UNIT_BEHIND: Final = re.compile(r"(?<=[0-9.,])\s*(?!e[+-]?[0-9])[^\W0-9_\"'].*|(?<=[0-9.,])\s*[\"'].*", re.IGNORECASE)
_MOST_PLACES: Final = 12


@lru_cache(maxsize=4096)
def written_value(
    value_pm: int, text: str, step_pm: int, low_pm: int | None, high_pm: int | None, recalled: bool
) -> tuple[str, str]:
    """The cells value and unit: as typed where the number means the same in one of the units, else in um.

    ``recalled``: mark it as recalled ("~6") where nothing else says so.
    """
    wanted = Value(value_pm, step_pm, low_pm, high_pm, recalled or low_pm is not None)
    for cell, unit in _candidates(wanted, text):
        marked = f"~{cell}" if recalled and not cell.startswith("~") else cell
        try:
            if read_value(marked, unit) == wanted:
                return marked, unit
        except RefusedError:
            continue
    return f"{'~' if recalled else ''}{um_text(value_pm)}", "um"


def _candidates(wanted: Value, text: str) -> Iterator[tuple[str, Unit]]:
    typed = _UNIT_BEHIND.sub("", _ANGLE_BEHIND.sub("", text)).strip().replace(",", ".")
    for unit in _UNITS:
        yield typed, unit
    for unit in _UNITS:
        step = Fraction(wanted.step_pm, PICOMETRES[unit])
        for places in range(_MOST_PLACES):
            if step == Fraction(1, 10**places) and wanted.low_pm is None:
                number = Decimal(wanted.picometres) / PICOMETRES[unit]
                yield f"{number:.{places}f}", unit
    if wanted.low_pm is not None and wanted.high_pm is not None:
        low, high = um_text(wanted.low_pm), um_text(wanted.high_pm)
        yield from ((f"<{high}", "um"), (f"{low}-{high}", "um"))


@lru_cache(maxsize=4096)
def written_angle(angle_mdeg: int | None, within_mdeg: int, *, backwards: bool) -> str:
    """The cell angle_deg; a high spot said by the clock, or known to within some degrees, is written so.

    ``backwards``: angles of the setup count the other way round than those that are kept.
    """
    if angle_mdeg is None:
        return ""
    angle = -angle_mdeg % _FULL_TURN if backwards else angle_mdeg
    hour, rest = divmod(angle, _HOUR)
    clock = f"{hour or 12} o'clock"
    if within_mdeg == _HOUR // 2 and not rest:
        return clock
    if within_mdeg == _HOUR // 4 and rest == _HOUR // 2:
        return f"half past {hour or 12}"
    degrees = f"{(Decimal(angle) / 1000).normalize():f}"
    return f"{degrees}\u00b1{(Decimal(within_mdeg) / 1000).normalize():f}" if within_mdeg else degrees


def written_pins(low_pm: int, high_pm: int, step_pm: int) -> tuple[str, str]:
    """The cells value and unit of what pins tell: "6.48..6.49", "mm"; to the place that was typed where that is one."""
    for unit in _UNITS[1:]:
        for places in range(_MOST_PLACES):
            if Fraction(step_pm, PICOMETRES[unit]) == Fraction(1, 10**places):
                ends = [Decimal(end) / PICOMETRES[unit] for end in (low_pm, high_pm)]
                if all(end == round(end, places) for end in ends):
                    return "..".join(f"{end:.{places}f}" for end in ends), unit
    return f"{um_text(low_pm)}..{um_text(high_pm)}", "um"


def written_limit(characteristic: str, lower_pm: int | None, upper_pm: int | None) -> str:
    """A limit as a length, of a value as either or both of its ends: "8um", "12000..12050um", "min 20um"."""
    if lower_pm is None:
        one = "" if characteristic in SWINGS else "max "
        return "" if upper_pm is None else f"{one}{um_text(upper_pm)}um"
    return f"min {um_text(lower_pm)}um" if upper_pm is None else f"{um_text(lower_pm)}..{um_text(upper_pm)}um"


def um_text(picometres: int) -> str:
    """Exactly, in micrometres, without zeros that say nothing."""
    return f"{(Decimal(picometres) / PICOMETRES['um']).normalize():f}"
