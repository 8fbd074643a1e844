"""The command that writes pages."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from qclog.cli.common import number_style, say, target

if TYPE_CHECKING:
    from collections.abc import Sequence

    from qclog.questions.dossier import Dossier
    from reports.numbers import NumberStyle


def add_to(app: typer.Typer) -> None:
    app.command("report")(report)


def report(
    context: typer.Context,
    code: Annotated[str | None, typer.Argument(metavar="[ITEM]", help="The item whose page is wanted.")] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="The drawer: an index of all items, and a page for each beside it.")
    ] = False,
    to: Annotated[
        Path | None,
        typer.Option(metavar="PATH", help="The file to write; with --all the folder. Without it: here, named by code."),
    ] = None,
    pictures: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Put every picture into this folder too, as SVG and as PNG."),
    ] = None,
) -> None:
    """Write the page of an item, or of everything.

    Verdict, run-out over time, key positions, wear, and the readings behind them. One HTML file that needs nothing
    else, for screen, phone and paper.
    """
    from qclog.errors import UsageError
    from qclog.questions.dossier import dossiers
    from qclog.questions.drawer import drawer
    from qclog.questions.due import due
    from reports.files import write
    from reports.pages.drawer import drawer_page, file_name
    from reports.pages.item import item_page

    if (code is None) == (not everything):
        raise UsageError("Name an item, or say --all.", "As: qclog report C-046, or: qclog report --all")
    store = target(context).open()
    style = number_style(store)
    if code is not None:
        (dossier,) = dossiers(store, [code])
        path = to or Path(file_name(dossier.assessed.item))
        path = path / file_name(dossier.assessed.item) if path.is_dir() else path
        write(path, item_page(dossier, style))
        say(f"Written: {path}")
        _write_pictures(pictures, [dossier], style)
        return
    folder = to or Path("drawer")
    found = dossiers(store)
    for dossier in found:
        write(folder / file_name(dossier.assessed.item), item_page(dossier, style, index="index.html"))
    write(folder / "index.html", drawer_page(drawer(store), due(store), style))
    say(f"Written: {folder / 'index.html'}, and {len(found)} pages beside it.")
    _write_pictures(pictures, found, style)


def _write_pictures(folder: Path | None, found: "Sequence[Dossier]", style: "NumberStyle") -> None:
    from reports.numbers import count
    from reports.pages.pictures import write_pictures

    if folder is not None:
        drawn = sum(write_pictures(folder, dossier, style) for dossier in found)
        say(f"Written: {count(drawn, 'picture')} in {folder}, each as SVG and as PNG.")
