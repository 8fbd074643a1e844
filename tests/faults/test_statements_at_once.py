"""A statement takes a second to draw: others write meanwhile, and whatever happens its number is its own."""

import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest
import sqlalchemy as sa

from qclog.cli.common import Target
from qclog.cli.main import main
from qclog.logbook import schema
from qclog.logbook.engine import Store, open_store
from qclog.records import Clamping, Reading, Turn
from reports.statement import pdf as statement_pdf

Log = Callable[..., list[int]]

THERE = "--setup L2 --position A --distance 25 --pin P-735 --instrument I-1"
DYING = """
import os, pathlib, sys
from qclog.cli.main import main
from reports.statement import pdf
def die(*_): os._exit(9)
if sys.argv[1] == "drawing":
    pdf.pdf = die
else:
    pathlib.Path.replace = die
main(sys.argv[2:])
"""


@pytest.fixture
def shop(target: str, log: Log, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """C-735 and C-736, each measured on three days with a calibrated indicator. What commands open is closed after."""
    opened: list[Store] = []
    plain = Target.open

    def remembered(*given: Any, **options: Any) -> Store:
        opened.append(plain(*given, **options))
        return opened[-1]

    monkeypatch.setattr(Target, "open", remembered)
    for line in (
        "setup add L2 --positions A,B",
        "pin add P-735 --diameter 7.348",
        "instrument add I-1 --division 0.1um --kind electronic",
        "instrument calibrate I-1 --on 2026-01-12 --due 2027-01-12 --uncertainty 0.4um",
        "item add C-735 --kind collet --size 7.35 --made-to 9um@25mm",
        "item add C-736 --kind collet --size 7.35 --made-to 9um@25mm",
    ):
        assert main(["--logbook", target, *line.split()]) == 0, line
    assert main(["--logbook", target, "settings", "--workshop", "Northbank Toolroom"]) == 0
    turns = {text: Turn("tir", (Reading(round(float(text) * 1e6), text, 100_000),), 25 * 10**9) for text in SWINGS}
    log(
        opened[-1],
        *(
            Clamping(code, "L2", f"2026-03-0{2 + i % 3}", (turn,), position="A", pin="P-735", instrument="I-1")
            for code in ("C-735", "C-736")
            for i, turn in enumerate(turns.values())
        ),
    )
    yield target
    for store in opened:
        store.close()


SWINGS = ("4.2", "4.7", "4.4", "4.8", "4.0", "4.5", "4.6", "4.3")


def asked(code: str, path: Path) -> list[str]:
    return ["statement", code, "--for", "Gauge room", "--by", "Anna", "--on", "2026-04-01", "--to", str(path)]


def issue(target: str, code: str, path: Path) -> int:
    return main(["--logbook", target, *asked(code, path)])


def numbers(target: str) -> list[tuple[int, int]]:
    """Number and revision of every statement kept."""
    store, kept = open_store(target), schema.statement
    with store.reading() as connection:
        query = sa.select(kept.c.number, kept.c.revision).order_by(kept.c.number, kept.c.revision)
        found = [(row.number, row.revision) for row in connection.execute(query)]
    store.close()
    return found


def stands(target: str, path: Path) -> bool:
    return main(["--logbook", target, "verify", str(path)]) == 0


def while_it_is_drawn(monkeypatch: pytest.MonkeyPatch, target: str, *arguments: str) -> list[int]:
    """Another command is given once, in the middle of the first drawing; the exit code of it, and a 0 a drawing."""
    drawn, said = statement_pdf.pdf, [0]

    def draw(*given: Any) -> bytes:
        said.append(0)
        if len(said) == 2:
            said[0] = main(["--logbook", target, *arguments])
        return drawn(*given)

    monkeypatch.setattr(statement_pdf, "pdf", draw)
    return said


def test_others_write_while_it_is_drawn(shop: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said = while_it_is_drawn(monkeypatch, shop, *f"log C-736 4.4 {THERE} --on 2026-03-09".split())
    assert issue(shop, "C-735", tmp_path / "1.pdf") == 0
    assert said == [0, 0]
    assert stands(shop, tmp_path / "1.pdf")


def test_what_it_rests_on_was_added_to_while_it_was_drawn(
    shop: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = while_it_is_drawn(monkeypatch, shop, *f"log C-735 4.4 {THERE} --on 2026-03-09".split())
    assert issue(shop, "C-735", tmp_path / "1.pdf") == 0
    assert said == [0, 0, 0]
    assert numbers(shop) == [(1, 1)]
    assert stands(shop, tmp_path / "1.pdf")


def test_its_number_was_taken_while_it_was_drawn(
    shop: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = while_it_is_drawn(monkeypatch, shop, *asked("C-736", tmp_path / "other.pdf"))
    assert issue(shop, "C-735", tmp_path / "mine.pdf") == 0
    assert said == [0, 0, 0, 0]  # the other one, and mine twice
    assert "statement no. 2, revision 1" in capsys.readouterr().err
    assert numbers(shop) == [(1, 1), (2, 1)]
    assert stands(shop, tmp_path / "other.pdf")
    assert stands(shop, tmp_path / "mine.pdf")


def test_the_same_was_issued_while_it_was_drawn(
    shop: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    while_it_is_drawn(monkeypatch, shop, *asked("C-735", tmp_path / "other.pdf"))
    assert issue(shop, "C-735", tmp_path / "mine.pdf") == 0
    assert "Nothing has changed since statement no. 1, revision 1" in capsys.readouterr().err
    assert numbers(shop) == [(1, 1)]
    assert (tmp_path / "mine.pdf").read_bytes() == (tmp_path / "other.pdf").read_bytes()


def test_issued_by_several_at_once_each_has_a_number_of_its_own(shop: str, tmp_path: Path) -> None:
    command = [sys.executable, "-c", "import sys; from qclog.cli.main import main; sys.exit(main(sys.argv[1:]))"]
    running = []
    for i in range(3):
        path = tmp_path / f"{i}.pdf"
        given = ["--logbook", shop, "statement", "C-735", "--for", f"Customer {i}", "--to", str(path)]
        running.append(subprocess.Popen([*command, *given], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL))
    for one in running:
        _, err = one.communicate()
        assert one.returncode == 0, err
    assert numbers(shop) == [(1, 1), (2, 1), (3, 1)]
    told = {pypdf.PdfReader(tmp_path / f"{i}.pdf").pages[0].extract_text().partition("revision")[0] for i in range(3)}
    assert len(told) == 3
    assert all(stands(shop, tmp_path / f"{i}.pdf") for i in range(3))


@pytest.mark.parametrize(("where", "left"), [("drawing", []), ("putting it in its place", [(1, 1)])])
def test_killed_it_leaves_no_file_without_a_number_and_asked_again_is_written(
    shop: str, tmp_path: Path, where: str, left: list[tuple[int, int]]
) -> None:
    path = tmp_path / "1.pdf"
    died = subprocess.run([sys.executable, "-c", DYING, where, "--logbook", shop, *asked("C-735", path)], check=False)
    assert died.returncode == 9
    assert not path.exists()
    assert numbers(shop) == left
    assert main(["--logbook", shop, "verify"]) == 0
    assert issue(shop, "C-735", path) == 0
    assert numbers(shop) == [(1, 1)]
    assert stands(shop, path)


def test_a_file_that_cannot_be_put_in_its_place_is_written_elsewhere_with_the_same_number(
    shop: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    blocked = tmp_path / "1.pdf" / "held.pdf"
    (tmp_path / "1.pdf").write_text("a file where a folder is wanted")
    assert issue(shop, "C-735", blocked) == 4
    assert numbers(shop) == []
    assert "cannot be written" in capsys.readouterr().err
    assert issue(shop, "C-735", tmp_path / "2.pdf") == 0
    assert numbers(shop) == [(1, 1)]
