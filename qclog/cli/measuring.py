"""Commands of the occasion itself: logging what was read, and striking out a mistake."""

from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import angle, ask, at_terminal, number_style, say, size, target, tell, tell_json
from qclog.cli.negatives import TakesNegatives, as_typed
from qclog.cli.parameters import By

if TYPE_CHECKING:
    from qclog.capture import Prepared
    from qclog.logbook.engine import Store

_Text = Annotated[str | None, typer.Option()]


def add_to(app: typer.Typer) -> None:
    app.command("log", cls=TakesNegatives)(log)
    app.command("strike")(strike)


def log(
    context: typer.Context,
    item: Annotated[str, typer.Argument(help="The item's code.")],
    readings: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="READING",
            help='A swing for each clamping: 4 5 4, 5um@120, "5um @ 4 o\'clock", +3/-2, "from -2 to 3", "12 div"; '
            "with --characteristic its values: 12.031, 8.052/7.998.",
        ),
    ] = None,
    quarters: Annotated[
        list[str] | None,
        typer.Option(metavar="READINGS", help='A whole turn read at quarter turns: "4 1 -3 0". Repeat for more.'),
    ] = None,
    around: Annotated[
        list[str] | None,
        typer.Option(
            metavar="READINGS",
            help="A whole turn read at 8 or 12 even steps; one value more is the return to zero. Repeat for more.",
        ),
    ] = None,
    angles: Annotated[str, typer.Option(help="The angles of --around, in degrees, when some are missing.")] = "",
    at: Annotated[
        list[str] | None,
        typer.Option(metavar="DISTANCE: READINGS", help='Several distances: --at "2: 4 5 4" --at "16: 6 7 6".'),
    ] = None,
    characteristic: Annotated[
        str, typer.Option(help='What was read, if not run-out: "face runout", depth, bore, flushness, ...')
    ] = "runout",
    go: Annotated[
        list[str] | None, typer.Option(metavar="SIZE", help="A bore told by pins: the largest that goes. Repeat.")
    ] = None,
    no_go: Annotated[
        list[str] | None, typer.Option(metavar="SIZE", help="The smallest that does not go, one for each --go.")
    ] = None,
    setup: Annotated[str | None, typer.Option(help="The setup it sits in.")] = None,
    position: Annotated[str | None, typer.Option(help="The key position used.")] = None,
    clocking: Annotated[str, typer.Option(help='How bodies were turned against each other: "C-046=120 P-3=180".')] = "",
    pin: Annotated[str | None, typer.Option(help="The test pin.")] = None,
    diameter: Annotated[
        str | None, typer.Option(help="Diameter clamped, if it is no registered pin; of a face the circle read on.")
    ] = None,
    instrument: Annotated[str | None, typer.Option(help="The indicator.")] = None,
    distance: Annotated[str | None, typer.Option(help="From the item's front face to the indicator, mm.")] = None,
    lever_angle: Annotated[str | None, typer.Option(help="Angle of the lever to the surface, degrees.")] = None,
    torque: Annotated[str | None, typer.Option(help='Torque, or "by feel".')] = None,
    conditions: Annotated[str | None, typer.Option(help="Cold, warm, minutes run.")] = None,
    operator: Annotated[str | None, typer.Option(help="Who read it.")] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="When it was read, if not now.")] = None,
    sitting: Annotated[str, typer.Option(help="A name for the sitting; without it, the day.")] = "",
    modification: Annotated[int | None, typer.Option(help="Which modification it was read at.")] = None,
    same_clamping: Annotated[
        bool | None,
        typer.Option(
            "--same-clamping/--pin-out-each-time", help="Were these read in one clamping, or was the pin right out?"
        ),
    ] = None,
    recalled: Annotated[
        bool, typer.Option("--recalled", help='From an old notebook: "6-8", "<5", --on 2019-05. Never for a verdict.')
    ] = False,
    note: Annotated[str, typer.Option(help="Anything worth remembering.")] = "",
    accept: Annotated[bool, typer.Option("--accept", help="It is right, even if it looks like a slip.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Log what was read. Each number is a clamping of its own. The reply is the verdict.

    What was given last (setup, position, pin, indicator, distance, person) is kept for the next line of the same
    sitting.
    """
    from qclog.capture import Typed, prepare, said_pin_out
    from qclog.notation import parse_clocking

    _check_quarters([as_typed(text) for text in quarters or []])
    store = target(context).open(create=True)
    prepared = prepare(
        store,
        Typed(
            item=item,
            characteristic=characteristic,
            pins=(tuple(go or ()), tuple(no_go or ())),
            swings=_swings([as_typed(text) for text in readings or []], at or []),
            turns=_turns([*(quarters or ()), *(around or ())]),
            angles=angles,
            setup=setup,
            position=position,
            clocking=parse_clocking(clocking) if clocking else (),
            pin=pin,
            diameter_pm=size(diameter),
            instrument=instrument,
            distance_pm=size(distance),
            lever_mdeg=angle(lever_angle),
            torque=torque,
            conditions=conditions,
            operator=operator,
            on=on,
            sitting=sitting,
            modification=modification,
            same_clamping=same_clamping,
            recalled=recalled,
            note=note,
        ),
    )
    _settle_doubts(store, prepared, accept=accept)
    if prepared.asks_pin_out and at_terminal():
        out = ask(f"Was the pin taken right out between these {len(prepared.clampings)}?", default=True)
        prepared = said_pin_out(prepared, "yes" if out else "no")
    _keep_and_tell(store, prepared, as_json=as_json)


def _turns(given: list[str]) -> tuple[tuple[None, tuple[str, ...]], ...]:
    """Whole turns, at the distance in force."""
    return ((None, tuple(as_typed(text) for text in given)),) if given else ()


def _check_quarters(texts: list[str]) -> None:
    """Quarter turns are four readings, or five with the return to zero; one left out would turn all the others."""
    from qclog.errors import UsageError
    from qclog.notation import turn_words

    for text in texts:
        if len(turn_words(text)) not in (4, 5):
            raise UsageError(
                f"--quarters {text!r} has {len(turn_words(text))} readings.",
                'Give four, as "4 1 -3 0"; one more is the return to zero. For other steps: --around.',
            )


def _swings(readings: list[str], at: list[str]) -> tuple[tuple[int | None, tuple[str, ...]], ...]:
    from qclog.errors import UsageError

    found: list[tuple[int | None, tuple[str, ...]]] = [(None, tuple(readings))] if readings else []
    for text in at:
        distance, colon, values = text.partition(":")
        if not colon or not values.strip():
            raise UsageError(f"--at {text!r} does not say distance and readings.", 'Write --at "16: 6 7 6".')
        found.append((size(distance), tuple(values.split())))
    return tuple(found)


def _settle_doubts(store: "Store", prepared: "Prepared", *, accept: bool) -> None:
    """Ask about what looks like a slip; without a terminal refuse it, unless it was accepted."""
    from qclog.capture import withdraw
    from qclog.errors import RefusedError
    from qclog.questions.doubts import Doubt
    from reports.wording.slips import doubts

    if not prepared.doubts or accept:
        return
    questions = doubts(prepared.doubts, number_style(store))
    if not at_terminal():
        if all(found.doubt == Doubt.IN_FUTURE for found in prepared.doubts):  # the clock may be wrong: nothing is lost
            say(f'{questions[0]} If so: qclog strike {prepared.item.text} last --reason "wrong date"')
            return
        raise RefusedError(" ".join(questions), "Nothing was logged. If it is right, add --accept.")
    for question in questions:
        if not ask(f"{question} Is it right?", default=False):
            withdraw(store, prepared)
            raise RefusedError("Taken back: nothing of this line was logged as a reading.", "Log it again as it is.")


def _keep_and_tell(store: "Store", prepared: "Prepared", *, as_json: bool) -> None:
    from dataclasses import replace

    from qclog.capture import keep
    from qclog.questions.assess import assess, document
    from qclog.records import SWINGS
    from reports.assessment import assessment
    from reports.wording.logged import logged

    numbers = keep(store, prepared)
    first = prepared.clampings[0]
    style = number_style(store)
    say(logged(prepared, numbers, style))
    answers = assess(store, prepared.item.text, setup=first.setup or None, position=first.position or None)
    characteristic = first.turns[0].characteristic
    if characteristic not in SWINGS:
        only = (one for one in answers[0].values if one.characteristic == characteristic)
        answers = [replace(answers[0], groups=(), values=tuple(only))]
    if as_json:
        tell_json({**document(answers), "logged": numbers})
    else:
        tell(assessment(answers, style))


def strike(
    context: typer.Context,
    item: Annotated[str, typer.Argument(help="The item's code.")],
    which: Annotated[str, typer.Argument(metavar="CLAMPING", help="Its number from item show, or last: logged last.")],
    reason: Annotated[str, typer.Option(help="Why: misread, badly clamped, wrong pin.")],
    turn: Annotated[int | None, typer.Option(help="Only this turn of it, counted from 1.")] = None,
    reading: Annotated[int | None, typer.Option(help="Only this reading of the turn, counted from 1.")] = None,
    by: By = "",
) -> None:
    """Strike out a mistake. It stays visible with the reason, and stops counting."""
    from qclog.errors import UsageError
    from qclog.logbook import striking
    from qclog.logbook.entries import new_entry
    from qclog.logbook.life import read_life
    from qclog.logbook.lookup import Register
    from reports.wording.commands import typed
    from reports.wording.logged import struck

    store = target(context).open()
    with new_entry(store, "strike", by) as entry:
        owner = Register(entry.connection).need(item, "item")
        if which != "last" and not which.isdecimal():
            raise UsageError(f"{which!r} is no clamping.", f"Give its number from: qclog item show {owner.text}")
        number = striking.last_clamping(entry.connection, owner) if which == "last" else int(which)
        striking.strike(entry, owner, number, reason=reason, turn=turn, reading=reading)
        life = read_life(entry.connection, owner.text)
    one = next(one for one in life.clampings if one.number == number)
    told = struck(owner.text, one, turn=turn, reading=reading, style=number_style(store))
    other = f" It was logged last; another: its number, from qclog item show {typed(owner.text)}."
    say(f"{told} ({reason}). It stays visible in item show.{other if which == 'last' else ''}")
