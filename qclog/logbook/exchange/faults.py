"""What is wrong in a file that was to be imported: where it stands, what it says, what to do about it."""

from dataclasses import dataclass
from typing import Final

from qclog import texts
from qclog.errors import RefusedError

MOST_FAULTS: Final = 1_000
"""So many faults are named; the rest is counted."""
_LONGEST_SHOWN: Final = 60


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. The header is line 1; ``column`` and ``value`` are '' for a fault of the whole line or file.

    ``file`` is '' where only one file is read.
    """

    line: int
    column: str
    value: str
    what: str
    remedy: str
    file: str = ""

    def __str__(self) -> str:
        file = f"{self.file}, " if self.file else ""
        column = f", column {self.column}" if self.column else ""
        value = f", '{texts.shown(self.value, _LONGEST_SHOWN)}'" if self.column else ""
        return f"{file}line {self.line}{column}{value}: {self.what} {self.remedy}".rstrip()


class ImportRefusedError(RefusedError):
    """A file with faults: ``faults`` are the first 1,000 by line, ``total`` is how many there are."""

    def __init__(self, place: str, faults: tuple[Fault, ...], total: int) -> None:
        many = "1 fault" if total == 1 else f"{total} faults"
        super().__init__(f"{place} has {many}; nothing was imported.", f"First: {faults[0]}")
        self.faults = faults
        self.total = total


class Faults:
    """Collects the faults of one import: all are counted, the first 1,000 by line are kept."""

    def __init__(self, place: str) -> None:
        self.place = place
        self.total = 0
        self._kept: list[Fault] = []

    def add(self, line: int, column: str, value: str, what: str, remedy: str, file: str = "") -> None:
        self.total += 1
        self._kept.append(Fault(line, column, value[: 2 * _LONGEST_SHOWN], what, remedy, file))
        if len(self._kept) >= 2 * MOST_FAULTS:
            self._kept = self._first()

    def add_refusal(self, line: int, column: str, value: str, error: RefusedError | Exception, file: str = "") -> None:
        """A fault out of an error that says what is wrong and what to do."""
        what, remedy = getattr(error, "what", str(error)), getattr(error, "remedy", "")
        self.add(line, column, value, what, remedy, file)

    def refuse_if_any(self) -> None:
        """Raises ImportRefusedError if there is a fault."""
        if self.total:
            raise ImportRefusedError(self.place, tuple(self._first()), self.total)

    def _first(self) -> list[Fault]:
        return sorted(self._kept, key=lambda fault: (fault.file, fault.line))[:MOST_FAULTS]
