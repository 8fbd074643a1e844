"""Labels are read back by a decoder off the rendered page, at their true size; nothing is cut off or written over."""

import dataclasses
import io
import itertools
import re

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from qclog.errors import RefusedError, UsageError
from qclog.questions.owned.labelled import Labelled
from reports.labels.drawing import MM_PER_INCH, blank, draw, styled
from reports.labels.qr import modules
from reports.labels.sheet import ONE_A_PAGE, Sheet, laid_out, sheets, single
from reports.labels.texts import engraving, married, rating, size
from reports.numbers import METRIC, NumberStyle

DPI = 200
BORED = Labelled("B-815", 8_150_000_000, "LATHE-A", "N", "2025-02-04", ("bored",), "")
PLAIN = Labelled("CH-1", None, "", "", "", (), "")
LONG = Labelled(
    "COLLET WITH A NAME AS LONG AS IT MAY BE1",
    12_345_678_900,
    "LATHE BY THE NORTH WINDOW, SLEEVE 3",
    "A then B",
    "2024-01-02",
    ("bored", "annealed", "soft"),
    "",
)
CODES = ("0O1I5S8B", "c-735", "A/4, #3 + 0.5", "Ä-7", "Ж-12", "1" * 20, "1" * 21)


def _pages(pdf: bytes, dpi: int = DPI) -> list[np.ndarray]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.render(scale=dpi / 72).to_numpy() for page in document]
    finally:
        document.close()


def _read(image: np.ndarray) -> dict[str, tuple[float, float]]:
    """The codes read off a page, with the middle of each QR code in mm."""
    found = {}
    for code in zxingcpp.read_barcodes(image):
        corners = [getattr(code.position, corner) for corner in ("top_left", "bottom_right")]
        middle = np.mean([(corner.x, corner.y) for corner in corners], axis=0) * MM_PER_INCH / DPI
        found[code.text] = (float(middle[0]), float(middle[1]))
    return found


@pytest.mark.parametrize("item", [BORED, PLAIN, dataclasses.replace(PLAIN, item="CHUCK-123456"), LONG])
@pytest.mark.parametrize(("width", "height"), [(48.0, 20.0), (64.0, 34.0), (40.0, 60.0), (100.0, 30.0)])
@styled
def test_nothing_on_a_label_runs_over_its_edge_or_into_the_quiet_zone(
    item: Labelled, width: float, height: float
) -> None:
    page, ax = blank(width, height)
    draw(ax, item, 0.0, 0.0, width, height, METRIC)
    boxes = _lettering(page, ax)
    assert all(left > 0 and right < width - 1 and top > 0 and bottom < height for left, top, right, bottom in boxes)
    ordered = sorted(boxes, key=lambda box: box[1])
    assert all(upper[3] <= lower[1] + 1e-6 for upper, lower in itertools.pairwise(ordered))
    (symbol,) = [patch for patch in ax.patches if len(patch.get_path()) > 100]
    corners = np.asarray(symbol.get_path().vertices)
    module = np.ptp(corners[:, 0]) / len(modules(item.item))
    (x0, y0), (x1, y1) = corners.min(axis=0) - 3.99 * module, corners.max(axis=0) + 3.99 * module
    assert min(x0, y0) >= 0
    assert x1 <= width
    assert y1 <= height
    assert all(left >= x1 or top >= y1 for left, top, _, _ in boxes)


def _lettering(page: Figure, ax: Axes) -> list[tuple[float, float, float, float]]:
    """Where the ink of each row of lettering stands in mm: left, top, right, bottom."""
    renderer = FigureCanvasAgg(page).get_renderer()  # type: ignore[no-untyped-call]
    boxes = []
    for text in ax.texts:
        box = text.get_window_extent(renderer).transformed(ax.transData.inverted())
        left, right = sorted((box.x0, box.x1))
        top, bottom = sorted((box.y0, box.y1))
        boxes.append((left, top, right, bottom))
    return boxes


