"""The keys of a profile, each checked as it is taken; what nobody takes is refused.

Every refusal is one ProfileError that names the file, the key and what to write there.
"""

import difflib
import json
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, Final, NoReturn, TypeVar

from instruments.errors import ProfileError

Word = TypeVar("Word", bound=str)

_LONGEST_TEXT: Final = 400
_DECIMAL: Final = re.compile(r"[+-]?[0-9]{1,15}(?:\.[0-9]{1,15})?")


class Table:
    """One table of a profile (``name`` is empty for the outermost), read key by key.

    A key that is left out takes its ``usual`` value; without one it must be there, and ``needed`` says what to write.
    """

    def __init__(self, content: Mapping[str, Any], where: str, name: str = "") -> None:
        self._content = content
        self._where = where
        self._name = name
        self._known: list[str] = []
        self._tables: list[Table] = []

    def __contains__(self, key: str) -> bool:
        self._known.append(key)
        return key in self._content

    def refuse(self, key: str, what: str, remedy: str) -> NoReturn:
        """Raises the ProfileError for ``key``; ``what`` follows its name, as in "is not a whole number"."""
        raise ProfileError(f'{self._where}: the key "{self._full(key)}" {what}.', remedy)

    def text(self, key: str, *, needed: str = "") -> str:
        """A text."""
        value = self._take(key, needed or f'Write {key} = "...".')
        if not isinstance(value, str) or len(value) > _LONGEST_TEXT:
            self.refuse(key, f"is not a text of at most {_LONGEST_TEXT} characters", f'Write {key} = "...".')
        return value

    def word(self, key: str, words: Sequence[Word], usual: Word | None = None) -> Word:
        """One of ``words``."""
        listed = ", ".join(f'"{word}"' for word in words)
        value = self._take(key, f"Write one of {listed}.", usual)
        found = [word for word in words if word == value]
        if not found:
            self.refuse(key, f"is {_shown(value)}", f"Write one of {listed}.")
        return found[0]

    def whole(self, key: str, low: int, high: int, usual: int | None = None) -> int:
        """A whole number from ``low`` to ``high``."""
        remedy = f"Write a whole number from {low} to {high}."
        value = self._take(key, remedy, usual)
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            self.refuse(key, f"is {_shown(value)}", remedy)
        return value

    def flag(self, key: str, usual: bool | None = None) -> bool:
        """True or false."""
        remedy = f"Write {key} = true or {key} = false."
        value = self._take(key, remedy, usual)
        if not isinstance(value, bool):
            self.refuse(key, f"is {_shown(value)}", remedy)
        return value

    def exact(self, key: str, usual: str | None = None, *, needed: str = "") -> Decimal:
        """A decimal number, exactly: a text or a whole number, since 0.1 without quotation marks is not exact."""
        value = self._take(key, needed, usual)
        if not isinstance(value, int | str) or isinstance(value, bool) or not _DECIMAL.fullmatch(str(value)):
            self.refuse(key, f"is {_shown(value)}", f'Write the number in quotation marks, as {key} = "0.001".')
        return Decimal(value)

    def table(self, key: str) -> "Table":
        """A table below this one."""
        remedy = f"Write [{self._full(key)}] on a line of its own, its keys below."
        value = self._take(key, remedy)
        if not isinstance(value, dict):
            self.refuse(key, "is not a table", remedy)
        table = Table(value, self._where, self._full(key))
        self._tables.append(table)
        return table

    def is_table(self, key: str) -> bool:
        """Whether a table stands there."""
        return isinstance(self._content.get(key), dict)

    def words(self, key: str, words: Sequence[Word]) -> dict[str, Word]:
        """A table from texts as they are sent to ``words``; empty if left out."""
        if key not in self:
            return {}
        table = self.table(key)
        return {sent: table.word(sent, words) for sent in table._content}

    def done(self) -> None:
        """All keys were taken: raises ProfileError for the first that was not, with the name it resembles."""
        for key in self._content:
            if key not in self._known:
                near = difflib.get_close_matches(key, self._known, n=1)
                keys = ", ".join(dict.fromkeys(self._known))
                self.refuse(key, "is not known here", f'Did you mean "{near[0]}"?' if near else f"Keys here: {keys}.")
        for table in self._tables:
            table.done()

    def _take(self, key: str, needed: str, usual: object = None) -> object:
        if key not in self and usual is None:
            self.refuse(key, "is missing", needed)
        return self._content.get(key, usual)

    def _full(self, key: str) -> str:
        return f"{self._name}.{key}" if self._name else key


def _shown(value: object) -> str:
    text = json.dumps(value, ensure_ascii=False) if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."
