"""What becomes of what is typed and sent during an occasion, and the questions it asks meanwhile."""

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from instruments.records import Outcome, Refused, Why
    from qclog.cli.screen import Screen
    from qclog.cli.streaming import Stream
    from qclog.occasion.changes import What
    from qclog.occasion.guided import Guided
    from qclog.occasion.wanted import Taken
    from qclog.questions.doubts import Doubt
    from reports.numbers import NumberStyle

_RIGHT: Final = "right"
_UNDO: Final = "undo"
_MOVED: Final = "moved"
_ANOTHER: Final = "another"
_PERSON: Final = "person"
_HOW_LONG: Final = "how long"
_TOLD_AGAIN: Final = 5.0
_MOST_TOLD: Final = 5


class Dialogue:
    """``stream``: where the indicator streams; else each reading it sends is one. ``hands_free``: it has a button, so
    that a question is also answered by reading again."""

    def __init__(
        self, guided: "Guided", screen: "Screen", style: "NumberStyle", stream: "Stream | None", *, hands_free: bool
    ) -> None:
        self._guided, self._screen, self._style, self._stream = guided, screen, style, stream
        self._hands_free = hands_free
        self._question = ""
        self._instead: tuple[What, str] = ("pin", "")
        self._doubted: set[Doubt] = set()
        self._read_again: set[Doubt] = set()
        self._told_at: dict[Why, list[float]] = {}

    @property
    def waiting(self) -> bool:
        """Whether a question is open."""
        return bool(self._question)

    def tell(self, taken: "Taken") -> None:
        """What became of a reading, and the question it raises, if any."""
        from qclog.occasion import writing
        from reports import occasion
        from reports.wording.slips import doubt

        if self._stream is not None and (taken.logged or taken.waits or taken.doubts):
            self._stream.begin_again()
        for number in taken.logged:
            self._read_again.clear()
            figures = writing.figures_of(self._guided.store, number)
            self._screen.say(occasion.logged(number, figures, self._style), bells=3)
        if taken.waits:
            self._screen.say(occasion.KEPT_HERE, bells=3)
        if taken.doubts:
            for found in taken.doubts:
                self._screen.say(doubt(found, self._style), bells=2)
            self._doubted = {found.doubt for found in taken.doubts}
            if self._doubted <= self._read_again:
                self._screen.say(occasion.READ_TWICE)
                self.tell(self._guided.it_is_right())
                return
            self._question = _RIGHT
            self._screen.say(occasion.RIGHT_OR_AGAIN if self._hands_free else occasion.RIGHT)
        elif (piece := self._guided.checked()) is not None:
            self._screen.say(occasion.checked(piece, self._style), bells=2 if piece.moved else 0)
            if piece.moved:
                self._question = _MOVED
                self._screen.say(occasion.MOVED)

    def typed(self, text: str) -> bool:
        """A line that is not empty; whether something moved on, so that the next prompt is due."""
        from reports import occasion

        if self._question:
            answers = {_RIGHT: self._right, _UNDO: self._undo, _MOVED: self._moved}
            answers |= {_ANOTHER: self._another, _PERSON: self._person, _HOW_LONG: self._how_long}
            return answers[self._question](text)
        if text.casefold() == "u":
            self._question = _UNDO
            readings, logged = self._guided.read_so_far, self._guided.logged
            last_alone = not readings and logged and self._guided.plan.turns > 1
            self._screen.say(occasion.undo_last_reading(logged[-1]) if last_alone else occasion.undo(readings, logged))
            return False
        if text.casefold() == "c" and (wanted := self._guided.wanted()) is not None:
            self._question = _ANOTHER
            self._screen.say(occasion.another(wanted))
            return False
        return self._take(text)

    def pressed(self, now: float) -> bool:
        """Enter, or a foot switch that types it: in a stream it takes what stands there; to a question it answers."""
        if self._question:
            return self.typed("")
        text = self._stream.press(now) if self._stream is not None else None
        return text is not None and self._take(text)

    def interrupted(self) -> None:
        """The indicator was gone, or is silent: what was turned meanwhile does not count."""
        if self._stream is not None:
            self._stream.begin_again()

    def heard(self, outcome: "Outcome") -> bool:
        """Something the indicator sent; whether something moved on."""
        from instruments.records import Reading, Refused
        from qclog.lengths import as_typed
        from reports import occasion
        from reports.indicators import refused

        if isinstance(outcome, Refused):
            self._guided.not_taken(outcome.why, outcome.text)
            if self._is_told(outcome):
                self._screen.say(occasion.not_taken(outcome.text, refused(outcome)), bells=2)
            return False
        if not isinstance(outcome, Reading):
            return False
        if self._stream is not None:
            wanted = self._guided.wanted()
            text = self._stream.add(outcome, wanted.angle_deg if wanted is not None else None)
            return text is not None and not self._question and self._take(text)
        if self._question == _RIGHT and self._hands_free:
            self._again()
        if self._question or self._guided.wanted() is None:
            self._guided.not_taken("not_wanted", outcome.text)
            return False
        return self._take(as_typed(outcome.value, outcome.unit))

    def _is_told(self, refused: "Refused") -> bool:
        """Whether a line that was not taken is worth a line here; all of them are kept. Of a stream a part of a line is
        not; and a reason not again so soon, from its first time on in a stream, else from its fifth."""
        from instruments.records import Why
        from reports import occasion

        if self._stream is not None and refused.why is Why.PARTIAL:
            return False
        told = [at for at in self._told_at.get(refused.why, []) if refused.time - at < _TOLD_AGAIN]
        if len(told) >= (1 if self._stream is not None else _MOST_TOLD):
            return False
        self._told_at[refused.why] = [*told, refused.time]
        if len(told) + 1 == _MOST_TOLD:
            self._screen.say(occasion.MANY_NOT_TAKEN)
        return True

    def _take(self, text: str) -> bool:
        from qclog.errors import QclogError
        from reports import occasion

        try:
            taken = self._guided.take(text)
        except QclogError as error:
            self._screen.say(str(error), bells=2)
            return False
        self._screen.say(occasion.taken(text, self._guided.bare_unit), bells=1)
        wanted = self._guided.wanted()
        if self._stream is not None and wanted is not None and wanted.new_turn:
            self._stream.begin_again()
        self.tell(taken)
        return not self._question

    def _again(self) -> None:
        """The doubtful clamping is read again; if the same comes once more it is right."""
        self._question = ""
        self._read_again = set(self._doubted)
        self._guided.it_is_wrong()

    def _right(self, text: str) -> bool:
        from reports import occasion

        if text.casefold() not in ("y", "n"):
            self._screen.say(occasion.YES_OR_NO)
            return False
        self._question = ""
        if text.casefold() == "y":
            self.tell(self._guided.it_is_right())
        else:
            self._guided.it_is_wrong()
        return not self._question

    def _undo(self, text: str) -> bool:
        from qclog.errors import QclogError
        from qclog.occasion.progress import BADLY_CLAMPED, MISREAD
        from reports import occasion

        self._question = ""
        why = {"m": MISREAD, "b": BADLY_CLAMPED}.get(text.casefold())
        if why is None:
            return False
        if self._stream is not None:
            self._stream.begin_again()
        try:
            self._guided.undo(why)
        except QclogError as error:
            self._screen.say(str(error))
        else:
            self._screen.say(occasion.TAKEN_BACK)
        return True

    def _another(self, text: str) -> bool:
        """The pin that is in, or who clamps and reads, instead of what was planned."""
        from qclog.errors import QclogError
        from reports import occasion

        self._question = ""
        try:
            meant = self._guided.meant(text) if text else None
        except QclogError as error:
            self._screen.say(str(error), bells=2)
            return True
        wanted = self._guided.wanted()
        there = wanted is not None and text.casefold() in (wanted.pin.casefold(), wanted.operator.casefold())
        if not text or there:
            self._screen.say(occasion.NOTHING_CHANGED)
            return True
        self._instead = (meant or "operator", text)
        self._question = _HOW_LONG if meant else _PERSON
        self._screen.say(occasion.FOR_HOW_LONG if meant else occasion.is_it_a_person(text))
        return False

    def _person(self, text: str) -> bool:
        from reports import occasion

        self._question = _HOW_LONG if text.casefold() == "y" else ""
        self._screen.say(occasion.FOR_HOW_LONG if self._question else occasion.NOTHING_CHANGED)
        return not self._question

    def _how_long(self, text: str) -> bool:
        from qclog.errors import QclogError
        from reports import occasion

        self._question = ""
        if text.casefold() not in ("r", "o"):
            self._screen.say(occasion.NOTHING_CHANGED)
            return True
        try:
            change = self._guided.change(*self._instead, alone=text.casefold() == "o")
        except QclogError as error:
            self._screen.say(str(error), bells=2)
        else:
            self._screen.say(occasion.changed(change, self._guided.read_so_far))
        return True

    def _moved(self, text: str) -> bool:
        from reports import occasion

        if text.casefold() not in ("k", "s"):
            self._screen.say(occasion.MOVED)
            return False
        self._question = ""
        if text.casefold() == "s":
            self._guided.strike_all()
        else:
            self._guided.keep_in_spite()
        return True
