"""Jobs beside run-out through the command line, as a user types them: logged, judged, listed, told, exported.

Figures are invented. That a go pin and a no-go pin tell a bore only to between them, and that proud is plus, is common
practice.
"""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from qclog.cli.main import main

Run = Callable[..., str]
DAYS = [f"2026-03-{day:02d}T10:00" for day in range(2, 10)]


@pytest.fixture(scope="module")
def made(logbook_of: Callable[..., Path]) -> Path:
    """The logbook that every test begins with, to be copied."""
    return logbook_of(
        ("instrument", "add", "E-1", "--division", "0.2um", "--kind", "electronic", "--range", "200mm"),
        ("instrument", "calibrate", "E-1", "--on", "2026-01-12", "--due", "2027-01-12", "--uncertainty", "0.6um"),
    )


@pytest.fixture
def run(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """``run(...)`` a command of a fresh logbook; ``code``: its exit code; gives what it said and told."""
    shutil.copytree(made.parent, tmp_path, dirs_exist_ok=True)
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / made.name))

    def command(*arguments: str, code: int = 0) -> str:
        capsys.readouterr()
        assert main(list(arguments)) == code, capsys.readouterr()
        said = capsys.readouterr()
        return said.err + said.out

    return command


def answer(run: Run, item: str) -> dict[str, Any]:
    (found,) = json.loads(run("assess", item, "--json"))["answers"]
    return dict(found)


def told(run: Run, item: str, characteristic: str) -> dict[str, Any]:
    (found,) = [one for one in answer(run, item)["values"] if one["characteristic"] == characteristic]
    return dict(found)


def test_a_bonded_insert_from_its_gap_to_its_flushness(run: Run, tmp_path: Path) -> None:
    run(
        "item",
        "add",
        "N-8",
        "--kind",
        "insert",
        "--made-to",
        "diametral gap 0.02..0.10mm",
        "--made-to",
        "flushness 0..-0.05mm",
    )
    assert "diametral gap 20 to 100 µm" in run("item", "show", "N-8")
    assert "Never measured" in run("due")
    refused = run("log", "N-8", "8.052/7.998", "--characteristic", "gap", code=4)
    assert "diametral (bore less pin) or radial" in refused
    for day in DAYS:
        arguments = ("--characteristic", "diametral gap", "--instrument", "E-1", "--on", day)
        said = run("log", "N-8", "8.0520/7.9980", "8.0530/7.9982", "8.0516/7.9979", *arguments)
        flush = ("--characteristic", "flushness", "--instrument", "E-1", "--on", day)
        run("log", "N-8", "-0.0220mm", "0.0240mm below", "-24.5um", *flush)
    assert "HOLDS 20 to 100 µm" in said
    assert "19 readings in 20 lie from" in said
    gap, flushness = told(run, "N-8", "diametral gap"), told(run, "N-8", "flushness")
    assert (gap["next_clampings"], flushness["next_clampings"]) == ("holds", "holds")
    assert gap["read_um"]["low"] == pytest.approx(53.7)
    assert flushness["read_um"]["high"] == -22.0
    run("log", "N-8", "0.008mm proud", "--characteristic", "flushness", "--instrument", "E-1", "--on", "2026-03-20")
    assert "*** FLAGGED *** N-8" in run("assess", "N-8")
    assert "CANNOT TELL YET: flushness ***" in run("drawer")
    run("assess", "N-8", "--gate", code=1)
    run("report", "N-8", "--to", str(tmp_path / "N-8.html"))
    page = (tmp_path / "N-8.html").read_text(encoding="utf-8")
    assert "DIAMETRAL GAP HOLDS 20 to 100 µm" in page.replace("\u00a0", " ")
    assert "Sizes and differences now" in page


