"""160 items of known truth, logged, imported and judged as a user would: how often is the answer right?

Truth: swings of a vector with normal scatter on both axes (Rice), six clampings on six days. The true 95 % point
comes from scipy.stats.rice. Bounds of the checks: own requirements.
"""

import csv
import json
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from scipy.stats import rice

from qclog.cli.main import main
from qclog.statistics.bounding.bounds import bounds_next_clampings
from qclog.statistics.bounding.conformity import Verdict, verdicts
from qclog.statistics.swings import group_swings

ITEMS = 160
Floats = npt.NDArray[np.float64]


def _workshop(rng: np.random.Generator, days: int) -> tuple[Floats, Floats]:
    """True 95 % points of the full swing (ITEMS,) and swings read to 0.1 µm (ITEMS, days), µm."""
    offset, scatter = rng.uniform(0.0, 5.0, ITEMS), rng.uniform(0.3, 1.5, ITEMS)
    axes = rng.normal(size=(2, ITEMS, days)) * scatter[:, None]
    swings = 2 * np.hypot(offset[:, None] + axes[0], axes[1])
    return 2 * scatter * rice.ppf(0.95, offset / scatter), np.round(swings, 1)


def _write(path: Path, swings: Floats, limits: Floats) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(
            ["taken_at", "item", "setup", "clamping", "distance", "kind", "value", "unit", "instrument", "limit"]
        )
        for item, (row, limit) in enumerate(zip(swings, limits, strict=True)):
            for day, swing in enumerate(row, start=1):
                place = [f"2026-05-{day:02d}", f"C-{item:03d}", "L1", "1", "25", "tir"]
                writer.writerow([*place, f"{swing:.1f}", "um", "I-1", f"{limit:.3f}um"])


@pytest.fixture
def answers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> tuple[Floats, Floats, Floats, list[str]]:
    """True points, limits, bounds and verdicts of the items, through import and assess."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    rng = np.random.default_rng(20260501)
    point, swings = _workshop(rng, 6)
    limit = np.round(point * rng.choice([0.5, 0.7, 0.9, 0.99, 1.01, 1.1, 1.3, 1.8, 2.5], ITEMS), 3)
    _write(tmp_path / "readings.csv", swings, limit)
    assert main(["instrument", "add", "I-1", "--division", "0.1um", "--kind", "electronic"]) == 0
    assert main(["instrument", "calibrate", "I-1", "--on", "2026-01-01", "--uncertainty", "0.1um"]) == 0
    assert main(["import", str(tmp_path / "readings.csv"), "--create"]) == 0
    capsys.readouterr()
    assert main(["assess", "--json"]) == 0
    groups = [answer["groups"][0] for answer in json.loads(capsys.readouterr().out)["answers"]]
    assert [group["item"] for group in groups] == [f"C-{i:03d}" for i in range(ITEMS)]
    assert {(group["clampings"], group["sittings"]) for group in groups} == {(6, 6)}
    bound = np.array([group["bound"]["value_um"] for group in groups])
    return point, limit, bound, [group["next_clampings"] for group in groups]


def test_bounds_cover_the_true_point_and_are_not_too_wide(
    answers: tuple[Floats, Floats, Floats, list[str]],
) -> None:
    point, _, bound, _ = answers
    assert np.mean(bound >= point) >= 0.90
    assert np.mean(bound / point) <= 2.1


def test_verdicts_are_seldom_wrong(answers: tuple[Floats, Floats, Floats, list[str]]) -> None:
    point, limit, _, told = answers
    verdict = np.array(told)
    assert np.mean(verdict[limit < point] == "holds") <= 0.05
    assert np.mean(verdict[limit >= point] == "does not hold") <= 0.04
    assert np.mean(verdict[limit >= 2.4 * point] == "holds") >= 0.5
    assert np.mean(verdict[limit < 0.55 * point] == "does not hold") >= 0.5


def test_looking_after_every_clamping_from_3_to_20_does_not_make_them_wrong() -> None:
    rng = np.random.default_rng(20260502)
    wrong_holds, wrong_not = [], []
    for _ in range(6):
        point, swings = _workshop(rng, 20)
        ever = np.zeros((2, ITEMS), dtype=bool)
        for n in range(3, 21):
            group = np.repeat(np.arange(ITEMS), n)
            sums = group_swings(
                swings[:, :n].ravel(), group, np.tile(np.arange(n), ITEMS), groups=ITEMS, resolution_um=0.1
            )
            bounds = bounds_next_clampings(sums)
            for i, limit in enumerate((point * 0.999, point)):
                told = verdicts(bounds.upper_verdict_um, bounds.lower_verdict_um, bounds.centre_um, limit, 0.05, False)
                ever[i] |= told == (Verdict.HOLDS if i == 0 else Verdict.DOES_NOT_HOLD)
        wrong_holds.append(ever[0].mean())
        wrong_not.append(ever[1].mean())
    assert np.mean(wrong_holds) <= 0.05
    assert np.mean(wrong_not) <= 0.05
