"""The command that makes labels and engraving text."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import check_name, number_style, say, size, target, tell

if TYPE_CHECKING:
    from qclog.logbook.engine import Store
    from qclog.questions.owned.labelled import Labelled

_PM_PER_MM = 10**9
_PICTURES = (".svg", ".png")


def add_to(app: typer.Typer) -> None:
    app.command("label")(label)


def label(
    context: typer.Context,
    codes: Annotated[list[str] | None, typer.Argument(metavar="ITEM", help="The items to label.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="All items that may have a label.")] = False,
    to: Annotated[
        Path, typer.Option(metavar="FILE", help="A PDF of sheets; FILE.svg or FILE.png for one label alone.")
    ] = Path("labels.pdf"),
    label_: Annotated[str, typer.Option("--label", metavar="WxH", help="A label: width x height in mm.")] = "48x20",
    paper: Annotated[str, typer.Option(help="A4, letter; label for a label printer, one a page.")] = "A4",
    grid: Annotated[
        str | None, typer.Option(metavar="CxR", help="Columns x rows of the sheet; without it as many as fit.")
    ] = None,
    margins: Annotated[
        str | None, typer.Option(metavar="LxT", help="Left x top margin in mm; without it in the middle.")
    ] = None,
    gaps: Annotated[str, typer.Option(metavar="AxD", help="Between labels: across x down in mm.")] = "0x0",
    start: Annotated[int, typer.Option(metavar="N", help="First free place of a sheet begun, along the rows.")] = 1,
    outlines: Annotated[
        bool, typer.Option("--outlines", help="Thin edges: to cut along, or to try the sheet on plain paper.")
    ] = False,
    engrave: Annotated[bool, typer.Option("--engrave", help="Print the lines to engrave instead.")] = False,
) -> None:
    """Labels for tubes and drawers.

    QR code, code, size, the place it is married to, and whether it is rated. Print at actual size. A cracked or
    heat-blued item, and scrap, gets none.
    """
    from qclog.errors import UsageError
    from reports.files import write
    from reports.labels.sheet import ONE_A_PAGE, laid_out, sheets, single
    from reports.labels.texts import engraving

    if bool(codes) == everything:
        raise UsageError("Name items, or say --all.", "As: qclog label C-046, or: qclog label --all")
    if not engrave:
        check_name(to, (".pdf", *_PICTURES))
    store = target(context).open()
    items, barred = _allowed(store, codes or [])
    if engrave:
        tell("\n\n".join(map(engraving, items)))
        _say_barred(barred)
        return
    style, form = number_style(store), to.suffix.casefold()
    alone = form in _PICTURES
    sheet = laid_out(
        ONE_A_PAGE if alone else paper,
        _across_down("--label", label_),
        grid=_columns_rows(grid) if grid else None,
        margins=_across_down("--margins", margins) if margins else None,
        gaps=_across_down("--gaps", gaps),
    )
    if alone:
        if len(items) != 1:
            raise UsageError(f"A {form} file holds one label.", "Name one item, or a PDF with --to.")
        write(to, single(items[0], sheet, "svg" if form == ".svg" else "png", style))
        _say_barred(barred)
        say(f"Written: {to}, {sheet.label[0]:g} x {sheet.label[1]:g} mm.")
        return
    write(to, sheets(items, sheet, start=start, outlines=outlines, style=style))
    _say_barred(barred)
    say(f"Written: {to}. Print it at actual size (100 %), not fitted to the page.")


def _allowed(store: "Store", codes: list[str]) -> "tuple[list[Labelled], list[Labelled]]":
    """The items to label, and those of all that may have none. Raises RefusedError for one named that may not."""
    from qclog.errors import NotFoundError, RefusedError
    from qclog.questions.owned.labelled import labelled
    from reports.labels.texts import refusal

    found = labelled(store, codes)
    barred = [item for item in found if item.barred]
    if codes and barred:
        raise RefusedError(f"{'. '.join(map(refusal, barred))}.", "Name the others.")
    if len(barred) == len(found):
        _say_barred(barred)
        raise NotFoundError("There is no item to label.", "Enter one: qclog item add C-046 --kind collet --size 6")
    return [item for item in found if not item.barred], barred


def _say_barred(barred: "list[Labelled]") -> None:
    from reports.labels.texts import refusal

    for item in barred:
        say(f"{refusal(item)}.")


def _across_down(option: str, text: str) -> tuple[float, float]:
    """Two lengths as "48x20", in mm. Raises UsageError."""
    across, down = _two(option, text, "48x20")
    return (size(across) or 0) / _PM_PER_MM, (size(down) or 0) / _PM_PER_MM


def _columns_rows(text: str) -> tuple[int, int]:
    from qclog.errors import UsageError

    columns, rows = _two("--grid", text, "4x14")
    if not (columns.isdecimal() and rows.isdecimal()):
        raise UsageError(f"--grid {text} is no number of columns and rows.", "As: --grid 4x14")
    return int(columns), int(rows)


def _two(option: str, text: str, example: str) -> tuple[str, str]:
    from qclog.errors import UsageError

    parts = text.casefold().split("x")
    if len(parts) != 2 or not all(part.strip() for part in parts):
        raise UsageError(f"{option} {text} is not two numbers.", f"As: {option} {example}")
    return parts[0].strip(), parts[1].strip()
