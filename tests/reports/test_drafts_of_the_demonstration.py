"""Drafts of statements about the demonstration's items: what each kind of them says of itself."""

import io
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest

from qclog.cli.main import main
from qclog.logbook.engine import Store, open_store
from qclog.questions.stating.gathering import Wanted, prepare
from reports.statement.pdf import draft


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.sqlite"
    assert main(["demo", "--keep", str(path)]) == 0
    return path


@pytest.fixture(scope="module")
def store(kept: Path) -> Iterator[Store]:
    found = open_store(str(kept))
    yield found
    found.close()


def _pages(store: Store, code: str, characteristic: str | None = None) -> list[str]:
    """The text of each page of a draft, blanks and breaks alike."""
    with store.reading() as connection:
        found = prepare(connection, Wanted(code, characteristic=characteristic))
    file = draft(found.statement, found.readings, found.against)
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(file)).pages]


def test_what_pins_told_is_the_largest_that_goes_and_the_smallest_that_does_not(store: Store) -> None:
    text = " ".join(_pages(store, "BB-8"))
    assert "Pins tell 8.05 mm to 8.06 mm: the largest that goes, the smallest that does not" in text
    assert "the least that goes" not in text


def test_a_forecast_for_one_clamping_is_told_apart_from_the_bound_for_all(store: Store) -> None:
    text = " ".join(_pages(store, "MN-14"))
    assert "95 % under 6.6 µm: a forecast for one clamping; the bound below is for all of them" in text


def test_of_a_face_no_pin_is_told_and_of_one_sitting_how_it_was_decided(store: Store) -> None:
    text = " ".join(_pages(store, "JW-3"))
    assert "Pin out between" not in text
    assert "the part common to all clampings: indicator Read to" in text
    assert "Of one sitting the bound above, with the uncertainty counted against it" in text


def test_it_is_said_how_figures_are_rounded_that_stand_finer_below(store: Store) -> None:
    text = " ".join(_pages(store, "VI-1"))
    assert "they stay under 13.6 µm" in text
    assert "= 13.54 µm" in text
    assert "Rounded bounds outward, never to the better; here a place finer than above" in text


def test_a_statement_about_what_is_not_steady_says_so(store: Store) -> None:
    said = "It is not steady: what is read has moved over these days"
    assert said in " ".join(_pages(store, "ST-12"))
    assert said not in " ".join(_pages(store, "VI-1"))


@pytest.mark.parametrize("code", ["BB-8", "JW-3", "MN-14", "ST-12", "VI-1"])
def test_a_draft_takes_no_page_for_a_line_or_two(store: Store, code: str) -> None:
    assert len(_pages(store, code)) == 3


def test_drafts_of_several_items_stand_beside_each_other(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for code in ("BB-8", "jw-3"):
        assert main(["--logbook", str(kept), "statement", code, "--draft"]) == 0
    assert {path.name for path in tmp_path.glob("*.pdf")} == {"statement-draft-BB-8.pdf", "statement-draft-JW-3.pdf"}


def test_a_second_draft_of_an_item_leaves_the_first_one_alone(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    first = tmp_path / "statement-draft-B-945.pdf"
    assert main(["--logbook", str(kept), "statement", "B-945", "--position", "S", "--draft"]) == 0
    before = first.read_bytes()
    assert main(["--logbook", str(kept), "statement", "B-945", "--position", "N", "--draft"]) == 0
    assert first.read_bytes() == before
    assert (tmp_path / "statement-draft-B-945-2.pdf").read_bytes() != before