def test_a_bore_told_by_pins_is_never_its_middle(run: Run, tmp_path: Path) -> None:
    run("item", "add", "C-65", "--kind", "collet", "--size", "6.5")
    run("limit", "C-65", "6.470..6.500mm", "--characteristic", "bore")
    run("pin", "add", "P-648", "--diameter", "6.48")
    run("pin", "add", "P-649", "--diameter", "6.49")
    said = run("log", "C-65", "--characteristic", "bore", "--go", "P-648", "--no-go", "P-649", "--on", DAYS[0])
    assert "Pins tell 6.48 mm to 6.49 mm" in " ".join(said.split())
    assert "6.485" not in said + run("item", "show", "C-65") + run("history", "C-65") + run("assess", "C-65", "--json")
    bore = told(run, "C-65", "bore")
    assert (bore["by_pins"], bore["read_um"]["low"], bore["read_um"]["high"]) == (True, 6480.0, 6490.0)
    assert (bore["as_read"], bore["next_clampings"]) == ("holds", "cannot tell")
    run("log", "C-65", "6.48 goes, 6.49 does not", "--characteristic", "bore")
    assert "6.48 goes, 6.49 does not" in run("item", "show", "C-65")
    assert "be the smaller" in run("log", "C-65", "--characteristic", "bore", "--go", "6.49", "--no-go", "6.48", code=4)
    assert "by two" in run("log", "C-65", "--characteristic", "bore", "--go", "6.49", code=2)
    assert "no swing" in run("log", "C-65", "--go", "6.48", "--no-go", "6.49", "--distance", "5", code=2)
    table = tmp_path / "readings.csv"
    run("export", "--to", str(table))
    assert "6.48..6.49" in table.read_text(encoding="utf-8")
    run("export", "--to", str(tmp_path / "readings.xlsx"))


def test_a_pair_of_parallels_is_kept_together(run: Run) -> None:
    run("item", "add", "PA-10", "--kind", "other", "--made-to", "pair difference 5um")
    for day in DAYS:
        arguments = ("--characteristic", "pair difference", "--instrument", "E-1", "--on", day)
        said = run("log", "PA-10", "10.0020/10.0028", "10.0018/10.0027", *arguments)
    assert "HOLDS ± 5 µm" in said
    pair = told(run, "PA-10", "pair difference")
    assert (pair["read_um"]["low"], pair["next_clampings"]) == (pytest.approx(-0.9), "holds")
    assert "10.0020 / 10.0028 = -0.8 µm" in run("item", "show", "PA-10")
    refused = run("log", "PA-10", "10.0020", "--characteristic", "pair difference", code=4)
    assert "takes all of them" in refused


def test_questions_about_run_out_say_so_of_a_size(run: Run) -> None:
    run("item", "add", "D-12", "--kind", "other", "--made-to", "depth 12.00..12.05mm")
    for day in DAYS[:3]:
        run("log", "D-12", "12.031", "12.029", "--characteristic", "depth", "--instrument", "E-1", "--on", day)
    assert "A study is of run-out only, and none was measured of D-12" in run("study", "D-12")
    assert "D-12, depth: the gauge counts with" in run("uncertainty", "D-12")
    assert "wear is told from it" in run("wear", "D-12")
    assert "Only run-out is compared" in run("compare", "D-12", code=3)
    assert "D-12" not in run("pick", "12", "--runout", "10um", "--distance", "25")
    assert "D-12, depth: steady as far as can be told (6 readings in 3 sittings)" in run("chart", "D-12")
    assert "qclog explain" in run("assess", "D-12")


def test_one_shim_must_fit_all_slots_alike(run: Run) -> None:
    run("item", "add", "CH-9", "--kind", "chuck", "--made-to", "slot difference 20um")
    said = run("log", "CH-9", "1.502/1.503/1.501/1.502", "--characteristic", "slot difference", "--instrument", "E-1")
    assert "cannot tell yet whether it holds at most 20 µm. What was read lies inside." in said


def test_a_depth_in_words_of_the_shop_with_both_of_its_limits(run: Run) -> None:
    run("item", "add", "ST-1", "--kind", "other")
    assert "ST-1 must hold depth 12.00 to 12.04 mm" in run(
        "limit", "ST-1", "12.02 ±0.02mm", "--characteristic", "depth"
    )
    assert "two meanings" in run("limit", "ST-1", "12.00-12.04mm", "--characteristic", "depth", code=4)
    assert "upper or the lower" in run("limit", "ST-1", "12.04mm", "--characteristic", "depth", code=4)
    said = run("log", "ST-1", "12.019", "12.021", "12.020", "--characteristic", "depth", "--on", DAYS[0])
    assert "Read it on" in said
    slip = run("log", "ST-1", "1.2019", "--characteristic", "depth", "--on", DAYS[1], code=4)
    assert "1/10 of" in slip
    assert "12.02 mm" in slip
    assert "mm" in run("log", "ST-1", "0.473in", "--characteristic", "depth", "--on", DAYS[1])


