"""From a verdict, a figure or a dot to the readings behind it and back, with the mouse and with the keyboard."""

from pathlib import Path

import pytest
from playwright.sync_api import Page

SEEN = """id => {
    const box = document.getElementById(id).getBoundingClientRect();
    return box.bottom > 0 && box.top < innerHeight;
}"""
MARKED_ROWS = """() => {
    const plain = getComputedStyle(document.body).getPropertyValue("--lit").trim();
    const lit = document.createElement("i");
    lit.style.background = plain;
    document.body.append(lit);
    const colour = getComputedStyle(lit).backgroundColor;
    lit.remove();
    return [...document.querySelectorAll(".readings tbody")]
        .filter(e => getComputedStyle(e.querySelector("td")).backgroundColor === colour).map(e => e.id);
}"""
FOCUS = """() => {
    const e = document.activeElement, look = getComputedStyle(e), drawn = e.querySelector("use");
    return {
        href: e.getAttribute("href") || e.getAttribute("popovertarget"),
        tag: e.tagName,
        says: e.getAttribute("aria-label") || e.textContent,
        seen: (look.outlineStyle !== "none" && parseFloat(look.outlineWidth) >= 2)
            || (drawn !== null && getComputedStyle(drawn).strokeWidth === "3px"),
    };
}"""


@pytest.fixture
def page(tab: Page, pages: dict[str, Path]) -> Page:
    """The page of an item with six clampings."""
    tab.set_viewport_size({"width": 1280, "height": 700})
    tab.goto(pages["P-6"].as_uri())
    return tab


def _where(page: Page) -> str:
    return page.url.partition("#")[2]


def test_a_click_on_the_verdict_shows_its_readings_and_marks_them_all(page: Page) -> None:
    assert page.evaluate(MARKED_ROWS) == []
    page.locator("a.stamp").click()
    assert page.evaluate(SEEN, _where(page))
    assert len(page.evaluate(MARKED_ROWS)) == 6
    page.locator("text=Back to the verdict").click()
    assert page.evaluate(SEEN, _where(page))
    assert page.locator("a.stamp").is_visible()


def test_the_most_leads_to_the_clamping_that_read_most(page: Page) -> None:
    head = page.locator("table >> nth=0 >> th").all_text_contents()
    most = page.locator("table >> nth=0 >> tbody td").nth(head.index("most")).locator("a")
    most.click()
    (row,) = page.evaluate(MARKED_ROWS)
    swings = page.locator(".readings td[data-is=TIR]").all_text_contents()
    shown = page.locator(f"[id='{row}'] td[data-is=TIR]").text_content()
    assert shown == max(swings, key=lambda text: float(text.split()[0]))


def test_a_dot_leads_to_its_row_and_the_row_back_to_its_dot(page: Page) -> None:
    dot = page.locator("svg a[id]").nth(2)
    row = (dot.get_attribute("href") or "").removeprefix("#")
    dot.click()
    assert page.evaluate(MARKED_ROWS) == [row]
    assert page.evaluate(SEEN, row)
    page.locator(f"[id='{row}'] a").click()
    assert _where(page) == dot.get_attribute("id")
    assert page.evaluate(SEEN, _where(page))
    assert dot.locator("use").evaluate("e => getComputedStyle(e).strokeWidth") == "3px"


def test_the_keyboard_alone_leads_from_the_verdict_to_the_readings(page: Page) -> None:
    page.keyboard.press("Tab")
    first = page.evaluate(FOCUS)
    assert "HOLD" in first["says"] or "CANNOT" in first["says"]
    assert first["seen"]
    page.keyboard.press("Enter")
    assert len(page.evaluate(MARKED_ROWS)) == 6
    page.keyboard.press("Tab")  # goes on from the readings, not from the top
    assert "Back to the verdict" in page.evaluate(FOCUS)["says"]


def test_every_link_is_reached_in_the_order_of_the_page_and_is_seen_when_it_is(page: Page) -> None:
    links = page.locator("a:visible, a.past, button:visible").evaluate_all(
        "found => found.map(e => e.getAttribute('href') || e.getAttribute('popovertarget'))"
    )
    reached = []
    for _ in links:
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUS)
        assert focus["seen"], focus
        assert focus["says"], focus
        reached.append(focus["href"])
    assert reached == links


def test_the_dots_of_a_picture_can_be_passed(tab: Page, pages: dict[str, Path]) -> None:
    tab.goto(pages["P-500"].as_uri())
    past = tab.locator("a.past").first
    past.focus()
    assert past.bounding_box() is not None
    tab.keyboard.press("Enter")
    tab.keyboard.press("Tab")
    assert tab.evaluate(FOCUS)["tag"] == "A"  # a link of the caption, not one of 500 dots
