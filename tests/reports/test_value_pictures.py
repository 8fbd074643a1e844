"""The picture of a size over time: every reading that counts, both limits, what pins told as a bar."""

import re
from collections import Counter
from pathlib import Path

import pytest

from qclog.cli.main import main


@pytest.fixture
def page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in (
        ["item", "add", "N-8", "--kind", "insert", "--made-to", "bore 8.040..8.070mm"],
        ["log", "N-8", "--characteristic", "bore", "--go", "8.05", "--no-go", "8.06", "--on", "2026-03-02"],
        ["log", "N-8", "8.054", "8.055", "--characteristic", "bore", "--on", "2026-03-03"],
        ["log", "N-8", "8.081", "--characteristic", "bore", "--on", "2026-03-04"],
        ["strike", "N-8", "last", "--reason", "misread"],
        ["report", "N-8", "--to", str(tmp_path / "N-8.html")],
    ):
        assert main(command) == 0
    return (tmp_path / "N-8.html").read_text(encoding="utf-8")


def test_the_picture_shows_what_counts_and_both_limits(page: str) -> None:
    assert 'aria-label="Bore over time: 3 readings."' in page
    assert "Bars: between what goes and what does not." in page
    for text in ("at least", "8.04 mm", "at most", "8.07 mm"):
        assert f">{text}</" in page


def test_the_readings_say_both_ends_and_what_was_struck_out(page: str) -> None:
    assert "8.05 goes, 8.06 does not" in page
    assert "8.055 mm" in page
    assert "STRUCK OUT: misread" in page
    assert "out</h2>" not in page.split("Readings:")[1]


def test_every_reading_leads_to_its_row_and_back(page: str) -> None:
    dots = re.findall(r'<a id="(dot-[^"]+)" href="#([^"]+)" aria-label="([^"]+)">', page)
    assert [says for _, _, says in dots if "8.05 mm to 8.06 mm" in says] == [
        "clamping 1, 2026-03-02, 8.05 mm to 8.06 mm",
    ]
    assert len(dots) == 3
    for dot, row, says in dots:
        number = says.split(",")[0].removeprefix("clamping ")
        assert f'<tbody id="{row}" class="counts">' in page
        assert f'<a href="#{dot}">{number}</a>' in page
    assert max(Counter(re.findall(r'\bid="([^"]+)"', page)).values()) == 1


def test_least_and_most_lead_to_their_readings(page: str) -> None:
    figures = page.split("Sizes and differences now")[1].split("</table>")[0]
    led = dict(re.findall(r'data-is="([^"]+)"><a href="#([^"]+)">', figures))
    assert (led["least"], led["most"]) == ("c1-0-bore", "c1-0-bore")
    assert f'id="{led["n"]}"' in page


