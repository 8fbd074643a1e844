"""``qclog label``: which items get a label, where it goes, what is refused; and codes that look alike."""

import shutil
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp

from qclog.cli.main import main


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """C-735 bored in L2 at A, C-640 annealed after, S-9 soft, N-6 as received; X-1 cracked, X-2 blue, X-3 scrap."""
    folder = tmp_path_factory.mktemp("workshop")
    for line in (
        "setup add L2 --positions A,B",
        "item add C-735 --kind collet --size 7",
        "modify C-735 bored --size 7.35 --in L2 --position A --on 2026-03-02T09:00",
        "item add C-640 --kind collet --size 6",
        "modify C-640 bored --size 6.4 --on 2026-03-02",
        "modify C-640 annealed --on 2026-03-03",
        "item add S-9 --kind collet --size 9 --material soft",
        "item add N-6 --kind collet --size 6 --material hard",
        "item add X-1 --kind collet --size 6",
        "inspect X-1 crack --on 2026-03-03",
        "item add X-2 --kind collet --size 6",
        "inspect X-2 blue --on 2026-03-03",
        "item add X-3 --kind collet --size 6",
        "state X-3 scrap --reason worn",
        "item add B-105",
        "item add B-106 --kind sleeve",
        "modify B-106 ground --on 2026-03-03",
    ):
        assert main(["--logbook", str(folder / "book.sqlite"), *line.split()]) == 0, line
    return folder


@pytest.fixture
def workshop(
    logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Path:
    """A folder with a copy of the logbook, to work in."""
    shutil.copytree(logbook, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    capsys.readouterr()
    return tmp_path


def _on_pages(path: Path) -> tuple[list[set[str]], str]:
    """The QR codes of each page, and all lettering."""
    document = pypdfium2.PdfDocument(path)
    try:
        codes = [{c.text for c in zxingcpp.read_barcodes(page.render(scale=150 / 72).to_numpy())} for page in document]
        return codes, " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())
    finally:
        document.close()


def test_all_that_may_have_a_label_get_one_and_the_others_are_named(
    workshop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["label", "--all"]) == 0
    said = capsys.readouterr().err
    for code, why in (("X-1", "cracked"), ("X-2", "heat-blued"), ("X-3", "scrap by decision")):
        assert f"{code} gets no label" in said
        assert why in said
    assert "actual size" in said
    codes, lettering = _on_pages(workshop / "labels.pdf")
    assert codes == [{"B-105", "B-106", "C-735", "C-640", "S-9", "N-6"}]
    for text in (
        "7.35 mm",
        "in L2 at A",
        "BORED: NOT RATED",
        "BORED, ANNEALED: NOT RATED",
        "SOFT: NOT RATED",
        "MODIFIED: NOT RATED",
    ):
        assert text in lettering.replace("\u00a0", " ")
    assert lettering.count("RATED") == 4


@pytest.mark.parametrize(("code", "why"), [("X-1", "cracked"), ("X-2", "temper is gone"), ("X-3", "scrap")])
def test_an_item_out_of_service_that_is_named_is_refused_and_nothing_is_written(
    workshop: Path, code: str, why: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for more in ([], ["--engrave"]):
        assert main(["label", "N-6", code, *more]) == 4
        printed = capsys.readouterr()
        assert f"{code} gets no label" in printed.err
        assert why in printed.err
        assert printed.out == ""
    assert not (workshop / "labels.pdf").exists()


def test_found_sound_again_it_gets_its_label(workshop: Path) -> None:
    assert main(["inspect", "X-1", "sound", "--on", "2026-03-04", "--note", "only a scratch"]) == 0
    assert main(["label", "X-1", "--to", "one.svg"]) == 0
    assert "<svg" in (workshop / "one.svg").read_text(encoding="utf-8")


def test_engraving_text_goes_to_the_standard_output(workshop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["label", "c-735", "N-6", "--engrave"]) == 0
    assert capsys.readouterr().out == "C-735\n7.35 L2-A\n2026-03-02\n\nN-6\n6\n"
    assert not (workshop / "labels.pdf").exists()


def test_a_sheet_begun_is_used_on_from_the_place_named(workshop: Path) -> None:
    sheet = ["--label", "70x37", "--grid", "3x8", "--start", "24", "--to", "more.pdf"]
    assert main(["label", "N-6", "S-9", *sheet]) == 0
    assert _on_pages(workshop / "more.pdf")[0] == [{"N-6"}, {"S-9"}]


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        ([], 2, "Name items, or say --all"),
        (["N-6", "--all"], 2, "Name items, or say --all"),
        (["N-7"], 3, "Did you mean N-6"),
        (["L2"], 3, "L2 is a setup"),
        (["N-6", "S-9", "--to", "x.png"], 2, "A .png file holds one label"),
        (["N-6", "--label", "70"], 2, "--label 70 is not two numbers"),
        (["N-6", "--grid", "3xq"], 2, "no number of columns and rows"),
        (["N-6", "--label", "1x1", "--to", "x.svg"], 2, "cannot be made"),
        (["N-6", "--paper", "A5"], 2, "A4, letter, label"),
        (["N-6", "--to", "book.sqlite/x.pdf"], 4, "cannot be written"),
        (["N-6", "--to", "x.bmp"], 4, "has to end in .pdf, .svg or .png"),
        (["N-6", "--to", "none/x.pdf"], 4, "there is no folder none"),
        (["--all", "--to", "x.png"], 2, "A .png file holds one label"),
        (["--all", "--grid", "3xq"], 2, "no number of columns and rows"),
    ],
)
def test_what_cannot_be_made_is_said_in_one_line(
    workshop: Path, arguments: list[str], code: int, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["label", *arguments]) == code
    said = capsys.readouterr().err
    assert says in said
    assert said.count("\n") == 1
    assert sorted(path.suffix for path in workshop.iterdir() if path.suffix in (".pdf", ".svg", ".png")) == []


@pytest.mark.parametrize(
    "command",
    [["item", "add"], ["setup", "add"], ["pin", "add", "--diameter", "6"], ["instrument", "add", "--division", "1um"]],
)
def test_a_code_that_looks_like_a_known_one_is_warned_about(
    workshop: Path, command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command[:2], "8-iOs", *command[2:]]) == 0
    assert "on a label 8-iOs is easily read as B-105, which is a code already (item)" in capsys.readouterr().err
    assert main([*command[:2], "B-107", *command[2:]]) == 0
    assert "Take care" not in capsys.readouterr().err
    assert workshop.exists()


def test_codes_entered_by_an_import_are_warned_about_too(workshop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = workshop / "rows.csv"
    rows.write_text(
        "taken_at,item,setup,position,clamping,distance,kind,value,unit\n"
        "2026-03-04,b-1o5,L2,A,1,25,tir,4,um\n"
        "2026-03-04,B-107,L2,A,1,25,tir,4,um\n",
        encoding="utf-8",
    )
    assert main(["import", str(rows), "--create"]) == 0
    said = capsys.readouterr().err
    assert "on a label b-1o5 is easily read as B-105, which is a code already (item)" in said
    assert said.count("Take care") == 1
