"""The QR code of an item (ISO/IEC 18004): its code and nothing else, so that a scanner types what a hand would."""

from typing import Final

import numpy as np
import segno

QUIET: Final = 4
"""Modules that must stay blank on each side."""


def modules(code: str) -> np.ndarray:
    """True where it is dark, shape (n, n) without the quiet zone.

    In upper case, where the smallest symbol holds 20 characters at level M: codes are the same in upper and lower
    case. The level of error correction is the highest that needs no larger symbol, M at least.
    """
    content = code.upper() if code.isascii() else code
    symbol = segno.make_qr(content, error="m", boost_error=True)
    return np.array([[bool(module) for module in row] for row in symbol.matrix])