def test_readings_in_doubt_are_triangles_and_do_not_count(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in (
        ["instrument", "add", "M-1", "--division", "1um", "--kind", "electronic"],
        ["item", "add", "N-8", "--kind", "insert", "--made-to", "bore 8.040..8.070mm"],
        ["log", "N-8", "8.054", "8.055", "--characteristic", "bore", "--instrument", "M-1", "--on", "2026-03-02"],
        ["instrument", "add", "M-2", "--division", "1um", "--kind", "electronic"],
        ["log", "N-8", "8.056", "--characteristic", "bore", "--instrument", "M-2", "--on", "2026-03-04"],
        ["recall", "M-2", "--found", "dropped", "--since", "2026-03-01", "--on", "2026-03-05"],
        ["report", "N-8", "--to", str(tmp_path / "N-8.html")],
    ):
        assert main(command) == 0, command
    page = (tmp_path / "N-8.html").read_text(encoding="utf-8")
    assert "Dots: readings. Triangles and pale bars: in doubt" in page
    assert page.count('class="counts"') == 2


def test_several_places_of_one_clamping_are_one_dot(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in (
        ["item", "add", "N-8", "--kind", "insert"],
        ["log", "N-8", "8.054", "8.058", "--characteristic", "bore", "--same-clamping", "--on", "2026-03-02"],
        ["report", "N-8", "--to", str(tmp_path / "N-8.html")],
    ):
        assert main(command) == 0
    page = (tmp_path / "N-8.html").read_text(encoding="utf-8")
    assert page.count('aria-label="clamping 1, 2026-03-02, 8.056 mm"') == 1
    assert max(Counter(re.findall(r'\bid="([^"]+)"', page)).values()) == 1


def test_a_size_stands_on_its_page_with_as_many_places_as_it_was_read_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in (
        ["item", "add", "N-8", "--made-to", "depth 12.00..12.01mm"],
        ["log", "N-8", "12.020", "12.019", "--characteristic", "depth", "--on", "2026-03-02"],
        ["report", "N-8", "--to", str(tmp_path / "N-8.html")],
    ):
        assert main(command) == 0
    page = (tmp_path / "N-8.html").read_text(encoding="utf-8")
    assert re.findall(r'data-is="value">([^<]+)<', page) == ["12.020 mm", "12.019 mm"]
    assert page.index('class="stamp') < page.index('<p class="words">What it means:')


def test_the_drawers_page_leads_to_the_readings_of_a_size(page: str, tmp_path: Path) -> None:
    assert main(["report", "--all", "--to", str(tmp_path / "drawer")]) == 0
    index = (tmp_path / "drawer" / "index.html").read_text(encoding="utf-8")
    (row,) = set(re.findall(r'href="N-8\.html#([^"]+)"', index))
    assert f'id="{row}"' in page


@pytest.fixture
def worked_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    before, since = ("12.020", "12.021", "12.022"), ("11.998", "11.999", "12.000")
    for command in (
        ["item", "add", "N-8", "--kind", "insert", "--made-to", "depth 11.980..12.010mm"],
        ["log", "N-8", *before, "--characteristic", "depth", "--accept", "--on", "2026-03-02"],
        ["log", "N-8", "12.023", "--characteristic", "depth", "--accept", "--on", "2026-03-03"],
        ["modify", "N-8", "faced", "--made-to", "depth 11.980..12.010mm", "--on", "2026-03-04"],
        ["log", "N-8", *since, "--characteristic", "depth", "--accept", "--on", "2026-03-05"],
        ["report", "N-8", "--to", str(tmp_path / "N-8.html")],
    ):
        assert main(command) == 0, command
    return (tmp_path / "N-8.html").read_text(encoding="utf-8")


def test_before_and_after_work_stand_side_by_side_with_what_it_changed(worked_on: str) -> None:
    picture = worked_on.split("<h3>Before and after</h3>")[1].split("</figure>")[0]
    assert 'aria-label="Before and since: 12.0220 mm and 11.9990 mm on the mean."' in picture
    words = " ".join(re.sub(r"<[^>]+>", "", picture.split("<figcaption")[1].partition(">")[2]).split())
    assert words.startswith(
        "Faced: depth is 23.0 µm less on the mean; 12.0220 mm before (4 readings in 2 sittings), 11.9990 mm since "
        "(3 readings in 1 sitting)."
    )
    assert "One side rests on a single sitting" in words


def test_what_was_read_before_work_leads_to_its_rows(worked_on: str) -> None:
    picture = worked_on.split("<h3>Before and after</h3>")[1].split("</figure>")[0]
    led = re.findall(r'href="#([^"]+)" aria-label="clamping \d, 2026-03-0[23], 12\.0[^"]+ mm"', picture)
    assert len(led) == 4
    (table,) = re.findall(r'href="#([^"]+)">4 readings, as received<', picture)
    for name in (*led, table):
        assert f'id="{name}"' in worked_on


def test_what_pins_told_has_no_before_and_after(page: str) -> None:
    assert "Before and after" not in page
