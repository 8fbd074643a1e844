"""The guided occasion by keyboard: prompts in the order of the hands, and what is typed wrong."""

import io
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

import pytest
import sqlalchemy as sa

from qclog.cli.dialogue import Dialogue
from qclog.cli.main import main
from qclog.cli.screen import Screen
from qclog.logbook import schema
from qclog.logbook.engine import open_store
from qclog.occasion.guided import Guided
from qclog.occasion.journal import Journal
from qclog.occasion.plan import Plan, Stop
from qclog.occasion.wanted import Taken
from reports.numbers import METRIC

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def made(logbook_of: Callable[..., Path]) -> Path:
    """The logbook that every test begins with, to be copied."""
    return logbook_of(
        ["setup", "add", "L2", "--positions", "A,B"],
        ["setup", "add", "L3"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7.35", "--made-to", "9um@25mm"],
        ["pin", "add", "P-735", "--diameter", "7.348"],
        ["pin", "add", "P-740", "--diameter", "7.400"],
    )


@pytest.fixture(autouse=True)
def _workshop(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    shutil.copytree(made.parent, tmp_path, dirs_exist_ok=True)
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / made.name))
    capsys.readouterr()


def _measure(monkeypatch: pytest.MonkeyPatch, capsys: Capture, typed: str, *arguments: str) -> tuple[int, str, str]:
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    code = main(["measure", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def test_the_hands_are_told_in_their_order_and_the_answer_ends_it(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    code, out, err = _measure(
        monkeypatch, capsys, "0\n2\n4\n2\n0\n", "C-735", "--setup", "L2", "--positions", "A", "--clampings", "1",
        "--pin", "p-735",
    )  # fmt: skip
    assert code == 0
    order = ["Isolate the machine", "Pin P-735 right out", "Tighten at position A", "KEY OUT", "Turn to 0°",
             "Turn to 90°", "again, to see that it closes", "logged", "Pin out, indicator away, KEY OUT"]  # fmt: skip
    places = [err.index(words) for words in order]
    assert places == sorted(places)
    assert out.startswith("C-735 (as received): not flagged.")


FAR = ("C-735", "--setup", "L3", "--clampings", "1", "--steps", "1")


def test_a_distance_that_looks_like_a_slip_is_asked_about_before_anything_is_clamped(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    code, _, err = _measure(monkeypatch, capsys, "4\n", *FAR, "--distance", "25in")
    assert code == 4
    assert "635 mm from the front face is 25 times as far out as its limit (25 mm). A slip" in err
    assert "Nothing was begun. If it is right, add --accept." in err
    assert "Isolate" not in err
    code, _, err = _measure(monkeypatch, capsys, "", *FAR, "--distance", "25", "--distance", "25in")
    assert (code, "635 mm from the front face" in err) == (4, True)


def test_a_distance_that_is_right_is_not_asked_about_again_and_the_doubt_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    code, _, err = _measure(monkeypatch, capsys, "4\n", *FAR, "--distance", "25in", "--accept")
    assert (code, "A slip" in err) == (0, False)
    with open_store(str(tmp_path / "book.sqlite")).reading() as connection:
        assert connection.execute(sa.select(schema.doubt.c.why, schema.doubt.c.answer)).all() == [
            ("far_from_face", "kept")
        ]
    code, _, err = _measure(monkeypatch, capsys, "4\n", *FAR, "--distance", "25in")
    assert code == 0


@pytest.mark.parametrize("answer", [True, False])
def test_at_a_terminal_the_distance_is_asked_about(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, answer: bool
) -> None:
    asked: list[str] = []

    def ask(question: str, **_: bool) -> bool:
        asked.append(question)
        return answer

    monkeypatch.setattr("qclog.cli.measure.at_terminal", lambda: True)
    monkeypatch.setattr("qclog.cli.measure.ask", ask)
    code, _, err = _measure(monkeypatch, capsys, "4\n", *FAR, "--distance", "25in")
    assert len(asked) == 1
    assert (code, "Isolate" in err) == ((0, True) if answer else (4, False))


def test_an_occasion_that_was_stopped_goes_on_without_naming_the_item(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    _, _, err = _measure(
        monkeypatch, capsys, "4\n9\nq\n", "C-735", "--setup", "L2", "--positions", "A,B", "--steps", "1",
        "--clampings", "2",
    )  # fmt: skip
    assert "2 clampings logged. Stopped before the end of the plan." in err
    assert "Go on with it: qclog measure" in err
    code, out, err = _measure(monkeypatch, capsys, "9.5\n4.5\n")
    assert code == 0
    assert "Going on behind clamping 2." in err
    assert "too few to compare" in out
    code, _, err = _measure(monkeypatch, capsys, "")
    assert (code, err) == (
        3,
        "qclog: No occasion was interrupted. Begin one: qclog measure C-046 --positions A,B\n",
    )


def test_an_occasion_cut_off_right_before_its_last_clamping_was_logged_ends_without_a_word_typed(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    plan = ("C-735", "--setup", "L3", "--steps", "1", "--clampings", "1")
    with monkeypatch.context() as cut:
        cut.setattr(Guided, "complete", _cut_off)
        assert _measure(cut, capsys, "4\n", *plan)[0] == 130
    reading, writing = os.pipe()
    with os.fdopen(reading, encoding="utf-8") as silent, os.fdopen(writing, "w", encoding="utf-8"):
        monkeypatch.setattr("sys.stdin", silent)
        assert main(["measure"]) == 0
        monkeypatch.undo()
    assert "1 clamping logged." in capsys.readouterr().err


def _cut_off(guided: Guided) -> Taken:
    """Ctrl-C as the last reading is on the disk and the clamping not yet in the logbook."""
    if guided.journal.events:
        raise KeyboardInterrupt
    return Taken()


def test_a_slip_is_asked_about_and_read_again(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    _, out, err = _measure(
        monkeypatch, capsys, "90\nperhaps\nn\n4\n", "C-735", "--setup", "L3", "--steps", "1", "--clampings", "1"
    )
    assert "10 times its limit" in err
    assert "y or n?" in err
    assert " 1         1   4.0" in out


def test_taking_back_asks_whether_it_was_misread_or_badly_clamped(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    _, _, err = _measure(
        monkeypatch, capsys, "u\nm\n5\nu\nb\n4\n", "C-735", "--setup", "L3", "--steps", "1", "--clampings", "1",
        "--to-the-end",
    )  # fmt: skip
    assert "There is nothing to take back yet." in err
    assert "m: it was misread. b: it was badly clamped" in err


def test_going_on_in_the_middle_of_a_clamping_says_where_and_what_was_read(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    plan = ("C-735", "--setup", "L2", "--positions", "A,B", "--clampings", "1")
    _measure(monkeypatch, capsys, "0\n2\n4\n2\n0\n0\n3\nq\n", *plan)
    _, _, err = _measure(monkeypatch, capsys, "6\n3\n0\n")
    assert "In the middle of clamping 2 of 2 at position B; read so far: 0, 3. Still clamped" in " ".join(err.split())
    assert "Clamping 2 logged: 6.0 µm TIR, high spot 180°." in err


def test_ctrl_c_says_what_there_is_and_how_to_go_on(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    with monkeypatch.context() as cut:
        cut.setattr("qclog.cli.dialogue.Dialogue.typed", _interrupt)
        code, out, err = _measure(cut, capsys, "4\n", "C-735", "--setup", "L3", "--steps", "1")
    assert (code, out) == (130, "")
    assert "0 clampings logged. Stopped before the end of the plan." in err
    assert "Go on with it: qclog measure" in err
    assert "Pin out, indicator away, KEY OUT" in err
    assert _measure(monkeypatch, capsys, "4\nq\n")[0] == 0


def _interrupt(*_: object) -> bool:
    raise KeyboardInterrupt


def test_an_indicator_found_wrong_is_named_before_anything_is_read(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    assert main(["instrument", "add", "I-1", "--division", "1um"]) == 0
    assert main(["recall", "I-1", "--found", "23 on 20"]) == 0
    capsys.readouterr()
    plan = ("C-735", "--setup", "L3", "--steps", "1", "--clampings", "1", "--instrument", "I-1")
    _, _, err = _measure(monkeypatch, capsys, "4\n", *plan)
    assert err.index("I-1 was found wrong") < err.index("clamping 1 of 1")


def test_an_indicator_out_at_its_last_quick_check_is_named_before_anything_is_read(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    assert main(["instrument", "add", "I-1", "--division", "1um"]) == 0
    assert main(["instrument", "check", "I-1", "103.5 on 100", "--within", "1um"]) == 0
    capsys.readouterr()
    plan = ("C-735", "--setup", "L3", "--steps", "1", "--clampings", "1", "--instrument", "I-1")
    _, _, err = _measure(monkeypatch, capsys, "4\n", *plan)
    said = " ".join(err.split())
    assert "The last quick check of I-1 was out (103.5um on 100um). Check it again before you measure" in said
    assert said.index("last quick check") < said.index("clamping 1 of 1")


def test_what_a_second_occasion_of_an_item_takes_the_place_of_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    plan = ("C-735", "--setup", "L3", "--steps", "1", "--clampings", "2")
    _measure(monkeypatch, capsys, "4\nq\n", *plan)
    _, _, err = _measure(monkeypatch, capsys, "q\n", *plan)
    assert "The occasion of C-735 that was stopped is not gone on with; what it logged stays." in err


STUDY = ("C-735", "--setup", "L3", "--study", "--pins", "P-735", "--people", "AK", "--clampings", "3", "--steps", "1")


def test_a_study_ends_with_what_to_mend_first(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    code, out, err = _measure(monkeypatch, capsys, "4.0\n4.1\n6.0\n6.1\n5.0\n5.1\n", *STUDY)
    assert code == 0
    assert "Clamping 3 logged: 5.0 µm TIR; 5.1 µm TIR." in err
    assert "Mend first: re-clamping" in out


def test_another_person_half_way_is_asked_about_and_logged(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    _, _, err = _measure(monkeypatch, capsys, "4.0\n4.1\nc\nEL\ny\nr\n6.0\nc\nP-999\nn\nc\n\n6.1\nq\n", *STUDY)
    asked = ["Now: pin P-735, AK.", "EL is no pin here. y: EL clamps", "r: for all the rest.", "EL clamps and reads in",
             "--- clamping 2 of 3: EL, pin P-735 ---", "P-999 is no pin here.", "nothing changed",
             "Clamping 2 logged"]  # fmt: skip
    places = [err.index(words) for words in asked]
    assert places == sorted(places)
    assert main(["history", "C-735"]) == 0
    assert "(EL)" in capsys.readouterr().out


def test_another_pin_in_one_clamping_is_asked_about_and_one_that_does_not_go_in_is_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    assert main(["pin", "add", "P-736", "--diameter", "7.349"]) == 0
    _, _, err = _measure(monkeypatch, capsys, "c\nP-740\nr\nc\np-736\no\n4.0\n4.1\nq\n", *STUDY)
    assert "The pin P-740 (7.4 mm) is larger than the bore of C-735" in " ".join(err.split())
    assert "pin P-736 in place of P-735, in this clamping only: noted." in err
    assert "--- clamping 2 of 4: AK, pin P-735 ---" in err  # what was planned is still wanted
    assert main(["history", "C-735"]) == 0
    assert "pin P-736" in capsys.readouterr().out


def test_a_study_stopped_in_a_clamping_goes_on_and_its_last_reading_is_read_again_alone(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    _, out, err = _measure(monkeypatch, capsys, "4.0\nq\n", *STUDY)
    assert (out, "Go on with it: qclog measure" in err) == ("", True)
    _, _, err = _measure(monkeypatch, capsys, "4.9\nu\nm\n4.1\nq\n")
    assert "In the middle of clamping 1 of 3 (AK, pin P-735), reading 2 of 2; read so far: 4.0." in " ".join(
        err.split()
    )
    assert "Back: clamping 1. Still closed? m: the last reading was misread, the others stand." in " ".join(err.split())
    assert "Clamping 2 logged: 4.0 µm TIR; 4.1 µm TIR." in err


def test_a_study_that_was_stopped_is_not_given_up_unasked(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    _measure(monkeypatch, capsys, "4.0\n4.1\nq\n", *STUDY)
    other = (*STUDY[:-2], "--steps", "4")
    code, _, err = _measure(monkeypatch, capsys, "q\n", *other)
    assert code == 4
    assert "A study of C-735 was stopped after 1 of 3 clampings. Go on with it: qclog measure." in err
    assert "clamping 2 of 3" in _measure(monkeypatch, capsys, "q\n")[2]
    code, _, err = _measure(monkeypatch, capsys, "q\n", *other, "--accept")
    assert "The occasion of C-735 that was stopped is not gone on with; what it logged stays." in err


def test_a_pin_of_a_study_is_named_once(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    twice = tuple("P-735,P-735" if word == "P-735" else word for word in STUDY)
    code, _, err = _measure(monkeypatch, capsys, "q\n", *twice)
    assert (code, "P-735 is named twice. Name each pin once: --pins P-1,P-2" in err) == (4, True)


class Pressed:
    """A stream that gives its reading at every press."""

    begun_again = 0

    def press(self, now: float) -> str:
        return f"{now:g}um"

    def begin_again(self) -> None:
        self.begun_again += 1


def test_a_turn_of_a_stream_ends_before_the_clamping_is_read_again(tmp_path: Path) -> None:
    store, stream = open_store(str(tmp_path / "book.sqlite")), Pressed()
    plan = Plan("C-735", "L3", ("",), 25 * 10**9, pin="P-735", stops=(Stop("", "", "P-735"),) * 2, readings=2)
    guided = Guided(store, Journal.begin(tmp_path, "book", plan))
    dialogue = Dialogue(guided, Screen(), METRIC, cast(Any, stream), hands_free=False)
    for reading in (0, 3, 5, 2):
        dialogue.pressed(float(reading))
    assert stream.begun_again == 0
    dialogue.pressed(0.0)
    assert stream.begun_again == 1
    guided.journal.leave()
    store.close()


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("C-999",), 3, "There is no item 'C-999'"),
        (("C-735",), 4, "Which setup is C-735 measured in?"),
        (("C-735", "--setup", "L2"), 4, "Say which to try: --positions A, or --positions A,B for both in turn."),
        (("C-735", "--setup", "L2", "--positions", "C"), 3, "has no key position 'C'"),
        (("C-735", "--setup", "L3", "--steps", "5"), 4, "cannot be read in 5 steps"),
        (("C-735", "--setup", "L3", "--clampings", "0"), 4, "0 clampings cannot be planned"),
        (("C-735", "--setup", "L3", "--pin", "P-740"), 4, "The pin P-740 (7.4 mm) is larger than the bore of C-735"),
        (("C-735", "--setup", "L3", "--port", "/dev/ttyUSB0"), 2, "--port needs --profile"),
        (("C-735", "--setup", "L3", "--record", "session"), 4, "End it with .jsonl"),
        (("C-735", "--setup", "L3", "--study"), 3, "Which pins are to be clamped?"),
        (("C-735", "--setup", "L3", "--study", "--pins", "P-740"), 4, "larger than the bore"),
        (("C-735", "--setup", "L3", "--study", "--pins", "P-735", "--clampings", "1"), 4, "are no study"),
        (("C-735", "--setup", "L3", "--study", "--pins", "P-735", "--turn", "P-735"), 2, "leaves the bodies"),
        (("C-735", "--setup", "L3", "--people", "AK,MO"), 2, "Add --study"),
        (("C-735", "--setup", "L3", "--readings", "2"), 2, "Add --study"),
        (("C-735", "--setup", "L3", "--study", "--pins", "P-735", "--readings", "0"), 4, "read 0 times, are no study"),
        (("C-735", "--setup", "L3", "--distance", "4", "--distance", "4.0"), 4, "same distance stands twice"),
        (("C-735", "--setup", "L3", "--check", "C-735"), 4, "cannot be the check piece of itself"),
        (("C-735", "--setup", "L3", "--profile", "nobody"), 7, 'There is no profile "nobody"'),
        (("C-735", "--setup", "L3", "--profile", "ascii-lines"), 7, "names no port"),
        (("C-735", "--setup", "L3", "--profile", "ascii-lines", "--port", "/dev/none-such"), 7, "/dev/none-such"),
    ],
)
def test_what_cannot_be_measured_is_said_before_the_first_prompt(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, arguments: tuple[str, ...], code: int, words: str
) -> None:
    found, out, err = _measure(monkeypatch, capsys, "", *arguments)
    assert (found, out) == (code, "")
    assert words in err
    assert "clamping 1 of" not in err
    assert _measure(monkeypatch, capsys, "")[0] == 3  # nothing was begun


def test_torque_and_conditions_are_kept_with_every_clamping_and_go_on_to_the_next_line(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    what = ("--torque", "12 Nm", "--conditions", "21 °C, warm")
    plan = ("C-735", "--setup", "L2", "--positions", "A", "--steps", "1", "--clampings", "2", "--to-the-end")
    code, _, _ = _measure(monkeypatch, capsys, "4\n5\n", *plan, *what)
    assert code == 0
    assert main(["log", "C-735", "6", "--position", "A", "--setup", "L2"]) == 0
    assert main(["item", "show", "C-735", "--json"]) == 0
    printed = capsys.readouterr().out
    clampings = json.loads(printed[printed.index('{\n  "code"') :])["clampings"]
    assert [(one["torque"], one["conditions"]) for one in clampings] == [("12 Nm", "21 °C, warm")] * 3


@pytest.mark.parametrize("quiet", [True, False])
def test_beeps_can_be_left_out(monkeypatch: pytest.MonkeyPatch, capsys: Capture, quiet: bool) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    screen = Screen(quiet=quiet)
    screen.say("taken", bells=2)
    assert capsys.readouterr().err == ("taken\n" if quiet else "\a\ataken\n")
