"""Commands that ask the logbook. They never create one; only a setting given on the way is kept."""

import dataclasses
import textwrap
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from qclog.cli.common import error_size, number_style, point_to, target, tell, tell_json

if TYPE_CHECKING:
    from qclog.logbook.engine import Store


def add_to(app: typer.Typer) -> None:
    app.command("assess")(assess)
    app.command("compare")(compare)
    app.command("wear")(wear)
    app.command("sense")(sense)
    app.command("history")(history)


def assess(
    context: typer.Context,
    code: Annotated[str | None, typer.Argument(help="An item or a setup; without it, everything measured.")] = None,
    setup: Annotated[str | None, typer.Option(help="Only in this setup.")] = None,
    position: Annotated[str | None, typer.Option(help="Only at this key position.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    gate: Annotated[
        bool,
        typer.Option(
            "--gate", help="Exit code 1 if something does not hold, 8 if that cannot be told or has no limit."
        ),
    ] = False,
) -> None:
    """Does it hold what it was made to?

    Here, in this setup, at this key position, at this distance; now, and at the next clampings.
    """
    from qclog.questions import assess as question
    from reports import words_used
    from reports.assessment import assessment

    store = target(context).open()
    answers = question.assess(store, code, setup=setup, position=position)
    if code is not None and len(answers) == 1 and answers[0].item and answers[0].values:
        from qclog.questions.chart import with_steadiness

        answers = [dataclasses.replace(answers[0], values=with_steadiness(store, answers[0].item, answers[0].values))]
    if as_json:
        tell_json(question.document(answers))
    elif answers:
        tell(assessment(answers, number_style(store)))
        if code is not None and len(answers) == 1 and answers[0].item:
            say_if_changing(store, answers[0].item)
        point_to(words_used.of_assess(answers))
    else:
        tell("Nothing has been measured yet. Log a clamping: qclog log C-046 4 5 4")
    if gate:
        raise typer.Exit(question.gate(answers))


def say_if_changing(store: "Store", item: str) -> None:
    """Where wear sees a rise or a step, figures of all clampings together mislead: say so, and what it advises."""
    from qclog.questions.codes import Sign
    from qclog.questions.wear import wear
    from reports.advice import told
    from reports.tables import WIDTH
    from reports.wording.caveats import CHANGING

    worn = wear(store, [item])
    if any({Sign.LEVEL_RISES, Sign.STEPPED}.intersection(answer.because) for answer in worn):
        advised = told(worn, number_style(store), cures=False)[0]
        text = f"{CHANGING} {advised} See: qclog wear {item}"
        tell("\n" + "\n".join(textwrap.wrap(text, WIDTH, break_on_hyphens=False)))


def compare(
    context: typer.Context,
    codes: Annotated[list[str] | None, typer.Argument(metavar="ITEM", help="Items; without them, all.")] = None,
    by: Annotated[
        Literal["position", "setup", "item"], typer.Option(help="What is compared: key positions, setups or items.")
    ] = "position",
    setup: Annotated[str | None, typer.Option(help="Only in this setup.")] = None,
    matters: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="The smallest difference that would make you change; kept.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Which key position, setup or item is better?

    Is the difference real, and how many more clampings would settle it? Without items, or in one setup, key
    positions are also compared over all that was measured at both.
    """
    from qclog.questions import compare as question
    from qclog.questions.comparing.key_positions import key_positions
    from reports import words_used
    from reports.comparison import comparison
    from reports.key_positions import key_positions as over_items

    store = target(context).open()
    matters_um = what_matters(store, matters) if matters else None
    answers = question.compare(store, codes or (), by=by, setup=setup, matters_um=matters_um)
    if matters_um is not None:
        keep_what_matters(store, matters_um)
    chucks = key_positions(store, setup=setup) if by == "position" and (setup or not codes) else []
    if as_json:
        tell_json(question.document(answers, chucks))
        return
    question.need_something(answers, codes or (), by)
    tell(comparison(answers, number_style(store)))
    if chucks:
        tell(f"\n{over_items(chucks, number_style(store))}")
    point_to(words_used.of_compare(answers, chucks))


def wear(
    context: typer.Context,
    codes: Annotated[list[str] | None, typer.Argument(metavar="ITEM", help="Items; without them, all.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    gate: Annotated[bool, typer.Option("--gate", help="Exit code 1 for retire, 8 for watch.")] = False,
    price: Annotated[
        float | None, typer.Option(help="By cost: the price of a new one; with --life and --loss.")
    ] = None,
    life: Annotated[float | None, typer.Option(help="How many clampings one usually lasts.")] = None,
    loss: Annotated[
        float | None,
        typer.Option(
            help="What a clamping over the limit costs: parts in it, times the share spoilt, times the cost of a part; "
            "or the cost of clamping again, where every clamping is checked before cutting."
        ),
    ] = None,
) -> None:
    """Is it getting worse: keep, watch or retire?

    Level, repeat and the ratio far to near, each with its own cure; what was seen on the item outranks its numbers.
    """
    from qclog.questions import wear as question
    from qclog.questions.changing.replacing import costs
    from reports import words_used
    from reports.wear import wear as text

    asked = costs(price, life, loss)
    store = target(context).open()
    answers = question.wear(store, codes or (), asked)
    if as_json:
        tell_json(question.document(answers))
    elif answers:
        tell(text(answers, number_style(store)))
        point_to(words_used.of_wear(answers))
    else:
        tell("No run-out has been measured yet, and wear is told from it. Sizes and gaps are judged by qclog assess.")
    if gate:
        raise typer.Exit(question.gate(answers))


def sense(
    context: typer.Context,
    setup: Annotated[str | None, typer.Argument(help="A setup; without it, all.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Are clocking and readings counted the same way round?

    Proven by one pin clamped at three clockings; says what to do where that is missing or came out wrong.
    """
    from qclog.questions import sense as question
    from reports import words_used
    from reports.sense import sense as text

    answers = question.sense(target(context).open(), setup)
    if as_json:
        tell_json(question.document(answers))
    elif answers:
        tell(text(answers))
        point_to(words_used.of_sense(answers))
    else:
        tell("No setups yet. Enter one: qclog setup add L1 --positions A,B")


def history(
    context: typer.Context,
    code: Annotated[str, typer.Argument(help="An item, a setup, a pin or an indicator.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """The life of an item, a setup, a pin or an indicator.

    Who entered, logged, struck out, modified, refitted, took: when it happened and when it was written. For an item
    also what was judged of it then, as the logbook stood.
    """
    from qclog.questions import history as question
    from reports.history import history as text

    store = target(context).open()
    answer = question.history(store, code, by_day=not as_json)
    if as_json:
        tell_json(question.document(answer))
    else:
        tell(text(answer, number_style(store)))


def what_matters(store: "Store", text: str) -> float:
    """The difference that would make one change, in µm. Raises RefusedError for none."""
    from qclog.errors import RefusedError
    from qclog.logbook.lookup import Register

    with store.reading() as connection:
        matters_pm = error_size(text, Register(connection)) or 0
    if matters_pm <= 0:
        raise RefusedError(f"A difference of {text!r} is none.", "Give it above zero, as 2um.")
    return matters_pm / 1e6


def keep_what_matters(store: "Store", matters_um: float) -> None:
    """Keep it in the logbook for the next time."""
    from qclog.logbook.entries import new_entry
    from qclog.logbook.items import change_setting
    from qclog.logbook.lookup import Register
    from qclog.questions.compare import MATTERS

    with new_entry(store, "compare: what matters") as entry:
        change_setting(entry, Register(entry.connection), MATTERS, str(matters_um))
