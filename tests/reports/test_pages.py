"""Pages are whole, need nothing from elsewhere, run nothing, and keep what a user typed as text."""

import dataclasses
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from qclog.cli.main import main
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook.engine import Store, open_store
from qclog.questions.dossier import dossiers
from qclog.questions.drawer import drawer as everything
from reports.files import write
from reports.numbers import METRIC
from reports.pages import sections
from reports.pages.drawer import drawer_page, file_name
from reports.pages.item import item_page
from reports.pages.steady import steady_section
from reports.turns import without_unit

LONG = "COLLET WITH A NAME AS LONG AS IT MAY BE1"
EVERY_ITEM = ("P-0", "P-1", "P-2", "P-6", "P-500", LONG, "P/C, 7+")
_VOID = {"meta", "br", "link", "img", "hr", "input"}
_SVG_SPACES = {"http://www.w3.org/1999/xlink", "http://www.w3.org/2000/svg"}


class _Structure(HTMLParser):
    """Elements that are closed in another order than opened, ids, references and what could reach outside."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.faults: list[str] = []
        self.ids: list[str] = []
        self.references: list[str] = []
        self.tags: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        if tag not in _VOID:
            self.open.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            if name in ("href", "xlink:href", "src"):
                self.references.append(value or "")
            if name.startswith("on"):
                self.faults.append(f"handler {name}")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}>")


def _parsed(page: str) -> _Structure:
    structure = _Structure()
    structure.feed(page)
    structure.close()
    return structure


@pytest.mark.parametrize("code", EVERY_ITEM)
def test_a_page_is_well_formed_and_its_inner_links_lead_somewhere(written: dict[str, str], code: str) -> None:
    structure = _parsed(written[code])
    assert (structure.faults, structure.open) == ([], [])
    assert len(structure.ids) == len(set(structure.ids))
    assert {r[1:] for r in structure.references if r.startswith("#")} <= set(structure.ids)


@pytest.mark.parametrize("code", EVERY_ITEM)
def test_a_page_runs_nothing_and_fetches_nothing(written: dict[str, str], code: str) -> None:
    page = written[code]
    structure = _parsed(page)
    assert not structure.tags & {"script", "link", "iframe", "object", "embed", "img", "form", "base"}
    assert all(reference.startswith("#") for reference in structure.references)
    assert set(re.findall(r'https?://[^"\s<]+', page)) <= _SVG_SPACES
    assert not re.search(r"@import|url\((?!#)", page)
    assert "default-src 'none'" in page


def test_what_a_user_typed_stays_text(written: dict[str, str]) -> None:
    page = written[LONG]
    assert "&lt;script&gt;alert(&#34;9 µm&#34;)&lt;/script&gt;" in page
    assert "<script" not in page


def test_a_page_with_500_clampings_stays_under_a_megabyte(written: dict[str, str]) -> None:
    assert len(written["P-500"].encode()) < 1_000_000


def test_the_verdict_stands_before_everything_else(written: dict[str, str]) -> None:
    page = written["P-500"]
    assert page.index("HOLDS 9\u00a0µm") < page.index("19 clampings in 20") < page.index("<svg")


def test_an_item_never_measured_says_what_to_do_next(written: dict[str, str]) -> None:
    page = re.sub("</?span[^>]*>", "", written["P-0"])
    assert "P-0 has no clampings yet. Log one: qclog log P-0" in page
    assert "<svg" not in page


def test_every_clamping_of_a_figure_stands_among_the_readings(drawer: Store, written: dict[str, str]) -> None:
    (dossier,) = dossiers(drawer, ["P-6"])
    page = written["P-6"]
    assert dossier.assessed.groups[0].clampings == 6
    for clamping in dossier.life.clampings:
        assert f'<a href="#dot-c{clamping.number}-25">{clamping.number}</a>' in page
        typed, unit = without_unit(clamping.turns[0].texts)
        assert f'<td class="line" data-is="read">{" ".join([*typed, unit])} </td>' in page


def test_a_cracked_item_is_not_said_to_hold_anything(written: dict[str, str]) -> None:
    page = written["P/C, 7+"]
    assert "It is cracked: out of service whatever its run-out; scrap it." in page
    stamps = re.findall(r'class="stamp[^>]*>([^<]*)<', page.split("</style>")[1])
    assert stamps == ["OUT OF SERVICE"]


def test_the_same_answers_give_the_same_page(drawer: Store, written: dict[str, str]) -> None:
    assert item_page(dossiers(drawer, ["P-6"])[0]) == written["P-6"]


def test_pictures_say_in_words_what_they_show(written: dict[str, str]) -> None:
    page = written[LONG]
    assert page.count('role="group"') == page.count("<svg")
    assert all(re.findall(r'role="group" aria-label="([^"]*)"', page))


def test_the_drawer_lists_every_item_the_worst_first_and_links_to_its_page(written: dict[str, str]) -> None:
    page = written["index"]
    structure = _parsed(page)
    assert (structure.faults, structure.open) == ([], [])
    beside = {reference.partition("#")[0] for reference in structure.references if not reference.startswith("#")}
    assert beside == {file_name(code) for code in EVERY_ITEM}
    assert {reference[1:] for reference in structure.references if reference.startswith("#")} <= set(structure.ids)
    order = [page.index(f">{code}</b>") for code in ("P/C, 7+", "P-2", "P-500")]
    assert order == sorted(order)
    assert page.index("Figures are the full swing over a turn") < page.index("<tbody>")  # on paper never a page alone
    assert "OUT OF SERVICE" in page
    assert "NOT MEASURED" in page


def test_a_verdict_in_the_drawer_leads_to_its_readings_on_the_item_s_page(written: dict[str, str]) -> None:
    names = {file_name(code): _parsed(written[code]).ids for code in EVERY_ITEM}
    references = _parsed(written["index"]).references
    leading = [one.split("#") for one in references if "#" in one and not one.startswith("#")]
    assert {file for file, _ in leading} == set(names) - {"P-0.html"}
    assert all(anchor in names[file] for file, anchor in leading)


def test_file_names_of_any_two_codes_differ_and_stay_in_the_folder() -> None:
    codes = ("P/C", "P~2fC", "P C", "P.C", "P+C", "P,C", "PC", "P_C", "P-C", "P#C", "Pµ")
    names = [file_name(code) for code in codes]
    assert len(set(names)) == len(codes)
    assert all(not re.search(r"[/\\ :.]", name.removesuffix(".html")) for name in names)


@pytest.mark.parametrize("code", ["index", "INDEX", "CON", "nul", "Com1", "LPT²"])
def test_no_page_takes_the_name_of_the_index_or_of_a_device(code: str) -> None:
    name = file_name(code)
    assert name.startswith(f"~{ord(code[0]):x}{code[1:]}")
    assert file_name("INDEX-1") == "INDEX-1.html"


def test_an_unknown_item_is_refused(drawer: Store) -> None:
    with pytest.raises(NotFoundError, match="NOPE"):
        dossiers(drawer, ["NOPE"])


def test_a_page_that_cannot_be_written_says_so_and_leaves_the_old_one(tmp_path: Path) -> None:
    there = tmp_path / "page.html"
    write(there, "old")
    write(there, "new")
    assert there.read_text(encoding="utf-8") == "new"
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    with pytest.raises(RefusedError, match="cannot be written"):
        write(tmp_path / "file" / "page.html", "page")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "page.html"]


def test_what_was_decided_stands_on_the_page_and_last_in_the_drawer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in (
        ["setup", "add", "L1"],
        ["item", "add", "C-1", "--made-to", "3um@10mm"],
        ["item", "add", "C-2", "--made-to", "9um@10mm"],
        ["log", "C-1", "8", "9", "8", "9", "--accept"],
        ["log", "C-2", "4", "5", "4", "5", "--accept"],
        ["state", "C-1", "scrap", "--reason", "worn"],
    ):
        assert main(command) == 0
    store = open_store(str(tmp_path / "book.sqlite"))
    found = dossiers(store)
    assert "SCRAP by decision." in item_page(found[0])
    page = drawer_page(everything(store))
    assert page.index(">C-2</b>") < page.index(">C-1</b>")
    store.close()
    capsys.readouterr()
    assert main(["assess", "C-1"]) == 0
    assert "SCRAP by decision" in capsys.readouterr().out
    assert main(["wear"]) == 0
    assert "C-1" not in capsys.readouterr().out


def test_a_circle_that_lies_outside_the_picture_of_directions_is_not_named(
    drawer: Store, written: dict[str, str]
) -> None:
    (dossier,) = dossiers(drawer, ["P-500"])
    (group,) = dossier.assessed.groups
    assert group.bound is not None
    assert "Dashed circle: 19 clampings in 20 stay inside." in written["P-500"]
    wide = dataclasses.replace(group, bound=dataclasses.replace(group.bound, value_um=15.2))
    place = dossier.places[0]
    caption = sections._caption_polar(place, wide, 10.1)
    assert "Dashed circle" not in caption
    assert "Outside the picture: 19 clampings in 20 stay under 15.2 µm." in caption


def test_a_page_has_a_chart_where_there_are_points_enough_for_one(written: dict[str, str]) -> None:
    for code, charted in (("P-0", False), ("P-1", False), ("P-2", False), ("P-6", True), ("P-500", True)):
        page = written[code]
        assert ("Is it steady?" in page) is charted, code
        assert ("P_U" in page) is charted, code  # against the 9 µm it was made to
    assert "so that over 500 there are about 1 of each" in page


def test_what_is_not_steady_says_since_when_and_what_signs_its_picture_has(
    drawer: Store, written: dict[str, str]
) -> None:
    dossier = dossiers(drawer, ["P-6"])[0]
    (answer,) = dossier.charts
    few = dataclasses.replace(dossier, charts=(dataclasses.replace(answer, points=answer.points[:5]),))
    assert steady_section(few, METRIC) is None
    section = steady_section(dossier, METRIC)
    assert section is not None
    (shown,) = section.pictures
    assert "Heavy line" in shown.caption
    assert ("Squares" in shown.caption) is any(point.beyond for point in answer.points)
    out = dataclasses.replace(answer, points=tuple(dataclasses.replace(one, beyond=True) for one in answer.points))
    all_out = steady_section(dataclasses.replace(dossier, charts=(out,)), METRIC)
    assert all_out is not None
    assert "Diamonds" not in all_out.pictures[0].caption
    assert "Squares: means of sittings, all beyond that." in all_out.pictures[0].caption
    assert shown.readings[0].anchor in written["P-6"]
    assert section.words[0] == answer.state