def test_a_face_is_read_on_a_circle_that_has_to_be_said(run: Run) -> None:
    run("setup", "add", "L2", "--positions", "A")
    run("item", "add", "FP-1", "--kind", "chuck", "--made-to", "face runout 10um")
    asked = run("log", "FP-1", "4", "5", "--characteristic", "face runout", "--position", "A", code=4)
    assert "On which circle" in asked
    given = ("--characteristic", "face runout", "--position", "A", "--diameter", "80")
    run("log", "FP-1", "4", "5", *given, "--instrument", "E-1", "--on", DAYS[0])
    said = run("log", "FP-1", "4.4", "--characteristic", "face runout", "--on", DAYS[0].replace("10:", "11:"))
    assert "80 mm" in said
    (group,) = answer(run, "FP-1")["groups"]
    assert (group["characteristic"], group["diameter_mm"], group["distance_mm"], group["clampings"]) == (
        "face runout",
        80.0,
        0.0,
        3,
    )


def test_a_face_is_shown_with_the_circle_it_was_read_on(run: Run) -> None:
    run("setup", "add", "L2", "--positions", "A")
    run("item", "add", "FP-1", "--kind", "chuck", "--made-to", "face runout 10um")
    given = ("--characteristic", "face runout", "--setup", "L2", "--position", "A", "--instrument", "E-1")
    for diameter, swing in (("60", "4"), ("120", "9")):
        run("log", "FP-1", swing, *given, "--diameter", diameter, "--on", DAYS[0], "--accept")
    shown = run("item", "show", "FP-1")
    assert "face run-out 4 on 60 mm" in shown
    assert "face run-out 9 on 120 mm" in shown
    life = " ".join(run("history", "FP-1").split())
    assert "face run-out 4 µm on 60 mm, face run-out 9 µm on 120 mm" in life
    for circle in ("60 mm", "120 mm"):
        assert f"judged: face run-out on {circle}: cannot tell yet" in life


def test_a_value_typed_without_its_unit_is_shown_with_the_one_it_counts_in(run: Run) -> None:
    run("item", "add", "EN-9", "--kind", "insert")
    run("log", "EN-9", "0.052", "--characteristic", "diametral gap", "--accept")
    run("log", "EN-9", "-0.020", "-0.018mm", "--characteristic", "flushness", "--accept")
    run("log", "EN-9", "12.020", "--characteristic", "depth", "--accept")
    shown = run("item", "show", "EN-9")
    for text in ("diametral gap 0.052 mm", "flushness -0.020 µm", "flushness -0.018mm ", "depth 12.020 mm"):
        assert text in shown
    life = run("history", "EN-9")
    assert "4 readings: diametral gap" in life
    assert "clamping" not in life


def test_a_card_that_is_entered_again_sets_no_limit_anew(run: Run) -> None:
    run("item", "add", "BK-1", "--made-to", "bore 6.35..6.40mm")
    assert "nothing new" in run("item", "add", "BK-1", "--made-to", "bore 6.35..6.40mm")
    assert run("history", "BK-1").count("Made to bore") == 1
    assert "made to bore 6.35 to 6.41 mm" in run("item", "add", "BK-1", "--made-to", "bore 6.35..6.41mm")
    assert run("history", "BK-1").count("Made to bore") == 2


def test_a_slip_in_the_unit_is_asked_about_once_with_what_to_type(run: Run) -> None:
    run("item", "add", "DP-1", "--made-to", "depth 12.70..12.75mm")
    depth = ("log", "DP-1", "--characteristic", "depth")
    inches = run(*depth, "0.501", "0.502", code=4)
    assert "Inch read for millimetre? If so, type 0.501in. The same of '0.502'. Nothing" in inches
    assert "Micrometres or millimetres? If so, type 12725um." in run(*depth, "12725", code=4)


def test_a_pair_that_is_far_apart_is_asked_about_as_a_slip_of_a_digit(run: Run) -> None:
    run("item", "add", "PA-1", "--made-to", "pair difference 4um")
    asked = run("log", "PA-1", "14.001/15.002", "--characteristic", "pair difference", code=4)
    assert "is -1001 µm, 250 times its limit (4 µm). A slipped decimal point?" in asked


