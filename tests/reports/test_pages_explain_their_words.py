"""What a page's words mean is opened where they stand, by click, tap and key; on paper it stands at the end."""

from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page

from qclog.logbook.engine import Store
from qclog.questions.dossier import dossiers
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup
from reports import explanations
from reports.explanations import explanation
from reports.pages.words import Words

OPEN = """() => [...document.querySelectorAll(".said:popover-open")].map(e => e.id)"""
SHOWN = """e => {
    const box = e.getBoundingClientRect();
    const inside = box.top >= 0 && box.bottom <= innerHeight + 1 && box.left >= -1 && box.right <= innerWidth + 1;
    return inside && box.height > 40;
}"""


def _opened(page: Page) -> Locator:
    (anchor,) = page.evaluate(OPEN)
    return page.locator(f"[id='{anchor}']")


@pytest.mark.parametrize("width", [390, 1280])
def test_a_click_on_a_word_says_what_it_means_without_leaving_the_place(
    tab: Page, pages: dict[str, Path], width: int
) -> None:
    tab.set_viewport_size({"width": width, "height": 800})
    for item in ("P-6", "index", "setup sheet"):
        tab.goto(pages[item].as_uri())
        words = tab.locator("button.word:visible")
        assert words.count() > 5, item
        for anchor in {word.get_attribute("popovertarget") for word in words.all()}:
            word = tab.locator(f"button.word:visible[popovertarget='{anchor}']").first
            word.scroll_into_view_if_needed()
            at = tab.evaluate("scrollY")
            word.click()
            said = _opened(tab)
            assert said.evaluate(SHOWN), word.text_content()
            assert len(said.locator("p").all_text_contents()[0]) > 20
            assert tab.evaluate("scrollY") == at
            said.locator(".close").click()
            assert tab.evaluate(OPEN) == []
        assert tab.url == pages[item].as_uri()


@pytest.mark.parametrize("width", [390, 1280])
def test_the_keyboard_opens_a_word_and_comes_back_to_it(tab: Page, pages: dict[str, Path], width: int) -> None:
    tab.set_viewport_size({"width": width, "height": 800})
    tab.goto(pages["P-6"].as_uri())
    word = tab.locator("button.word:visible", has_text="19 in 20 under").first
    here = "document.activeElement.textContent"
    for close in ("Escape", "Tab Enter"):
        word.focus()
        tab.keyboard.press("Enter")
        assert "figure to rely on" in (_opened(tab).text_content() or "")
        for key in close.split():
            tab.keyboard.press(key)
        assert tab.evaluate(OPEN) == []
        assert tab.evaluate(here) == "19 in 20 under"


def test_a_word_is_reached_by_the_keyboard_and_nothing_opens_by_pointing_at_it(
    tab: Page, pages: dict[str, Path]
) -> None:
    tab.set_viewport_size({"width": 1280, "height": 800})
    tab.goto(pages["P-6"].as_uri())
    word = tab.locator("th button.word").first
    word.hover()
    assert tab.evaluate(OPEN) == []
    word.focus()
    tab.keyboard.press("Shift+Tab")
    tab.keyboard.press("Tab")
    seen = "e => e === document.activeElement && parseFloat(getComputedStyle(e).outlineWidth) >= 2"
    assert word.evaluate(seen)


def test_words_are_large_enough_for_a_finger(tab: Page, pages: dict[str, Path]) -> None:
    """WCAG 2.2, 2.5.8 (from memory): 24 px from the middle of one line to that of the next."""
    tab.set_viewport_size({"width": 390, "height": 800})
    tab.goto(pages["P-6"].as_uri())
    middles = """() => [...document.querySelectorAll("p.words, thead")].flatMap(line => {
        const tops = [...line.querySelectorAll(".word")].map(e => e.getBoundingClientRect())
            .filter(box => box.height).map(box => Math.round((box.top + box.bottom) / 2));
        const rows = [...new Set(tops)].sort((a, b) => a - b);
        return rows.slice(1).map((row, i) => row - rows[i]);
    })"""
    assert min(tab.evaluate(middles)) >= 24


def test_on_paper_the_meanings_stand_at_the_end(tab: Page, pages: dict[str, Path]) -> None:
    tab.goto(pages["P-6"].as_uri())
    said = tab.locator(".said")
    assert not said.first.is_visible()
    tab.emulate_media(media="print")
    assert all(one.is_visible() for one in said.all())
    assert not tab.locator("p.words").first.is_visible()
    assert not tab.locator(".close").first.is_visible()
    tab.emulate_media(media="screen")


def test_every_word_of_a_page_leads_to_a_meaning_and_every_meaning_is_led_to(tab: Page, pages: dict[str, Path]) -> None:
    for item, path in pages.items():
        tab.goto(path.as_uri())
        targets = tab.locator("main > *:not(.meanings) button.word").evaluate_all(
            "found => found.map(e => e.getAttribute('popovertarget'))"
        )
        meanings = tab.locator(".said").evaluate_all("found => found.map(e => e.id)")
        assert sorted(set(targets)) == sorted(meanings), item
        assert len(set(meanings)) == len(meanings), item


def test_verdicts_caveats_signs_and_heads_of_an_item_are_explained_on_its_page(
    drawer: Store, written: dict[str, str]
) -> None:
    for dossier in dossiers(drawer):
        page = unescape(written[dossier.assessed.item])
        groups: list[Group | ValueGroup] = [*dossier.assessed.groups, *dossier.assessed.values]
        codes = {code for group in groups for code in (group.next_clampings, *group.caveats)}
        codes |= {code for one in dossier.worn for code in (one.decision, *one.because)}
        codes |= {code for one in dossier.compared for code in (one.outcome, *one.caveats)}
        codes |= {one.why for one in dossier.due} | {one.code for one in dossier.assessed.reasons}
        codes |= {"TIR", "mean", "sd", "19 in 20 under", "more days"} if dossier.assessed.groups else set()
        if any(reason.code in ("found_crack", "found_blue") for reason in dossier.assessed.reasons):
            codes -= {code for group in groups for code in (group.next_clampings,)}  # no stamp says it
        for code in codes:
            assert explanation(code).splitlines()[0] in page, (dossier.assessed.item, code)


def test_a_word_that_has_no_page_is_not_asked_for() -> None:
    words = Words()
    assert words.ask("xyzzy") is None
    assert words.asked == []
    word = words.ask("most")
    assert word is not None
    assert word.text == "most"
    words.ask("least")
    (meaning,) = words.asked
    assert (meaning.words, meaning.anchor) == ("most, least", word.anchor)
    assert "\n".join(meaning.paragraphs) == explanations.pages("least")[0].text
