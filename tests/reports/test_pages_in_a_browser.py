"""Pages in a real browser: nothing is cut off at the width of a phone, of a desk or on paper."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, sync_playwright

from qclog.logbook.engine import Store
from qclog.questions.dossier import dossiers
from qclog.questions.drawer import drawer as everything
from qclog.questions.due import due
from reports.files import write
from reports.pages.drawer import drawer_page, file_name
from reports.pages.item import item_page

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


@pytest.fixture(scope="module")
def pages(drawer: Store, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = dossiers(drawer)
    for dossier in found:
        write(folder / file_name(dossier.assessed.item), item_page(dossier))
    write(folder / "index.html", drawer_page(everything(drawer), due(drawer)))
    return sorted(folder.iterdir())


@pytest.fixture(scope="module")
def tab(browser: str) -> Iterator[Page]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=browser, args=["--no-sandbox"])
        yield opened.new_page()
        opened.close()


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_nothing_is_cut_off_or_written_over(tab: Page, pages: list[Path], width: int, scheme: str) -> None:
    tab.set_viewport_size({"width": width, "height": 900})
    tab.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    for path in pages:
        tab.goto(path.as_uri())
        assert tab.evaluate(TOO_WIDE) == [], path.name
        assert tab.evaluate(LETTERING_OUTSIDE) == [], path.name
        assert tab.evaluate(LETTERING_OVERLAPS) == [], path.name


def test_on_paper_no_table_runs_off_the_sheet(tab: Page, pages: list[Path]) -> None:
    tab.set_viewport_size({"width": 688, "height": 900})  # A4 within its margins, at 96 dots an inch
    tab.emulate_media(media="print")
    for path in pages:
        tab.goto(path.as_uri())
        assert tab.evaluate("document.documentElement.scrollWidth") <= 688, path.name
    tab.emulate_media(media="screen")


def test_a_page_says_nothing_to_the_console_and_asks_the_network_for_nothing(tab: Page, pages: list[Path]) -> None:
    asked: list[str] = []
    said: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.on("console", lambda message: said.append(message.text))
    for path in pages:
        tab.goto(path.as_uri())
    assert asked == [path.as_uri() for path in pages]
    assert said == []
