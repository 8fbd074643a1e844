"""The guided occasion at the machine: prompts in the order of the hands, readings typed or from an indicator."""

from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import listed, number_style, say, size, target, tell

if TYPE_CHECKING:
    from instruments.listening import Listening
    from instruments.records import Outcome
    from qclog.cli.inputs import Inputs
    from qclog.cli.streaming import Stream
    from qclog.logbook.engine import Store
    from qclog.occasion.guided import Guided, Taken
    from qclog.occasion.journal import Journal


def add_to(app: typer.Typer) -> None:
    app.command("measure")(measure)


def measure(
    context: typer.Context,
    item: Annotated[str | None, typer.Argument(help="The item; without it, the occasion that was interrupted.")] = None,
    setup: Annotated[str | None, typer.Option(help="The setup it sits in.")] = None,
    positions: Annotated[str, typer.Option(metavar="NAMES", help='Its key positions: "A,B" tries both in turn.')] = "",
    clampings: Annotated[int, typer.Option(help="How many of each position, at the most.")] = 6,
    steps: Annotated[int, typer.Option(help="Readings a turn: 4, 6, 8 or 12; 1 for the swing alone.")] = 4,
    distance: Annotated[str | None, typer.Option(help="From the item's front face to the indicator, mm.")] = None,
    pin: Annotated[str, typer.Option(help="The test pin.")] = "",
    instrument: Annotated[str, typer.Option(help="The indicator.")] = "",
    operator: Annotated[str, typer.Option(help="Who reads.")] = "",
    profile: Annotated[
        str, typer.Option(metavar="NAME-OR-FILE", help="How the indicator talks; without it, readings are typed.")
    ] = "",
    port: Annotated[str | None, typer.Option(help="Where it is plugged in, if its profile does not say.")] = None,
    to_the_end: Annotated[
        bool, typer.Option("--to-the-end", help="Do not stop by itself when the question is settled.")
    ] = False,
) -> None:
    """Measure at the machine, guided: what to do next, and when it is enough.

    Everything accepted is kept at once. Stopped or cut off, the same command without an item goes on.
    """
    from qclog import config
    from qclog.cli.inputs import Inputs
    from qclog.occasion.guided import Guided
    from qclog.occasion.journal import Journal
    from qclog.occasion.planning import planned
    from reports import occasion

    given = target(context)
    store = given.open()
    if item is None:
        journal = _interrupted(config.logbook_key(given.text))
        opened, mode = _opened(profile, port)
    else:
        plan = planned(
            store,
            item,
            setup=setup,
            positions=listed(positions),
            distance_pm=size(distance),
            clampings=clampings,
            steps=steps,
            until_settled=not to_the_end,
            pin=pin,
            instrument=instrument,
            operator=operator,
        )
        opened, mode = _opened(profile, port)
        journal = Journal.begin(config.occasions(), config.logbook_key(given.text), plan)
    guided = Guided(store, journal)
    inputs = Inputs(opened)
    try:
        for line in occasion.opening(guided.plan, len(guided.logged), mode):
            say(line)
        _follow(guided, inputs, store, mode)
    finally:
        inputs.close()


def _interrupted(logbook: str) -> "Journal":
    """The occasion that was interrupted last. Raises NotFoundError where there is none."""
    from qclog import config
    from qclog.errors import NotFoundError
    from qclog.occasion.journal import Journal, interrupted

    found = interrupted(config.occasions(), logbook)
    if not found:
        raise NotFoundError("No occasion was interrupted.", "Begin one: qclog measure C-046 --positions A,B")
    return Journal.resume(found[-1])


def _follow(guided: "Guided", inputs: "Inputs", store: "Store", mode: str) -> None:
    """Prompt, take, prompt again, until the plan is done or somebody stops."""
    from qclog.cli.inputs import Typed
    from qclog.cli.streaming import Stream
    from reports import occasion

    stream = Stream(whole_turns=not guided.plan.angles_deg) if mode == "stream" else None
    answered = _Answers(guided, store, stream)
    answered.tell(guided.complete())
    _prompt(guided)
    state = "connected"
    for found in inputs if guided.wanted() is not None or answered.waiting else ():
        if isinstance(found, Typed):
            if found.text is None and mode:
                continue
            if found.text is None or found.text.strip().casefold() == "q":
                break
            if not found.text.strip() and not answered.waiting:
                inputs.ask()
                moved = answered.pressed()
            else:
                moved = answered.typed(found.text.strip())
        else:
            if found.state != state:
                state = found.state
                told = {"lost": occasion.LOST, "silent": occasion.SILENT, "connected": occasion.BACK}
                say(told[state])
            moved = False
            for outcome in found.outcomes:
                moved = answered.heard(outcome) or moved
        if moved:
            _prompt(guided)
        if guided.wanted() is None and not answered.waiting:
            break
    _finish(guided, store)


