"""What is asked of somebody sitting at a terminal, and what the answers leave in the logbook."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
import sqlalchemy as sa

from qclog.cli.main import main
from qclog.logbook import schema
from qclog.logbook.engine import open_store

pty = pytest.importorskip("pty", reason="pseudo-terminals are POSIX only")

COMMAND = "import sys; from qclog.cli.main import main; sys.exit(main(sys.argv[1:]))"


@pytest.fixture
def logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "book.sqlite"
    monkeypatch.setenv("QCLOG_LOGBOOK", str(path))
    for command in (
        ["setup", "add", "L2", "--positions", "A,B"],
        ["item", "add", "C-735", "--kind", "collet", "--made-to", "9um@25mm"],
        ["log", "C-735", "4", "5", "6", "--position", "A", "--on", "2026-03-02T10:00"],
    ):
        assert main(command) == 0
    return path


def _at_terminal(answers: str, *arguments: str) -> tuple[int, str]:
    """Runs qclog with a pseudo-terminal for input and talk; gives the exit code and the talk."""
    master, slave = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-c", COMMAND, *arguments], stdin=slave, stdout=subprocess.DEVNULL, stderr=slave
    ) as process:
        os.close(slave)
        os.write(master, answers.encode())
        talk = b""
        while True:
            try:
                part = os.read(master, 4096)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            talk += part
        code = process.wait()
    os.close(master)
    return code, talk.decode()


def _rows(path: Path, table: sa.Table) -> list[sa.Row[tuple[object, ...]]]:
    store = open_store(str(path))
    with store.reading() as connection:
        rows = list(connection.execute(sa.select(table).order_by(table.c.id)))
    store.close()
    return rows


def test_a_doubtful_reading_that_is_right_is_kept_with_the_answer(logbook: Path) -> None:
    code, talk = _at_terminal("y\n", "log", "C-735", "130", "--on", "2026-03-02T11:00")
    assert code == 0
    assert "Is it right?" in talk
    assert len(_rows(logbook, schema.clamping)) == 4
    assert [(row.why, row.answer) for row in _rows(logbook, schema.doubt)] == [("inch_for_mm", "kept")]


def test_a_slip_taken_back_leaves_no_reading_but_is_remembered(logbook: Path) -> None:
    code, talk = _at_terminal("n\n", "log", "C-735", "130", "--on", "2026-03-02T11:00")
    assert code == 4
    assert "nothing of this line was logged as a reading" in talk
    assert len(_rows(logbook, schema.clamping)) == 3
    assert [(row.why, row.typed, row.answer) for row in _rows(logbook, schema.doubt)] == [
        ("inch_for_mm", "130", "withdrawn")
    ]


@pytest.mark.usefixtures("logbook")
def test_it_asks_once_whether_the_pin_was_right_out_and_remembers_it() -> None:
    code, talk = _at_terminal("y\n", "log", "C-735", "4", "5", "--on", "2026-03-02T11:00")
    assert code == 0
    assert talk.count("taken right out") == 1
    code, talk = _at_terminal("", "log", "C-735", "6", "5", "--on", "2026-03-02T11:30")
    assert code == 0
    assert "taken right out" not in talk
    assert "pin right out each time" in talk


def test_numbers_read_without_taking_the_pin_out_are_one_clamping(logbook: Path) -> None:
    code, _ = _at_terminal("n\n", "log", "C-735", "4", "5", "6", "--on", "2026-03-02T11:00")
    assert code == 0
    assert len(_rows(logbook, schema.clamping)) == 4
    assert len(_rows(logbook, schema.turn)) == 6


@pytest.mark.usefixtures("logbook")
def test_a_file_that_is_there_is_replaced_only_by_who_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "readings.csv"
    path.write_text("what was there")
    capsys.readouterr()
    assert main(["export", "--to", str(path)]) == 4
    told = capsys.readouterr().err
    assert told == f"qclog: {path} is there already, and stays as it is. Name a new file with --to.\n"
    assert path.read_text() == "what was there"
    code, talk = _at_terminal("\n", "export", "--to", str(path))
    assert code == 4
    assert "readings.csv is there already. Replace it? [y/N]" in talk
    assert path.read_text() == "what was there"
    code, talk = _at_terminal("y\n", "export", "--to", str(path))
    assert code == 0, talk
    assert path.read_text().startswith("taken_at,")
