"""What to hold a part with in words, on the terminal and on the setup sheet, which is one page and cuts nothing off."""

import dataclasses
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import Page, sync_playwright

from qclog.errors import NotAnswerableError
from qclog.logbook.engine import Store
from qclog.questions.codes import Ground, Unfit
from qclog.questions.pick import Picked
from qclog.questions.pick import pick as asked
from qclog.questions.picking.fitting import Part
from reports.numbers import NumberStyle
from reports.pages.sheet import sheet_page
from reports.pick import TWO_MEANINGS, cautions, notes, pick, sentences
from reports.wording.cautions import CAUTIONS
from reports.wording.choosing import GROUNDS, UNFITS

MM = 10**9
LONG_JOB = "BUSHING WITH A NAME AS LONG AS SOMEBODY MAY WELL WRITE IT ON THE TRAVELLER, SECOND SIDE <b>4711</b>"


def found(drawer: Store, *, distance_mm: float = 25.0, runout_um: float = 12.0, diameter_mm: float = 7.35) -> Picked:
    return asked(drawer, Part(round(diameter_mm * MM), runout_um, round(distance_mm * MM)))


def test_every_reason_and_ground_has_its_words() -> None:
    assert set(UNFITS) == set(Unfit)
    assert set(GROUNDS) == set(Ground)


def test_the_first_sentence_is_the_answer(drawer: Store) -> None:
    for one in (found(drawer), found(drawer, runout_um=0.5), found(drawer, diameter_mm=80.0)):
        first = sentences(one)[0]
        assert ("take " in first and "HOLDS" in first) or "nothing is proven" in first or "nothing you own" in first


def test_no_line_is_longer_than_the_terminal(drawer: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    for width in (80, 100):
        monkeypatch.setattr("reports.pick.TERMINAL", width)
        monkeypatch.setattr("reports.pick.WIDTH", width - 1)
        text = pick(found(drawer, distance_mm=20.0), NumberStyle(inch=True))
        head, table, *rest = text.split("\n\n")  # a code as long as it may be makes the table wide
        lines = [*head.splitlines(), *"\n".join(rest).splitlines()]
        assert table
        assert [line for line in lines if len(line) >= width and "qclog " not in line] == []


def test_what_is_bored_is_offered_with_its_caution(drawer: Store) -> None:
    assert CAUTIONS[1] in cautions(found(drawer))
    assert CAUTIONS[2] in cautions(found(drawer))


def test_where_a_bound_and_a_forecast_stand_in_one_column_it_is_said_which_is_which(drawer: Store) -> None:
    answer = found(drawer)
    read = dataclasses.replace(answer.choices[0], told="holds", p95_um=5.0, bound_um=6.0)
    foreseen = dataclasses.replace(read, told="forecast", bound_um=None)
    assert TWO_MEANINGS in notes(dataclasses.replace(answer, choices=(read, foreseen)))
    for alike in (read, foreseen):
        assert TWO_MEANINGS not in notes(dataclasses.replace(answer, choices=(alike,)))


def test_no_caution_of_bored_ones_where_nothing_is_to_be_bored(drawer: Store) -> None:
    answer = found(drawer, diameter_mm=80.0)
    assert answer.to_make is not None
    assert (answer.to_make.blank, answer.to_make.buy) == (None, None)
    assert cautions(answer) == []


def test_a_sheet_of_nothing_is_refused(drawer: Store) -> None:
    with pytest.raises(NotAnswerableError, match="no choice"):
        sheet_page(found(drawer, diameter_mm=80.0))


def test_what_somebody_typed_stays_text_on_the_sheet(drawer: Store) -> None:
    page = sheet_page(found(drawer), LONG_JOB)
    assert "<b>4711" not in page
    assert "&lt;b&gt;4711" in page


@pytest.fixture(scope="module")
def sheets(drawer: Store, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """A choice that is proven, one in doubt, a forecast."""
    folder = tmp_path_factory.mktemp("sheets")
    paths = []
    for name, one in {
        "holds": found(drawer, runout_um=40.0),
        "open": found(drawer, runout_um=4.0),
        "forecast": found(drawer, distance_mm=20.0),
    }.items():
        path = folder / f"{name}.html"
        path.write_text(sheet_page(one, LONG_JOB, NumberStyle(inch=True)), encoding="utf-8")
        paths.append(path)
    return paths


@pytest.fixture(scope="module")
def tab(browser: str) -> Iterator[Page]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=browser, args=["--no-sandbox"])
        yield opened.new_page()
        opened.close()


def test_a_sheet_is_one_page_and_cuts_nothing_off(tab: Page, sheets: list[Path]) -> None:
    for path in sheets:
        tab.goto(path.as_uri())
        for width in (390, 1280):
            tab.set_viewport_size({"width": width, "height": 900})
            assert tab.evaluate("document.documentElement.scrollWidth") <= width, path.name
        assert len(pypdfium2.PdfDocument(tab.pdf(prefer_css_page_size=True))) == 1, path.name
