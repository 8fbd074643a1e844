"""The codes an import names: found in the logbook, or with leave made anew."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Final

from qclog.errors import QclogError, RefusedError
from qclog.logbook.entries import Entry
from qclog.logbook.exchange import cells as cells_of
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.gathering import Named
from qclog.logbook.gauges import add_pin
from qclog.logbook.items import add_item
from qclog.logbook.lookup import Register
from qclog.logbook.setups import add_positions, add_setup, known_position
from qclog.notation import parse_clocking
from qclog.records import Card

_MOST_SUGGESTIONS: Final = 20
"""Looking for near codes takes time: after so many unknown ones it is left out."""


@dataclass(slots=True)
class Names:
    """Settles the codes of a file. ``unknown`` are those that stay so, each noted as one fault at its first line."""

    entry: Entry
    register: Register
    faults: Faults
    create: bool
    delimiter: str
    items: list[str] = field(default_factory=list)
    setups: list[str] = field(default_factory=list)
    positions: list[str] = field(default_factory=list)
    pins: list[str] = field(default_factory=list)
    unknown: set[tuple[str, str]] = field(default_factory=set)

    def settle(self, named: dict[Named, int]) -> None:
        """Look up or make all of ``named``, given with the first line of each: items first, then setups with
        all their positions, pins, indicators, and what the clockings name."""
        rows = [(line, Named(*(cell.strip() for cell in one))) for one, line in named.items()]
        for line, row in rows:
            self._settle("item", row.item, line, self._add_item)
        for line, row in rows:
            self._settle("setup", row.setup, line, self._add_setup)
        self._settle_positions(rows)
        self._settle_pins(rows)
        for line, row in rows:
            self._settle("instrument", row.instrument, line, None)
        for line, row in rows:
            self._settle_bodies(row.clocking, line)

    def known(self, row: Named) -> bool:
        """Whether everything the row names is known by now."""
        if not self.unknown:
            return True
        keys = [(kind, getattr(row, kind).strip().casefold()) for kind in ("item", "setup", "pin", "instrument")]
        keys += [("position", _place(row)), ("clocking", row.clocking.strip())]
        return self.unknown.isdisjoint(keys)

    def _settle(self, column: str, code: str, line: int, add: Callable[[str], None] | None) -> None:
        key = (column, code.casefold())
        if not code or key in self.unknown:
            return
        found = self.register.find(code)
        if found is not None and found.kind == column:
            return
        try:
            if found is None:
                cells_of.read_code(code)
                cells_of.refuse_spreadsheet_damage(code)
                if self.create and add is not None:
                    add(code)
                    return
            self._refuse(code, column)
        except QclogError as error:
            self._note(key, line, column, code, error)

    def _note(self, key: tuple[str, str], line: int, column: str, value: str, error: QclogError) -> None:
        self.unknown.add(key)
        self.faults.add_refusal(line, column, value, error)

    def _refuse(self, code: str, kind: str) -> None:
        """Raise for a code that is not there, naming near ones."""
        if len(self.unknown) < _MOST_SUGGESTIONS:
            try:
                self.register.need(code, kind)
            except QclogError as error:
                leave = "" if self.create or kind == "instrument" else ", or import with --create"
                raise RefusedError(error.what, error.remedy.rstrip(".") + leave) from error
        raise RefusedError(f"There is no {kind} {code!r}.", f"See qclog {kind} add --help.")

    def _add_item(self, code: str) -> None:
        self.items.append(add_item(self.entry, self.register, code, Card(kind="other")).text)

    def _add_setup(self, code: str) -> None:
        self.setups.append(add_setup(self.entry, self.register, code).text)

    def _settle_positions(self, rows: Iterable[tuple[int, Named]]) -> None:
        rows = list(rows)
        for line, row in rows if self.create else ():
            setup = self.register.find(row.setup)
            if setup is None or setup.kind != "setup" or not row.position:
                continue
            if row.position.casefold() in map(str.casefold, self.register.positions(setup.id)):
                continue
            try:
                cells_of.read_label(row.position)
                add_positions(self.entry, self.register, setup, [row.position])
                self.positions.append(f"{setup.text} {row.position}")
            except QclogError as error:
                self._note(("position", _place(row)), line, "position", row.position, error)
        for line, row in rows:
            setup = self.register.find(row.setup)
            key = ("position", _place(row))
            if setup is None or setup.kind != "setup" or key in self.unknown:
                continue
            try:
                known_position(self.register, setup, row.position)
            except QclogError as error:
                self._note(key, line, "position", row.position, error)

    def _settle_pins(self, rows: Iterable[tuple[int, Named]]) -> None:
        diameters: dict[str, tuple[int, str]] = {}
        for line, row in rows:
            code = row.pin.casefold()
            if not code or not row.diameter:
                continue
            first_line, diameter = diameters.setdefault(code, (line, row.diameter))
            if self.create and self.register.find(row.pin) is None and diameter != row.diameter:
                what = f"Pin {row.pin} has another diameter in line {first_line}, {diameter}."
                error = RefusedError(what, "Give its actual diameter in all rows, or add it: qclog pin add.")
                self._note(("pin", code), line, "diameter", row.diameter, error)

        def add(code: str) -> None:
            _, diameter = diameters.get(code.casefold(), (0, ""))
            if not diameter:
                raise RefusedError(
                    f"To make the pin {code} its diameter is needed.",
                    f"Fill in the column diameter, or add it: qclog pin add {code} --diameter ...",
                )
            picometres = cells_of.read_length(diameter, "mm", cells_of.DecimalSign(self.delimiter))
            pin = add_pin(
                self.entry, self.register, code, diameter_pm=picometres, roundness_pm=None, kind="pin", grade=""
            )
            self.pins.append(pin.text)

        for line, row in rows:
            self._settle("pin", row.pin, line, add)

    def _settle_bodies(self, clocking: str, line: int) -> None:
        if not clocking or ("clocking", clocking) in self.unknown:
            return
        try:
            bodies = parse_clocking(clocking)
        except RefusedError:
            return  # noted with the row it stands in
        for code, _ in bodies:
            found = self.register.find(code)
            if found is not None and found.kind in ("item", "pin"):
                continue
            try:
                if found is None and self.create:
                    self._add_item(code)
                else:
                    self._refuse(code, "item")
            except QclogError as error:
                self._note(("clocking", clocking), line, "clocking", clocking, error)


def _place(row: Named) -> str:
    return f"{row.setup.strip().casefold()}\x1f{row.position.strip().casefold()}"
