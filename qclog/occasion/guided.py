"""A guided occasion: what is wanted next, what was accepted, and when the question is answered.

Nothing is printed here and nobody is asked. Every reading accepted is in the journal before anything else is
wanted; every whole clamping is in the logbook. An occasion that was interrupted goes on where it stopped, and a
clamping is logged once however often that happens, since its label and time stand in the journal.
"""

import dataclasses
from dataclasses import dataclass, field
from typing import Final, get_args

import sqlalchemy as sa

from qclog.capture import Prepared, Typed, keep, prepare, withdraw
from qclog.errors import RefusedError
from qclog.lengths import Unit
from qclog.logbook import schema, striking
from qclog.logbook.clampings import Resolver
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.notation import parse_reading, parse_swing
from qclog.occasion.journal import Event, Journal
from qclog.questions.assess import CANNOT_TELL, NO_LIMIT, assess
from qclog.questions.compare import compare
from qclog.questions.doubts import Doubtful

MISREAD: Final = "misread"
BADLY_CLAMPED: Final = "badly clamped"
FEWEST: Final = 3
"""Clampings of each position before an occasion may stop by itself."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """The reading wanted next. ``clamping`` of ``clampings`` counted from 1; ``angle_deg`` None for a swing.

    ``new_clamping``: the pin has to be clamped anew before; ``returning``: back at zero, to see whether it closes.
    """

    clamping: int
    clampings: int
    position: str
    angle_deg: int | None
    reading: int
    readings: int
    new_clamping: bool
    returning: bool


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a reading: ``logged`` the number of the clamping it completed; ``doubts`` to be answered first."""

    logged: int | None = None
    doubts: tuple[Doubtful, ...] = ()


@dataclass(slots=True)
class _Progress:
    """What the journal says, line after line."""

    readings: list[Event] = field(default_factory=list)
    logged: list[int] = field(default_factory=list)
    attempts: int = 0
    badly_clamped: int = 0

    def add(self, event: Event) -> None:
        if event.what == "reading":
            self.readings.append(event)
        elif event.what == "logged":
            self.logged.append(int(event.text))
            self.readings.clear()
            self.attempts += 1
        elif event.what == "struck":
            self.logged.remove(int(event.text))
        elif event.what == "withdrawn":
            self.readings.clear()
            self.attempts += 1
        elif event.what == MISREAD and self.readings:
            self.readings.pop()
        elif event.what == BADLY_CLAMPED:
            self.readings.clear()
            self.badly_clamped += 1


