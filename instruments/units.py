"""The units of length an indicator may speak in, and their exact size."""

from decimal import Context, Decimal, Inexact
from typing import Final

UNITS: Final = {
    "um": Decimal(10**6),
    "mm": Decimal(10**9),
    "in": Decimal(25_400_000_000),
    "thou": Decimal(25_400_000),
    "tenths": Decimal(2_540_000),
    "m": Decimal(10**12),
    "nm": Decimal(10**3),
    "uin": Decimal(25_400),
}
"""Picometres in one of each; "tenths" are 0.0001 in. The inch is 25.4 mm exactly (ISO 80000-3)."""

EXACT: Final = Context(prec=80, traps=[Inexact])
"""Arithmetic that raises rather than rounds."""


def picometres(value: Decimal, unit: str) -> Decimal:
    """``value`` of ``unit`` (a key of UNITS) in picometres, exactly."""
    return EXACT.multiply(value, UNITS[unit])
