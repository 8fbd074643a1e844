"""Which of two or more is better: named only when it is settled, and only among what was measured alike."""

import itertools
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.codes import Caveat
from qclog.questions.compare import BETTER, NO_DIFFERENCE, UNDECIDED, Answer, compare

Log = Callable[..., None]


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Log:
    """Logs swings of an item at a position on a day; items and the setup L2 (positions A, B, C) are made first."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    assert main(["setup", "add", "L2", "--positions", "A,B,C"]) == 0
    for code in ("C-735", "C-920"):
        assert main(["item", "add", code, "--kind", "collet", "--size", "8"]) == 0

    def call(position: str, *swings: float, item: str = "C-735", day: int = 2, distance: int = 25) -> None:
        numbers = [f"{swing:.1f}" for swing in swings]
        place = ["--setup", "L2", "--position", position, "--distance", str(distance)]
        assert main(["log", item, *numbers, *place, "--on", f"2026-03-{day:02d}T10:00", "--accept"]) == 0

    return call


def _answers(*codes: str, **options: object) -> list[Answer]:
    import os

    store = open_store(os.environ["QCLOG_LOGBOOK"])
    try:
        return compare(store, codes, **options)  # type: ignore[arg-type]
    finally:
        store.close()


def test_the_better_position_is_named_when_it_is_settled(log: Log) -> None:
    for day in (2, 3):
        log("A", 4.0, 4.6, 5.2, day=day)
        log("B", 8.1, 8.8, 7.6, day=day)
    (answer,) = _answers("C-735")
    assert (answer.better, answer.settled, answer.outcome) == ("A", True, BETTER)
    assert [member.name for member in answer.groups] == ["A", "B"]
    assert answer.difference_um is not None
    assert answer.difference_um.low <= 3.57 <= answer.difference_um.high
    assert answer.p_better_next is not None
    assert answer.p_better_next > 0.95
    assert answer.caveats == ()


def test_a_difference_within_the_scatter_is_not_settled_and_the_missing_clampings_are_named(log: Log) -> None:
    log("A", 4.0, 5.5, 7.0, 4.4)
    log("B", 5.1, 7.9, 6.0, 8.8)
    (answer,) = _answers("C-735")
    assert (answer.better, answer.settled, answer.outcome) == (None, False, UNDECIDED)
    assert answer.more_clampings is not None
    assert answer.more_clampings > 0


def test_positions_that_run_alike_differ_by_less_than_matters(log: Log) -> None:
    for day in (2, 3):
        log("A", 4.0, 4.2, 4.4, 4.1, day=day)
        log("B", 4.1, 4.3, 4.2, 4.4, day=day)
    (answer,) = _answers("C-735", matters_um=2.0)
    assert (answer.better, answer.settled, answer.outcome) == (None, True, NO_DIFFERENCE)


def test_three_clampings_are_a_hint_and_two_are_too_few(log: Log) -> None:
    log("A", 4.0, 4.2)
    log("B", 9.0, 9.2)
    (answer,) = _answers("C-735")
    assert answer.difference_um is None
    assert Caveat.FEW_CLAMPINGS in answer.caveats
    log("A", 4.1)
    log("B", 9.1)
    (answer,) = _answers("C-735")
    assert Caveat.INDICATIVE in answer.caveats
    assert answer.better is None


def test_positions_read_on_different_days_carry_a_caveat(log: Log) -> None:
    log("A", 4.0, 4.2, 4.4, 4.1, day=2)
    log("B", 9.0, 9.2, 9.4, 9.1, day=3)
    (answer,) = _answers("C-735")
    assert Caveat.DIFFERENT_DAYS in answer.caveats


def test_the_winner_may_change_with_the_distance_and_each_has_its_answer(log: Log) -> None:
    log("A", 4.0, 4.2, 4.4, 4.1)
    log("B", 9.0, 9.2, 9.4, 9.1)
    log("A", 12.0, 12.2, 12.4, 12.1, distance=40)
    log("B", 6.0, 6.2, 6.4, 6.1, distance=40)
    assert {answer.distance_mm: answer.better for answer in _answers("C-735")} == {25.0: "A", 40.0: "B"}


def test_three_positions_are_judged_at_once(log: Log) -> None:
    log("A", 4.0, 4.2, 4.4, 4.1)
    log("B", 9.0, 9.2, 9.4, 9.1)
    log("C", 14.0, 14.2, 14.4, 14.1)
    (answer,) = _answers("C-735")
    assert answer.better == "A"
    assert answer.method == "several groups of swings"
    assert len(answer.groups) == 3


def test_items_are_compared_at_the_same_place_and_a_cracked_one_is_left_out(log: Log) -> None:
    for item, swing in (("C-735", 4.0), ("C-920", 9.0)):
        log("A", swing, swing + 0.3, swing + 0.6, swing + 0.2, item=item)
    (answer,) = _answers(by="item")
    assert (answer.better, answer.setup, answer.position, answer.item) == ("C-735", "L2", "A", None)
    assert main(["inspect", "C-735", "crack"]) == 0
    assert _answers(by="item") == []


def test_a_refit_starts_the_comparison_anew(log: Log) -> None:
    log("A", 4.0, 4.2, 4.4, 4.1)
    log("B", 9.0, 9.2, 9.4, 9.1)
    assert main(["refit", "L2", "--reason", "crashed", "--on", "2026-03-05T10:00"]) == 0
    assert _answers("C-735") == []


def test_the_command_says_the_answer_first_and_keeps_what_matters(log: Log, capsys: pytest.CaptureFixture[str]) -> None:
    log("A", 4.0, 4.2, 4.4, 4.1)
    log("B", 9.0, 9.2, 9.4, 9.1)
    capsys.readouterr()
    assert main(["compare", "C-735", "--matters", "3um"]) == 0
    first = " ".join(capsys.readouterr().out.split())
    assert first.startswith("C-735, L2, 25 mm out: position A is BETTER than B, by")
    assert main(["compare", "C-735", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)["answers"][0]
    assert answer["matters_um"] == 3.0
    assert set(answer) >= {
        "by", "item", "setup", "distance_mm", "characteristic", "groups", "better", "settled", "difference_um",
        "p_better_next", "p_value", "method", "more_clampings", "caveats",
    }  # fmt: skip


def test_nothing_to_compare_is_said_with_the_remedy(log: Log, capsys: pytest.CaptureFixture[str]) -> None:
    log("A", 4.0, 4.2, 4.4)
    assert main(["compare", "C-735"]) == 3
    assert "no two key positions of C-735" in capsys.readouterr().err


def test_simulated_positions_are_named_rightly_or_not_at_all(log: Log) -> None:
    """6.5 against 12.5 µm with a repeat of 2 µm, six clampings each, in 12 items; own simulation."""
    rng = np.random.default_rng(20260601)
    for i in range(12):
        item = f"S-{i:02d}"
        assert main(["item", "add", item, "--kind", "collet"]) == 0
        for position, mean in (("A", 6.5), ("B", 12.5)):
            axes = rng.normal(size=(2, 6)) * 2.0
            log(position, *np.hypot(mean + axes[0], axes[1]), item=item)
    answers = [answer for answer in _answers() if (answer.item or "").startswith("S-")]
    assert len(answers) == 12
    named = [answer.better for answer in answers]
    assert "B" not in named
    assert named.count("A") >= 10
    assert list(itertools.chain(*([m.name for m in a.groups] for a in answers))).count("A") == 12


@pytest.mark.usefixtures("log")
def test_the_pin_is_told_as_it_is_and_not_as_places_are_told_apart(capsys: pytest.CaptureFixture[str]) -> None:
    for pin, size in (("P-735", "7.348"), ("P-735B", "7.3465")):
        assert main(["pin", "add", pin, "--diameter", size]) == 0
    place = ["--setup", "L2", "--distance", "25", "--pin-out-each-time"]
    for position, pin in (("A", "P-735"), ("B", "P-735"), ("A", "P-735B")):
        assert main(["log", "C-735", "4.0", "4.4", "--position", position, "--pin", pin, *place]) == 0
        capsys.readouterr()
        main(["compare", "C-735"])
        told = capsys.readouterr().out
        assert position == "A" or "25 mm out, pin 7.348 mm:" in " ".join(told.split())
    assert "25 mm out, pins 7.3465 to 7.348 mm:" in " ".join(told.split())
    (answer,) = _answers("C-735")
    assert (answer.diameter_mm, answer.pins_mm) == (7.3, (7.3465, 7.348))