def test_what_stands_on_a_drawing_in_another_form_is_told_how_to_type(run: Run) -> None:
    run("item", "add", "PA-1")
    assert "Give its two limits from your table" in run("limit", "PA-1", "bore 6H7", code=4)
    two = run("log", "PA-1", "14.001/14.002", "--characteristic", "height", code=4)
    assert 'Log each by itself; their difference is a "pair difference".' in two
    bare = run("log", "PA-1", "-2", "--characteristic", "pair difference", code=4)
    assert "or the difference with its sign and unit, as -2um" in bare


def test_the_row_of_what_is_flagged_is_marked(run: Run) -> None:
    run("item", "add", "PA-1", "--made-to", "pair difference 4um", "--made-to", "height 13.9..14.1mm")
    given = ("--instrument", "E-1", "--on", DAYS[0])
    run("log", "PA-1", "14.001/14.008", "--characteristic", "pair difference", *given)
    run("log", "PA-1", "14.001", "--characteristic", "height", *given)
    for asked in (("assess",), ("assess", "PA-1")):
        rows = [line for line in run(*asked).splitlines() if line.endswith(("***", "cannot tell"))]
        assert {("pair difference" in row, row.endswith("***")) for row in rows} == {(True, True), (False, False)}


def test_only_what_holds_work_in_a_spindle_is_said_to_be_rated_no_longer(run: Run) -> None:
    for kind, said in (("collet", True), ("jaws", True), ("insert", False), ("other", False)):
        run("item", "add", f"X-{kind}", "--kind", kind)
        assert ("no longer rated by its maker" in run("modify", f"X-{kind}", "ground")) is said


def test_of_a_face_or_jaws_no_pin_is_spoken_of(run: Run) -> None:
    run("setup", "add", "L2")
    run("item", "add", "FP-1", "--kind", "chuck")
    given = ("--characteristic", "face runout", "--setup", "L2", "--diameter", "80", "--instrument", "E-1")
    assert "(--same-clamping if it stayed closed)" in " ".join(run("log", "FP-1", "4", "5", *given).split())


def test_lift_and_parallelism_are_plain_values_in_a_setup(run: Run) -> None:
    run("setup", "add", "VICE")
    run("item", "add", "JW-7", "--kind", "jaws", "--made-to", "jaw lift 30um", "--made-to", "parallelism 15um")
    for day in DAYS:
        run(
            "log", "JW-7", "11", "12", "--characteristic", "lift", "--setup", "VICE", "--instrument", "E-1", "--on", day
        )
        run("log", "JW-7", "6.2", "--characteristic", "parallelism", "--instrument", "E-1", "--on", day)
    found = {one["characteristic"]: one for one in answer(run, "JW-7")["values"]}
    assert (found["jaw lift"]["setup"], found["jaw lift"]["next_clampings"]) == ("VICE", "holds")
    assert (found["parallelism"]["setup"], found["parallelism"]["next_clampings"]) == ("", "holds")
    assert "jaw lift" in run("due") or found["jaw lift"]["more_readings"] is None


def test_a_gauge_found_wrong_puts_what_was_read_with_it_in_doubt(run: Run) -> None:
    run("item", "add", "ST-1", "--kind", "other", "--made-to", "depth 12.00..12.05mm")
    for day in DAYS:
        arguments = ("--characteristic", "depth", "--instrument", "E-1", "--on", day)
        said = run("log", "ST-1", "12.0250", "12.0256", *arguments)
    assert "HOLDS 12.00 to 12.05 mm" in said
    recalled = run("recall", "E-1", "--found", "anvil loose", "--on", "2026-04-01")
    assert "ST-1 depth" in recalled
    assert "12.00 to 12.05 mm" in recalled
    assert told(run, "ST-1", "depth")["caveats"] == ["in_doubt"]
    assert "In doubt" in run("due")
    run("recall", "E-1", "--clear", "right on a block")
    assert told(run, "ST-1", "depth")["next_clampings"] == "holds"


def test_wear_and_compare_say_what_they_are_for(run: Run) -> None:
    run("item", "add", "ST-1", "--kind", "other")
    run("log", "ST-1", "12.02", "--characteristic", "depth")
    assert "wear is told from" in run("wear", "ST-1")
    assert "Only run-out is compared" in run("compare", "ST-1", code=3)


