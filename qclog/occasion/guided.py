"""A guided occasion: what is wanted next, what was accepted, and when the question is answered.

Nothing is printed here and nobody is asked. Every reading accepted is in the journal before anything else is
wanted; every whole clamping is in the logbook, or waits in the journal until the logbook can be reached. An occasion
that was interrupted goes on where it stopped, and a clamping is logged once however often that happens, since its
label and time stand in the journal.
"""

import dataclasses
from typing import Final, Literal

from qclog import texts
from qclog.capture import bare_unit, division, withdraw
from qclog.errors import BusyError, RefusedError
from qclog.lengths import Unit
from qclog.logbook.engine import Store
from qclog.logbook.gauges import refuse_forcing
from qclog.logbook.lookup import Register
from qclog.logbook.owned import read_kept_gauges
from qclog.notation import TypedReading, parse_reading, parse_swing
from qclog.occasion import progress, writing
from qclog.occasion.changes import Change, What, changed, left_to_make
from qclog.occasion.journal import Journal
from qclog.occasion.plan import Stop
from qclog.occasion.progress import BADLY_CLAMPED, MISREAD, Progress, Whole
from qclog.occasion.settling import settled
from qclog.occasion.turning import TurnTo, kinds_of, turn_to
from qclog.occasion.wanted import Taken, Wanted
from qclog.questions.check_piece import CheckPiece, check_piece
from qclog.questions.doubts import Doubt

MOST_NOT_TAKEN: Final = 200
"""So many lines that were not taken are kept with their text; of more only how many."""