class _Answers:
    """What to do with what is typed and sent, while nothing or a question waits for an answer."""

    def __init__(self, guided: "Guided", store: "Store", stream: "Stream | None") -> None:
        self._guided, self._style, self._stream = guided, number_style(store), stream
        self._question = ""

    @property
    def waiting(self) -> bool:
        return bool(self._question)

    def tell(self, taken: "Taken") -> None:
        from reports.wording import doubt

        if taken.logged is not None:
            say(f"Clamping {taken.logged} logged.")
        if taken.doubts:
            self._question = "right"
            for found in taken.doubts:
                say(f"\a\a{doubt(found, self._style)}")
            say("y: it is right. n: read this clamping again.")

    def typed(self, text: str) -> bool:
        """Whether something moved on, so that the next prompt is due."""
        from reports import occasion

        if self._question == "right":
            return self._right(text)
        if self._question == "undo":
            return self._undo(text)
        if text.casefold() == "u":
            self._question = "undo"
            say(occasion.UNDO)
            return False
        return self._take(text)

    def heard(self, outcome: "Outcome") -> bool:
        from instruments.records import Reading, Refused
        from reports import occasion
        from reports.indicators import refused

        if isinstance(outcome, Refused):
            say("\a\a" + occasion.not_taken(outcome.text, refused(outcome)))
            return False
        if not isinstance(outcome, Reading) or self._question or self._guided.wanted() is None:
            return False
        if self._stream is None:
            return self._take(f"{outcome.value:f}{outcome.unit}")
        text = self._stream.add(outcome)
        return text is not None and self._take(text)

    def pressed(self) -> bool:
        """Enter, or a foot switch that types it: in a stream it takes what stands there."""
        text = self._stream.press() if self._stream is not None else None
        return text is not None and self._take(text)

    def _take(self, text: str) -> bool:
        from qclog.errors import QclogError
        from reports import occasion

        try:
            taken = self._guided.take(text)
        except QclogError as error:
            say(f"\a\a{error}")
            return False
        say("\a" + occasion.taken(text))
        self.tell(taken)
        return not self.waiting

    def _right(self, text: str) -> bool:
        if text.casefold() not in ("y", "n"):
            say("y or n?")
            return False
        self._question = ""
        if text.casefold() == "y":
            self.tell(self._guided.it_is_right())
        else:
            self._guided.it_is_wrong()
        return True

    def _undo(self, text: str) -> bool:
        from qclog.errors import QclogError
        from qclog.occasion.guided import BADLY_CLAMPED, MISREAD

        self._question = ""
        if self._stream is not None:
            self._stream.begin_again()
        why = {"m": MISREAD, "b": BADLY_CLAMPED}.get(text.casefold())
        try:
            if why is not None:
                self._guided.undo(why)
        except QclogError as error:
            say(str(error))
        return True


def _prompt(guided: "Guided") -> None:
    from reports import occasion

    wanted = guided.wanted()
    if wanted is not None:
        for line in occasion.prompt(wanted, guided.plan):
            say(line)


def _finish(guided: "Guided", store: "Store") -> None:
    """Say what was found. A plan that was stopped before its end stays open, to be gone on with."""
    from qclog.questions.assess import assess
    from qclog.questions.compare import compare
    from reports import occasion
    from reports.assessment import assessment
    from reports.comparison import comparison

    plan = guided.plan
    whole = guided.wanted() is None
    say(occasion.closing(guided.logged, guided.badly_clamped, settled=guided.settled, whole=whole))
    if whole:
        guided.close()
    else:
        say("Go on with it: qclog measure")
    say(occasion.END)
    style = number_style(store)
    if len(plan.positions) > 1 and (answers := compare(store, [plan.item], setup=plan.setup)):
        tell(comparison(answers, style))
    elif guided.logged:
        tell(assessment(assess(store, plan.item, setup=plan.setup), style))


def _opened(profile: str, port: str | None) -> "tuple[Listening | None, str]":
    """The indicator and the way it gives readings; without a profile they are typed."""
    if not profile:
        return None, ""
    from instruments.opening import open_indicator
    from instruments.profile_files import load_profile

    known = load_profile(profile)
    return open_indicator(known, port), known.mode