def test_every_code_is_read_back_off_the_sheet_as_it_was_given() -> None:
    items = [dataclasses.replace(BORED, item=code) for code in CODES]
    (page,) = _pages(sheets(items, laid_out("A4", (64.0, 34.0))))
    assert set(_read(page)) == {code.upper() if code.isascii() else code for code in CODES}


def test_a_code_is_read_back_off_the_smallest_label_it_may_have_at_the_dots_of_a_label_printer() -> None:
    (page,) = _pages(sheets([BORED], laid_out(ONE_A_PAGE, (30.0, 12.0))), dpi=203)
    assert set(_read(page)) == {"B-815"}


def test_the_error_correction_is_at_least_m_and_a_short_code_has_the_smallest_symbol() -> None:
    for code in CODES:
        light = np.pad(~modules(code), 4, constant_values=True)
        (found,) = zxingcpp.read_barcodes(np.kron(light, np.full((8, 8), 255)).astype(np.uint8))
        assert found.ec_level in "MQH"
    assert len(modules("B-815")) == len(modules("1" * 20)) == 21
    assert len(modules("1" * 20 + "A")) == 25


def test_labels_stand_where_the_sheet_has_them_at_true_size() -> None:
    sheet = laid_out("A4", (63.0, 30.0), grid=(3, 9), margins=(7.2, 13.5), gaps=(2.5, 0.5))
    items = [dataclasses.replace(PLAIN, item=f"C-{number:03}") for number in range(25)]
    first, second = _pages(sheets(items, sheet, start=5))
    assert first.shape[:2] == (round(297 / MM_PER_INCH * DPI), round(210 / MM_PER_INCH * DPI))
    found, after = _read(first), _read(second)
    assert set(found) == {item.item for item in items[:23]}
    assert set(after) == {"C-023", "C-024"}
    assert after["C-023"] == pytest.approx((7.2 + 15, 13.5 + 15), abs=0.3)
    for number in (0, 1, 22):
        row, column = divmod(number + 4, 3)
        x, y = found[f"C-{number:03}"]
        assert x == pytest.approx(7.2 + column * 65.5 + 15, abs=0.3)
        assert y == pytest.approx(13.5 + row * 30.5 + 15, abs=0.3)


def test_without_a_grid_as_many_labels_as_fit_stand_in_the_middle() -> None:
    a4, letter = laid_out("A4", (48.0, 20.0)), laid_out("letter", (48.0, 20.0))
    assert (a4.columns, a4.rows, letter.columns, letter.rows) == (4, 14, 4, 13)
    wide = laid_out("A4", (50.0, 24.0), gaps=(1.0, 1.0))
    assert (wide.columns, wide.rows) == (3, 11)  # of 210 mm 8 are kept free at each edge
    assert a4.margins == pytest.approx((9.0, 8.5))
    assert a4.place(0) == a4.margins
    assert a4.place(5) == pytest.approx((57.0, 28.5))


@pytest.mark.parametrize("start", [0, 25, -1])
def test_a_place_the_sheet_does_not_have_is_refused(start: int) -> None:
    with pytest.raises(UsageError, match="a number from 1 to 24"):
        sheets([BORED], laid_out("A4", (70.0, 37.0), grid=(3, 8)), start=start)


@pytest.mark.parametrize(
    ("label", "more", "says"),
    [
        ((70.0, 38.0), {"grid": (3, 8)}, "3 x 8 labels of 70 x 38 mm do not fit on A4"),
        ((70.0, 37.0), {"grid": (3, 8), "margins": (5.0, 0.0)}, "run off the A4 sheet, which is 210 x 297 mm"),
        ((70.0, 37.0), {"grid": (3, 8), "gaps": (1.0, 0.0)}, "do not fit"),
        ((48.0, 20.0), {"grid": (0, 8)}, "do not fit"),
        ((48.0, 0.0), {}, "cannot be made"),
        ((48.0, 20.0), {"gaps": (-1.0, 0.0)}, "cannot be made"),
        ((250.0, 20.0), {}, "do not fit"),
    ],
)
def test_labels_that_run_off_the_paper_are_refused(
    label: tuple[float, float], more: dict[str, tuple[float, float]], says: str
) -> None:
    with pytest.raises(UsageError, match=says):
        laid_out("A4", label, **more)  # type: ignore[arg-type]


