"""The paper a statement is printed on: A4, black on white, headings, rows and tables that break well between pages.

Written as PDF/A-3b: lettering embedded, nothing from outside, files attached. The same content gives the same bytes.
"""

import datetime
import functools
import html
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import matplotlib as mpl
from fpdf import FPDF
from fpdf.enums import Align, XPos, YPos
from matplotlib.ft2font import FT2Font

_FACE: Final = "text"
LEFT, RIGHT, TOP, BOTTOM = 20.0, 18.0, 24.0, 20.0
WIDTH: Final = 210.0 - LEFT - RIGHT
TEXT, SMALL, HEADING = 9.2, 7.8, 11.0
LINE: Final = 4.6
_LABEL: Final = 42.0
_PAGE: Final = 21.0
_BETWEEN: Final = 3.0
"""Between the blocks of a list that stands in several across."""
_GAP: Final = 4.5
"""Between columns."""
_HAIR: Final = 165
"""How dark a hairline is, 0 black to 255 white."""
_WHOLE: Final = 5
"""Paragraphs of so many lines are kept together."""
_PAD: Final = 0.5
_THIN, _HEAVY = 0.15, 0.5
_HEADING_KEEPS: Final = 24.0
"""Millimetres that have to be left below a heading on its page."""
NO_SIGN: Final = "\u25a1"
"""Stands for what the lettering has no sign for."""
_FILES: Final = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}
"""The lettering, plain and bold, as matplotlib ships it."""


