"""The guided occasion at the machine: prompts in the order of the hands, readings typed or from an indicator."""

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qclog import config
from qclog.cli.common import ask, at_terminal, listed, number_style, point_to, recorder, size, target, tell

if TYPE_CHECKING:
    from qclog.cli.dialogue import Dialogue
    from qclog.cli.inputs import Inputs
    from qclog.cli.screen import Screen
    from qclog.logbook.engine import Store
    from qclog.occasion.guided import Guided
    from qclog.occasion.journal import Journal
    from qclog.occasion.plan import Plan


def add_to(app: typer.Typer) -> None:
    app.command("measure")(measure)


def measure(
    context: typer.Context,
    item: Annotated[str | None, typer.Argument(help="The item; without it, the occasion that was interrupted.")] = None,
    setup: Annotated[str | None, typer.Option(help="The setup it sits in.")] = None,
    positions: Annotated[str, typer.Option(metavar="NAMES", help='Its key positions: "A,B" tries both in turn.')] = "",
    clampings: Annotated[
        int | None,
        typer.Option(help="How many of each position, at the most; with --turn or --study, how many rounds."),
    ] = None,
    turn: Annotated[
        str, typer.Option(metavar="CODES", help='Who owns the run-out: bodies to be turned, "S-1=0/180, C-046, P-3".')
    ] = "",
    clocking: Annotated[str, typer.Option(help='How bodies stand in every clamping: "C-046=120 P-3=0".')] = "",
    study: Annotated[
        bool, typer.Option("--study", help="How good is the measuring: pins, people and reading again, in turn.")
    ] = False,
    pins: Annotated[str, typer.Option(metavar="CODES", help="Of a study: pins of one size, P-1,P-2.")] = "",
    people: Annotated[str, typer.Option(metavar="NAMES", help="Of a study: who clamps and reads, AK,MO.")] = "",
    readings: Annotated[
        int | None, typer.Option(metavar="NUMBER", help="Of a study: of each clamping, before it is opened; else 2.")
    ] = None,
    steps: Annotated[int, typer.Option(help="Readings a turn: 4, 6, 8 or 12; 1 for the swing alone.")] = 4,
    distance: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MM", help="From the item's front face to the indicator; twice: near and far in each clamping."
        ),
    ] = None,
    pin: Annotated[str, typer.Option(help="The test pin.")] = "",
    instrument: Annotated[str, typer.Option(help="The indicator.")] = "",
    operator: Annotated[str, typer.Option(help="Who reads.")] = "",
    torque: Annotated[str, typer.Option(help='How tight it is closed: "12 Nm", or "by feel".')] = "",
    conditions: Annotated[str, typer.Option(help='What it is like: "21 °C, warm, 20 min run".')] = "",
    profile: Annotated[
        str, typer.Option(metavar="NAME-OR-FILE", help="How the indicator talks; without it, readings are typed.")
    ] = "",
    port: Annotated[
        str | None, typer.Option(help="Where it is plugged in, if its profile does not say; or a recording.")
    ] = None,
    check: Annotated[
        str, typer.Option(metavar="ITEM", help="A check piece, read first and last: has anything moved?")
    ] = "",
    record: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Keep all that comes and is typed (FILE.jsonl), to replay it.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No beeps.")] = False,
    to_the_end: Annotated[
        bool, typer.Option("--to-the-end", help="Do not stop by itself when the question is settled.")
    ] = False,
    accept: Annotated[
        bool, typer.Option("--accept", help="A distance that looks like a slip is right; give up a stopped study.")
    ] = False,
) -> None:
    """Measure at the machine, guided.

    It says what to do next, and when it is enough. Everything accepted is kept at once. Stopped or cut off, the same
    command without an item goes on.
    """
    from qclog.cli.inputs import Recorded
    from qclog.cli.screen import Screen
    from qclog.errors import UsageError
    from qclog.notation import parse_turnable
    from qclog.occasion.guided import Guided
    from qclog.occasion.planning import Study, planned
    from qclog.questions.studying.plan import READINGS
    from reports import occasion

    given = target(context)
    store = given.open()
    key = config.logbook_key(given.text)
    if turn and clocking:
        raise UsageError("--turn plans clockings, --clocking says one.", "Give one of them.")
    if study and (turn or clocking):
        raise UsageError("A study leaves the bodies as they stand.", "Leave out --turn and --clocking.")
    if (pins or people or readings is not None) and not study:
        raise UsageError("--pins, --people and --readings are for a study.", "Add --study; else --pin, --operator.")
    if port and not profile and item is not None:
        raise UsageError("--port needs --profile: how the indicator talks.", "See the profiles: qclog listen --help")
    often = READINGS if readings is None else readings
    near, *far = [size(text) for text in distance or []] or [None]
    plan = None
    if item is None:
        journal = _interrupted(key)
        profile, port = profile or journal.plan.profile, port or journal.plan.port or None
    else:
        plan = planned(
            store,
            item,
            setup=setup,
            positions=listed(positions),
            distance_pm=near,
            also_pm=[at for at in far if at is not None],
            clampings=clampings,
            steps=steps,
            until_settled=not to_the_end,
            pin=pin,
            instrument=instrument,
            operator=operator,
            check=check,
            profile=profile,
            port=port or "",
            turn=parse_turnable(turn) if turn else (),
            clocking=clocking,
            torque=torque,
            conditions=conditions,
            study=Study(tuple(listed(pins or pin)), tuple(listed(people or operator)), often) if study else None,
        )
        _settle_doubts(store, plan, accept=accept)
    inputs, mode = _inputs(profile, port)
    screen = Screen(quiet=quiet)
    with contextlib.ExitStack() as at_the_end:
        at_the_end.callback(inputs.close)
        kept = at_the_end.enter_context(recorder(record))
        if plan is not None:
            journal = _begun(key, plan, screen, accept=accept)
        at_the_end.callback(journal.leave)
        guided = Guided(store, journal)
        for line in occasion.opening(guided.plan, len(guided.logged), mode, guided.bare_unit):
            screen.say(line)
        for line in occasion.warnings(guided.not_in_order()):
            screen.say(line, bells=2)
        _follow(guided, inputs if kept is None else Recorded(inputs, kept), screen, store, mode)


