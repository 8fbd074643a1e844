"""Keep, watch or retire: each sign for itself, findings before figures, and the way down."""

import csv
import datetime
import json
import os
import re
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.codes import Sign
from qclog.questions.wear import KEEP, RETIRE, WATCH, Answer, wear
from reports.wear import wear as wear_text

Write = Callable[..., None]
START = datetime.date(2023, 1, 10)


@pytest.fixture
def write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Write:
    """Imports swings of an item made to a limit, one or more a day, days apart; the indicator is a fine one."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    assert main(["instrument", "add", "I-1", "--division", "0.1um", "--kind", "electronic"]) == 0
    assert main(["instrument", "calibrate", "I-1", "--on", "2022-01-01", "--uncertainty", "0.1um"]) == 0
    header = ["taken_at", "item", "setup", "clamping", "distance", "kind", "value", "unit", "instrument", "limit"]

    def call(
        item: str, days: Sequence[Sequence[float]], *, limit: str = "", apart: int = 30, distance: int = 25
    ) -> None:
        path = tmp_path / "readings.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            rows = csv.writer(file)
            rows.writerow(header)
            for day, swings in enumerate(days):
                date = START + datetime.timedelta(days=day * apart)
                for label, swing in enumerate(swings, start=1):
                    place = [date.isoformat(), item, "L1", f"{distance}-{label}", str(distance), "tir"]
                    rows.writerow([*place, f"{swing:.1f}", "um", "I-1", limit])
        assert main(["import", str(path), "--create"]) == 0

    return call


def _answers(*codes: str) -> dict[tuple[str, float], Answer]:
    store = open_store(os.environ["QCLOG_LOGBOOK"])
    try:
        return {(answer.item, answer.distance_mm): answer for answer in wear(store, codes)}
    finally:
        store.close()


def _one(code: str = "C-735") -> Answer:
    return _answers(code)[code, 25.0]


def _steady(rng: np.random.Generator, days: int, level: float = 4.0, scatter: float = 0.4) -> list[list[float]]:
    axes = rng.normal(size=(2, days)) * scatter
    return [[float(swing)] for swing in np.hypot(level + axes[0], axes[1])]


def test_a_steady_item_well_inside_its_limit_is_kept(write: Write) -> None:
    write("C-735", _steady(np.random.default_rng(1), 12), limit="12um")
    answer = _one()
    assert (answer.decision, answer.because, answer.axis) == (KEEP, (Sign.HOLDS,), "date")
    assert answer.crosses is not None
    assert answer.crosses.median is None


def test_an_item_well_past_its_limit_is_retired_and_the_way_down_is_named(write: Write) -> None:
    write("C-735", _steady(np.random.default_rng(2), 12, level=12.0), limit="8um")
    answer = _one()
    assert answer.decision == RETIRE
    assert answer.because == (Sign.DOES_NOT_HOLD,)
    assert answer.good_for_um in (15.0, 20.0)


def test_a_rising_level_is_seen_with_its_slope_and_its_crossing(write: Write) -> None:
    rng = np.random.default_rng(3)
    write("C-735", [[3.0 + 0.35 * day + rng.normal() * 0.3] for day in range(14)], limit="11um")
    answer = _one()
    assert answer.decision == WATCH
    assert Sign.LEVEL_RISES in answer.because
    assert answer.trend is not None
    assert answer.trend.per_year_um is not None
    assert answer.trend.low <= 0.35 / 30 * 365.25 <= answer.trend.high
    assert answer.crosses is not None
    assert answer.crosses.early is not None
    assert answer.crosses.median is not None
    assert answer.crosses.early < answer.crosses.median
    assert answer.crosses.early > (START + datetime.timedelta(days=13 * 30)).isoformat()


def test_a_falling_run_out_is_no_wear(write: Write) -> None:
    rng = np.random.default_rng(4)
    write("C-735", [[9.0 - 0.3 * day + rng.normal() * 0.3] for day in range(14)], limit="14um")
    assert _one().because == (Sign.HOLDS,)


def test_days_that_disagree_are_no_trend(write: Write) -> None:
    """Two sittings of six: ten clampings rising from one day to the other witness two days only."""
    write("C-735", [[3.0, 3.2, 3.1, 3.4, 2.9, 3.0], [6.1, 6.0, 6.3, 5.8, 6.2, 6.1]], limit="14um")
    answer = _one()
    assert answer.trend is None
    assert Sign.LEVEL_RISES not in answer.because
    assert Sign.STEPPED not in answer.because


def test_a_step_is_dated(write: Write) -> None:
    rng = np.random.default_rng(5)
    write("C-735", [[(3.0 if day < 8 else 6.0) + rng.normal() * 0.3] for day in range(16)], limit="14um")
    answer = _one()
    assert answer.step is not None
    assert answer.step.at == (START + datetime.timedelta(days=8 * 30)).isoformat()
    assert answer.step.change_um == pytest.approx(3.0, abs=0.5)
    assert Sign.STEPPED in answer.because


WENT_UP = (2.2, 3.4, 2.8, 2.4, 2.6, 3.4, 3.4, 3.4, 1.6, 2.6, 2.2, 2.6, 2.8, 2.7, 3.2)
SINCE = (4.6, 4.8, 5.2, 5.2, 5.2, 4.6, 4.8, 4.6, 4.6)


def test_after_a_step_that_is_likely_real_the_level_is_that_since_and_no_yearly_change_is_told(write: Write) -> None:
    write("C-735", [[swing] for swing in (*WENT_UP, *SINCE)], limit="8um", apart=1)
    answer = _one()
    assert answer.stepped
    assert answer.step is not None
    assert answer.step.at == (START + datetime.timedelta(days=len(WENT_UP))).isoformat()
    assert answer.level_um == pytest.approx(np.mean(SINCE))
    told = " ".join(wear_text([answer]).split())
    assert f"now at 4.8 µm on the mean, since {answer.step.at}" in told
    assert f"Look for what happened just before {answer.step.at}" in told
    assert "a year" not in told
    assert "No drift is proven" not in told


def test_a_change_over_a_few_weeks_is_told_over_its_days_and_not_carried_on_to_a_year(write: Write) -> None:
    rng = np.random.default_rng(3)
    write("C-735", [[3.0 + 0.35 * day + rng.normal() * 0.3] for day in range(14)], limit="11um", apart=2)
    answer = _one()
    assert answer.read_over_days == 26
    told = " ".join(wear_text([answer]).split())
    assert "a year" not in told
    (change,) = re.findall(r"Change over these 26 days: [+](\S+) µm, from [+]\S+ µm to [+]\S+ µm", told)
    assert float(change) == pytest.approx(0.35 * 13, abs=0.6)


def test_a_repeat_that_grew_has_its_own_sign(write: Write) -> None:
    rng = np.random.default_rng(6)
    days = [[6.0 + rng.normal() * (0.2 if day < 6 else 1.6) for _ in range(3)] for day in range(12)]
    write("C-735", days, limit="20um")
    assert Sign.REPEAT_GROWN in _one().because


def test_a_ratio_far_to_near_that_doubled_points_to_a_bell_mouth(write: Write) -> None:
    near = [[3.0, 3.1, 2.9] for _ in range(6)]
    far = [[4.0 + day * 1.2, 4.1 + day * 1.2, 3.9 + day * 1.2] for day in range(6)]
    write("C-735", near, distance=3)
    write("C-735", far, distance=25)
    assert Sign.FAR_TO_NEAR_GROWN in _one().because


def test_with_noted_use_the_axis_is_clampings_in_work(write: Write) -> None:
    rng = np.random.default_rng(7)
    write("C-735", [[3.0 + 0.5 * day + rng.normal() * 0.2] for day in range(10)], limit="20um")
    for day in range(10):
        date = START + datetime.timedelta(days=day * 30 - 1)
        assert main(["used", "C-735", "--clampings", "200", "--on", date.isoformat()]) == 0
    answer = _one()
    assert answer.axis == "clampings"
    assert answer.trend is not None
    assert answer.trend.per_1000_um == pytest.approx(2.5, abs=0.5)
    assert answer.trend.per_year_um is None


@pytest.mark.parametrize(
    ("findings", "sign", "decision"),
    [
        (["crack"], Sign.CRACK, RETIRE),
        (["blue"], Sign.BLUE, RETIRE),
        (["slip"], Sign.SLIPPED, WATCH),
        (["slip", "slip"], Sign.SLIPPED_AGAIN, RETIRE),
        (["lost spring"], Sign.LOST_SPRING, WATCH),
        (["bell-mouth"], Sign.BELL_MOUTH, WATCH),
    ],
)
def test_what_was_seen_outranks_the_numbers(write: Write, findings: list[str], sign: Sign, decision: str) -> None:
    write("C-735", _steady(np.random.default_rng(1), 12), limit="12um")
    for finding in findings:
        assert main(["inspect", "C-735", finding]) == 0
    answer = _one()
    assert answer.decision == decision
    assert sign in answer.because
    assert Sign.HOLDS not in answer.because
    assert main(["inspect", "C-735", "sound", "--note", "measured and dyed"]) == 0
    assert _one().decision == KEEP


def test_one_sitting_is_not_enough_to_keep_or_retire(write: Write) -> None:
    write("C-735", [[3.0, 3.2, 3.1, 3.4]], limit="14um")
    assert (_one().decision, _one().because) == (WATCH, (Sign.CANNOT_TELL,))


def test_the_command_says_the_advice_first_and_tells_a_script(write: Write, capsys: pytest.CaptureFixture[str]) -> None:
    write("C-735", _steady(np.random.default_rng(9), 12, level=12.0), limit="8um")
    capsys.readouterr()
    assert main(["wear", "C-735", "--gate"]) == 1
    assert capsys.readouterr().out.startswith("C-735 in L1, 25 mm out: RETIRE it from 8 µm work: it does not hold")
    assert main(["wear", "C-735", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)["answers"][0]
    assert set(answer) >= {
        "item", "modification", "setup", "position", "distance_mm", "characteristic", "clampings", "axis", "level_um",
        "trend", "step", "signal", "crosses", "decision", "because", "caveats",
    }  # fmt: skip


def test_steady_items_are_never_retired_and_worn_ones_always(write: Write) -> None:
    """60 steady items well inside their limit and 60 worn well past it, eight days each; own simulation."""
    rng = np.random.default_rng(20260602)
    for i in range(120):
        write(f"C-{i:03d}", _steady(rng, 8, level=4.0 if i < 60 else 16.0, scatter=0.5), limit="10um")
    decided = {item: answer.decision for (item, _), answer in _answers().items()}
    assert len(decided) == 120
    assert RETIRE not in {decided[f"C-{i:03d}"] for i in range(60)}
    assert {decided[f"C-{i:03d}"] for i in range(60, 120)} == {RETIRE}