def test_all_of_it_goes_out_and_comes_back_the_same(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run(
        "item",
        "add",
        "N-8",
        "--kind",
        "insert",
        "--made-to",
        "diametral gap 0.02..0.10mm",
        "--made-to",
        "bore 8.04..8.07mm",
    )
    run("item", "add", "D-9", "--kind", "other", "--made-to", "depth max 12.05mm", "--made-to", "height min 3mm")
    run("log", "N-8", "8.0520/7.9980", "8.05..8.06/7.998", "--characteristic", "diametral gap", "--on", DAYS[0])
    run("log", "N-8", "--characteristic", "bore", "--go", "8.05", "--no-go", "8.06", "--on", DAYS[0])
    run("log", "D-9", "12.03", "--characteristic", "depth", "--on", DAYS[0])
    run("log", "D-9", "3.02", "--characteristic", "height", "--on", DAYS[0])
    before = [answer(run, item) for item in ("N-8", "D-9")]
    run("export", "--to", str(tmp_path / "out.csv"))
    run("export", "--to", str(tmp_path / "tables"))
    assert "0 clampings" in run("import", str(tmp_path / "out.csv"))
    for number, source in enumerate(("out.csv", "tables")):
        monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / f"again-{number}.sqlite"))
        run("import", str(tmp_path / source), *(["--create"] if source == "out.csv" else []))
        assert [answer(run, item) for item in ("N-8", "D-9")] == before


REFUSED = [
    ("log", "D-9", "12..13", "--characteristic", "depth"),
    ("log", "D-9", "1e400mm", "--characteristic", "depth"),
    ("log", "D-9", "12.03\n12.04", "--characteristic", "depth"),
    ("log", "D-9", "12.03", "--characteristic", "x" * 200),
    ("log", "D-9", "12.03", "--characteristic", "a\u202eb"),
    ("log", "D-9", "-12.03", "--characteristic", "depth"),
    ("log", "D-9", "--characteristic", "bore", "--go", "6.48", "--no-go", "6.49kg"),
    ("limit", "D-9", "12.05..", "--characteristic", "depth"),
    ("limit", "D-9", "-5..-4mm", "--characteristic", "depth"),
    ("limit", "D-9", "gap 1..2mm"),
    ("limit", "D-9", "9" * 500, "--characteristic", "depth"),
    ("limit", "D-9", "5um", "--characteristic", ""),
]


NOT_UNDERSTOOD = [
    ("log", "D-9", "--characteristic", "depth"),
    ("log", "D-9", "12.03", "--characteristic", "depth", "--quarters", "1 2 3 4"),
    ("log", "D-9", "12.03", "--characteristic", "depth", "--go", "6.48"),
]


@pytest.mark.parametrize(("arguments", "code"), [*((one, 4) for one in REFUSED), *((one, 2) for one in NOT_UNDERSTOOD)])
def test_what_cannot_be_is_refused_in_one_line(run: Run, arguments: tuple[str, ...], code: int) -> None:
    run("item", "add", "D-9", "--kind", "other")
    said = run(*arguments, code=code)
    assert len(said.strip().splitlines()) == 1
    assert said.startswith("qclog: ")


def test_a_gap_is_judged_in_its_sitting_and_not_asked_for_once_bonded(run: Run) -> None:
    limits = ("--made-to", "diametral gap 0.02..0.10mm", "--made-to", "flushness 0..-0.05mm", "--made-to", "10um@6mm")
    run("item", "add", "N-8", "--kind", "insert", *limits)
    gap = ("--characteristic", "diametral gap", "--instrument", "E-1", "--on", DAYS[0])
    first = " ".join(run("log", "N-8", "8.0520/7.9980", *gap).split())
    assert "Three readings or more tell it for this sitting: read it 2 more times at least" in first
    said = " ".join(run("log", "N-8", "8.0524/7.9980", "8.0518/7.9980", *gap).split())
    assert "diametral gap: HOLDS 20 to 100 µm in this sitting, which is what counts until it is bonded." in said
    assert "HOLDS (sitting): diametral gap" in run("drawer")
    assert "gap" not in run("due")
    assert "holds (sitting)" in run("assess", "N-8", "--gate")
    run("modify", "N-8", "bonded", "--on", "2026-03-02T15:00")
    after = " ".join(run("assess", "N-8", "--gate").split())
    assert "diametral gap: HOLDS 20 to 100 µm, as read in one sitting before it was bonded." in after
    due = run("due")
    assert "gap" not in due
    assert "qclog measure N-8 --distance 6" in due
    assert "qclog log N-8 VALUE --characteristic flushness" in due