def _settle_doubts(store: "Store", plan: "Plan", *, accept: bool) -> None:
    """Ask about what looks like a slip before anything is clamped; without a terminal refuse it, unless accepted."""
    from qclog.errors import RefusedError
    from qclog.occasion.planning import doubts_of
    from reports.wording.slips import doubt

    for found in () if accept else doubts_of(store, plan):
        question = doubt(found, number_style(store))
        if not at_terminal():
            raise RefusedError(question, "Nothing was begun. If it is right, add --accept.")
        if not ask(f"{question} Is it right?", default=False):
            raise RefusedError("Nothing was begun.", "Say the distance with its unit: --distance 25mm.")


def _begun(logbook: str, plan: "Plan", screen: "Screen", *, accept: bool) -> "Journal":
    """A new occasion, in place of one of the same item that was stopped."""
    from qclog.occasion.journal import Journal, stopped
    from reports import occasion

    for left in stopped(config.occasions(), logbook, plan.item):
        try:
            _settle_study(left, accept=accept)
        except Exception:
            left.leave()
            raise
        left.close()
        screen.say(occasion.given_up(left.plan))
    return Journal.begin(config.occasions(), logbook, plan)


def _settle_study(left: "Journal", *, accept: bool) -> None:
    """Ask before a study that was begun is given up, whose order drawn by lot would be lost; without a terminal refuse,
    unless accepted."""
    from qclog.errors import RefusedError
    from qclog.occasion.progress import LOGGED
    from reports import occasion

    done = sum(event.what == LOGGED for event in left.events)
    if accept or not left.plan.stops or not done:
        return
    told, go_on = occasion.study_stopped(left.plan, done), "Go on with it: qclog measure"
    if not at_terminal():
        raise RefusedError(told, f"{go_on}. To begin another in its place add --accept.")
    if not ask(f"{told} Begin another in its place?", default=False):
        raise RefusedError("Nothing was begun.", go_on)


def _interrupted(logbook: str) -> "Journal":
    """The occasion that was interrupted last. Raises NotFoundError where there is none."""
    from qclog.errors import NotFoundError
    from qclog.occasion.journal import Journal, interrupted

    found = interrupted(config.occasions(), logbook)
    if not found:
        raise NotFoundError("No occasion was interrupted.", "Begin one: qclog measure C-046 --positions A,B")
    return Journal.resume(found[-1])


