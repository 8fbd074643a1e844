"""Commands about the measuring itself and the process: uncertainty, study, chart."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import listed, number_style, point_to, say, target, tell, tell_json

if TYPE_CHECKING:
    from collections.abc import Sequence

    from qclog.questions.chart import Answer

_NOTHING = "Nothing was measured of {items} as it is now. Log a clamping: qclog log {first} 4 5 4"


_NO_RUN_OUT = (
    "A study is of run-out only, and none was measured of {items} as it is now. "
    "Whether a size or a gap stays as it was: qclog chart {first}"
)


def add_to(app: typer.Typer) -> None:
    app.command("uncertainty")(uncertainty)
    app.command("study")(study)
    app.command("chart")(chart)


def uncertainty(
    context: typer.Context,
    codes: Annotated[list[str], typer.Argument(metavar="ITEM", help="The items asked about.")],
    setup: Annotated[str | None, typer.Option(help="Only in this setup.")] = None,
    position: Annotated[str | None, typer.Option(help="Only at this key position.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """How sure is a verdict, and what limit can be proven?

    The uncertainty behind a verdict, line by line; the smallest limit the clampings prove as they stand,
    with more of them, and at best.
    """
    from qclog.cli.questions import say_if_changing
    from qclog.questions import uncertainty as question
    from reports import words_used
    from reports.uncertainty import budgets

    store = target(context).open()
    answers = question.uncertainty(store, codes, setup=setup, position=position)
    if as_json:
        tell_json(question.document(answers))
    else:
        tell(budgets(answers, number_style(store)))
        for answer in answers:
            say_if_changing(store, answer.item)
        point_to(words_used.of_uncertainty(answers))


def study(
    context: typer.Context,
    codes: Annotated[list[str], typer.Argument(metavar="ITEM", help="The item of the study; several together.")],
    setup: Annotated[str | None, typer.Option(help="Only in this setup.")] = None,
    plan: Annotated[bool, typer.Option("--plan", help="Lay out the shortest useful study of one item.")] = False,
    positions: Annotated[str, typer.Option(metavar="NAMES", help="To plan: key positions; without, all.")] = "",
    pins: Annotated[str, typer.Option(metavar="CODES", help="To plan: pins of one size, P-1,P-2.")] = "",
    people: Annotated[str, typer.Option(metavar="NAMES", help="To plan: who clamps and reads, AK,MO.")] = "",
    clampings: Annotated[int | None, typer.Option(help="To plan: of each person, pin and position.")] = None,
    readings: Annotated[int, typer.Option(help="To plan: of each clamping, before it is opened.")] = 2,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """How good is the measuring, and what to mend first?

    Whose is the scatter? Reading, re-clamping, day, pin, person and indicator, as far as the logbook tells them apart.
    """
    from qclog.errors import UsageError
    from qclog.questions import study as question
    from qclog.questions.studying import plan as planning
    from reports import words_used
    from reports.study import study as text
    from reports.study import study_plan

    store = target(context).open()
    if plan:
        if len(codes) != 1:
            raise UsageError("A study is planned for one item.", "As: qclog study C-046 --plan --pins P-1,P-2")
        found = planning.plan_study(
            store,
            codes[0],
            setup=setup,
            positions=listed(positions),
            pins=listed(pins),
            people=listed(people),
            clampings=clampings,
            readings=readings,
        )
        if as_json:
            tell_json(planning.document(found))
        else:
            tell(study_plan(found))
        return
    answers = question.study(store, codes, setup=setup)
    if as_json:
        tell_json(question.document(answers))
    elif answers:
        tell(text(answers, number_style(store)))
        point_to(words_used.of_study(answers))
    else:
        tell(_NO_RUN_OUT.format(items=", ".join(codes), first=codes[0]))


def chart(
    context: typer.Context,
    codes: Annotated[list[str], typer.Argument(metavar="ITEM", help="The items asked about.")],
    pictures: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Put a picture of each into this folder, as SVG and as PNG.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    gate: Annotated[bool, typer.Option("--gate", help="Exit code 1 for not steady, 8 if not told yet.")] = False,
) -> None:
    """Is the process steady, or has it moved?

    Run-out against those before it, other characteristics by the classical charts; and what it does with its limit.
    """
    from qclog.questions import chart as question
    from reports import words_used
    from reports.chart import chart as text

    store = target(context).open()
    answers = question.chart(store, codes)
    if pictures is not None:
        _write_charts(pictures, answers)
    if as_json:
        tell_json(question.document(answers))
    elif answers:
        tell(text(answers, number_style(store)))
        point_to(words_used.of_chart(answers))
    else:
        tell(_NOTHING.format(items=", ".join(codes), first=codes[0]))
    if gate:
        raise typer.Exit(question.gate(answers))


def _write_charts(folder: Path, answers: "Sequence[Answer]") -> None:
    from reports.files import write
    from reports.numbers import count
    from reports.pages.drawer import file_stem
    from reports.pictures.chart import chart_picture

    drawn = [
        (answer, chart_picture(answer, f"chart-{i}")) for i, answer in enumerate(answers, start=1) if answer.points
    ]
    for answer, picture in drawn:
        path = folder / f"{file_stem(answer.item)}-{picture.name}"
        write(path.with_name(f"{path.name}.svg"), picture.standing_alone())
        write(path.with_name(f"{path.name}.png"), picture.png())
    say(f"Written: {count(len(drawn), 'picture')} in {folder}, each as SVG and as PNG.")
