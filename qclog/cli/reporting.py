"""The command that writes pages."""

from pathlib import Path
from typing import Annotated, Final

import typer

from qclog.cli.common import number_style, say, target

_TOLD_EVERY: Final = 100
"""Pages, which take some half a minute."""


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
    from qclog.questions.dossier import one_by_one
    from qclog.questions.drawer import drawer
    from qclog.questions.due import due
    from reports.files import write
    from reports.pages.drawer import drawer_page, file_name
    from reports.pages.item import item_page
    from reports.pages.pictures import write_pictures

    if (code is None) == (not everything):
        raise UsageError("Name an item, or say --all.", "As: qclog report C-046, or: qclog report --all")
    store = target(context).open()
    style = number_style(store)
    if code is not None:
        (dossier,) = one_by_one(store, [code])
        path = to or Path(file_name(dossier.assessed.item))
        path = path / file_name(dossier.assessed.item) if path.is_dir() else path
        write(path, item_page(dossier, style))
        say(f"Written: {path}")
        if pictures is not None:
            _say_drawn(pictures, write_pictures(pictures, dossier, style))
        return
    folder = to or Path("drawer")
    index, owned = folder / "index.html", drawer(store)
    write(index, drawer_page(owned, due(store), style))
    pages = drawn = 0
    for pages, dossier in enumerate(one_by_one(store), start=1):
        write(folder / file_name(dossier.assessed.item), item_page(dossier, style, index=index.name))
        drawn += 0 if pictures is None else write_pictures(pictures, dossier, style)
        if pages % _TOLD_EVERY == 0:
            say(f"{index} is written, and {pages} of {len(owned.entries)} pages beside it.")
    say(f"Written: {index}, and {pages} pages beside it.")
    if pictures is not None:
        _say_drawn(pictures, drawn)


def _say_drawn(folder: Path, drawn: int) -> None:
    from reports.numbers import count

    say(f"Written: {count(drawn, 'picture')} in {folder}, each as SVG and as PNG.")
