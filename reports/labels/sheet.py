"""Sheets of labels as PDF, at their true size, and a single label as a picture."""

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final, Literal

from matplotlib.backends.backend_pdf import PdfPages

from qclog.errors import UsageError
from qclog.questions.owned.labelled import Labelled
from reports.labels.drawing import blank, draw, outline, styled
from reports.numbers import METRIC, NumberStyle

PAPERS: Final = {"A4": (210.0, 297.0), "letter": (215.9, 279.4)}
ONE_A_PAGE: Final = "label"
"""The paper of a label printer: every page is a label."""
LEAST_LABEL, LARGEST_LABEL = 10.0, 300.0
_UNPRINTABLE: Final = 8.0
"""Millimetres at the edge of a sheet that are kept free where no grid is given."""
_DOTS: Final = 600
_ROUNDING: Final = 0.05


@dataclass(frozen=True, slots=True)
class Sheet:
    """Labels on paper, in mm: paper, label, margins at the left and the top, and gaps as (across, down)."""

    paper: tuple[float, float]
    label: tuple[float, float]
    columns: int
    rows: int
    margins: tuple[float, float]
    gaps: tuple[float, float]

    @property
    def labels(self) -> int:
        return self.columns * self.rows

    def place(self, number: int) -> tuple[float, float]:
        """The upper left corner of a label, counted from 0 along the rows."""
        row, column = divmod(number, self.columns)
        return (
            self.margins[0] + column * (self.label[0] + self.gaps[0]),
            self.margins[1] + row * (self.label[1] + self.gaps[1]),
        )


def laid_out(
    paper: str,
    label: tuple[float, float],
    *,
    grid: tuple[int, int] | None = None,
    margins: tuple[float, float] | None = None,
    gaps: tuple[float, float] = (0.0, 0.0),
) -> Sheet:
    """A sheet as it is bought. Without ``grid`` as many labels as fit well, without ``margins`` in the middle.

    Raises UsageError where the labels run off the paper.
    """
    if not all(LEAST_LABEL <= side <= LARGEST_LABEL for side in label) or min(*gaps, *(margins or (0.0,))) < 0:
        raise UsageError(
            f"A label of {_by(label)} with gaps of {_by(gaps)} cannot be made.",
            f"Sides from {LEAST_LABEL:g} to {LARGEST_LABEL:g} mm; margins and gaps of 0 or more.",
        )
    if paper == ONE_A_PAGE:
        return Sheet(label, label, 1, 1, (0.0, 0.0), (0.0, 0.0))
    if paper not in PAPERS:
        raise UsageError(f"{paper!r} is no paper known here.", f"One of: {', '.join(PAPERS)}, {ONE_A_PAGE}.")
    size = PAPERS[paper]
    columns, rows = grid or (_as_many(size[0], label[0], gaps[0]), _as_many(size[1], label[1], gaps[1]))
    taken = (columns * (label[0] + gaps[0]) - gaps[0], rows * (label[1] + gaps[1]) - gaps[1])
    left, top = margins or ((size[0] - taken[0]) / 2, (size[1] - taken[1]) / 2)
    if min(columns, rows) < 1 or min(left, top) < -_ROUNDING:
        raise UsageError(f"{columns} x {rows} labels of {_by(label)} do not fit on {paper}.", _MEASURE)
    if left + taken[0] > size[0] + _ROUNDING or top + taken[1] > size[1] + _ROUNDING:
        raise UsageError(f"With these margins the labels run off the {paper} sheet, which is {_by(size)}.", _MEASURE)
    return Sheet(size, label, columns, rows, (left, top), gaps)


_MEASURE: Final = "Measure the sheet: --grid COLUMNSxROWS, and --label, --margins and --gaps in mm, across x down."


@styled
def sheets(
    items: Sequence[Labelled], sheet: Sheet, *, start: int = 1, outlines: bool = False, style: NumberStyle = METRIC
) -> bytes:
    """The labels as PDF; the first stands at place ``start`` of the first sheet, counted along the rows from 1.

    Raises UsageError for a place the sheet does not have, RefusedError for a label that could not be read.
    """
    if not 1 <= start <= sheet.labels:
        raise UsageError(f"The sheet has no place {start}.", f"Give --start a number from 1 to {sheet.labels}.")
    made = io.BytesIO()
    left, skipped = iter(items), start - 1
    with PdfPages(made, metadata={"Title": "Labels", "CreationDate": None, "Creator": None, "Producer": None}) as pdf:
        for _ in range(math.ceil((skipped + len(items)) / sheet.labels)):
            page, ax = blank(*sheet.paper)
            if outlines:
                for number in range(sheet.labels):
                    outline(ax, *sheet.place(number), *sheet.label)
            for number, item in enumerate(islice(left, sheet.labels - skipped), start=skipped):
                draw(ax, item, *sheet.place(number), *sheet.label, style)
            skipped = 0
            pdf.savefig(page)
    return made.getvalue()


@styled
def single(item: Labelled, sheet: Sheet, form: Literal["svg", "png"], style: NumberStyle = METRIC) -> bytes:
    """One label of a sheet as a picture of its true size. Raises RefusedError as ``sheets``."""
    page, ax = blank(*sheet.label)
    draw(ax, item, 0.0, 0.0, *sheet.label, style)
    made = io.BytesIO()
    about = {"Date": None, "Creator": None, "Title": item.item} if form == "svg" else {"Title": item.item}
    page.savefig(made, format=form, dpi=_DOTS, metadata=about)
    return made.getvalue()


def _as_many(paper: float, label: float, gap: float) -> int:
    return math.floor((paper - 2 * _UNPRINTABLE + gap + _ROUNDING) / (label + gap))


def _by(size: tuple[float, float]) -> str:
    return f"{size[0]:g} x {size[1]:g} mm"
