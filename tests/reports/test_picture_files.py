"""Every picture of a page as files of their own: SVG and PNG that need nothing of the page."""

import struct
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from matplotlib.image import imread

from qclog.cli import reporting
from qclog.cli.main import main
from qclog.logbook.engine import Store
from qclog.questions.dossier import dossiers
from reports.pages.drawer import file_stem
from reports.pages.pictures import write_pictures


@pytest.mark.parametrize("code", ["P-0", "P/C, 7+"])
def test_every_picture_of_the_page_is_written_as_svg_and_png(
    drawer: Store, written: dict[str, str], code: str, tmp_path: Path
) -> None:
    (dossier,) = dossiers(drawer, [code])
    drawn = write_pictures(tmp_path, dossier)
    assert drawn == written[code].count("<svg ")
    names = {path.stem for path in tmp_path.glob("*.svg")}
    assert names == {path.stem for path in tmp_path.glob("*.png")}
    assert len(names) == drawn
    assert len(list(tmp_path.iterdir())) == 2 * drawn
    assert all(name.startswith(f"{file_stem(code)}-") for name in names)


def test_a_picture_file_stands_alone_dark_on_white_at_300_dots_an_inch(drawer: Store, tmp_path: Path) -> None:
    write_pictures(tmp_path, dossiers(drawer, ["P-6"])[0])
    assert {path.stem for path in tmp_path.iterdir()} >= {"P-6-over-time-1", "P-6-high-spots-1-1"}
    for path in tmp_path.glob("*.svg"):
        text = path.read_text(encoding="utf-8")
        root = ET.fromstring(text)
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert "var(--" not in text
    for path in tmp_path.glob("*.png"):
        content = path.read_bytes()
        width, height = struct.unpack(">II", content[16:24])
        assert width == pytest.approx(3.7 * 300, abs=1)
        at = content.index(b"pHYs") + 4
        assert struct.unpack(">I", content[at : at + 4])[0] == pytest.approx(300 / 0.0254, abs=1)
        pixels = imread(path)
        assert pixels.shape[:2] == (height, width)
        assert np.array_equal(pixels[0, 0], np.ones(pixels.shape[2]))  # white, and not to be seen through
        assert pixels[..., :3].min() < 0.1


def test_a_report_puts_its_pictures_beside_the_page_only_when_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    assert main(["setup", "add", "L2"]) == 0
    assert main(["item", "add", "C-735", "--kind", "collet"]) == 0
    assert main(["log", "C-735", "4", "5", "6", "--distance", "16"]) == 0
    assert main(["report", "C-735"]) == 0
    assert sorted(path.suffix for path in tmp_path.iterdir() if path.suffix in (".svg", ".png")) == []
    capsys.readouterr()
    assert main(["report", "--all", "--pictures", "shown"]) == 0
    assert "1 picture in shown" in capsys.readouterr().err
    assert {path.name for path in (tmp_path / "shown").iterdir()} == {
        "C-735-over-time-1.svg",
        "C-735-over-time-1.png",
    }


def test_the_index_of_everything_comes_before_the_pages_and_it_is_said_how_far_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    monkeypatch.setattr(reporting, "_TOLD_EVERY", 1)
    for code in ("C-1", "C-2"):
        assert main(["item", "add", code]) == 0
    capsys.readouterr()
    assert main(["report", "--all"]) == 0
    index = Path("drawer", "index.html")
    assert capsys.readouterr().err.splitlines() == [
        f"{index} is written, and 1 of 2 pages beside it.",
        f"{index} is written, and 2 of 2 pages beside it.",
        f"Written: {index}, and 2 pages beside it.",
    ]
    assert index.stat().st_mtime_ns <= Path("drawer", "C-1.html").stat().st_mtime_ns
