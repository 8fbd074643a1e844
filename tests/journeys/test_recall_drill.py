"""A recall drill on the demonstration: an indicator is found wrong; exactly the verdicts that change are named.

What must change is found another way: the exported tables are rewritten with plain csv and numpy, every reading of the
indicator since its last calibration multiplied, and the changed workshop is taken in as a logbook of its own.
"""

import csv
import json
import shutil
from pathlib import Path

import numpy as np
import pytest

import demo_readings
from qclog.cli.main import main
from qclog.logbook import schema
from qclog.logbook.engine import open_store
from qclog.logbook.exchange import import_folder
from qclog.questions.assess import assess
from qclog.questions.judging.values import CANNOT_TELL

WORKSHOP = Path(demo_readings.__file__).parent / "workshop"
GAUGE, SINCE, FOUND = "L-1", "2026-01-19", "2026-09-30"
Verdicts = dict[tuple[str, str, str, float], str]


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration's workshop, to be copied."""
    path = tmp_path_factory.mktemp("workshop") / "workshop.sqlite"
    taken_in(WORKSHOP, path)
    return path


def taken_in(folder: Path, path: Path) -> Verdicts:
    """The verdicts that a logbook gives that was filled from a folder of tables."""
    store = open_store(str(path), create=True)
    try:
        import_folder(store, folder)
        return {
            (group.item, group.setup, group.position, group.distance_mm): group.next_clampings
            if group.next_clampings != CANNOT_TELL or group.this_sitting == CANNOT_TELL
            else f"{group.this_sitting} in that sitting"
            for answer in assess(store)
            if answer.item
            for group in answer.groups
        }
    finally:
        store.close()


def rows(folder: Path, table: str) -> tuple[list[str], list[list[str]]]:
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        header, *found = csv.reader(file)
    return header, found


def column(folder: Path, table: str, name: str) -> np.ndarray:
    header, found = rows(folder, table)
    return np.array([row[header.index(name)] for row in found])


def multiplied(folder: Path, ratio: float) -> int:
    """Multiply the readings of the gauge since its last calibration; returns of how many clampings."""
    names = dict(zip(column(folder, "name", "text"), column(folder, "name", "id"), strict=True))
    with_it = column(folder, "clamping", "instrument_id") == names[GAUGE]
    since = np.array([day[:10] >= SINCE for day in column(folder, "clamping", "taken_at")])
    clampings = column(folder, "clamping", "id")[with_it & since & (column(folder, "clamping", "recalled") == "0")]
    turns = column(folder, "turn", "id")[np.isin(column(folder, "turn", "clamping_id"), clampings)]
    header, found = rows(folder, "reading")
    chosen = np.isin(column(folder, "reading", "turn_id"), turns)
    at = header.index("value_pm")
    values = column(folder, "reading", "value_pm").astype(np.int64)
    for row, value, wrong in zip(found, np.rint(values * ratio), chosen, strict=True):
        row[at] = str(int(value)) if wrong else row[at]
    with (folder / "reading.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([header, *found])
    return len(clampings)


def unsealed(folder: Path) -> None:
    """As a folder from before every entry was sealed: what was rewritten would be found otherwise."""
    for table in schema.OLDER["0001"]:
        (folder / f"{table}.csv").unlink()
    (folder / "schema_revision.csv").write_text("version_num\n0001\n", encoding="utf-8")


@pytest.mark.parametrize(
    ("read", "true", "changing"),
    [
        (23, 20, {("B-795", 3.0)}),
        (17, 20, {("B-795", 3.0), ("B-860", 16.0), ("B-920", 25.0), ("B-945", 25.0)}),
    ],
)
def test_exactly_the_verdicts_that_change_are_named(
    logbook: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    read: int,
    true: int,
    changing: set[tuple[str, float]],
) -> None:
    before = taken_in(WORKSHOP, tmp_path / "before.sqlite")
    folder = tmp_path / "rewritten"
    shutil.copytree(WORKSHOP, folder)
    concerned = multiplied(folder, true / read)
    unsealed(folder)
    after = taken_in(folder, tmp_path / "after.sqlite")
    changed = {key for key, verdict in before.items() if after[key] != verdict}

    own = tmp_path / "own.sqlite"
    shutil.copyfile(logbook, own)
    drill = ["--logbook", str(own), "recall", GAUGE, "--found", f"{read} on {true}", "--on", FOUND]
    assert main([*drill, "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)["answers"]

    named = {(p["item"], p["setup"], p["position"], p["distance_mm"]) for p in answer["places"] if p["changes"]}
    assert named == changed
    assert {(item, distance) for item, _, _, distance in named} == changing
    assert (answer["since"], answer["clampings"], answer["in_doubt"]) == (SINCE, concerned, concerned)
    assert answer["change"] == len(changed)

    assert main(["--logbook", str(own), "recall", GAUGE]) == 0
    said = capsys.readouterr().out
    change = "1 changes" if len(changed) == 1 else f"{len(changed)} change"
    assert f"{answer['unchanged']} verdicts unchanged, {change}." in said
    assert said.count("***  ") == len(changed)


def test_the_drill_on_the_command_line(logbook: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "own.sqlite"
    shutil.copyfile(logbook, own)
    qclog = ["--logbook", str(own)]
    assert main([*qclog, "recall"]) == 0
    assert "No gauge was ever found wrong." in capsys.readouterr().out
    assert main([*qclog, "recall", GAUGE]) == 0
    assert "L-1 was never found wrong." in capsys.readouterr().out
    found = ["recall", GAUGE, "--found", "23 on 20", "--on", FOUND, "--by", "AK", "--note", "stem bent"]
    assert main([*qclog, *found]) == 0
    said = capsys.readouterr().out
    assert 'L-1 was found wrong on 2026-09-30: "23 on 20" (AK). stem bent.' in said
    assert "Had it read 23 µm for 20 µm all that time" in said
    assert main([*qclog, *found]) == 4
    assert main([*qclog, "assess", "B-880", "--gate"]) == 8
    assert "what it was read with was found wrong" in " ".join(capsys.readouterr().out.split())
    assert main([*qclog, "instrument", "list"]) == 0
    assert [line[:3] for line in capsys.readouterr().out.splitlines() if line.endswith(FOUND)] == [GAUGE]
    assert main([*qclog, "recall", GAUGE, "--clear", "ring good that day", "--before", "2026-08-03"]) == 0
    assert "cleared by tester: ring good that day" in capsys.readouterr().out
    assert main([*qclog, "recall", GAUGE, "--clear", "again", "--item", "B-412"]) == 3
    assert main([*qclog, "recall", GAUGE, "--clear", "the block was worn, not the indicator"]) == 0
    assert "Nothing is in doubt any more: the block was worn" in capsys.readouterr().out
    assert main([*qclog, "instrument", "list"]) == 0
    assert FOUND not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["recall", "--found", "23 on 20"], 2),
        (["recall", "L-1", "--found", "x", "--clear", "y"], 2),
        (["recall", "L-1", "--item", "B-412"], 2),
        (["recall", "L-9"], 3),
        (["recall", "L-1", "--found", "20 on 20"], 4),
        (["recall", "P-945", "--clear", "why"], 3),
    ],
)
def test_what_cannot_be_is_said_in_a_line(
    logbook: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int
) -> None:
    own = tmp_path / "own.sqlite"
    shutil.copyfile(logbook, own)
    assert main(["--logbook", str(own), *arguments]) == code
    assert capsys.readouterr().err.strip().count("\n") == 0