def test_paper_that_is_not_known_is_refused_and_the_known_are_named() -> None:
    with pytest.raises(UsageError, match="One of: A4, letter, label"):
        laid_out("A5", (48.0, 20.0))


@pytest.mark.parametrize(
    ("item", "label", "says"),
    [
        (BORED, (40.0, 11.0), r"QR code of B-815 .* a square of 11.6 mm"),
        (BORED, (24.0, 12.0), "lettering too small"),
        (LONG, (36.0, 18.0), "lettering too small"),
        (dataclasses.replace(PLAIN, item="套-1"), (48.0, 20.0), "no sign '套'"),
    ],
)
def test_a_label_that_could_not_be_read_is_refused(item: Labelled, label: tuple[float, float], says: str) -> None:
    with pytest.raises(RefusedError, match=says):
        sheets([item], laid_out(ONE_A_PAGE, label))


def test_a_single_label_is_a_picture_of_its_true_size_without_fonts() -> None:
    sheet = laid_out(ONE_A_PAGE, (48.0, 20.0))
    svg = single(BORED, sheet, "svg").decode()
    width, height = (float(found) for found in re.findall(r'(?:width|height)="([\d.]+)pt"', svg)[:2])
    assert (width, height) == pytest.approx((48 / MM_PER_INCH * 72, 20 / MM_PER_INCH * 72), abs=0.01)
    assert "<text" not in svg
    assert "B-815" in svg  # its title
    image = np.asarray(_png(single(BORED, sheet, "png")))
    assert image.shape[:2] == pytest.approx((20 / MM_PER_INCH * 600, 48 / MM_PER_INCH * 600), abs=1)
    assert [code.text for code in zxingcpp.read_barcodes(image)] == ["B-815"]


def _png(content: bytes) -> np.ndarray:
    from matplotlib.image import imread

    return (255 * imread(io.BytesIO(content), format="png")[..., :3]).astype(np.uint8)


def test_the_same_labels_give_the_same_file() -> None:
    sheet = laid_out("A4", (48.0, 20.0))
    assert sheets([BORED, PLAIN], sheet) == sheets([BORED, PLAIN], sheet)


def test_lines_of_a_label_and_of_an_engraving() -> None:
    def plain(text: str) -> str:
        return text.replace("\u00a0", " ")

    assert plain(size(BORED)) == "8.15 mm"
    assert plain(size(dataclasses.replace(BORED, size_pm=6_350_000_000), NumberStyle(inch=True))) == "6.35 mm (0.25 in)"
    assert plain(married(BORED)) == "in LATHE-A at N"
    assert plain(rating(BORED)) == "BORED: NOT RATED"
    assert plain(rating(LONG)) == "BORED, ANNEALED, SOFT: NOT RATED"
    assert (size(PLAIN), married(PLAIN), rating(PLAIN)) == ("", "", "")
    assert engraving(BORED) == "B-815\n8.15 LATHE-A-N\n2025-02-04"
    assert engraving(PLAIN) == "CH-1"
    assert engraving(dataclasses.replace(BORED, married_position="")) == "B-815\n8.15 LATHE-A\n2025-02-04"


def test_outlines_are_drawn_for_every_place_only_when_wanted() -> None:
    sheet = Sheet((100.0, 100.0), (48.0, 20.0), 2, 4, (2.0, 2.0), (0.0, 0.0))
    plain, outlined = (_pages(sheets([PLAIN], sheet, outlines=wanted))[0] for wanted in (False, True))
    lower = slice(round(60 / MM_PER_INCH * DPI), None)
    assert plain[lower].min() == 255
    assert outlined[lower].min() < 255
