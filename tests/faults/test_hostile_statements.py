"""Files that somebody hands in as statements: damaged, locked, huge, made to hurt. A line and a code, never more."""

import io
import random
import zlib
from pathlib import Path

import pypdf
import pytest

from qclog.cli import main as front
from qclog.cli.main import main
from qclog.errors import RefusedError
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.questions.stating.gathering import Wanted, prepare
from qclog.questions.stating.signing import signed
from qclog.questions.stating.statement import Signed
from qclog.records import Clamping, Reading, Turn
from reports.statement import attachments
from reports.statement.attachments import LARGEST_FILE, handed
from reports.statement.pdf import pdf

MUTATIONS = 45
NASTY = ("../../etc/passwd", "..\\x", "/statement.json", "STATEMENT.JSON", "statement.json\0", "\x1b[31m", "CON", "")


@pytest.fixture(autouse=True)
def _no_defect(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the program does not explain itself fails the test with its traceback."""

    def fail() -> str:
        raise

    monkeypatch.setattr(front, "_keep_traceback", fail)


@pytest.fixture
def logbook(sqlite_book: Store) -> str:
    turn = Turn("tir", (Reading(4_000_000, "4.0", 100_000),), 16_000_000_000)
    for day in range(1, 6):
        with new_entry(sqlite_book, "log") as entry:
            one = Clamping("C-046", "LATHE", f"2026-03-0{day}", (turn,), position="A", instrument="D-1", pin="P-65")
            write_clampings(entry, [Resolver(Register(entry.connection)).resolve(one)])
    return sqlite_book.target


@pytest.fixture
def whole(logbook: str, sqlite_book: Store) -> bytes:
    """A statement that was never issued, and so is none of the logbook's."""
    assert logbook == sqlite_book.target
    with sqlite_book.reading() as connection:
        prepared = prepare(connection, Wanted("C-046"))
    return pdf(signed(prepared, Signed(1, 1, 0, "2026-04-01", "W", "AK", "X")), prepared.readings)


def refused(logbook: str, path: Path, capsys: pytest.CaptureFixture[str], says: str = "") -> int:
    """Exactly one line, that says something, and an exit code of the promises."""
    capsys.readouterr()
    code = main(["--logbook", logbook, "verify", str(path)])
    told = capsys.readouterr()
    if code == 6:
        assert told.err == ""
        assert "has issued no statement" in told.out
    else:
        assert told.out == ""
        assert told.err.count("\n") == 1, told.err
        assert told.err.startswith("qclog: ")
        assert "\x1b" not in told.err
        assert says in told.err
    return code


def test_a_file_that_is_none_is_refused(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "x.pdf"
    for content in (b"", b"hello", b"\0" * 5000, b"PK\3\4" + b"x" * 999, b"%PDF-1.7", b"%PDF-1.7\n%%EOF\n"):
        path.write_bytes(content)
        assert refused(logbook, path, capsys) == 4
    assert refused(logbook, tmp_path / "none.pdf", capsys) == 3
    assert refused(logbook, tmp_path, capsys) == 4


def test_a_huge_file_is_not_read(logbook: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "x.pdf"
    with path.open("wb") as file:
        file.write(b"%PDF-1.7\n")
        file.truncate(LARGEST_FILE + 1)
    assert refused(logbook, path, capsys, "x.pdf is too large for a statement") == 4


def test_a_truncated_or_damaged_file_is_said_in_a_line(
    logbook: str, whole: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, rng = tmp_path / "x.pdf", random.Random(8)
    seen = set()
    for number in range(MUTATIONS):
        content = bytearray(whole)
        if number % 3 == 0:
            del content[rng.randrange(len(content)) :]
        elif number % 3 == 1:
            for _ in range(rng.choice((1, 20, 2000))):
                content[rng.randrange(len(content))] = rng.randrange(256)
        else:
            start = rng.randrange(len(content))
            content[start : start + rng.randrange(5000)] = b""
        path.write_bytes(bytes(content))
        seen.add(refused(logbook, path, capsys))
    assert seen == {4, 6}


def with_attachments(whole: bytes, attached: list[tuple[str, bytes]], password: str = "") -> bytes:
    writer = pypdf.PdfWriter()
    writer.add_page(pypdf.PdfReader(io.BytesIO(whole)).pages[0])
    for name, content in attached:
        writer.add_attachment(name, content)
    if password:
        writer.encrypt(password, algorithm="RC4-128")
    made = io.BytesIO()
    writer.write(made)
    return made.getvalue()


def test_locked_files_and_strange_attachments_are_refused(
    logbook: str, whole: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "x.pdf"
    good = pypdf.PdfReader(io.BytesIO(whole)).attachments
    statement, readings = ("statement.json", good["statement.json"][0]), ("readings.csv", good["readings.csv"][0])
    for attached, password in (
        ([statement, readings], "secret"),
        ([], ""),
        ([statement], ""),
        ([readings], ""),
        ([statement, statement, readings], ""),
        ([*((name, statement[1]) for name in NASTY), readings], ""),
        ([("statement.json", b"[" * 300_000), readings], ""),
        ([("statement.json", b'{"a":' * 50_000), readings], ""),
        ([("statement.json", b'{"form":1}'), readings], ""),
    ):
        path.write_bytes(with_attachments(whole, attached, password))
        says = "is locked with a password" if password else "no statement"
        assert refused(logbook, path, capsys, says) == 4
    path.write_bytes(with_attachments(whole, [*((name, b"x") for name in NASTY), statement, readings]))
    assert refused(logbook, path, capsys) == 6
    assert not list(tmp_path.glob("**/passwd"))


def test_an_attachment_that_unpacks_to_more_than_fits_is_refused(
    logbook: str, whole: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A stream of 100 MB of blanks, some hundred kilobytes packed."""
    path = tmp_path / "x.pdf"
    small = with_attachments(whole, [("statement.json", b"@@@@"), ("readings.csv", b"x")])
    packer = zlib.compressobj(1)
    packed = b"".join(packer.compress(b" " * 2**20) for _ in range(100)) + packer.flush()
    start = small.index(b"@@@@")
    header = small.rindex(b"<<", 0, start)
    old = small[header : small.index(b">>", header)]
    new = b"<< /Type /EmbeddedFile /Filter /FlateDecode /Length %d " % len(packed)
    made = small[:header] + new + small[header + len(old) : start] + packed + small[start + 4 :]
    path.write_bytes(made)
    assert refused(logbook, path, capsys, "cannot be read") == 4


def test_pages_that_point_to_each_other_do_not_hang(
    logbook: str, whole: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "x.pdf"
    path.write_bytes(whole.replace(b"/Names ", b"/Namez "))
    assert refused(logbook, path, capsys) == 4
    loop = (
        b"%PDF-1.7\n1 0 obj <</Type/Catalog /Names <</EmbeddedFiles 2 0 R>> /Pages 3 0 R>> endobj\n"
        b"2 0 obj <</Kids [2 0 R 2 0 R]>> endobj\n3 0 obj <</Type/Pages /Kids [] /Count 0>> endobj\n"
        b"trailer <</Root 1 0 R>>\n%%EOF\n"
    )
    path.write_bytes(loop)
    assert refused(logbook, path, capsys) == 4


def test_a_failure_of_the_reader_is_a_damaged_file(
    whole: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "x.pdf"
    path.write_bytes(whole)
    assert handed(path).readings.startswith(b"taken_at")

    def fail(*_: object) -> None:
        raise KeyError("anything")

    monkeypatch.setattr(pypdf, "PdfReader", fail)
    with pytest.raises(RefusedError, match=r"x\.pdf is a damaged PDF"):
        attachments.handed(path)