def test_a_gap_is_refused_once_it_is_bonded_and_read_anew_when_it_was_knocked_out(run: Run) -> None:
    run("item", "add", "N-8", "--kind", "insert", "--made-to", "diametral gap 0.02..0.10mm")
    gap = ("--characteristic", "diametral gap", "--instrument", "E-1")
    run("log", "N-8", "8.0520/7.9980", "8.0524/7.9980", "8.0518/7.9980", *gap, "--on", DAYS[0])
    run("modify", "N-8", "bonded", "--on", "2026-03-02T15:00")
    refused = run("log", "N-8", "8.0400/7.9980", *gap, "--on", "2026-03-04", code=4)
    assert "N-8 is bonded (modification 1): its diametral gap can no longer be read" in refused
    assert 'qclog modify N-8 "knocked out" --how bonded=no' in refused
    assert "HOLDS 20 to 100 µm, as read in one sitting before it was bonded." in " ".join(run("assess", "N-8").split())

    run("modify", "N-8", "knocked out", "--on", "2026-03-05T08:00")
    assert "qclog note N-8 bonded=no" in run("log", "N-8", "8.04/7.99", *gap, "--on", "2026-03-06", code=4)
    run("note", "N-8", "bonded=no")
    anew = run("log", "N-8", "8.0300/7.9980", "8.0304/7.9980", "8.0298/7.9980", *gap, "--on", "2026-03-06")
    assert "in this sitting, which is what counts until it is bonded." in " ".join(anew.split())
    run("modify", "N-8", "bonded", "--on", "2026-03-07T15:00")
    gap_before = told(run, "N-8", "diametral gap")
    assert gap_before["before_bonding"] == 2
    assert gap_before["read_um"]["high"] == pytest.approx(32.4)


@pytest.mark.parametrize("how", ["compound=R-60", "bonded=yes"])
def test_an_insert_is_bonded_as_it_is_noted_whatever_the_work_is_called(run: Run, how: str) -> None:
    run("item", "add", "N-8", "--kind", "insert", "--made-to", "diametral gap 0.02..0.10mm")
    gap = ("--characteristic", "diametral gap", "--instrument", "E-1", "--on", DAYS[0])
    run("log", "N-8", "8.0520/7.9980", "8.0524/7.9980", "8.0518/7.9980", *gap)
    said = " ".join(run("modify", "N-8", "set in for good", "--how", how, "--on", "2026-03-02T15:00").split())
    assert "It is bonded: a gap read before stays as it was read. If it is not: qclog note N-8 bonded=no" in said
    after = " ".join(run("assess", "N-8", "--gate").split())
    assert "diametral gap: HOLDS 20 to 100 µm, as read in one sitting before it was bonded." in after
    run("note", "N-8", "bonded=no")
    assert "before it was bonded" not in run("assess", "N-8")


