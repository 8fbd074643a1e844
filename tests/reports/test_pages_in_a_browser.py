"""Pages in a real browser: nothing is cut off at the width of a phone, of a desk or on paper."""

from pathlib import Path

import pytest
from playwright.sync_api import Page

TOO_WIDE = """() => [...document.querySelectorAll("body *")].filter(e => {
    const box = e.getBoundingClientRect();
    return box.width && !e.closest(".scroll") && !e.closest("thead") && !e.closest("defs") && !e.closest("svg g")
        && (box.right > document.documentElement.clientWidth + 1 || box.left < -1);
}).map(e => e.tagName + " " + e.textContent.slice(0, 40))"""
LETTERING_OUTSIDE = """() => [...document.querySelectorAll("svg text")].filter(t => {
    const box = t.getBoundingClientRect();
    return box.right > document.documentElement.clientWidth + 1 || box.left < -1;
}).map(t => t.textContent)"""
LETTERING_OVERLAPS = """() => [...document.querySelectorAll("svg")].flatMap(svg => {
    const texts = [...svg.querySelectorAll("text")].map(t => [t.textContent, t.getBoundingClientRect()]);
    return texts.flatMap(([a, p], i) => texts.slice(i + 1).filter(([b, q]) =>
        Math.min(p.right, q.right) - Math.max(p.left, q.left) > 1
        && Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 0.35 * p.height).map(([b, q]) => a + " | " + b));
})"""


OUTSIDE_ITS_CELL = """() => [...document.querySelectorAll("td, th, li, p, .stamp")].filter(e => {
    const box = e.getBoundingClientRect();
    return box.width > 1 && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline";
}).map(e => e.textContent.slice(0, 40))"""
A4_WITHIN_MARGINS = 688  # at 96 dots an inch


def _faults(tab: Page) -> dict[str, list[str]]:
    looks = {"too wide": TOO_WIDE, "lettering outside": LETTERING_OUTSIDE, "overlapping": LETTERING_OVERLAPS}
    looks["outside its cell"] = OUTSIDE_ITS_CELL
    return {what: found for what, look in looks.items() if (found := tab.evaluate(look))}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_is_cut_off_or_written_over(tab: Page, pages: dict[str, Path], width: int, scheme: str) -> None:
    tab.set_viewport_size({"width": width, "height": 900})
    tab.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    for item, path in pages.items():
        tab.goto(path.as_uri())
        assert _faults(tab) == {}, item


def test_on_paper_nothing_runs_off_the_sheet_or_is_written_over(tab: Page, pages: dict[str, Path]) -> None:
    tab.set_viewport_size({"width": A4_WITHIN_MARGINS, "height": 900})
    tab.emulate_media(media="print")
    for item, path in pages.items():
        tab.goto(path.as_uri())
        assert tab.evaluate("document.documentElement.scrollWidth") <= A4_WITHIN_MARGINS, item
        assert _faults(tab) == {}, item
    tab.emulate_media(media="screen")


def test_a_figure_is_never_broken_on_paper_and_stands_clear_of_the_remarks(tab: Page, pages: dict[str, Path]) -> None:
    tab.set_viewport_size({"width": A4_WITHIN_MARGINS, "height": 900})
    tab.emulate_media(media="print")
    broken = """() => [...document.querySelectorAll("table:not(.wall) td.n")].filter(cell => {
        const all = document.createRange(); all.selectNodeContents(cell);
        return new Set([...all.getClientRects()].map(box => Math.round(box.top))).size > 1;
    }).map(cell => cell.textContent)"""
    tight = """() => [...document.querySelectorAll("td.n + td:not(.n):not(.empty)")].filter(cell =>
        parseFloat(getComputedStyle(cell).paddingLeft) < 8 && !cell.closest(".wall")).map(cell => cell.textContent)"""
    for item, path in pages.items():
        tab.goto(path.as_uri())
        assert tab.evaluate(broken) == [], item
        assert tab.evaluate(tight) == [], item
    tab.emulate_media(media="screen")


def test_the_sheet_for_the_wall_is_read_from_two_metres(tab: Page, pages: dict[str, Path]) -> None:
    """Capitals of at least 1/400 of the distance, twice what an eye of full sight just tells apart (five minutes of
    arc; common practice): 5 mm for the code, a little less for the verdict's words."""
    tab.set_viewport_size({"width": A4_WITHIN_MARGINS, "height": 900})
    tab.emulate_media(media="print")
    tab.goto(pages["index"].as_uri())
    size = "e => parseFloat(getComputedStyle(e).fontSize) / 96 * 25.4 * 0.72"  # mm, capitals 0.72 of the letter's size
    assert tab.locator("tr:not(.bare) .code.day").first.evaluate(size) > 5
    assert tab.locator("tr:not(.bare) .stamp.yes").first.evaluate(size) > 4.2
    tab.emulate_media(media="screen")


def test_a_page_says_nothing_to_the_console_and_asks_the_network_for_nothing(tab: Page, pages: dict[str, Path]) -> None:
    asked: list[str] = []
    said: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.on("console", lambda message: said.append(message.text))
    for path in pages.values():
        tab.goto(path.as_uri())
    assert asked == [path.as_uri() for path in pages.values()]
    assert said == []