class Paper(FPDF):
    """Pages with a line at their head and foot. ``against``: what makes it a draft, printed on every page."""

    def __init__(self, head: str, foot: str, against: Sequence[str] = ()) -> None:
        super().__init__(format="A4", enforce_compliance="PDF/A-3B")
        self._head, self._foot, self._against = head, foot, tuple(against)
        folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
        for bold, name in _FILES.items():
            self.add_font(_FACE, "B" if bold else "", folder / name)
        self.set_lang("en")
        self.set_margins(LEFT, TOP, RIGHT)
        self.set_auto_page_break(False)
        self.c_margin = 0.0
        self.add_page()

    def about(self, title: str, author: str, at: datetime.datetime) -> None:
        """What the file says of itself. Only the time given is in it, so that it does not depend on when it is made."""
        stamp = at.isoformat(timespec="seconds")
        self.set_creation_date(at)
        self.set_title(title)
        self.set_xmp_metadata(_XMP.format(title=html.escape(title), author=html.escape(author), stamp=stamp))

    def header(self) -> None:
        if self._against:
            self._mark()
        self.set_xy(LEFT, 11)
        self.letters(SMALL)
        self.cell(WIDTH - _PAGE, 4, self._cut(self._head, WIDTH - _PAGE - _GAP))
        self.rule(16, _THIN)
        self.set_y(20)
        if self._against:
            self._band()

    def footer(self) -> None:
        self.rule(297 - 15, _THIN)
        self.set_xy(LEFT, 297 - 14)
        self.letters(SMALL)
        self.cell(WIDTH, 4, self._foot)

    def count_pages(self) -> None:
        """At the head of each page its number and how many there are: the last that is written."""
        for number in range(1, self.pages_count + 1):
            self.page = number
            self.letters(SMALL, bold=True)
            self.letters(SMALL)
            self.set_xy(LEFT + WIDTH - _PAGE, 11)
            self.cell(_PAGE, 4, f"page {number} of {self.pages_count}", align=Align.R)

    def letters(self, size: float = TEXT, *, bold: bool = False) -> None:
        self.set_font(_FACE, "B" if bold else "", size)

    def rule(self, at: float, thick: float = _THIN, left: float = LEFT, wide: float = WIDTH) -> None:
        """A line across; the thinnest is grey."""
        self.set_line_width(thick)
        self.set_draw_color(_HAIR if thick == _THIN else 0)
        self.line(left, at, left + wide, at)
        self.set_draw_color(0)

    def keep(self, tall: float) -> None:
        """Begin a new page where so much is not left on this one."""
        if self.get_y() + tall > 297 - BOTTOM:
            self.add_page()

    def gap(self, tall: float) -> None:
        self.set_y(self.get_y() + tall)

    def heading(self, text: str, keeps: float = _HEADING_KEEPS) -> None:
        self.gap(3.5)
        self.keep(6.5 + keeps)
        self.letters(HEADING, bold=True)
        self.set_x(LEFT)
        self.cell(WIDTH, 6, text, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.rule(self.get_y(), _HEAVY)
        self.gap(1.0)

    def paragraph(
        self, text: str, size: float = TEXT, *, bold: bool = False, indent: float = 0.0, below: float = 0.8
    ) -> None:
        """Text over the whole width; between pages it breaks at its lines."""
        self.letters(size, bold=bold)
        leading = LINE * size / TEXT
        lines = self.broken(text, WIDTH - indent)
        self.keep(leading * min(len(lines), _WHOLE))
        for line in lines:
            self.keep(leading)
            self.set_x(LEFT + indent)
            self.cell(WIDTH - indent, leading, line, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.gap(below)

    def rows(self, pairs: Sequence[tuple[str, str]]) -> None:
        """What is called what: names at the left, a hairline below each."""
        for name, text in pairs:
            self._row((name, text), (_LABEL, WIDTH - _LABEL), "LL")

    def listed(self, head: Sequence[str], body: Sequence[Sequence[str]], align: str) -> None:
        """A list with its head on every page. ``align``: L or R for each column.

        Columns are as wide as their texts, where there is room for that; a narrow list stands in several blocks beside
        each other, each to be read downward.
        """
        widths = self._fitted([self._natural(column) for column in zip(head, *body, strict=True)])
        across = int((WIDTH + _BETWEEN + 0.01) / (sum(widths) + _BETWEEN))
        if across > 1:
            self._blocks(head, body, widths, align, across)
            return
        self.keep(3 * LINE)
        self._row(head, widths, align, bold=True)
        for cells in body:
            self.letters()
            lines = [self.broken(cell, width - _GAP) for cell, width in zip(cells, widths, strict=True)]
            if self.get_y() + LINE * len(max(lines, key=len)) + 2 * _PAD > 297 - BOTTOM:
                self.add_page()
                self._row(head, widths, align, bold=True)
            self._row(cells, widths, align)

    def _cut(self, text: str, width: float) -> str:
        """As much of a text as fits on one line."""
        if self.get_string_width(text) <= width:
            return text
        while self.get_string_width(f"{text}…") > width:
            text = text[:-1]
        return f"{text}…"

    def _natural(self, column: Sequence[str]) -> float:
        """The width of a column whose head is the first of these texts."""
        self.letters(bold=True)
        head = self.get_string_width(shown(column[0]))
        self.letters()
        return max([head, *(self.get_string_width(shown(text)) for text in column[1:])]) + _GAP

    @staticmethod
    def _fitted(widths: Sequence[float]) -> list[float]:
        """Widths that fit on the page together: the widest ones are narrowed to one width."""
        found = list(widths)
        while sum(found) > WIDTH + 0.01:
            widest = max(found)
            next_ = max((width for width in found if width < widest - 0.01), default=0.0)
            many = sum(width > widest - 0.01 for width in found)
            least = widest - (sum(found) - WIDTH) / many
            found = [max(next_, least) if width > widest - 0.01 else width for width in found]
        return found

    def _blocks(
        self, head: Sequence[str], body: Sequence[Sequence[str]], widths: Sequence[float], align: str, across: int
    ) -> None:
        tall, left, step = LINE + 2 * _PAD, list(body), (WIDTH + _BETWEEN) / across
        while left:
            self.keep(3 * tall)
            room = int((297 - BOTTOM - self.get_y()) / tall) - 1
            down = min(room, -(-len(left) // across))
            top = self.get_y()
            for block in range(across):
                some, left = left[:down], left[down:]
                self.set_y(top)
                for number, cells in enumerate([head, *some] if some else []):
                    self._row(cells, widths, align, bold=not number, left=LEFT + block * step)
            self.set_y(top + (down + 1) * tall)
            if left:
                self.add_page()

    def broken(self, text: str, width: float) -> list[str]:
        """The lines of a text in the present lettering."""
        found: Any = self.multi_cell(width, LINE, shown(text), dry_run=True, output="LINES", align=Align.L)
        return list(found) or [""]

    def _row(
        self, cells: Sequence[str], widths: Sequence[float], align: str, *, bold: bool = False, left: float = LEFT
    ) -> None:
        self.letters(bold=bold)
        lines = [self.broken(cell, width - _GAP) for cell, width in zip(cells, widths, strict=True)]
        most = max(map(len, lines))
        self.keep(min(most, 3) * LINE + 2 * _PAD)
        for number in range(most):
            self.keep(LINE + _PAD)
            at = self.get_y() + (_PAD if not number else 0.0)
            across = left
            for broken, width, side in zip(lines, widths, align, strict=True):
                if number < len(broken):
                    self.set_xy(across + _PAD, at)
                    self.cell(width - _GAP, LINE, broken[number], align=Align.R if side == "R" else Align.L)
                across += width
            self.set_xy(LEFT, at + LINE)
        self.gap(_PAD)
        self.rule(self.get_y(), 2 * _THIN if bold else _THIN, left, sum(widths))

    def _mark(self) -> None:
        self.set_text_color(225)
        self.letters(60, bold=True)
        with self.rotation(52, 105, 165):
            self.set_xy(0, 150)
            self.cell(210, 30, "NOT FOR ISSUE", align=Align.C)
        self.set_text_color(0)

    def _band(self) -> None:
        self.set_fill_color(0)
        self.rect(LEFT, 18.5, WIDTH, 12, style="F")
        self.set_text_color(255)
        self.letters(20, bold=True)
        self.set_xy(LEFT, 18.5)
        self.cell(WIDTH, 12, "NOT FOR ISSUE", align=Align.C)
        self.set_text_color(0)
        self.set_y(32)
        self.letters(SMALL, bold=True)
        for line in (line for why in self._against for line in self.broken(why, WIDTH)):
            self.set_x(LEFT)
            self.cell(WIDTH, 3.8, line, new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.gap(1.5)
        self.rule(self.get_y(), _HEAVY)
        self.gap(1.5)


@functools.cache
def signs() -> frozenset[int]:
    """The characters that the lettering has a sign for, plain and bold."""
    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    return frozenset.intersection(*(frozenset(FT2Font(str(folder / name)).get_charmap()) for name in _FILES.values()))


def shown(text: str) -> str:
    """``text`` with a box for each character that the lettering has no sign for."""
    known = signs()
    return "".join(character if ord(character) in known else NO_SIGN for character in text)


_XMP: Final = """<x:xmpmeta xmlns:x="adobe:ns:meta/">
  <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"
    xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:xmp="http://ns.adobe.com/xap/1.0/"
    xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
    <rdf:Description rdf:about="" xmp:CreateDate="{stamp}" xmp:ModifyDate="{stamp}" xmp:MetadataDate="{stamp}">
      <pdfaid:part>3</pdfaid:part>
      <pdfaid:conformance>B</pdfaid:conformance>
      <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
      <dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
    </rdf:Description>
  </rdf:RDF>
</x:xmpmeta>"""