def _inputs(profile: str, port: str | None) -> "tuple[Inputs, str]":
    """Keyboard and indicator, or a recording of both, and the way the indicator gives readings; without a profile they
    are typed."""
    from qclog.cli.inputs import Live, Replayed

    if not profile:
        return Live(None), ""
    from instruments.opening import is_recording, open_indicator
    from instruments.profile_files import load_profile

    known = load_profile(profile)
    opened = open_indicator(known, port)
    mode = "encoder" if known.mode == "stream" and known.counts_per_turn else known.mode
    return Replayed(opened) if is_recording(port or known.port) else Live(opened), mode


def _follow(guided: "Guided", inputs: "Inputs", screen: "Screen", store: "Store", mode: str) -> None:
    """Prompt, take, prompt again, until the plan is done or somebody stops; then say what was found."""
    from qclog.cli.dialogue import Dialogue
    from qclog.cli.streaming import Stream
    from reports import occasion

    streams = mode in ("stream", "encoder")
    stream = Stream(screen, whole_turns=not guided.plan.angles_deg) if streams else None
    dialogue = Dialogue(guided, screen, number_style(store), stream, hands_free=mode == "button")
    dialogue.tell(guided.complete())
    if guided.read_so_far and (wanted := guided.wanted()) is not None:
        screen.say(occasion.in_the_middle(wanted, guided.plan, guided.read_so_far))
    _prompt(guided, screen, mode)
    try:
        if guided.wanted() is not None or dialogue.waiting:
            _listen(guided, inputs, screen, dialogue, mode)
    except KeyboardInterrupt:
        screen.say("")
        _stop(guided, screen)
        raise
    _stop(guided, screen)
    _answer(guided, store)


def _listen(guided: "Guided", inputs: "Inputs", screen: "Screen", dialogue: "Dialogue", mode: str) -> None:
    """What is typed and sent, one after the other."""
    from qclog.cli.inputs import Typed
    from reports import occasion

    state = "connected"
    for found in inputs:
        moved = False
        if isinstance(found, Typed):
            if found.text is None and mode:
                continue  # the indicator goes on without the keyboard
            if found.text is None or found.text.strip().casefold() == "q":
                return
            if found.text.strip():
                moved = dialogue.typed(found.text.strip())
            else:
                inputs.ask()
                moved = dialogue.pressed(found.time)
        else:
            if found.state != state:
                moved = state == "lost" and not dialogue.waiting
                state = found.state
                screen.say(occasion.STATE[state], bells=1 if state == "connected" else 2)
                dialogue.interrupted()
            for outcome in found.outcomes:
                moved = dialogue.heard(outcome) or moved
        if moved:
            _prompt(guided, screen, mode)
        if guided.wanted() is None and not dialogue.waiting:
            return


def _prompt(guided: "Guided", screen: "Screen", mode: str) -> None:
    from reports import occasion

    wanted = guided.wanted()
    if wanted is not None:
        for line in occasion.prompt(wanted, guided.plan, mode):
            screen.say(line)


def _stop(guided: "Guided", screen: "Screen") -> None:
    """What the occasion came to. A plan that was stopped before its end, or of which something is not in the logbook
    yet, stays open, to be gone on with."""
    from reports import occasion

    over = guided.over
    screen.say(occasion.closing(guided.logged, guided.badly_clamped, settled=guided.settled, whole=over))
    if guided.waiting:
        screen.say(occasion.still_here(guided.waiting))
    elif over:
        guided.close()
    else:
        screen.say(occasion.GO_ON)
    screen.say(occasion.END)


def _answer(guided: "Guided", store: "Store") -> None:
    """What was found, if anything was read."""
    if not guided.logged:
        return
    from qclog.questions.assess import assess
    from qclog.questions.chain import chain
    from qclog.questions.compare import compare
    from qclog.questions.study import study
    from reports import words_used
    from reports.assessment import assessment
    from reports.chain import chains
    from reports.comparison import comparison
    from reports.study import study as studied

    plan, style = guided.plan, number_style(store)
    if plan.stops:
        found = study(store, [plan.item], setup=plan.setup)
        if any(answer.parts for answer in found):
            tell(studied(found, style))
            point_to(words_used.of_study(found))
        return
    if plan.clockings:
        tell(chains(chain(store, plan.item, setup=plan.setup), style))
        return
    if len(plan.positions) > 1 and (answers := compare(store, [plan.item], setup=plan.setup)):
        tell(comparison(answers, style))
        tell(f"\nWhether it holds what it was made to: qclog assess {plan.item}")
    else:
        tell(assessment(assess(store, plan.item, setup=plan.setup), style))
