"""``qclog statement`` and ``qclog verify FILE.pdf``: handed over, issued anew, looked at again."""

import json
import re
import shutil
from pathlib import Path

import pypdf
import pytest

from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.codes import Differs
from reports.statement import pdf as statement_pdf
from reports.statement_check import DIFFERS

SWINGS = {
    "2026-03-02": "4.2 4.7 4.4",
    "2026-03-03": "4.8 4.0 4.5",
    "2026-03-04": "4.6 4.3",
    "2026-03-05": "4.4 4.9",
}
THERE = "--setup L2 --position A --pin P-735 --instrument I-1"


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """C-735 bored to 7.35 mm, measured on four days with a calibrated indicator."""
    path = tmp_path_factory.mktemp("workshop") / "book.sqlite"
    for line in (
        "setup add L2 --positions A,B",
        "item add C-735 --kind collet --size 7",
        "pin add P-735 --diameter 7.348",
        "instrument add I-1 --division 0.1um --kind electronic",
        "instrument calibrate I-1 --on 2026-01-12 --due 2027-01-12 --uncertainty 0.4um --certificate K-17",
        "modify C-735 bored --size 7.35 --in L2 --position A --made-to 9um@25mm --on 2026-03-01",
        *(f"log C-735 {swings} {THERE} --distance 25 --on {day}T10:00" for day, swings in SWINGS.items()),
    ):
        assert run(str(path), line) == 0, line
    assert main(["--logbook", str(path), "settings", "--workshop", "Northbank Toolroom, Hall 3"]) == 0
    return path


@pytest.fixture
def logbook(workshop: Path, tmp_path: Path) -> str:
    shutil.copytree(workshop.parent, tmp_path, dirs_exist_ok=True)
    return str(tmp_path / workshop.name)


def run(target: str, line: str) -> int:
    return main(["--logbook", target, *line.split()])


def hand_over(target: str, path: Path, *, on: str = "2026-04-01", receiver: str = "Gauge room") -> int:
    given = ["--for", receiver, "--by", "Anna Kivi", "--on", on, "--to", str(path)]
    return main(["--logbook", target, "statement", "C-735", *given])


