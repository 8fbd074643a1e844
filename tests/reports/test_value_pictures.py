"""The picture of a size over time: every reading that counts, both limits, what pins told as a bar."""

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