class Guided:
    """One occasion. ``store`` is the logbook, ``journal`` new or resumed."""

    def __init__(self, store: Store, journal: Journal) -> None:
        self.store, self.journal, self.plan = store, journal, journal.plan
        self._order = self.plan.order()
        self._progress = _Progress()
        self._settled = False
        for event in journal.events:
            self._progress.add(event)
        self._leave_out_what_was_struck()
        self._look()

    @property
    def logged(self) -> tuple[int, ...]:
        """The clampings logged so far that count."""
        return tuple(self._progress.logged)

    @property
    def badly_clamped(self) -> int:
        return self._progress.badly_clamped

    @property
    def settled(self) -> bool:
        """Whether the question is answered, as far as the plan asks for it."""
        return self._settled

    def wanted(self) -> Wanted | None:
        """The reading wanted next; None when the occasion is over or a doubt waits for its answer."""
        done, read = len(self._progress.logged), len(self._progress.readings)
        angles = self.plan.angles_deg
        needed = len(angles) or 1
        if self._settled or done == len(self._order) or read == needed:
            return None
        return Wanted(
            clamping=done + 1,
            clampings=len(self._order),
            position=self._order[done],
            angle_deg=angles[read] if angles else None,
            reading=read + 1,
            readings=needed,
            new_clamping=read == 0,
            returning=bool(angles) and read == needed - 1,
        )

    def take(self, text: str) -> Taken:
        """A reading as typed or sent. Raises LengthError for what is none; then nothing was accepted."""
        if self.wanted() is None:
            raise RefusedError("No reading is wanted now.", "Answer the question first, or begin anew.")
        self._check(text)
        self._note("reading", text)
        return self.complete()

    def complete(self) -> Taken:
        """Log the clamping if all of it was read and nothing in it is doubtful; also after an interruption."""
        if len(self._progress.readings) < (len(self.plan.angles_deg) or 1):
            return Taken()
        prepared = self._prepared()
        if (there := self._logged_before(prepared)) is None and prepared.doubts:
            return Taken(doubts=prepared.doubts)
        return Taken(logged=self._log(prepared, there))

    def it_is_right(self) -> Taken:
        """The doubts are answered: what was read is right."""
        return Taken(logged=self._log(self._prepared(), None))

    def it_is_wrong(self) -> None:
        """The doubts are answered: the clamping is to be read again. What was read stays as withdrawn."""
        withdraw(self.store, self._prepared())
        self._note("withdrawn")

    def undo(self, why: str) -> None:
        """Take back the last reading (``MISREAD``) or the whole clamping (``BADLY_CLAMPED``).

        What stands in the logbook already is struck out with that reason. Only a misreading is free: a clamping
        that turned out badly is one of those that happen, and is counted.
        """
        if not self._progress.readings:
            if not self._progress.logged:
                raise RefusedError("There is nothing to take back yet.", "Read on.")
            number = self._progress.logged[-1]
            with new_entry(self.store, "measure: undo", self.plan.operator) as entry:
                owner = Register(entry.connection).need(self.plan.item, "item")
                striking.strike(entry, owner, number, reason=why)
            self._note("struck", str(number))
            if why == BADLY_CLAMPED:
                self._note(why)
        else:
            self._note(why)
        self._look()

    def close(self) -> None:
        """The occasion is over; a clamping that was not read to its end is given up."""
        self.journal.close()

    def _note(self, what: str, text: str = "") -> None:
        self._progress.add(self.journal.note(what, text))

    def _check(self, text: str) -> None:
        with self.store.reading() as connection:
            register = Register(connection)
            name = self.plan.instrument
            card = register.instrument_card(register.need(name, "instrument").id) if name else None
            said = (card["unit"] if card else "") or register.setting("unit", "um")
        bare: Unit = next(known for known in get_args(Unit) if known == said)
        graduation = int(card["division_pm"]) if card else None
        if self.plan.steps == 1:
            parse_swing(text, bare=bare, graduation_pm=graduation)
        else:
            parse_reading(text, bare=bare, graduation_pm=graduation)

    def _prepared(self) -> Prepared:
        plan, readings = self.plan, self._progress.readings
        texts = tuple(event.text for event in readings)
        swing = plan.steps == 1
        prepared = prepare(
            self.store,
            Typed(
                item=plan.item,
                swings=((None, texts),) if swing else (),
                turns=() if swing else ("; ".join(texts),),
                setup=plan.setup,
                position=self._order[len(self._progress.logged)],
                pin=plan.pin,
                instrument=plan.instrument,
                distance_pm=plan.distance_pm,
                operator=plan.operator or None,
                on=readings[0].at,
                modification=self._modification(),
                same_clamping=False,
            ),
        )
        label = f"{self.journal.key}-{self._progress.attempts + 1}"
        return dataclasses.replace(
            prepared, clampings=tuple(dataclasses.replace(one, label=label) for one in prepared.clampings)
        )

    def _modification(self) -> int:
        with self.store.reading() as connection:
            register = Register(connection)
            return register.newest_modification(register.need(self.plan.item, "item")).number

    def _logged_before(self, prepared: Prepared) -> int | None:
        """The number of the clamping where it was logged just before an interruption."""
        with self.store.reading() as connection:
            resolved = Resolver(Register(connection)).resolve(prepared.clampings[0])
            query = sa.select(schema.clamping.c.id).where(schema.clamping.c.uuid == resolved.uuid)
            return connection.scalar(query)

    def _log(self, prepared: Prepared, there: int | None) -> int:
        number = keep(self.store, prepared)[0] if there is None else there
        self._note("logged", str(number))
        self._look()
        return number

    def _leave_out_what_was_struck(self) -> None:
        """What was struck out by hand, or just before an interruption, does not count here either."""
        struck = schema.strike.c.clamping_id
        with self.store.reading() as connection:
            query = sa.select(struck).where(struck.in_(self._progress.logged))
            for number in connection.scalars(query).all():
                self._note("struck", str(number))

    def _look(self) -> None:
        """Whether the question is answered: asked after every round in which each position had its turn."""
        done = len(self._progress.logged)
        each = done / len(self.plan.positions)
        due = self.plan.until_settled and each >= FEWEST and each == int(each)
        self._settled = due and (self._compared() if len(self.plan.positions) > 1 else self._judged())

    def _compared(self) -> bool:
        answers = compare(self.store, [self.plan.item], setup=self.plan.setup)
        here = [answer for answer in answers if self._is_here(answer.distance_mm)]
        return bool(here) and all(answer.settled for answer in here)

    def _judged(self) -> bool:
        answers = assess(self.store, self.plan.item, setup=self.plan.setup, position=self.plan.positions[0] or None)
        here = [group for answer in answers for group in answer.groups if self._is_here(group.distance_mm)]
        return bool(here) and all(
            group.next_clampings not in (CANNOT_TELL, NO_LIMIT) or group.this_sitting not in (CANNOT_TELL, NO_LIMIT)
            for group in here
        )

    def _is_here(self, distance_mm: float) -> bool:
        return round(self.plan.distance_pm / 1e8) == round(distance_mm * 10)
