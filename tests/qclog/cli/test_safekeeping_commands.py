"""verify, backup, restore, copy and rebuild as a user types them: what is said where, and the exit codes."""

import json
import sqlite3
from pathlib import Path

import pytest

from qclog.cli.main import main


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the logbook book.sqlite: an item, three swings."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("QCLOG_LOGBOOK", "book.sqlite")
    assert main(["setup", "add", "L2"]) == 0
    assert main(["item", "add", "C-1", "--kind", "collet", "--made-to", "9um@25mm"]) == 0
    assert main(["log", "C-1", "4", "5", "4", "--on", "2026-03-02T10:00"]) == 0
    return tmp_path


def change_a_reading(path: Path) -> None:
    file = sqlite3.connect(path)
    file.execute("DROP TRIGGER reading_keeps_update")
    file.execute("UPDATE reading SET value_pm = value_pm + 1000000 WHERE id = 2")
    file.commit()
    file.close()


def test_a_logbook_is_kept_looked_through_and_brought_back(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert main(["backup", "kept.sqlite"]) == 0
    out, err = capsys.readouterr()
    assert (out, err) == ("", "kept.sqlite: 3 entries, looked through and found sound.\n")
    assert main(["backup", "kept.sqlite"]) == 4

    change_a_reading(folder / "book.sqlite")
    capsys.readouterr()
    assert main(["verify"]) == 6
    out, err = capsys.readouterr()
    assert err == ""
    assert out.startswith("book.sqlite: 3 FAULTS.\n")
    assert "reading_keeps_update is missing." in out
    assert "bench 3 (log, " in out
    assert "C-1, clamping 2, turn 2: not what its readings give." in out
    assert max(map(len, out.splitlines())) <= 100

    assert main(["verify", "--json"]) == 6
    assert json.loads(capsys.readouterr().out)["answers"][0]["sound"] is False
    assert main(["backup"]) == 6
    assert "and so has this backup" in capsys.readouterr().err

    assert main(["restore", "kept.sqlite"]) == 0
    out, err = capsys.readouterr()
    assert (out, err.splitlines()[0]) == ("", "The logbook is that of kept.sqlite again: 3 entries.")
    assert main(["verify", "--against", "kept.sqlite"]) == 0
    assert capsys.readouterr().out.startswith("book.sqlite: NOTHING WRONG.\n")


def test_entries_are_lost_only_when_that_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["backup", "kept.sqlite"]) == 0
    assert main(["log", "C-1", "6", "--on", "2026-03-03T10:00"]) == 0
    capsys.readouterr()
    assert main(["restore", "kept.sqlite"]) == 4
    assert "has entries that the backup has not: 1." in capsys.readouterr().err
    assert main(["restore", "kept.sqlite", "--yes"]) == 0
    assert "1 entry of it is only in that file now." in capsys.readouterr().err
    (kept,) = folder.glob("book-*-before-restore.sqlite")
    assert main(["verify", "--against", kept.name]) == 6
    assert "the backup goes to entry 4, the logbook to 3." in capsys.readouterr().out


def test_a_logbook_is_copied_whole(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert main(["copy", "book.sqlite", "other.sqlite"]) == 0
    assert capsys.readouterr().err == "other.sqlite: 3 entries copied, looked through and found sound.\n"
    assert main(["copy", "book.sqlite", "other.sqlite"]) == 4
    assert main(["copy", "none.sqlite", "new.sqlite"]) == 3
    assert not (folder / "new.sqlite").exists()


def test_figures_are_rebuilt_by_one_command(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = sqlite3.connect(folder / "book.sqlite")
    file.execute("UPDATE figure SET value_um = 1.5")
    file.commit()
    file.close()
    assert main(["verify"]) == 6
    capsys.readouterr()
    assert main(["rebuild"]) == 0
    assert capsys.readouterr().err == "The figures of 3 turns were computed anew.\n"
    assert main(["verify"]) == 0


def test_without_a_logbook_there_is_nothing_to_keep(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "none.sqlite"))
    for command in (["verify"], ["backup"], ["rebuild"], ["restore", "kept.sqlite"]):
        assert main(command) == 3
    assert list(tmp_path.iterdir()) == []


def test_an_older_logbook_is_moved_by_whatever_command_and_that_is_said_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "book.sqlite"
    dump = Path(__file__).parents[1] / "logbook" / "schemas" / "0001.sqlite.sql"
    file = sqlite3.connect(path)
    file.executescript(dump.read_text(encoding="utf-8"))
    file.close()
    monkeypatch.setenv("QCLOG_LOGBOOK", str(path))
    assert main(["assess", "--json"]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out)["answers"]
    assert err.startswith("The logbook was made by an older qclog")
    (backup,) = tmp_path.glob("book-*-revision-0001.sqlite")
    assert err.rstrip().endswith(str(backup))
    assert main(["assess"]) == 0
    assert capsys.readouterr().err == ""


def test_a_newer_logbook_can_only_be_exported(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = sqlite3.connect(folder / "book.sqlite")
    file.execute("UPDATE schema_revision SET version_num = '9998'")
    file.commit()
    file.close()
    for command in (
        ["assess"],
        ["log", "C-1", "4"],
        ["verify"],
        ["backup"],
        ["import", "export"],
        ["copy", "book.sqlite", "x"],
    ):
        capsys.readouterr()
        (folder / "export").mkdir(exist_ok=True)
        assert main(command) == 6, command
        assert "this one can only export it" in capsys.readouterr().err
    (folder / "export").rmdir()
    assert main(["export", "--to", "export"]) == 0
    assert "A newer qclog wrote this logbook" in capsys.readouterr().err
    assert main(["export", "--to", "readings.csv"]) == 0
    assert len((folder / "readings.csv").read_text().splitlines()) == 4
