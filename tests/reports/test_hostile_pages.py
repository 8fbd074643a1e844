"""Whatever stands in a logbook stays text on a page: no element, no attribute, no formula, in pictures neither."""

import html
from html.parser import HTMLParser
from pathlib import Path

import pytest

from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.dossier import dossiers
from qclog.questions.drawer import drawer
from qclog.questions.due import due
from reports.pages.drawer import drawer_page
from reports.pages.item import item_page

HOSTILE = "<evil on='x'>\"&{{7*7}} {% x %} $x_1$ $\\frac{$ ]]> --> %s \\N{DIGIT ONE} 夾頭"
POSITIONS = ("$\\frac{$ \"<evil>'&", "]]>--> <evil/> 夾頭")


class _Elements(HTMLParser):
    """The names of all elements and attributes of a page, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.text = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names |= {tag, *(name for name, _ in attrs)}

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.fixture
def hostile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A logbook in which every text that can be typed is hostile."""
    book = tmp_path / "book.sqlite"
    monkeypatch.setenv("QCLOG_LOGBOOK", str(book))
    monkeypatch.setenv("QCLOG_PERSON", HOSTILE)
    card = [f"--{field}={HOSTILE}" for field in ("system", "material", "place", "acquired", "price", "mark", "note")]
    place = ["--setup", "L 1", "--distance", "25", "--pin", "P 1", "--instrument", "I 1", "--accept"]
    told = [f"--{field}={HOSTILE}" for field in ("torque", "conditions", "operator", "note")]
    commands = [
        ["setup", "add", "L 1", "--positions", ",".join(POSITIONS)],
        ["item", "add", "C,1.# +/-", "--kind", "collet", "--size", "7", *card],
        ["pin", "add", "P 1", "--diameter", "7", "--kind", HOSTILE, "--grade", HOSTILE],
        ["instrument", "add", "I 1", "--division", "0.1um", "--kind", "electronic", "--serial", HOSTILE],
        ["modify", "C,1.# +/-", HOSTILE, "--in", "L 1", "--position", POSITIONS[0], "--on", "2026-01-02", "--note",
         HOSTILE, "--held-by", HOSTILE, "--torque", HOSTILE, "--made-to", "9um"],
        ["refit", "L 1", "--reason", HOSTILE, "--on", "2026-01-05"],
        *(["log", "C,1.# +/-", "--quarters", f"{day + far} 1 {-3 - far} 0", *place, *told, "--position", position,
           f"--sitting={day} {HOSTILE}", "--on", f"2026-02-0{day}"]
          for day in (1, 2) for far, position in enumerate(POSITIONS)),
        ["strike", "C,1.# +/-", "last", "--reason", HOSTILE],
        ["inspect", "C,1.# +/-", "slip", "--note", HOSTILE, "--on", "2026-02-04"],
        ["used", "C,1.# +/-", "--clampings", "100", "--note", HOSTILE, "--on", "2026-02-02"],
        ["state", "C,1.# +/-", "restricted", "--to", "15um", "--reason", HOSTILE, "--on", "2026-02-05"],
    ]  # fmt: skip
    for command in commands:
        assert main(command) == 0, command
    return book


def test_no_text_becomes_an_element_an_attribute_or_a_formula(hostile: Path) -> None:
    store = open_store(str(hostile))
    found = dossiers(store)
    page, index = (_Elements(text) for text in (item_page(found[0]), drawer_page(drawer(store), due(store))))
    store.close()
    for elements in (page, index):
        assert not elements.names & {"evil", "on", "evil/"}
        assert HOSTILE in elements.text
    for position in POSITIONS:
        assert position in page.text
        assert position in index.text
    assert html.unescape(item_page(found[0])).count(HOSTILE) >= 15
    pictures = [part.split("</svg>")[0] for part in item_page(found[0]).split("<svg")[1:]]
    assert any("$\\frac{$" in html.unescape(picture) for picture in pictures)
    assert any("<evil" in html.unescape(picture) for picture in pictures)
