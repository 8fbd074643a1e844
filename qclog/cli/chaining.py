"""Who owns the run-out: the answer, and the plan that leads to it."""

from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import error_size, number_style, point_to, size, target, tell, tell_json

if TYPE_CHECKING:
    from qclog.logbook.engine import Store


def add_to(app: typer.Typer) -> None:
    app.command("chain")(chain)


def chain(
    context: typer.Context,
    code: Annotated[str | None, typer.Argument(help="An item, pin or setup; without it, all that was clocked.")] = None,
    setup: Annotated[str | None, typer.Option(help="Only in this setup.")] = None,
    at: Annotated[
        str | None, typer.Option(metavar="DISTANCE", help="At this distance, told from two that were measured.")
    ] = None,
    turn: Annotated[
        str, typer.Option(metavar="CODES", help='Only these are to be turned, to these angles: "S-1=0/180, C-046".')
    ] = "",
    plan: Annotated[bool, typer.Option("--plan", help="What to clamp so that they come apart.")] = False,
    position: Annotated[str | None, typer.Option(help="Plan: at this key position.")] = None,
    pin: Annotated[str | None, typer.Option(help="Plan: with this test pin.")] = None,
    within: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Plan: how well each is to be known, TIR.")
    ] = None,
    repeat: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Plan: how much re-clamping moves it, if not known here.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Who owns the run-out of a chain, and how to clock it?

    Spindle, sleeve, chuck, collet or pin: told from clampings with bodies turned against each other (--clocking). With
    --plan: which to make, in which order.
    """
    from qclog.errors import UsageError
    from qclog.notation import parse_turnable
    from qclog.questions import chain as question
    from qclog.questions.chains import plan as chain_plan
    from reports import chain as text
    from reports import words_used

    store = target(context).open()
    can = parse_turnable(turn) if turn else ()
    if plan:
        if code is None:
            raise UsageError("A plan is made for one item.", "Name it: qclog chain C-046 --plan")
        found = chain_plan.plan_chain(
            store,
            code,
            setup=setup,
            position=position,
            pin=pin,
            turn=can,
            within_um=_um(store, within),
            repeat_um=_um(store, repeat),
        )
        tell_json(chain_plan.document(found)) if as_json else tell(text.plan(found, number_style(store)))
        return
    at_pm = size(at)
    turnable = {body.casefold(): tuple(angle / 1000 for angle in angles) or None for body, angles in can}
    answers = question.chain(
        store, code, setup=setup, at_mm=None if at_pm is None else at_pm / 1e9, turn=turnable or None
    )
    if as_json:
        tell_json(question.document(answers))
    elif answers:
        tell(text.chains(answers, number_style(store)))
        point_to(words_used.of_chain(answers))
    else:
        tell(text.NOTHING.format(code=code or "ITEM"))


def _um(store: "Store", typed: str | None) -> float | None:
    """A small length above zero in µm, None where none was typed. Raises RefusedError."""
    from qclog.errors import RefusedError
    from qclog.logbook.lookup import Register

    if typed is None:
        return None
    with store.reading() as connection:
        picometres = error_size(typed, Register(connection)) or 0
    if picometres <= 0:
        raise RefusedError(f"{typed!r} is no length above zero.", "Type it as 2um.")
    return picometres / 1e6