class Guided:
    """One occasion. ``store`` is the logbook, ``journal`` new or resumed."""

    def __init__(self, store: Store, journal: Journal) -> None:
        self.store, self.journal, self.plan = store, journal, journal.plan
        self._order = self.plan.order()
        self._progress = Progress()
        self._settled = False
        self._not_kept = 0
        with store.reading() as connection:
            register = Register(connection)
            self._refuse_modified(register)
            self._bare = bare_unit(register, self.plan.instrument)
            self._graduation_pm = division(register, self.plan.instrument)
            self._kinds = kinds_of(register, self.plan)
        for event in journal.events:
            self._progress.add(event)
        for number in writing.struck(store, self._progress.logged):  # by hand, or just before an interruption
            self._note(progress.STRUCK, str(number))
        self._look()

    @property
    def logged(self) -> tuple[int, ...]:
        """The clampings logged so far that count, without those of the check piece."""
        return self._progress.numbers(of_check_piece=False)

    @property
    def waiting(self) -> int:
        """How many whole clampings wait for the logbook."""
        return len(self._progress.waiting)

    @property
    def badly_clamped(self) -> int:
        return self._progress.badly_clamped

    @property
    def settled(self) -> bool:
        """Whether the question is answered, as far as the plan asks for it."""
        return self._settled

    def wanted(self) -> Wanted | None:
        """The reading wanted next; None when the occasion is over or a doubt waits for its answer."""
        read = len(self._progress.readings)
        angles = self.plan.angles_deg
        check = self._check_wanted()
        if read == self._needed(check) or not (check or self._goes_on()) or self._progress.check_answer:
            return None
        done, left = self._progress.count(of_check_piece=False), len(self._left())
        stop, before = self._next_stop(), self._stop_before()
        each = len(angles) or 1
        turn, often = read // each, 1 if check else self.plan.readings
        return Wanted(
            clamping=done + (not check),
            clampings=done + left,
            position=stop.position,
            angle_deg=angles[read % each] if angles else None,
            reading=read % each + 1,
            readings=each,
            new_clamping=read == 0,
            returning=bool(angles) and read % each == each - 1,
            check=check,
            bodies=() if check else self._bodies(),
            turn=turn % often + 1,
            turns=often,
            distance_pm=self.plan.distances_pm[turn // often],
            distances=1 if check else len(self.plan.distances_pm),
            pin=stop.pin,
            pin_before=before.pin,
            operator=stop.operator,
            operator_before=before.operator,
        )

    @property
    def over(self) -> bool:
        """Whether nothing is left to be read, and no clamping is under way."""
        return self.wanted() is None and not self._progress.readings

    @property
    def read_so_far(self) -> tuple[str, ...]:
        """The readings of the clamping under way, as taken."""
        return tuple(event.text for event in self._progress.readings)

    @property
    def bare_unit(self) -> Unit:
        """The unit of a bare number."""
        return self._bare

    def take(self, text: str) -> Taken:
        """A reading as typed or sent. Raises LengthError for what is none; then nothing was accepted."""
        if self.wanted() is None:
            raise RefusedError("No reading is wanted now.", "Answer the question first, or begin anew.")
        self._parsed(text)
        self._note(progress.READING, text)
        return self.complete()

    def complete(self) -> Taken:
        """Log what waits, and the clamping if all of it was read and nothing in it is doubtful; also after an
        interruption. What cannot be logged since the logbook cannot be reached waits."""
        read = len(self._progress.readings)
        if 0 < read < self._needed(self._check_wanted()):
            return Taken()  # nobody is kept waiting between two readings
        logged = self._deliver()
        if not read:
            return Taken(logged)
        whole = self._under_way()
        if not self.waiting:
            try:
                prepared = writing.prepared(self.store, self.plan, self.journal.key, whole, self._bare)
                # how far out it is read was asked before the first prompt
                doubts = tuple(one for one in prepared.doubts if one.doubt != Doubt.FAR_FROM_FACE)
                if doubts and writing.number_of(self.store, prepared) is None:
                    return Taken(logged, doubts=doubts)
            except BusyError:
                pass
        return self._whole(whole, logged)

    def it_is_right(self) -> Taken:
        """The doubts are answered: what was read is right."""
        return self._whole(self._under_way(), ())

    def it_is_wrong(self) -> None:
        """The doubts are answered: the clamping is to be read again. What was read stays as withdrawn."""
        try:
            withdraw(
                self.store, writing.prepared(self.store, self.plan, self.journal.key, self._under_way(), self._bare)
            )
        except BusyError:
            self.not_taken("withdrawn", " ".join(event.text for event in self._progress.readings))
        self._note(progress.WITHDRAWN)

    def undo(self, why: str) -> None:
        """Take back the last reading (``MISREAD``) or the whole clamping (``BADLY_CLAMPED``).

        What stands in the logbook already is struck out with that reason. Only a misreading is free: a clamping
        that turned out badly is one of those that happen, and is counted. Of a clamping read in several turns
        before it is opened a misreading costs that reading alone.
        """
        last = self._progress.whole[-1] if self._progress.whole else None
        if self._progress.readings or (last is not None and last.number is None):
            self._note(why)
        elif last is not None and last.number is not None:
            several = why == MISREAD and self.plan.turns > 1 and not last.of_check_piece
            self._strike([last], why, progress.LAST_MISREAD if several else progress.STRUCK)
            if why == BADLY_CLAMPED:
                self._note(why)
        else:
            raise RefusedError("There is nothing to take back yet.", "Read on.")
        self._look()

    def change(self, what: What, now: str, *, alone: bool) -> Change:
        """Another pin, or another person, than planned; ``alone``: in this clamping, else in all that are left.

        Raises NotFoundError or RefusedError for a pin that is not registered or does not go in.
        """
        if self._check_wanted() or not self._goes_on():
            raise RefusedError("No clamping of the plan is wanted now.", "Say it when the next one is.")
        if what == "pin":
            with self.store.reading() as connection:
                register = Register(connection)
                now = register.need(now, "pin").text
                refuse_forcing(register, register.need(self.plan.item, "item"), now)
        else:
            texts.name(now, "name")
        planned = self._planned()
        change = Change(what, planned.pin if what == "pin" else planned.operator, now, alone)
        self._note(progress.CHANGED, change.text)
        return change

    def meant(self, text: str) -> What | None:
        """Whether a pin of this code is registered, or a person of this name measures here; None for neither."""
        with self.store.reading() as connection:
            found = Register(connection).find(text)
        if found is not None and found.kind == "pin":
            return "pin"
        known = (*self._order, *self._made())
        return "operator" if text.casefold() in {stop.operator.casefold() for stop in known} else None

    def not_taken(self, why: str, text: str) -> None:
        """Keep the text of something that was sent and is no reading, at the most MOST_NOT_TAKEN of them."""
        if len(self._progress.not_taken) < MOST_NOT_TAKEN:
            self._note(progress.NOT_TAKEN, f"{why} {text}")
        else:
            self._not_kept += 1

    def checked(self) -> CheckPiece | None:
        """How the check piece read at the start and at the end; None before that, or once it was answered for."""
        pieces = self._progress.numbers(of_check_piece=True)
        if len(pieces) < 2 or self._progress.check_answer:
            return None
        step = min(self._parsed(event.text).step_pm for one in self._pieces() for event in one.readings)
        step = max(step, self._graduation_pm or 0)
        return check_piece(self.store, self.plan.check, pieces[0], pieces[-1], step_um=step / 1e6)

    def keep_in_spite(self) -> None:
        """The check piece moved, and what was measured is kept; the doubt stays beside it."""
        writing.keep_doubt(self.store, self.plan, self.logged, "check_piece_moved", self.plan.check)
        self._note(progress.CHECKED, "kept")

    def strike_all(self) -> None:
        """The check piece moved, and what was measured is struck out."""
        measured = [one for one in self._progress.whole if not one.of_check_piece]
        self._strike(measured, f"the check piece {self.plan.check} moved")
        self._note(progress.CHECKED, "struck out")

    def not_in_order(self) -> dict[str, str]:
        """The gauges of the plan that were found wrong and neither calibrated since nor cleared (''), and those whose
        last quick check was out (what they read then)."""
        with self.store.reading() as connection:
            kept = {gauge.code: gauge for gauge in read_kept_gauges(connection).values()}
        pins = dict.fromkeys(stop.pin for stop in self._order)
        named = [kept[name] for name in (self.plan.instrument, *pins) if name in kept]
        return {
            gauge.code: "" if gauge.wrong_since else gauge.check_failed
            for gauge in named
            if gauge.wrong_since or gauge.check_failed
        }

    def close(self) -> None:
        """The occasion is over; a clamping that was not read to its end is given up, and what was sent and not taken
        goes into the logbook with its text."""
        lines = [(why, text) for why, _, text in (event.text.partition(" ") for event in self._progress.not_taken)]
        if self._not_kept:
            lines.append(("not_taken", f"and {self._not_kept} more"))
        if lines:
            writing.keep_not_taken(self.store, self.plan, lines)
        self.journal.close()

    def _note(self, what: str, text: str = "") -> None:
        self._progress.add(self.journal.note(what, text))

    def _parsed(self, text: str) -> TypedReading:
        parse = parse_swing if self.plan.steps == 1 else parse_reading
        return parse(text, bare=self._bare, graduation_pm=self._graduation_pm)

    def _check_wanted(self) -> Literal["", "start", "end"]:
        """Whether the check piece is to be read now."""
        if not self.plan.check:
            return ""
        checks = self._progress.count(of_check_piece=True)
        if checks == 0:
            return "start"
        return "end" if checks == 1 and not self._goes_on() else ""

    def _needed(self, check: str) -> int:
        """Numbers of a clamping; the check piece is read once each time, at the first distance."""
        return (len(self.plan.angles_deg) or 1) * (1 if check else self.plan.turns)

    def _goes_on(self) -> bool:
        """Whether a clamping of the plan is left, and the question open."""
        return not self._settled and bool(self._left())

    def _made(self) -> list[Stop]:
        return [one.stop for one in self._progress.whole if not one.of_check_piece]

    def _left(self) -> list[Stop]:
        """What is left of the plan, as planned."""
        return left_to_make(self._order, self._made(), self._progress.changes)

    def _pieces(self) -> list[Whole]:
        return [one for one in self._progress.whole if one.of_check_piece]

    def _under_way(self) -> Whole:
        """The clamping that was just read to its end."""
        readings = tuple(self._progress.readings)
        return Whole(bool(self._check_wanted()), self._next_stop(), readings, self._progress.attempts)

    def _next_stop(self) -> Stop:
        """How the next clamping is made; the check piece at the position the plan begins with, by whom is there."""
        if self._check_wanted():
            by = self._stop_before().operator or self._order[0].operator
            return Stop(self._order[0].position, operator=by)
        return changed(self._planned(), [*self._progress.changes, *self._progress.alone])

    def _planned(self) -> Stop:
        """The next clamping as planned; one that is taken up again as it was made."""
        return self._progress.taken_up or self._left()[0]

    def _stop_before(self) -> Stop:
        """How the clamping before was made."""
        made = self._made()
        return made[-1] if made else Stop("")

    def _bodies(self) -> tuple[TurnTo, ...]:
        return turn_to(self._kinds, self._next_stop().clocking, self._stop_before().clocking)

    def _whole(self, whole: Whole, before: tuple[int, ...]) -> Taken:
        piece = "check" if whole.of_check_piece else "item"
        self._note(progress.WHOLE, "\t".join((piece, *dataclasses.astuple(whole.stop))))
        logged = self._deliver()
        return Taken((*before, *logged), waits=bool(self.waiting))

    def _deliver(self) -> tuple[int, ...]:
        """Log what waits, in its order, as far as the logbook can be reached."""
        logged: list[int] = []
        for whole in self._progress.waiting:
            try:
                number = writing.log(self.store, self.plan, self.journal.key, whole, self._bare)
            except BusyError:
                break
            self._note(progress.LOGGED, str(number))
            logged.append(number)
        if logged:
            self._look()
        return tuple(logged)

    def _strike(self, wholes: list[Whole], reason: str, event: str = progress.STRUCK) -> None:
        writing.strike(self.store, self.plan, wholes, reason)
        for whole in wholes:
            self._note(event, str(whole.number))

    def _refuse_modified(self, register: Register) -> None:
        """What was begun before a modification measures something else than what comes behind it."""
        item = register.need(self.plan.item, "item")
        if register.newest_modification(item).number != self.plan.modification:
            raise RefusedError(
                f"{item.text} was modified since this occasion began.", f"Begin anew: qclog measure {item.text}"
            )

    def _look(self) -> None:
        done = len(self.logged)
        self._settled = not self.waiting and settled(self.store, self.plan, done)
