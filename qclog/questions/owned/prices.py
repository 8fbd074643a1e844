"""Prices as they stand on cards: added up only where they can be read, each currency for itself."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

_CURRENCY: Final = r"[A-Z]{3}|[Ee]uro?|[€$£¥]"
_PRICE: Final = re.compile(rf"(?P<before>{_CURRENCY})?\s*(?P<amount>\d+([.,]\d\d?)?)\s*(?P<after>{_CURRENCY})?")
_SAME: Final = {"€": "EUR", "EURO": "EUR"}


@dataclass(frozen=True, slots=True)
class Total:
    """What some pieces cost together; ``currency`` '' where none was written."""

    amount: Decimal
    currency: str
    pieces: int


def parse_price(text: str) -> tuple[Decimal, str] | None:
    """The amount and the currency of a price as typed; None where it does not say just that.

    A point or comma before one or two digits is a decimal one; with three digits it may mean two things, and nothing
    is read.
    """
    match = _PRICE.fullmatch(text.strip())
    if match is None or (match["before"] and match["after"]):
        return None
    currency = (match["before"] or match["after"] or "").upper()
    return Decimal(match["amount"].replace(",", ".")), _SAME.get(currency, currency)


def totals(prices: Iterable[str]) -> tuple[Total, ...]:
    """The sums of the prices that can be read, one for each currency."""
    sums: dict[str, list[Decimal]] = {}
    for text in prices:
        if (price := parse_price(text)) is not None:
            sums.setdefault(price[1], []).append(price[0])
    return tuple(Total(sum(found, Decimal(0)), currency, len(found)) for currency, found in sorted(sums.items()))
