"""What all pictures share: size, ink, marks, and how a figure becomes SVG that follows the page it stands in.

A picture is drawn as wide as a phone shows it, so that its lettering stays readable there, and grows with the page.
Colours are drawn as stand-ins, which on a page become its own (dark on light or light on dark). Nothing is told by
colour alone: lines differ by dash and weight, marks by shape, so that black and white print says the same.
"""

import html
import io
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from reports.anchors import dot_of

INK: Final = "#101112"
SOFT: Final = "#707172"
FAINT: Final = "#c8c9ca"
MARK: Final = "#0a4a5c"
PAPER: Final = "#fdfcfb"
_ON_A_PAGE: Final = {INK: "ink", SOFT: "soft", FAINT: "faint", MARK: "mark", PAPER: "paper"}
WIDTH_IN: Final = 3.7
"""As wide as a phone's page, at 96 dots an inch."""
LETTERING: Final = 7.6
_DOTS_AN_INCH: Final = 300
_LINK: Final = re.compile(r'<a xlink:href="#(?P<row>[^" ]*) (?P<says>[^"]*)" target="_blank">')
_FOREIGN: Final = "Glyph .* missing from font"
"""Of a sign that the lettering has not, with which texts are measured; the page, which draws them, may have it."""
BEYOND: Final = "////"
"""Hatching of what lies beyond a limit, as a section is hatched on a drawing."""
_STYLE: Final[Any] = {
    "font.family": "sans-serif",
    "font.size": LETTERING,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.7,
    "axes.facecolor": "none",
    "figure.facecolor": "none",
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.major.size": 3,
    "ytick.major.size": 3,
    "xtick.major.width": 0.7,
    "ytick.major.width": 0.7,
    "hatch.linewidth": 0.5,
    "svg.fonttype": "none",
    "text.parse_math": False,
}


@dataclass(frozen=True, slots=True)
class Dot:
    """A mark in a picture that leads to the readings behind it: where it stands in the axes, the name of the row on its
    page, and what it is, for who cannot see it."""

    x: float
    y: float
    row: str
    says: str

    @property
    def url(self) -> str:
        """As it is drawn; ``finished`` makes a link of it."""
        return f"#{self.row} {self.says}"


@dataclass(frozen=True, slots=True)
class Picture:
    """A finished picture: what it is called on its page, as SVG to stand there, and what it shows in a sentence for
    who cannot see it."""

    name: str
    svg: str
    says: str
    drawn: Figure = field(repr=False, compare=False)

    def standing_alone(self) -> str:
        """The picture as an SVG file of its own: dark on white, its lettering named, its dots leading nowhere."""
        svg = re.sub(r"</?a\b[^>]*>", "", self.svg)
        for colour, role in _ON_A_PAGE.items():
            svg = svg.replace(f"var(--{role})", colour)
        ground = '<rect width="100%" height="100%" fill="#ffffff"/>'
        opening = svg.index(">") + 1
        style = ' font-family="Helvetica, Arial, sans-serif" role="img"'
        named = f"{svg[: opening - 1]}{style}>\n<title>{html.escape(self.says)}</title>\n{ground}"
        return f"{named}{svg[opening:]}\n"

    def png(self) -> bytes:
        """The picture as a PNG file, dark on white, fine enough for print."""
        buffer = io.BytesIO()
        with mpl.rc_context(_STYLE):
            self.drawn.savefig(
                buffer, format="png", dpi=_DOTS_AN_INCH, facecolor="white", metadata={"Title": self.says}
            )
        return buffer.getvalue()


styled: Final = mpl.rc_context(_STYLE)
"""Decorates what draws a picture, so that all of it is drawn in the house's style."""


def figure(height_in: float) -> Figure:
    """An empty figure as wide as a phone's page."""
    return Figure(figsize=(WIDTH_IN, height_in))


def axes(drawn: Figure, left: float, bottom: float, width: float, height: float, **more: Any) -> Axes:
    """A frame of axes at a place in inches from the lower left corner."""
    w, h = drawn.get_size_inches()
    found = drawn.add_axes((left / w, bottom / h, width / w, height / h), **more)
    if "projection" not in more:
        found.spines[["top", "right"]].set_visible(False)
    return found


def dots(
    ax: Axes,
    found: Sequence[Dot],
    form: str,
    size: float,
    *,
    face: str = MARK,
    edge: str = MARK,
    width: float = 0.7,
    zorder: float = 4,
) -> None:
    """Draw marks of one form, ``size`` across in points, each of which leads to its readings."""
    if not found:
        return
    drawn = ax.scatter(
        [dot.x for dot in found],
        [dot.y for dot in found],
        s=size**2,
        marker=form,
        facecolor=face,
        edgecolor=edge,
        linewidth=width,
        zorder=zorder,
        clip_on=False,
    )
    drawn.set_urls([dot.url for dot in found])


def finished(drawn: Figure, name: str, says: str, *, home: bool = False) -> Picture:
    """The figure as a picture. ``name`` must be the only one on its page: it keeps what is drawn inside apart.
    ``home``: the rows of the readings lead back to its dots."""
    buffer = io.StringIO()
    with mpl.rc_context({"svg.hashsalt": name}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", _FOREIGN, UserWarning)
        drawn.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None, "Type": None, "Format": None})
    svg = _LINK.sub(lambda link: _link(link, home=home), _for_a_page(buffer.getvalue()))
    return Picture(name, svg, says, drawn)


def hatched(colour: str = SOFT) -> dict[str, Any]:
    """How an area beyond a limit is filled."""
    return {"facecolor": "none", "edgecolor": colour, "hatch": BEYOND, "linewidth": 0.0}


def _link(drawn: re.Match[str], *, home: bool) -> str:
    """A dot as a link within its page."""
    row, says = drawn["row"], drawn["says"]
    named = f' id="{dot_of(row)}"' if home else ""
    return f'<a{named} href="#{row}" aria-label="{says}">'


def _for_a_page(svg: str) -> str:
    """An SVG document as an element of a page: no header, no fixed size, the page's colours and lettering."""
    svg = svg[svg.index("<svg ") :]
    svg = re.sub(r'<g id="[^"]*"', "<g", svg)
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'<style type="text/css">.*?</style>', "", svg, flags=re.DOTALL)
    svg = re.sub(r'(<svg [^>]*?) width="[^"]*"', r"\1", svg, count=1)
    svg = re.sub(r'(<svg [^>]*?) height="[^"]*"', r"\1", svg, count=1)
    svg = re.sub(r' (?:x|y|d)="[^"]*"', lambda found: re.sub(r"(\.\d\d)\d+", r"\1", found[0]), svg)
    svg = re.sub(r"font: ([\d.]+px)[^;\"]*", r"font-size: \1", svg)
    svg = re.sub(r"font-family: [^;\"]*;?", "", svg)
    for colour, role in _ON_A_PAGE.items():
        svg = svg.replace(colour, f"var(--{role})")
    return svg.strip()