def test_pins_named_by_their_codes_count_with_their_own_certificates(run: Run) -> None:
    """The larger of both counts: U = 0.8 µm of the no-go pin, in place of 5.08 µm, rectangular (k = 2: 5.9 µm)."""
    run("item", "add", "C-65", "--kind", "collet", "--size", "6.5", "--made-to", "bore 6.44..6.53mm")
    run("pin", "add", "P-648", "--diameter", "6.4802")
    run("pin", "add", "P-649", "--diameter", "6.4898")
    run("instrument", "calibrate", "P-648", "--on", "2026-01-12", "--uncertainty", "0.6um")
    told_by = ("--characteristic", "bore", "--go", "p-648", "--no-go", "P-649")
    run("log", "C-65", *told_by, "--on", DAYS[0])
    one = told(run, "C-65", "bore")
    assert one["uncertainty_um"] == pytest.approx(2 * 5.08 / 3**0.5)
    assert "instrument_unknown" in one["caveats"]
    assert "named by their codes (qclog instrument calibrate PIN" in " ".join(run("assess", "C-65").split())
    calibrated = ("--on", "2026-03-02", "--due", "2026-03-09", "--uncertainty", "0.8um")
    run("instrument", "calibrate", "P-649", *calibrated)
    own = told(run, "C-65", "bore")
    assert (own["uncertainty_um"], own["read_um"]["low"]) == (pytest.approx(0.8), 6480.2)
    assert {"instrument_unknown", "calibration_overdue"}.isdisjoint(own["caveats"])
    run("log", "C-65", *told_by, "--on", "2026-03-10")
    assert "calibration_overdue" in told(run, "C-65", "bore")["caveats"]
    assert "(go P-648, no-go P-649)" in " ".join(run("item", "show", "C-65").split())
    run("log", "C-65", "--characteristic", "bore", "--go", "p-648", "--no-go", "6.4898mm", "--on", "2026-03-11")
    assert told(run, "C-65", "bore")["uncertainty_um"] == pytest.approx(2 * 5.08 / 3**0.5)
    said = run("recall", "P-649", "--found", "worn", "--on", "2026-03-12")
    assert "2 clampings of 1 item" in said


def test_bounds_inside_the_limits_that_do_not_tell_yet_say_why_and_what_does(run: Run) -> None:
    run("item", "add", "K-3", "--kind", "insert", "--made-to", "diametral gap 0.03..0.08mm")
    run("instrument", "add", "M-1", "--division", "1um", "--kind", "electronic")
    run("instrument", "calibrate", "M-1", "--on", "2026-01-12", "--due", "2027-01-12", "--uncertainty", "1um")
    given = ("--characteristic", "diametral gap", "--instrument", "M-1", "--on", DAYS[0])
    said = " ".join(run("log", "K-3", "10.055/10.002", "10.056/10.001", "10.054/10.002", *given).split())
    assert "cannot tell yet whether it holds 30 to 80 µm" in said
    assert "the verdict asks for more than 95 %, so wider bounds than those shown" in said
    assert "1 more reading in this sitting would show it, if like those so far" in said
    assert "HOLDS 30 to 80 µm in this sitting" in run("log", "K-3", "10.055/10.002", *given)


def test_soft_jaws_with_nothing_to_lean_on_are_told_by_more_clampings_in_this_sitting(run: Run) -> None:
    run("setup", "add", "L2", "--positions", "A,B")
    run("item", "add", "JW-7", "--kind", "jaws", "--made-to", "20um@10mm")
    given = ("--setup", "L2", "--position", "A", "--distance", "10", "--instrument", "E-1", "--on", DAYS[0])
    said = " ".join(run("log", "JW-7", "6.1", "5.4", *given).split())
    assert "Bored for a job, this sitting counts: clamp it 1 more time to learn it" in said
    assert "No other jaws in this chuck are leaned on" in said
    assert "on each of" not in said + run("due") + run("wear", "JW-7")
    done = " ".join(run("log", "JW-7", "6.0", "5.8", *given).split())
    assert "HOLDS 20 µm in this sitting, which is what counts for a job." in done
    assert "on each of" not in done + run("due") + run("wear", "JW-7")


def test_each_point_of_a_flushness_counts_by_itself(run: Run) -> None:
    run("item", "add", "N-8", "--kind", "insert", "--made-to", "flushness 0..-0.05mm")
    points = ("-0.040mm", "-0.045mm", "0.010mm proud", "-0.042mm")
    refused = run("log", "N-8", *points, "--characteristic", "flushness", "--same-clamping", code=4)
    assert "a mean would hide one that stands proud" in refused
    run("log", "N-8", *points, "--characteristic", "flushness", "--instrument", "E-1", "--on", DAYS[0])
    assert told(run, "N-8", "flushness")["as_read"] == "does not hold"


def test_a_difference_alone_says_which_of_the_pair_is_larger(run: Run) -> None:
    run("item", "add", "PA-10", "--kind", "other", "--made-to", "pair difference 5um")
    assert "which of the two is the larger" in run("log", "PA-10", "2um", "--characteristic", "pair difference", code=4)
    for text in ("-2um", "+1um", "0um", "10.0020/10.0028"):
        run("log", "PA-10", text, "--characteristic", "pair difference", "--instrument", "E-1", "--on", DAYS[0])
    assert (told(run, "PA-10", "pair difference")["read_um"]["low"]) == -2.0


