"""Logging by hand: what may be typed, what is kept from the line before, what is asked or refused."""

import datetime
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.cli.main import main
from qclog.logbook import schema
from qclog.logbook.engine import open_store

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(scope="module")
def made(logbook_of: Callable[..., Path]) -> Path:
    """The logbook that every test begins with, to be copied."""
    return logbook_of(
        ("setup", "add", "L2", "--positions", "A,B"),
        ("item", "add", "C-735", "--kind", "collet", "--size", "7", "--bore", "7.35", "--made-to", "9um@25mm"),
        ("item", "add", "C-920", "--kind", "collet", "--size", "9"),
        ("pin", "add", "P-735", "--diameter", "7.348"),
        ("instrument", "add", "I-1", "--division", "1um", "--range", "0.2"),
    )


@pytest.fixture
def run(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command on a logbook of its own; gives exit code, output and talk."""
    shutil.copytree(made.parent, tmp_path, dirs_exist_ok=True)
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / made.name))
    capsys.readouterr()

    def call(*arguments: str) -> tuple[int, str, str]:
        code = main(list(arguments))
        out, err = capsys.readouterr()
        return code, out, err

    return call


def _rows(table: sa.Table) -> list[dict[str, Any]]:
    import os

    store = open_store(os.environ["QCLOG_LOGBOOK"])
    with store.reading() as connection:
        rows = [dict(row) for row in connection.execute(sa.select(table).order_by(table.c.id)).mappings()]
    store.close()
    return rows


def test_bare_numbers_are_clampings_of_their_own_in_the_unit_in_force(run: Run) -> None:
    assert run("log", "c-735", "4", "5", "4", "6", "5", "--position", "a")[0] == 0
    assert [row["value_pm"] for row in _rows(schema.reading)] == [4_000_000, 5_000_000, 4_000_000, 6_000_000, 5_000_000]
    assert [row["label"] for row in _rows(schema.clamping)] == ["1", "2", "3", "4", "5"]


def test_the_reply_is_the_verdict_on_the_output_and_the_talk_goes_to_the_error_output(run: Run) -> None:
    code, out, err = run("log", "C-735", "4", "5", "--position", "A")
    assert code == 0
    assert out.startswith("C-735 (as received)")
    assert "2 clampings (no. 1 to 2) logged; L2, position A, 25 mm out" in err


def test_what_was_given_last_is_kept_for_the_next_line_of_the_sitting_and_echoed(run: Run) -> None:
    given = ("--position", "A", "--pin", "P-735", "--instrument", "I-1", "--distance", "20", "--torque", "click 2")
    run("log", "C-735", "4", "--on", "2026-03-02T10:00", *given)
    code, _, err = run("log", "C-735", "5", "--on", "2026-03-02T11:00")
    assert code == 0
    assert "Taken over: instrument, torque, operator, setup, position, pin, distance." in err
    first, second = _rows(schema.clamping)
    for kept in ("setup_revision_id", "position", "pin_id", "instrument_id", "torque", "operator"):
        assert second[kept] == first[kept]
    assert [row["distance_pm"] for row in _rows(schema.turn)] == [20_000_000_000] * 2


def test_nothing_is_kept_from_one_sitting_to_the_next(run: Run) -> None:
    run("log", "C-735", "4", "--on", "2026-03-02T10:00", "--position", "A")
    code, _, err = run("log", "C-735", "4", "--on", "2026-03-03T10:00")
    assert code == 4
    assert "has key positions A, B" in err


def test_a_pin_is_not_carried_over_to_another_item(run: Run) -> None:
    run("log", "C-735", "4", "--on", "2026-03-02T10:00", "--position", "A", "--pin", "P-735")
    assert run("log", "C-920", "4", "--on", "2026-03-02T10:05")[0] == 0
    assert [row["pin_id"] is None for row in _rows(schema.clamping)] == [False, True]


def test_the_high_spot_may_stand_behind_a_swing(run: Run) -> None:
    run("log", "C-735", "5um@120", "5um @ 4 o'clock", "--position", "A")
    assert [(row["angle_mdeg"], row["angle_within_mdeg"]) for row in _rows(schema.reading)] == [
        (120_000, 0),
        (120_000, 15_000),
    ]


def test_quarter_turns_are_one_clamping_with_its_eccentricity(run: Run) -> None:
    assert run("log", "C-735", "--quarters", "4 1 -3 0", "--position", "B")[0] == 0
    figure = _rows_of_figure()[0]
    assert figure["eccentricity_x_um"] == pytest.approx(3.5)
    assert figure["eccentricity_y_um"] == pytest.approx(0.5)
    assert figure["value_um"] == pytest.approx(2 * (3.5**2 + 0.5**2) ** 0.5, rel=1e-4)


def _rows_of_figure() -> list[dict[str, Any]]:
    import os

    store = open_store(os.environ["QCLOG_LOGBOOK"])
    with store.reading() as connection:
        rows = [dict(row) for row in connection.execute(sa.select(schema.figure)).mappings()]
    store.close()
    return rows


def test_one_value_more_than_a_full_turn_is_the_return_to_zero(run: Run) -> None:
    assert run("log", "C-735", "--around", "0 2 4 5 4 2 1 0 0", "--position", "A")[0] == 0
    assert _rows(schema.turn)[0]["closure_pm"] == 0
    assert len(_rows(schema.reading)) == 8


def test_a_turn_that_does_not_return_to_zero_is_refused_without_a_terminal(run: Run) -> None:
    code, _, err = run("log", "C-735", "--around", "0 2 4 5 4 2 1 0 3", "--position", "A")
    assert code == 4
    assert "came back to zero 3 µm off" in err


def test_angles_may_be_missing_from_a_turn(run: Run) -> None:
    turn = ("--around", "12.1 14.0 14.3 12.9 8.1 7.6 9.3", "--angles", "0 45 90 135 225 270 315")
    assert run("log", "C-735", *turn, "--position", "A")[0] == 0
    assert [row["angle_mdeg"] for row in _rows(schema.reading)][3:5] == [135_000, 225_000]


def test_several_distances_are_turns_of_the_same_clampings(run: Run) -> None:
    assert run("log", "C-735", "--at", "2: 4 5 4", "--at", "16mm: 6 7 6", "--position", "A")[0] == 0
    assert len(_rows(schema.clamping)) == 3
    turns = _rows(schema.turn)
    assert [(row["clamping_id"], row["distance_pm"]) for row in turns] == [
        (n, d) for n in (1, 2, 3) for d in (2_000_000_000, 16_000_000_000)
    ]


def test_distances_with_unequal_numbers_of_readings_are_refused(run: Run) -> None:
    assert run("log", "C-735", "--at", "2: 4 5 4", "--at", "16: 6 7", "--position", "A")[0] == 2
    assert _rows(schema.clamping) == []


def test_dial_notation_is_a_swing_in_the_indicators_divisions(run: Run) -> None:
    run("log", "C-735", "+3/-2", "from -2 to 3", "12 div", "--position", "A", "--instrument", "I-1")
    assert [row["value_pm"] for row in _rows(schema.reading)] == [5_000_000, 5_000_000, 12_000_000]


def test_one_clamping_read_several_times_counts_once(run: Run) -> None:
    code, out, _ = run("log", "C-735", "4", "6", "--position", "A", "--same-clamping", "--json")
    assert code == 0
    group = json.loads(out)["answers"][0]["groups"][0]
    assert group["clampings"] == 1
    assert group["tir_um"]["mean"] == pytest.approx(5.0)


def test_recalled_readings_feed_the_history_and_never_a_verdict(run: Run) -> None:
    code, out, _ = run("log", "C-735", "6-8", "<5", "--recalled", "--on", "2019-05", "--position", "A", "--json")
    assert code == 0
    assert json.loads(out)["answers"][0]["groups"] == []
    assert [(row["low_pm"], row["high_pm"]) for row in _rows(schema.reading)] == [
        (6_000_000, 8_000_000),
        (0, 5_000_000),
    ]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("127", "25 times what it has read so far (5 µm). Inch read"),
        ("50", "10 times what it has read so far (5 µm). A slipped decimal"),
        ("0.2um", "1/25 of what it has read so far (5 µm). Inch read"),
        ("0.1um", "1/50 of what"),
        ("5mm", "1000 times what it has read so far (5 µm). Micrometres or millimetres? If so, type 5um."),
    ],
)
def test_a_slip_against_the_history_is_refused_without_a_terminal_unless_accepted(
    run: Run, typed: str, words: str
) -> None:
    run("log", "C-735", "4", "5", "6", "--position", "A", "--on", "2026-03-02T10:00")
    again = ("log", "C-735", typed, "--on", "2026-03-02T11:00")
    code, _, err = run(*again)
    assert code == 4
    assert words in err
    assert len(_rows(schema.clamping)) == 3
    assert run(*again, "--accept")[0] == 0
    assert [row["answer"] for row in _rows(schema.doubt)] == ["kept"]


def test_another_key_position_may_run_ten_times_as_far_out(run: Run) -> None:
    run("log", "C-735", "0.8um", "1.1um", "0.9um", "--position", "A", "--on", "2026-03-02T10:00")
    code, _, err = run("log", "C-735", "9", "--position", "B", "--on", "2026-03-02T11:00")
    assert (code, "slipped" in err) == (0, False)


def test_a_turn_that_reads_the_same_all_round_is_doubted_where_the_steps_are_fine(run: Run) -> None:
    code, _, err = run("log", "C-735", "--quarters", "3 3 3 3", "--position", "A", "--instrument", "I-1")
    assert code == 4
    assert "It reads 3 µm all round" in err
    run("instrument", "add", "I-10", "--division", "10um")
    assert run("log", "C-735", "--quarters", "30 30 30 30", "--position", "A", "--instrument", "I-10")[0] == 0


def test_a_slip_against_the_limit_is_noticed_before_there_is_a_history(run: Run) -> None:
    assert run("log", "C-735", "90", "--position", "A")[0] == 4


def test_a_slip_against_what_is_usual_is_noticed_without_limit_and_history(run: Run) -> None:
    code, _, err = run("log", "C-920", "250", "--position", "A", "--distance", "10")
    assert code == 4
    assert "what is usual for its kind" in err


def test_five_equal_readings_running_are_doubted(run: Run) -> None:
    assert run("log", "C-735", "5", "5", "5", "5", "--position", "A")[0] == 0
    code, _, err = run("log", "C-735", "5")
    assert code == 4
    assert "five times running" in err


def test_a_value_beyond_the_range_of_the_indicator_is_refused_even_if_accepted(run: Run) -> None:
    code, _, err = run("log", "C-735", "300", "--position", "A", "--instrument", "I-1", "--accept")
    assert code == 4
    assert "beyond the range of I-1" in err


def test_a_pin_larger_than_the_bore_is_doubted(run: Run) -> None:
    code, _, err = run("log", "C-735", "4", "--position", "A", "--diameter", "7.4")
    assert code == 4
    assert "larger than the bore" in err


def test_a_steep_lever_is_doubted_and_its_readings_never_count(run: Run) -> None:
    steep = ("log", "C-735", "4", "--position", "A", "--lever-angle", "35")
    assert run(*steep)[0] == 4
    code, out, _ = run(*steep, "--accept", "--json")
    assert code == 0
    assert json.loads(out)["answers"][0]["groups"] == []


def test_words_with_two_meanings_are_refused_with_both_named(run: Run) -> None:
    code, _, err = run("log", "C-735", "2 tenths", "--position", "A")
    assert code == 4
    assert "0.0001 in" in err
    assert "0.1 mm" in err


def test_an_inch_logbook_reads_bare_numbers_and_tenths_as_inch(run: Run) -> None:
    run("settings", "--unit", "tenths", "--inch")
    code, out, _ = run("log", "C-735", "2", "2 tenths", "--position", "A")
    assert code == 0
    assert [row["value_pm"] for row in _rows(schema.reading)] == [5_080_000] * 2
    assert "9 µm (0.00035 in)" in out


def test_without_a_setup_the_command_says_how_to_name_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "new.sqlite"))
    assert main(["item", "add", "C-1"]) == 0
    assert main(["log", "C-1", "4"]) == 4
    assert "qclog setup add" in capsys.readouterr().err


def test_without_a_distance_the_command_asks_for_it(run: Run) -> None:
    code, _, err = run("log", "C-920", "4", "--position", "A")
    assert code == 4
    assert "--distance" in err


def test_striking_out_stays_visible_and_stops_counting(run: Run) -> None:
    run("log", "C-735", "4", "5", "9", "--position", "A")
    assert run("strike", "C-735", "last", "--reason", "badly clamped")[0] == 0
    _, shown, _ = run("item", "show", "C-735")
    assert "STRUCK OUT: badly clamped" in shown
    _, out, _ = run("assess", "C-735", "--json")
    assert json.loads(out)["answers"][0]["groups"][0]["clampings"] == 2
    assert run("strike", "C-735", "3", "--reason", "again")[0] == 4
    assert run("strike", "C-920", "1", "--reason", "not its own")[0] == 3


def test_striking_out_the_last_says_what_it_was_and_how_to_name_another(run: Run) -> None:
    """Logged last counts, not read last; a line that was refused is none."""
    run("log", "C-735", "4", "--position", "A", "--on", "2026-03-09T10:00")
    run("log", "C-735", "5", "--position", "B", "--on", "2026-03-02T10:00", "--operator", "RT")
    assert run("log", "C-735", "x", "--position", "A", "--on", "2026-03-10T10:00")[0] != 0
    _, _, err = run("strike", "C-735", "last", "--reason", "misread")
    assert "C-735, clamping 2 struck out: run-out 5 at 25 mm, L2, position B, of 2026-03-02 10:00, read by RT" in err
    assert "(misread). It stays visible in item show. It was logged last; another: its number, from" in err
    _, _, err = run("strike", "C-735", "1", "--reason", "misread too")
    assert "clamping 1 struck out: run-out 4 at 25 mm, L2, position A, of 2026-03-09 10:00" in err
    assert "logged last" not in err


def test_striking_out_a_reading_of_a_turn_or_a_size_names_it(run: Run) -> None:
    run("log", "C-735", "--quarters", "4 1 -3 0", "--position", "A")
    _, _, err = run("strike", "C-735", "1", "--turn", "1", "--reading", "3", "--reason", "slipped")
    assert "clamping 1, turn 1, reading 3 struck out: run-out -3 at 25 mm" in err
    run("log", "C-735", "12.031mm", "--characteristic", "depth", "--setup", "L2", "--position", "A")
    _, _, err = run("strike", "C-735", "last", "--reason", "wrong item")
    assert "clamping 2 struck out: depth 12.031mm, L2, position A" in err


def test_the_reply_never_calls_an_item_not_flagged_that_is_flagged_elsewhere(run: Run) -> None:
    run("log", "C-735", "30", "31", "32", "--position", "B")
    _, out, _ = run("log", "C-735", "4", "5", "--position", "A")
    first = " ".join(out.split("L2, position A, 25 mm")[0].split())
    assert first.startswith("*** FLAGGED *** elsewhere, not here: C-735 (as received): ")
    assert "position B" in first
    assert "not flagged" not in out
    assert "position B" not in run("assess", "C-735", "--json")[1].split('"elsewhere"')[1]
    run("log", "C-735", "40", "--position", "A", "--accept")
    _, out, _ = run("assess", "C-735", "--position", "A")
    assert out.startswith("*** FLAGGED *** C-735 (as received): ")


@pytest.mark.parametrize("distance", ["25in", "260", "510"])
def test_a_distance_far_beyond_that_of_the_limit_is_asked_about(run: Run, distance: str) -> None:
    code, _, err = run("log", "C-735", "4", "--position", "A", "--distance", distance)
    assert code == 4
    assert "as far out as its limit (25 mm). A slip in the distance or its unit?" in err
    assert _rows(schema.clamping) == []
    assert run("log", "C-735", "4", "--position", "A", "--distance", distance, "--accept")[0] == 0
    assert run("log", "C-735", "5", "--position", "A", "--distance", distance)[0] == 0  # asked once


def test_a_distance_beyond_half_a_metre_is_asked_about_where_there_is_no_limit(run: Run) -> None:
    code, _, err = run("log", "C-920", "4", "--position", "A", "--distance", "25in")
    assert code == 4
    assert "635 mm from the front face is farther out than anything is held (more than 500 mm)" in err
    assert run("log", "C-920", "4", "--position", "A", "--distance", "250")[0] == 0
    assert run("log", "C-735", "4", "--position", "A", "--distance", "240")[0] == 0


_FACE = ("log", "C-920", "4", "--characteristic", "face run-out", "--position", "A")


@pytest.mark.parametrize("diameter", ["-60", "0"])
def test_a_circle_at_or_below_zero_is_refused(run: Run, diameter: str) -> None:
    code, _, err = run(*_FACE, "--diameter", diameter)
    assert code != 0
    assert "A diameter is above zero." in err
    assert _rows(schema.clamping) == []


@pytest.mark.parametrize(
    ("diameter", "told"),
    [
        ("0.06", "smaller than a face is read on (less than 10 mm)"),
        ("5", "smaller than a face is read on (less than 10 mm)"),
        ("140in", "A face read on 3556 mm, larger than a face is read on (more than 500 mm)"),
    ],
)
def test_a_circle_no_face_is_read_on_is_asked_about(run: Run, diameter: str, told: str) -> None:
    code, _, err = run(*_FACE, "--diameter", diameter)
    assert code == 4
    assert told in err
    assert _rows(schema.clamping) == []


def test_another_circle_than_so_far_is_asked_about_once(run: Run) -> None:
    assert run(*_FACE, "--diameter", "60")[0] == 0
    assert run(*_FACE, "--diameter", "60.02")[0] == 0
    code, _, err = run(*_FACE, "--diameter", "6")
    assert code == 4
    assert "A face read on 6 mm, so far on 60 mm: another circle is another history." in err
    assert run(*_FACE, "--diameter", "40", "--accept")[0] == 0
    assert run(*_FACE, "--diameter", "40")[0] == 0


@pytest.mark.parametrize("where", [("--distance", "5"), ("--at", "5: 3 4")])
def test_a_distance_of_a_face_is_refused_in_one_line(run: Run, where: tuple[str, str]) -> None:
    face = _FACE if where[0] == "--distance" else (*_FACE[:2], *_FACE[3:])
    code, _, err = run(*face, "--diameter", "60", *where)
    assert code != 0
    assert "The face of C-920 is read on a circle, not at a distance. Leave the distance out: --diameter 40." in err
    assert _rows(schema.clamping) == []


def test_of_two_limits_it_is_said_which_counts_where(run: Run) -> None:
    told = "12 µm counts everywhere; 9 µm at 25 mm there beside it. Where two count, the stricter one does."
    assert told in run("limit", "C-735", "12um")[2]
    assert told in run("item", "show", "C-735")[1]
    assert "counts everywhere" not in run("limit", "C-920", "9um")[2]
    run("log", "C-735", "4", "--position", "A", "--distance", "16")
    run("log", "C-735", "4", "--position", "A", "--distance", "25")
    (answer,) = json.loads(run("assess", "C-735", "--json")[1])["answers"]
    assert {one["distance_mm"]: one["limit_um"] for one in answer["groups"]} == {16.0: 12.0, 25.0: 9.0}


def test_work_and_findings_are_dated_to_the_minute_as_clampings_are(run: Run) -> None:
    run("modify", "C-735", "bored", "--on", "2026-03-02T06:14:25+00:00")
    run("inspect", "C-735", "burr", "--on", "2026-03-03T07:15:26+00:00")
    shown = run("item", "show", "C-735")[1]
    assert "modification 1: 2026-03-02 06:14 bored" in shown
    assert "seen 2026-03-03 07:15: burr" in shown


def test_after_a_crash_it_is_said_what_to_do_and_how_to_clear_it(run: Run) -> None:
    clear = 'qclog inspect C-735 sound --note "how you know"'
    _, _, err = run("inspect", "C-735", "crash")
    assert "Look for cracks and measure it again" in err
    assert clear in err
    assert "jaws" not in err
    _, out, _ = run("assess", "C-735")
    assert "Crash: Look for cracks and measure it again" in out
    assert clear in out
    run("inspect", "C-735", "sound", "--note", "no crack")
    assert "not flagged" in run("assess", "C-735")[1]
    run("item", "add", "J-1", "--kind", "jaws")
    assert "Soft jaws are skimmed anew." in run("inspect", "J-1", "crash")[2]
    assert "sound" not in run("inspect", "C-735", "crack")[2]


def test_of_a_bore_told_by_pins_it_is_said_what_narrows_it(run: Run) -> None:
    """The uncertainty assumed is that of the widest class of gauge pins, 5.08 um rectangular, k = 2."""
    run("limit", "C-920", "6.47..6.50mm", "--characteristic", "bore")
    run("pin", "add", "P-648", "--diameter", "6.48")
    run("pin", "add", "P-649", "--diameter", "6.49")
    _, out, _ = run("log", "C-920", "--characteristic", "bore", "--go", "P-648", "--no-go", "P-649")
    told = " ".join(out.split())
    assert "A finer step of pins narrows the 10 µm they leave open" in told
    assert "the ± 5.9 µm they count with at each end" in told
    assert "No gauge was named" not in told
    run("instrument", "add", "PINS", "--division", "10um", "--kind", "electronic")
    run("instrument", "calibrate", "PINS", "--on", "2026-01-12", "--due", "2030-01-12", "--uncertainty", "1um")
    finer = ("--go", "6.484", "--no-go", "6.486", "--instrument", "PINS")
    run("strike", "C-920", "last", "--reason", "read again")
    _, out, _ = run("log", "C-920", "--characteristic", "bore", *finer)
    told = " ".join(out.split())
    assert "narrows the 2 µm they leave open. As it is" in told
    assert "± 1.0 µm" in told
    assert "widest class" not in told


def test_a_day_still_to_come_is_said_and_logged_where_nobody_can_be_asked(run: Run) -> None:
    """The clock of the computer may be wrong, and no reading is lost for that."""
    tomorrow = (datetime.datetime.now() + datetime.timedelta(days=1)).isoformat(timespec="minutes")
    code, _, err = run("log", "C-735", "4", "--position", "A", "--on", tomorrow)
    assert code == 0
    assert "still to come by this computer's clock" in err
    assert 'qclog strike C-735 last --reason "wrong date"' in err
    assert [(row["why"], row["answer"]) for row in _rows(schema.doubt)] == [("in_future", "kept")]


@pytest.mark.parametrize("minutes", [-5, 0, 5])
def test_clocks_may_differ_by_some_minutes(run: Run, minutes: int) -> None:
    on = (datetime.datetime.now().astimezone() + datetime.timedelta(minutes=minutes)).isoformat(timespec="seconds")
    assert run("log", "C-735", "4", "--position", "A", "--on", on)[0] == 0
    assert run("log", "C-735", "4", "--position", "A", "--on", on[:10])[0] == 0
    assert _rows(schema.doubt) == []


def test_a_time_of_another_zone_is_compared_with_the_clock_there(run: Run) -> None:
    east = datetime.timezone(datetime.timedelta(hours=13))
    on = datetime.datetime.now(east).isoformat(timespec="seconds")
    assert run("log", "C-735", "4", "--position", "A", "--on", on)[0] == 0
    assert _rows(schema.doubt) == []


def test_a_date_more_than_a_year_ahead_is_refused(run: Run) -> None:
    code, _, err = run("log", "C-735", "4", "--position", "A", "--on", "2062-03-04")
    assert code == 4
    assert "more than a year ahead" in err
    assert _rows(schema.clamping) == []


def test_an_item_worked_on_in_place_needs_no_setup_named(run: Run) -> None:
    assert run("setup", "add", "L3", "--positions", "A,B")[0] == 0
    code, _, err = run("log", "C-735", "4", "--position", "A")
    assert code == 4
    assert "Which setup is C-735 measured in?" in err
    assert run("modify", "C-735", "lapped", "--in", "l3", "--position", "b", "--on", "2026-03-01")[0] == 0
    code, _, err = run("log", "C-735", "4", "--position", "B", "--distance", "25")
    assert code == 0
    assert "logged; L3, position B" in err


@pytest.mark.parametrize("typed", ["0.005", ".0002", "0,004"])
def test_a_size_in_millimetres_typed_without_its_unit_is_asked_about(run: Run, typed: str) -> None:
    code, _, err = run("log", "C-735", typed, "--position", "A")
    assert code == 4
    assert "far less than can be read" in err
    assert run("log", "C-735", f"{typed}mm", "--position", "A")[0] == 0


def test_torque_and_conditions_are_shown_where_they_change(run: Run) -> None:
    where = ("--position", "A", "--pin-out-each-time")
    run("log", "C-735", "4", "5", *where, "--torque", "12 Nm", "--conditions", "21 °C, warm")
    run("log", "C-735", "6", *where, "--torque", "14 Nm")
    shown = run("item", "show", "C-735")[1]
    assert [shown.count(text) for text in ("torque 12 Nm", "21 °C, warm", "torque 14 Nm")] == [1, 1, 1]


@pytest.mark.parametrize(("characteristic", "typed"), [("flushness", "-0.020"), ("jaw lift", "0.007")])
def test_a_difference_in_millimetres_typed_without_its_unit_is_asked_about(
    run: Run, characteristic: str, typed: str
) -> None:
    code, _, err = run("log", "C-920", typed, "--characteristic", characteristic, "--instrument", "I-1")
    assert code == 4
    assert f"'{typed}' is {float(typed):g} µm, far less than can be read" in err
    assert run("log", "C-920", f"{typed}mm", "--characteristic", characteristic, "--instrument", "I-1")[0] == 0


def test_a_difference_in_inches_typed_where_thousandths_are_read_is_asked_about(run: Run) -> None:
    run("settings", "--unit", "thou")
    code, _, err = run("log", "C-920", "-0.0010", "--characteristic", "flushness")
    assert code == 4
    assert "far less than can be read" in err


def test_two_sizes_may_differ_by_as_little_as_they_like(run: Run) -> None:
    assert run("log", "C-920", "10.00203/10.00204", "--characteristic", "pair difference")[0] == 0


@pytest.mark.parametrize("typed", ["0.3951/0.3930", "10.036/0.3930", "100.36/9.982"])
def test_a_pair_in_another_unit_than_before_is_asked_about_by_the_sizes_it_is_told_from(run: Run, typed: str) -> None:
    gap = ("--characteristic", "diametral gap")
    assert run("log", "C-920", "10.034/9.982", "10.035/9.981", "0.052", *gap)[0] == 0
    code, _, err = run("log", "C-920", typed, *gap)
    assert code == 4
    assert ("Inch read for millimetre?" if "0.39" in typed else "slipped decimal point?") in err
    assert "what it has read so far (10.0" in err
    assert run("log", "C-920", "0.3951/0.3930 in", *gap)[0] == 0


def test_the_first_pair_is_held_against_the_sizes_the_item_is_known_by(run: Run) -> None:
    pair = ("--characteristic", "pair difference")
    run("item", "add", "PR-2", "--kind", "other", "--made-to", "height 0.7495..0.7505in")
    code, _, err = run("log", "PR-2", "0.7501/0.7502", *pair)
    assert code == 4
    assert "1/25 of its limit (19.0373 mm). Inch read for millimetre?" in err
    assert run("log", "PR-2", "19.053/19.054", *pair)[0] == 0
    assert run("log", "PR-2", "9.053/9.054", *pair)[0] == 0, "of a pair that is not as wide as high nothing is asked"
    assert "of the size on its card" in run("log", "C-735", "0.2894/0.2893", "--characteristic", "diametral gap")[2]


def test_a_lift_that_goes_down_is_asked_about(run: Run) -> None:
    lift = ("--characteristic", "jaw lift", "--instrument", "I-1")
    run("item", "add", "VI-1", "--kind", "jaws", "--made-to", "jaw lift 15um")
    code, _, err = run("log", "VI-1", "-40", *lift)
    assert code == 4
    assert "'-40' is a lift that goes down" in err
    assert run("log", "VI-1", "0", "-1", "2", *lift)[0] == 0, "a step below nought is a lift of nothing"


def test_a_jaw_that_always_draws_down_is_asked_about_only_at_first(run: Run) -> None:
    lift = ("--characteristic", "jaw lift", "--instrument", "I-1")
    run("item", "add", "VI-1", "--kind", "jaws")
    assert run("limit", "VI-1", "jaw lift -15..15um")[0] == 0
    assert run("log", "VI-1", "-9", "-10", "-9", *lift, "--accept")[0] == 0
    assert run("log", "VI-1", "-8", *lift)[0] == 0
    told = " ".join(run("log", "VI-1", *["-40"] * 5, *lift)[1].split())
    assert "in its last sitting it did not hold what it was made to (jaw lift)" in told


def _pins(run: Run, go: str, no_go: str, *more: str) -> tuple[int, str, str]:
    return run("log", "C-920", "--characteristic", "bore", "--go", go, "--no-go", no_go, *more)


@pytest.mark.parametrize(
    ("pins", "said"),
    [
        (("5.17", "5.18"), "5.13 mm did not go, so 5.17 mm cannot."),
        (("5.13", "5.14"), "5.13 mm did not go, so 5.13 mm cannot."),
        (("5.10", "5.11"), "5.12 mm went, so 5.11 mm must."),
    ],
)
def test_pins_that_contradict_those_of_last_time_are_asked_about(run: Run, pins: tuple[str, str], said: str) -> None:
    assert _pins(run, "5.12", "5.13", "--on", "2026-03-02")[0] == 0
    code, _, err = _pins(run, *pins, "--on", "2026-03-03")
    assert code == 4
    assert f"contradicts what pins told last: {said}" in err
    assert _pins(run, *pins, "--on", "2026-03-03", "--accept")[0] == 0
    assert _pins(run, *pins, "--on", "2026-03-04")[0] == 0, "a bore that was opened is asked about once"


def test_pins_that_contradict_each_other_on_one_line_are_asked_about(run: Run) -> None:
    code, _, err = _pins(run, "5.12", "5.13", "--go", "5.17", "--no-go", "5.18")
    assert code == 4
    assert "5.13 mm did not go, so 5.17 mm cannot." in err


def test_pins_are_held_against_all_of_their_sitting_and_asked_about_once(run: Run) -> None:
    day = ("--on", "2026-03-02")
    assert _pins(run, "5.12", "5.13", *day)[0] == 0
    assert _pins(run, "5.11", "5.15", *day)[0] == 0
    code, _, err = _pins(run, "5.14", "5.15", *day)
    assert code == 4
    assert "5.13 mm did not go, so 5.14 mm cannot." in err
    assert _pins(run, "5.14", "5.15", *day, "--accept")[0] == 0
    assert _pins(run, "5.13", "5.16", *day)[0] == 0
    assert _pins(run, "5.11", "5.16", "--on", "2026-03-03")[0] == 0
    assert _pins(run, "5.15", "5.16", "--on", "2026-03-04")[0] == 0, "another sitting"


def test_pins_at_another_depth_of_a_bore_contradict_nothing(run: Run) -> None:
    assert _pins(run, "5.12", "5.13", "--on", "2026-03-02")[0] == 0
    assert _pins(run, "5.17", "5.18", "--on", "2026-03-03", "--distance", "20")[0] == 0


def test_pins_far_apart_are_asked_about(run: Run) -> None:
    assert run("limit", "C-920", "bore 6.00..6.03mm")[0] == 0
    code, _, err = _pins(run, "6.01", "6.50")
    assert code == 4
    assert "leaves 490 µm open, 16 times what its limits are apart (30 µm)" in err
    assert _pins(run, "6.00", "6.10")[0] == 0
    run("limit", "C-735", "bore min 7.30mm")
    coarse = ("--characteristic", "bore", "--go", "7.30", "--no-go", "7.35")
    assert run("log", "C-735", *coarse, "--on", "2026-03-02")[0] == 0
    slipped = ("--characteristic", "bore", "--go", "7.30", "--no-go", "8.35")
    code, _, err = run("log", "C-735", *slipped, "--on", "2026-03-03")
    assert code == 4
    assert "21 times what pins left open so far (50 µm)" in err


def test_pins_the_wrong_way_round_are_refused_with_what_to_type(run: Run) -> None:
    code, _, err = _pins(run, "5.13", "5.12")
    assert code == 4
    assert "the pin that goes has to be the smaller of the two." in err
    assert "If they are swapped, type --go 5.12 --no-go 5.13." in err
    assert "type 5.12..5.13: goes" in run("log", "C-920", "5.13..5.12", "--characteristic", "bore")[2]
    assert "No pin does both: try the next larger." in _pins(run, "5.12", "5.12")[2]


def test_one_pin_of_two_is_refused_with_the_one_to_try(run: Run) -> None:
    bore = ("log", "C-920", "--characteristic", "bore")
    assert "until one does not go, and add it: --no-go SIZE." in run(*bore, "--go", "5.12")[2]
    assert "until one goes, and add it: --go SIZE." in run(*bore, "--no-go", "5.12")[2]


def test_a_pin_that_is_not_registered_is_named(run: Run) -> None:
    code, _, err = _pins(run, "5.12", "G-514")
    assert code == 3
    assert "There is no pin 'G-514'. Add it: qclog pin add G-514 --diameter" in err


@pytest.mark.parametrize(
    ("limit", "asked"),
    [
        ("diametral gap 0.3..0.8mm", True),
        ("radial gap 0.03..0.1mm", True),
        ("diametral gap 0.03..0.08mm", False),
        ("depth 0.3..0.8mm", False),
    ],
)
def test_a_gap_wider_than_compounds_want_is_asked_about(run: Run, limit: str, asked: bool) -> None:
    code, _, err = run("item", "add", "N-8", "--kind", "insert", "--made-to", limit)
    assert code == 0
    assert ("Retaining compounds want less than 0.15 mm diametral" in err) is asked


def test_a_limit_in_inches_is_shown_in_one_form(run: Run) -> None:
    run("settings", "--inch")
    run("limit", "C-920", "0.0005in")
    out = run("log", "C-920", "4", "--position", "A", "--distance", "16")[1]
    assert "12.7 µm (0.0005 in)" in " ".join(out.split())
    assert "0.0005000" not in out
    assert "12.70" not in out


def test_a_limit_that_stands_already_is_not_written_twice(run: Run) -> None:
    def said(*limit: str) -> str:
        return run("limit", "C-920", *limit)[2]

    assert said("9um@25mm").startswith("C-920 must hold 9 µm at 25 mm.")
    written = _rows(schema.entry)
    assert "must hold 9 µm at 25 mm already; nothing new to write" in said("9um@25mm")
    assert _rows(schema.entry) == written
    for other in (("8um@25mm",), ("9um@25mm",), ("9um@25mm", "--setup", "L2"), ("9um@25mm", "7um@16mm")):
        assert "already" not in said(*other)
    assert [row["upper_pm"] // 1_000_000 for row in _rows(schema.made_to)[1:]] == [9, 8, 9, 9, 7]
    assert run("modify", "C-920", "bored")[0] == 0
    assert "already" not in said("9um@25mm")
