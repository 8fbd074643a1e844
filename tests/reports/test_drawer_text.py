"""The drawer and what is due in words: stamps, inches, codes that a shell would split, an empty drawer."""

import dataclasses
from pathlib import Path

import pytest

from qclog.cli.main import main
from qclog.questions.codes import Due as Why
from qclog.questions.drawer import Drawer
from qclog.questions.due import Due
from qclog.questions.owned.sizes import Double, Sizes
from reports.drawer import sections
from reports.due import NOTHING, NOTHING_KNOWN, command, due, sentence


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))


def printed(capsys: pytest.CaptureFixture[str], *command: str) -> str:
    capsys.readouterr()
    assert main(list(command)) == 0
    return capsys.readouterr().out


@pytest.mark.usefixtures("book")
def test_an_empty_drawer_says_what_to_do_and_so_does_what_is_due(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["setup", "add", "L1"]) == 0
    assert printed(capsys, "drawer") == "No items yet. Enter one: qclog item add C-046 --kind collet --size 6\n"
    assert " ".join(printed(capsys, "due").split()) == NOTHING_KNOWN
    assert "Enter one: qclog item add" in NOTHING_KNOWN
    assert main(["item", "add", "C-046", "--kind", "collet", "--size", "6"]) == 0
    assert main(["state", "C-046", "scrap", "--reason", "worn"]) == 0
    assert printed(capsys, "due") == f"{NOTHING}\n"


@pytest.mark.usefixtures("book")
@pytest.mark.parametrize("question", ["drawer", "due"])
def test_asking_never_makes_a_logbook(question: str, tmp_path: Path) -> None:
    assert main([question]) == 3
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("book")
def test_sizes_gaps_and_what_to_order_are_said_as_the_trade_calls_them(capsys: pytest.CaptureFixture[str]) -> None:
    for k in range(8, 20):
        if k != 13:
            size = f"{k}/64in"
            assert main(["item", "add", f"I-{k}", "--kind", "collet", "--system", "5C", "--size", size]) == 0
    assert (
        main(["item", "add", "SOFT", "--kind", "collet", "--material", "soft", "--size", "6", "--price", "9 EUR"]) == 0
    )
    assert main(["modify", "SOFT", "bored", "--size", "6.48", "--on", "2026-03-02"]) == 0
    assert main(["state", "SOFT", "scrap", "--reason", "crashed"]) == 0
    assert main(["state", "I-9", "restricted", "--to", "15um", "--reason", "worn"]) == 0
    told = printed(capsys, "drawer")
    flat = " ".join(told.split())
    assert "collet, 5C: 11 of the 12 from 1/8 in to 19/64 in in steps of 1/64 in. Missing: 13/64 in." in flat
    assert "soft collet, 6 mm, to work to 6.48 mm: for SOFT (scrap); 9 EUR." in flat
    assert "collet, 5C, 13/64 in: missing in its set; no price noted." in flat
    assert "Together 2 pieces: 9 EUR for 1 of them, 1 without a price that can be added up" in flat
    assert "NOT MEASURED; restricted to 15 µm" in told
    assert told.index("I-10") < told.index("SOFT")


@pytest.mark.usefixtures("book")
def test_a_setup_over_its_own_limit_is_flagged_above_the_list_and_on_the_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for line in (
        ["setup", "add", "HEAD", "--made-to", "3um@10mm"],
        ["setup", "add", "SOUND", "--made-to", "90um@10mm"],
        ["item", "add", "C-1"],
        ["log", "C-1", "8", "9", "8", "9", "--setup", "HEAD", "--distance", "10", "--accept"],
        ["log", "C-1", "8", "9", "8", "9", "--setup", "SOUND", "--distance", "10", "--accept"],
    ):
        assert main(line) == 0
    flag = "*** FLAGGED *** setup HEAD: "
    above = printed(capsys, "drawer").split("item ")[0]
    assert flag in above
    assert "SOUND" not in above
    assert main(["report", "--all", "--to", str(tmp_path / "pages")]) == 0
    page = (tmp_path / "pages" / "index.html").read_text(encoding="utf-8")
    assert page.index(flag) < page.index("<table")


def test_every_reason_has_a_sentence_and_a_command_of_one_line() -> None:
    for why in Why:
        one = Due(
            why=why,
            code="C 1",
            kind="collet",
            since="2026-03-02",
            because="bored",
            last_measured="2026-03-01",
            until="2026-05-01",
            axis="date",
            limit_um=9.0,
            more_clampings=3,
            setup="L 2",
            positions=("A", "A then B"),
            distance_mm=25.0,
        )
        assert sentence(one).startswith("C 1")
        assert "None" not in sentence(one)
        assert "\n" not in command(one)
        begins = (
            'qclog measure "C 1" --setup "L 2"',
            "qclog instrument c",
            'qclog recall "C 1" --found',
            'qclog modify "C 1"',
        )
        assert command(one).startswith(begins)
        assert '"C 1"' in command(one)


def test_codes_that_a_shell_would_split_are_quoted() -> None:
    one = Due(Why.MODIFIED, "C 1", "collet", setup="L 2", positions=("A", "A then B"), distance_mm=25.0, pin="P-7")
    assert command(one) == 'qclog measure "C 1" --setup "L 2" --positions "A,A then B" --distance 25 --pin P-7'


def test_when_a_limit_is_met_is_a_day_or_a_clamping_in_work() -> None:
    one = Due(Why.MEETS_LIMIT, "C-1", "collet", until="2026-05-01", axis="date", limit_um=9.0)
    assert sentence(one) == "C-1: from 2026-05-01 on more than one clamping in 20 may go over 9 µm."
    one = Due(Why.MEETS_LIMIT, "C-1", "collet", until="870", axis="clampings", limit_um=9.0)
    assert sentence(one) == "C-1: from clamping 870 in work on more than one clamping in 20 may go over 9 µm."
    one = Due(Why.MEETS_LIMIT, "C-1", "collet", until="870", axis="clampings", now=True, limit_um=9.0)
    assert sentence(one) == "C-1: even today more than one clamping in 20 may go over 9 µm."


def test_of_many_items_of_one_size_a_few_are_named() -> None:
    many = tuple(f"C-{number}" for number in range(900))
    found = Sizes("collet", "", None, (), (), (), (Double(6.0, ("C-1", "C-2")), Double(7.0, many)))
    (told,) = sections(Drawer((), (), (found,), (), (), (), 0, ()))[0].lines
    said = " ".join(told.split())
    assert said == "collet. More than once: 6 mm (C-1 and C-2), 7 mm (C-0, C-1, C-2, C-3 and 896 more)."


def test_what_more_clampings_do_not_settle_is_said_so_and_none_is_asked_for() -> None:
    near = Due(Why.UNDECIDED, "C-7", "collet", limit_um=9.0, more_clampings=149, setup="L1", positions=("A",))
    told = " ".join(due([near]).split())
    assert "so near to 9 µm that more clampings do not settle it: that would take one clamping on each of" in told
    assert "more than 20 more days" in told
    assert "qclog measure" not in told
    few = dataclasses.replace(near, more_clampings=20)
    assert "each of 20 more days would tell whether it holds 9 µm" in " ".join(due([few]).split())
    assert "qclog measure C-7" in due([few])