def codes(target: str, path: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """What verify finds, and that its exit code says so too."""
    capsys.readouterr()
    code = main(["--logbook", target, "verify", str(path), "--json"])
    (answer,) = json.loads(capsys.readouterr().out)["answers"]
    found = [finding["code"] for finding in answer["findings"]]
    assert code == (6 if found else 0)
    return found


def test_it_is_handed_over_and_stands(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "first.pdf"
    assert hand_over(logbook, path) == 0
    assert "statement no. 1, revision 1, for Gauge room" in capsys.readouterr().err
    assert codes(logbook, path, capsys) == []
    assert run(logbook, f"verify {path}") == 0
    out = capsys.readouterr().out
    assert (
        "Statement no. 1, revision 1, of 2026-04-01 for Gauge room: C-735 in L2, position A, 25 mm out, HOLDS 9 µm."
        in (" ".join(out.split()))
    )


def test_issued_again_without_a_change_it_is_the_same_file(logbook: str, tmp_path: Path) -> None:
    first, again, other = (tmp_path / name for name in ("1.pdf", "2.pdf", "3.pdf"))
    assert hand_over(logbook, first) == 0
    assert hand_over(logbook, again, on="2026-05-01") == 0
    assert first.read_bytes() == again.read_bytes()
    assert hand_over(logbook, other, receiver="Another customer") == 0
    assert first.read_bytes() != other.read_bytes()


def test_where_the_same_makes_another_file_it_is_the_next_revision(
    logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As after a newer version of the library or of the lettering: two files of one number would not be told apart."""
    first, second = tmp_path / "1.pdf", tmp_path / "2.pdf"
    hand_over(logbook, first)
    drawn = statement_pdf.pdf
    monkeypatch.setattr(statement_pdf, "pdf", lambda *given: drawn(*given) + b"\n")
    assert hand_over(logbook, second, on="2026-05-01") == 0
    assert "revision 2, in place of revision 1" in capsys.readouterr().err
    assert codes(logbook, second, capsys) == []
    assert codes(logbook, first, capsys) == [Differs.REPLACED]


def test_after_a_change_it_is_the_next_revision_and_the_one_before_is_said_to_be_replaced(
    logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = tmp_path / "1.pdf", tmp_path / "2.pdf"
    hand_over(logbook, first)
    assert run(logbook, f"log C-735 4.5 {THERE} --on 2026-04-02T10:00") == 0
    capsys.readouterr()
    assert run(logbook, f"verify {first}") == 6
    assert "1 clamping was added since." in capsys.readouterr().out
    assert codes(logbook, first, capsys) == [Differs.ADDED, Differs.STILL]
    assert hand_over(logbook, second, on="2026-04-03") == 0
    assert "revision 2, in place of revision 1" in capsys.readouterr().err
    assert codes(logbook, first, capsys) == [Differs.REPLACED]
    assert codes(logbook, second, capsys) == []


def test_a_struck_out_clamping_is_said(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "1.pdf"
    hand_over(logbook, path)
    assert run(logbook, "strike C-735 2 --reason misread") == 0
    assert codes(logbook, path, capsys) == [Differs.STRUCK, Differs.STILL]
    run(logbook, f"verify {path}")
    told = capsys.readouterr().out
    assert "Its clamping 2 was struck out since: misread." in told
    assert told.count("\n  - ") == 2
    assert "says the same today" not in told


def test_a_recall_is_said_and_names_whom_to_tell(
    logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "1.pdf"
    hand_over(logbook, path)
    capsys.readouterr()
    assert main(["--logbook", logbook, "recall", "I-1", "--found", "17 on 20", "--on", "2026-04-10"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert (
        "1 customer to tell: Gauge room has statement no. 1, revision 1 (C-735 in L2, position A, HOLDS 9 µm)." in told
    )
    assert codes(logbook, path, capsys) == [Differs.IN_DOUBT, Differs.VERDICT]
    assert run(logbook, "recall I-1 --json") == 0
    (answer,) = json.loads(capsys.readouterr().out)["answers"]
    assert answer["to_tell"] == ["Gauge room"]
    assert [(one["number"], one["in_doubt"]) for one in answer["statements"]] == [(1, 10)]
    assert run(logbook, "recall I-1 --clear checked") == 0
    capsys.readouterr()
    assert run(logbook, "recall I-1 --json") == 0
    (answer,) = json.loads(capsys.readouterr().out)["answers"]
    assert (answer["to_tell"], answer["statements"]) == ([], [])
    assert codes(logbook, path, capsys) == []


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("modify C-735 ground --on 2026-04-05", [Differs.WORKED_ON]),
        ("refit L2 --reason crash --on 2026-04-05", [Differs.SETUP_CHANGED]),
        ("limit C-735 8um@25mm", [Differs.LIMIT, Differs.STILL]),
        ("limit C-735 3um@25mm", [Differs.LIMIT, Differs.VERDICT]),
        ("inspect C-735 crack --on 2026-04-05", [Differs.LOCKED_OUT]),
        ("item add C-735 --size 7 --mark 7.35", [Differs.PARTS]),
    ],
)
def test_what_has_changed_since_is_said(
    logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], line: str, found: list[str]
) -> None:
    path = tmp_path / "1.pdf"
    hand_over(logbook, path)
    assert run(logbook, line) == 0
    assert codes(logbook, path, capsys) == found


def test_a_reading_changed_behind_the_programs_back_is_found(
    logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "1.pdf"
    hand_over(logbook, path)
    store = open_store(logbook)
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE figure SET value_um = value_um + 0.1 WHERE clamping_id = 3")
    store.close()
    assert codes(logbook, path, capsys) == [Differs.FIGURES]


def test_an_altered_file_is_found(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, other = tmp_path / "1.pdf", tmp_path / "other.pdf"
    hand_over(logbook, path)
    whole = path.read_bytes()
    other.write_bytes(whole + b"\n")
    assert codes(logbook, other, capsys) == [Differs.FILE_ALTERED]
    for name, old, new, found in (
        ("statement.json", b'"Gauge room"', b'"Gouge room"', Differs.CONTENT_ALTERED),
        ("statement.json", b'"next_clampings":"holds"', b'"next_clampings":"helds"', Differs.CONTENT_ALTERED),
        ("readings.csv", b",4.8,", b",4.1,", Differs.READINGS_ALTERED),
        ("statement.json", b'"number":1,"receiver"', b'"number":8,"receiver"', Differs.NOT_ISSUED),
    ):
        made = pypdf.PdfWriter()
        reader = pypdf.PdfReader(path)
        made.add_blank_page(595, 842)
        for one in ("statement.json", "readings.csv"):
            content = reader.attachments[one][0]
            assert one != name or old in content
            made.add_attachment(one, content.replace(old, new) if one == name else content)
        made.write(other)
        assert codes(logbook, other, capsys) == [found]


def test_every_finding_has_a_sentence() -> None:
    assert set(DIFFERS) == set(Differs)


def test_it_is_refused_with_what_to_do(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        run(logbook, "log C-735 7.8 8.6 --setup L2 --position B --pin P-735 --distance 25 --on 2026-03-02T11:00") == 0
    )
    capsys.readouterr()
    assert hand_over(logbook, tmp_path / "x.pdf") == 2
    assert "Say which: --position 'A' or 'B'." in capsys.readouterr().err
    given = ["statement", "C-735", "--position", "B", "--for", "X", "--to", str(tmp_path / "x.pdf")]
    assert main(["--logbook", logbook, *given]) == 4
    refusal = capsys.readouterr().err
    first, *reasons, last = refusal.splitlines()
    assert first == "qclog: No statement can be issued for C-735:"
    assert [line for line in reasons if not line.startswith(("  - ", "    "))] == []
    for said in ("No indicator is named", "All clampings are of one sitting", "qclog assess C-735"):
        assert sum(line.startswith("  - ") and said in line for line in reasons) == 1, said
    assert last == "  To see it, marked NOT FOR ISSUE: qclog statement C-735 --draft"
    assert not (tmp_path / "x.pdf").exists()
    draft = tmp_path / "draft.pdf"
    assert run(logbook, f"statement C-735 --position B --draft --to {draft}") == 0
    assert "NOT FOR ISSUE" in capsys.readouterr().err
    text = pypdf.PdfReader(draft).pages[0].extract_text()
    assert "NOT FOR ISSUE" in text
    assert run(logbook, f"verify {draft}") == 4


def test_what_is_missing_is_asked_for(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(logbook, "statement C-735") == 2
    assert "--for" in capsys.readouterr().err
    assert run(logbook, "statement C-9 --for X") == 3
    assert hand_over(logbook, tmp_path / "x.pdf", on="2026-03-04") == 4
    assert "rests on what was read on 2026-03-05" in capsys.readouterr().err
    assert run(logbook, f"verify {tmp_path / 'none.pdf'}") == 3
    assert run(logbook, "verify x.pdf --against y") == 2
    bare = str(tmp_path / "bare.sqlite")
    assert run(bare, "item add C-735") == 0
    assert hand_over(bare, tmp_path / "x.pdf") == 2
    assert "settings --workshop" in capsys.readouterr().err


def test_what_a_recall_took_away_is_among_the_reasons(
    logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sitting read with another indicator is all that is left, and one sitting does not do."""
    assert run(logbook, "instrument add I-2 --division 0.1um --kind electronic") == 0
    given = "--on 2026-01-12 --due 2027-01-12 --uncertainty 0.4um"
    assert run(logbook, f"instrument calibrate I-2 {given}") == 0
    again = THERE.replace("I-1", "I-2")
    assert run(logbook, f"log C-735 4.4 4.6 4.5 {again} --distance 25 --on 2026-03-06T10:00") == 0
    assert main(["--logbook", logbook, "recall", "I-1", "--found", "17 on 20", "--on", "2026-04-10"]) == 0
    capsys.readouterr()
    assert hand_over(logbook, tmp_path / "x.pdf", on="2026-04-11") == 4
    refusal = capsys.readouterr().err
    assert "All clampings are of one sitting" in refusal
    assert "with a gauge found wrong" in refusal


def test_it_is_not_dated_ahead(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert hand_over(logbook, tmp_path / "x.pdf", on="2226-04-01") == 4
    assert "It cannot be dated 2226-04-01: that day is still to come." in capsys.readouterr().err
    assert not (tmp_path / "x.pdf").exists()
    assert hand_over(logbook, tmp_path / "x.pdf") == 0
    assert "statement no. 1, revision 1" in capsys.readouterr().err


def test_written_again_it_keeps_its_date_and_says_so(
    logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hand_over(logbook, tmp_path / "x.pdf")
    capsys.readouterr()
    assert hand_over(logbook, tmp_path / "y.pdf", on="2026-04-01") == 0
    assert "keeps its date" not in capsys.readouterr().err
    assert hand_over(logbook, tmp_path / "y.pdf", on="2026-05-01") == 0
    assert "It keeps its date, 2026-04-01; --on 2026-05-01 was not used." in capsys.readouterr().err


@pytest.mark.parametrize(("name", "says"), [("x.txt", "has to end in .pdf"), ("none/x.pdf", "there is no folder")])
def test_only_a_pdf_in_a_folder_that_is_there_is_written(
    logbook: str, tmp_path: Path, name: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert hand_over(logbook, tmp_path / name) == 4
    assert says in capsys.readouterr().err
    assert run(logbook, f"statement C-735 --draft --to {tmp_path / name}") == 4
    assert says in capsys.readouterr().err
    assert not (tmp_path / name).exists()
    assert not (tmp_path / "none").exists()
    assert hand_over(logbook, tmp_path / "x.pdf") == 0
    assert "statement no. 1, revision 1" in capsys.readouterr().err


def test_a_file_that_cannot_be_written_leaves_no_statement(logbook: str, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    assert hand_over(logbook, tmp_path / "file" / "x.pdf") == 4
    path = tmp_path / "x.pdf"
    assert hand_over(logbook, path) == 0
    assert "no. 1, revision 1" in pypdf.PdfReader(path).pages[0].extract_text()


def test_history_lists_and_pages_tell_of_it(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    hand_over(logbook, tmp_path / "x.pdf")
    capsys.readouterr()
    for line in ("history C-735", "history L2", "item show C-735", "drawer"):
        assert run(logbook, line) == 0
        told = " ".join(capsys.readouterr().out.split()).lower()
        assert "statement no. 1, revision 1," in told, line
        assert "for gauge room" in told, line
        assert "holds 9 µm" in told, line
    assert run(logbook, f"report C-735 --to {tmp_path / 'page.html'}") == 0
    page = re.sub(r"</?span[^>]*>", "", (tmp_path / "page.html").read_text(encoding="utf-8"))
    assert "statement no. 1, revision 1, of 2026-04-01 for Gauge room: HOLDS 9 µm in L2, position A" in page
    for line in ("drawer --json", "item show C-735 --json"):
        capsys.readouterr()
        assert run(logbook, line) == 0
        assert "Gauge room" in json.dumps(json.loads(capsys.readouterr().out))
