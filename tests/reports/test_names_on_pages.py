"""What stands on a page under its name: what was done, whose a limit is, badges, codes that stay whole."""

import re
import shlex
from pathlib import Path

import pytest

from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.dossier import dossiers
from reports.pages.item import item_page
from reports.pages.render import stays_whole


@pytest.fixture
def typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in ("setup add L2 --made-to 20um@10mm", "item add J-1 --kind jaws", "item add C-1"):
        assert main(shlex.split(command)) == 0
    return tmp_path / "book.sqlite"


def page(path: Path, code: str, index: str = "") -> str:
    store = open_store(str(path))
    try:
        return item_page(dossiers(store, [code])[0], index=index)
    finally:
        store.close()


def names(text: str) -> list[str]:
    drawn = re.search(r"<h3>Over time</h3>.*?</svg>", text, re.DOTALL)
    assert drawn is not None
    return re.findall(r">([^<>]*\S[^<>]*)</text>", drawn[0])


def logged(code: str, on: str) -> None:
    swings = "qclog log {} 6 7 6 --setup L2 --distance 10 --accept --on {}"
    assert main(shlex.split(swings.format(code, on))[1:]) == 0


def test_jobs_days_apart_are_told_apart_and_the_last_is_always_named(typed: Path) -> None:
    for job, day in (("311", "03"), ("312", "07"), ("313", "09"), ("314", "10")):
        done = f'modify J-1 "bored for job {job}" --in L2 --made-to 15um@10mm --on 2026-09-{day}T07:30'
        assert main(shlex.split(done)) == 0
        logged("J-1", f"2026-09-{day}T08:00")
    drawn = names(page(typed, "J-1"))
    assert "bored for job 314" in drawn
    assert {f"bored for job {job}" for job in ("311", "312", "313")} <= set(drawn)


def test_a_long_name_is_shortened_in_its_middle(typed: Path) -> None:
    long = "bored out for the second operation of the flanged bushings of job 318"
    logged("C-1", "2026-09-01")
    assert main(["modify", "C-1", long, "--on", "2026-09-03"]) == 0
    logged("C-1", "2026-09-04")
    (name,) = [text for text in names(page(typed, "C-1")) if "…" in text]
    first, last = name.split("…")
    assert long.startswith(first)
    assert long.endswith(last)


def test_the_limit_is_named_as_the_setups_or_as_made_to_wherever_it_is_drawn(typed: Path) -> None:
    logged("C-1", "2026-09-01")
    assert main(["modify", "C-1", "ground", "--on", "2026-09-03"]) == 0
    assert "setup's" in names(page(typed, "C-1"))
    logged("C-1", "2026-09-04")
    told = page(typed, "C-1")
    assert told.count(">setup's<") == 2
    assert not any(">made to<" in svg for svg in re.findall(r"<svg.*?</svg>", told, re.DOTALL))
    assert "Heavy line, hatched beyond: what the setup must hold." in told


def test_what_was_not_measured_has_a_badge_and_a_page_leads_back_to_the_drawer(typed: Path) -> None:
    assert main(["item", "add", "CH-9", "--kind", "chuck"]) == 0
    assert main(["setup", "add", "L3", "--parts", "CH-9"]) == 0
    assert ">NOT MEASURED<" in page(typed, "C-1")
    part = page(typed, "CH-9", index="index.html")
    assert ">PART OF L3<" in part
    assert "measured by what sits in it" in part
    assert "qclog log CH-9" not in part
    assert 'href="index.html"' in part
    assert 'href="index.html"' not in page(typed, "CH-9")


def test_what_was_decided_has_its_day(typed: Path) -> None:
    assert main(shlex.split("state C-1 scrap --reason cracked --on 2026-05-13")) == 0
    assert '<td class="day">2026-05-13</td><td class="line">scrap: cracked</td>' in page(typed, "C-1")


@pytest.mark.parametrize("word", ["P-1045=240,", "(--quarters)", "2026-05-12.", "LATHE-A"])
def test_codes_days_and_options_stay_whole_at_the_end_of_a_line(word: str) -> None:
    assert stays_whole(word)


@pytest.mark.parametrize("word", ["run-out", "-", f"C-{'1' * 40}"])
def test_other_words_and_what_is_too_long_for_a_line_may_be_broken(word: str) -> None:
    assert not stays_whole(word)


def test_a_code_on_a_page_stays_whole(typed: Path) -> None:
    assert '<span class="whole">C-1</span> has no clampings yet.' in page(typed, "C-1")