def test_what_was_read_is_asked_of_an_item_that_is_made_to_a_difference_only(run: Run) -> None:
    run("item", "add", "PA-10", "--kind", "other", "--made-to", "pair difference 5um")
    asked = run("log", "PA-10", "10.0020/10.0028", code=4)
    assert 'Say what it was: --characteristic "pair difference"; or --setup.' in asked


def test_soft_jaws_for_a_job_lean_on_the_jobs_before_and_are_picked_for_its_diameter(run: Run) -> None:
    """Jaws take their size and 0.05 mm less (common practice); the readings are invented."""
    run("setup", "add", "L2", "--positions", "A,B")
    run("item", "add", "JW-7", "--kind", "jaws", "--made-to", "15um@10mm")
    jobs = ((6.1, 7.2, 6.5, 6.9, 6.4), (4.8, 5.4, 5.9, 5.1, 5.5), (8.1, 7.3, 7.9, 8.4, 7.7), (6.8, 7.2))
    for number, swings in enumerate(jobs):
        day = DAYS[number]
        ring = ("--held-by", "ring R-24, stroke 3 mm", "--in", "L2", "--position", "A", "--on", day)
        run("modify", "JW-7", f"bored for job {311 + number}", "--size", "24", *ring)
        given = ("--position", "A", "--distance", "10", "--instrument", "E-1", "--on", day.replace("10:", "11:"))
        said = " ".join(run("log", "JW-7", *map(str, swings), *given, "--setup", "L2").split())
    assert "HOLDS 15 µm in this sitting, leaning on how much jaws bored in this chuck move." in said
    assert "one clamping on" not in said
    assert "From so few clampings: how much one moves was taken from other jaws bored in this chuck" in said
    assert "HOLDS 15 µm IN THIS" in run("drawer")
    for diameter, taken in (("24", True), ("23.96", True), ("23.9", False), ("24.1", False)):
        assert ("JW-7" in run("pick", diameter, "--runout", "15um", "--distance", "10")) is taken


FAULTY = """\
taken_at,item,setup,clamping,distance,kind,value,unit,characteristic,limit
2026-03-02,D-9,,1,0,value,12.031,mm,depth,12.00..12.05mm
2026-03-02,D-9,,2,0,value,-12.031,mm,depth,
2026-03-02,D-9,,3,0,value,12.00..12.01,mm,depth,
2026-03-02,N-8,,1,0,value,8.052,mm,diametral gap,
2026-03-02,N-8,,1,0,value,8.060,mm,diametral gap,
2026-03-02,N-8,,2,0,value,8.052,mm,gap,
2026-03-02,N-8,,3,0,value,6.49..6.48,mm,bore,
2026-03-02,N-8,,4,0,value,-0.01,mm,flushness,0.02mm
2026-03-02,N-8,,5,0,tir,5,um,depth,
2026-03-02,P-1,,1,0,value,10.002,mm,pair difference,
"""


def test_every_fault_of_values_in_a_file_is_named_with_its_line_and_nothing_is_taken_in(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "faulty.csv").write_text(FAULTY, encoding="utf-8")
    said = run("import", str(tmp_path / "faulty.csv"), "--create", code=4)
    for fault in (
        "line 3, column item, 'D-9': \"-12.031 mm\": a depth is measured above zero.",
        "line 4, column value, '12.00..12.01': \"12.00..12.01\" is a range, no value that was read.",
        "line 5, column item, 'N-8': \"8.052 mm / 8.060 mm\": the pin is not smaller than the bore.",
        "line 7, column characteristic, 'gap': A gap has two meanings",
        "line 8, column value, '6.49..6.48': \"6.49..6.48\" is not what pins tell.",
        "line 9, column limit, '0.02mm': \"0.02mm\" may be the upper or the lower limit of flushness.",
        "line 10, column kind, 'tir': depth cannot be of kind tir.",
        "line 11, column item, 'P-1': \"10.002 mm\" is one size, a pair difference takes all of them.",
        "nothing was imported",
    ):
        assert fault in said, fault
    assert "D-9" not in run("item", "list")
