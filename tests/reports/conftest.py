"""A drawer with everything a page has to bear, and a browser to look at it with."""

import csv
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from filelock import FileLock
from playwright.sync_api import Page, sync_playwright

from qclog.logbook import items
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import import_readings
from qclog.logbook.lookup import Register
from qclog.questions.dossier import dossiers
from qclog.questions.drawer import drawer as everything
from qclog.questions.due import due
from qclog.questions.pick import pick
from qclog.questions.picking.fitting import Part
from qclog.records import Card, Limit, Work
from reports.files import write
from reports.pages.drawer import drawer_page, file_name
from reports.pages.item import item_page
from reports.pages.sheet import sheet_page

LONG = "COLLET WITH A NAME AS LONG AS IT MAY BE1"
EVIL = '<script>alert("9 µm")</script>'
COUNTS = {"P-1": 1, "P-2": 2, "P-6": 6, "P-500": 500}
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
COLUMNS = (
    "taken_at",
    "item",
    "setup",
    "position",
    "clamping",
    "distance",
    "kind",
    "angle_deg",
    "value",
    "unit",
    "note",
)
_QUARTERS = (0, 90, 180, 270)


@pytest.fixture(scope="session")
def drawer(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """Items with no, 1, 2, 6 and 500 clampings; one with a long name, hostile notes, several setups and distances,
    angles only here and there, a limit lower than all it read; one cracked."""
    folder = tmp_path_factory.mktemp("drawer")
    store = open_store(str(folder / "drawer.sqlite"), create=True)
    with new_entry(store, "tests", "tester") as entry:
        register = Register(entry.connection)
        for code in (*COUNTS, "P-0", LONG, "P/C, 7+"):
            note = EVIL if code == LONG else ""
            card = Card(kind="collet", nominal_pm=7_000_000_000, note=note)
            item = items.add_item(entry, register, code, card)
            if code != "P-0":
                limits = (Limit(9_000_000, 25_000_000_000), Limit(3_000_000, 2_000_000_000))
                work = Work(what="bored", done_at="2023-12-05", size_pm=7_350_000_000, note=note, limits=limits)
                items.modify(entry, register, item, work)
        cracked = register.need("P/C, 7+", "item")
        items.inspect_item(entry, register, cracked, finding="crack", seen_on="2024-06-01", note=EVIL)
    file = folder / "readings.csv"
    with file.open("w", encoding="utf-8", newline="") as handle:
        rows = csv.writer(handle)
        rows.writerow(COLUMNS)
        rows.writerows(_rows())
    import_readings(store, file, create=True)
    yield store
    store.close()


@pytest.fixture(scope="session")
def browser() -> str:
    """The path of a browser; without one the test is skipped, or fails where QCLOG_TEST_BROWSER=required."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        reason = f"no browser here; looked for {', '.join(BROWSERS)}"
        if os.environ.get("QCLOG_TEST_BROWSER") == "required":
            pytest.fail(reason)
        pytest.skip(reason)
    return found


@pytest.fixture(scope="session")
def pages(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Every kind of page, by item; ``index`` is the drawer's, ``setup sheet`` that of a part. Made once, however many
    workers there are."""
    folder = tmp_path_factory.getbasetemp()
    if os.environ.get("PYTEST_XDIST_WORKER"):
        folder = folder.parent
    with FileLock(folder / "pages.lock"):
        if not (folder / "pages").exists():
            made = tmp_path_factory.mktemp("pages")
            _write_pages(request.getfixturevalue("drawer"), made)
            made.rename(folder / "pages")
    codes = (*COUNTS, "P-0", LONG, "P/C, 7+")
    files = {code: file_name(code) for code in codes} | {"index": "index.html", "setup sheet": "setup sheet.html"}
    return {name: folder / "pages" / file for name, file in files.items()}


@pytest.fixture(scope="session")
def written(pages: dict[str, Path]) -> dict[str, str]:
    """The same pages as text."""
    return {name: path.read_text(encoding="utf-8") for name, path in pages.items()}


def _write_pages(drawer: Store, folder: Path) -> None:
    for dossier in dossiers(drawer):
        write(folder / file_name(dossier.assessed.item), item_page(dossier))
    write(folder / "index.html", drawer_page(everything(drawer), due(drawer)))
    part = Part(diameter_pm=7_350_000_000, runout_um=20.0, distance_pm=25_000_000_000, grip_pm=None)
    write(folder / "setup sheet.html", sheet_page(pick(drawer, part), "A JOB WITH A NAME AS LONG AS IT MAY BE FOR ONE"))


@pytest.fixture(scope="module")
def tab(browser: str) -> Iterator[Page]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=browser, args=["--no-sandbox"])
        yield opened.new_page()
        opened.close()


def _rows() -> Iterator[tuple[object, ...]]:
    rng = np.random.default_rng(7)
    for code, count in COUNTS.items():
        for i in range(count):
            day = f"20{24 + i // 300}-{i % 300 // 25 + 1:02d}-{i % 25 + 1:02d}"
            yield from _turn(rng, day, code, "L2", "A", i, 25)
    for setup in ("L2", "LATHE BY THE NORTH WINDOW, SLEEVE 3"):
        for position in ("A", "B", "A then B"):
            for distance in (2, 25):
                for i in range(5):
                    day = f"2024-0{i + 2}-11"
                    if i % 2:
                        yield from _turn(rng, day, LONG, setup, position, i, distance)
                    else:
                        yield (day, LONG, setup, position, i, distance, "tir", "", 5 + i, "um", EVIL)
    for i in range(3):
        yield from _turn(rng, f"2024-02-{i + 10}", "P/C, 7+", "L2", "B", i, 25)


def _turn(
    rng: np.random.Generator, day: str, code: str, setup: str, position: str, clamping: int, distance: int
) -> Iterator[tuple[object, ...]]:
    vector = 2.5 + 0.4 * (rng.standard_normal() + 1j * rng.standard_normal())
    for angle in _QUARTERS:
        value = round((vector * np.exp(-1j * np.radians(angle))).real, 1)
        yield (day, code, setup, position, clamping, distance, "point", angle, value, "um", EVIL)
