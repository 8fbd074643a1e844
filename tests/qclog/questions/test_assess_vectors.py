"""With the high spot of every clamping, an item is judged from vectors, which need far fewer clampings."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import rice

from qclog.cli.main import main
from qclog.logbook import items
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.questions.codes import Caveat
from qclog.records import Card, Limit

Ask = Callable[[], dict[str, Any]]


@pytest.fixture
def ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Ask:
    """Asks for the one group of C-735; the item, a setup and a fine indicator are registered first."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in (
        ["setup", "add", "L2"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "8", "--made-to", "12um@25mm"],
        ["instrument", "add", "I-1", "--division", "0.1um", "--kind", "electronic"],
        ["instrument", "calibrate", "I-1", "--on", "2026-01-01", "--uncertainty", "0.1um"],
    ):
        assert main(command) == 0

    def call() -> dict[str, Any]:
        capsys.readouterr()
        assert main(["assess", "C-735", "--json"]) == 0
        (group,) = json.loads(capsys.readouterr().out)["answers"][0]["groups"]
        assert isinstance(group, dict)
        return group

    return call


def _log(day: int, *readings: str, quarters: tuple[str, ...] = ()) -> None:
    turns = [part for text in quarters for part in ("--quarters", text)]
    place = ["--setup", "L2", "--instrument", "I-1", "--distance", "25", "--on", f"2026-03-{day:02d}T10:00"]
    assert main(["log", "C-735", *readings, *turns, *place, "--accept"]) == 0


def _quarters(vector: complex) -> str:
    """Readings at quarter turns of a pin whose axis lies at ``vector``, µm, on 0.1 µm."""
    at = np.exp(-0.5j * np.pi * np.arange(4))
    return " ".join(f"{value:.1f}" for value in np.real(vector * at))


def test_three_days_of_quarter_turns_are_enough_where_swings_need_more(ask: Ask) -> None:
    for day, vector in enumerate((2.1 + 0.9j, 2.6 + 0.4j, 2.4 + 1.3j), start=2):
        _log(day, quarters=(_quarters(vector),))
    group = ask()
    assert group["bound"]["method"] == "one clamping a sitting, from vectors"
    assert group["next_clampings"] == "holds"
    assert group["eccentricity"]["tir_um"] == pytest.approx(2 * abs(2.3667 + 0.8667j), abs=0.05)
    assert group["eccentricity"]["high_spot_deg"] == pytest.approx(20.1, abs=1.0)
    assert group["repeat_um"] > 0


def test_the_same_swings_without_high_spots_cannot_tell_yet(ask: Ask) -> None:
    for day, vector in enumerate((2.1 + 0.9j, 2.6 + 0.4j, 2.4 + 1.3j), start=2):
        _log(day, f"{2 * abs(vector):.1f}")
    group = ask()
    assert group["bound"]["method"] == "one clamping a sitting"
    assert group["eccentricity"] is None
    assert group["repeat_um"] is None
    assert group["bound"]["value_um"] > 8


def test_one_clamping_without_its_high_spot_puts_all_on_their_swings_and_says_so(ask: Ask) -> None:
    for day, vector in enumerate((2.1 + 0.9j, 2.6 + 0.4j, 2.4 + 1.3j), start=2):
        _log(day, quarters=(_quarters(vector),))
    _log(6, "5.0")
    group = ask()
    assert Caveat.ANGLES_MISSING in group["caveats"]
    assert "vectors" not in group["bound"]["method"]
    assert group["eccentricity"] is None


def test_high_spots_by_the_clock_serve_only_where_they_help(ask: Ask) -> None:
    for day in range(2, 8):
        _log(day, f"{9.0 + 0.1 * (day % 3)}um @ 1 o'clock")
    assert "vectors" not in ask()["bound"]["method"]


def test_bounds_from_three_clampings_cover_and_are_narrow(shop: Any) -> None:
    """60 items of known truth at a signal-to-repeat ratio of 3, three clampings on three days; own simulation."""
    rng = np.random.default_rng(20260603)
    scatter, offset = 1.0, 3.0
    point = 2 * scatter * rice.ppf(0.95, offset / scatter)
    codes = [f"S-{i:02d}" for i in range(60)]

    def enter(entry: Entry, register: Register) -> None:
        for code in codes:
            items.add_item(entry, register, code, Card(kind="collet"), [Limit(20_000_000, text="20um")])

    shop.do(enter)
    for code in codes:
        vectors = [offset + complex(*rng.normal(size=2)) * scatter for _ in range(3)]
        shop.log_vectors(vectors, item=code, days=("2026-03-02", "2026-03-03", "2026-03-04"))
    bounds = []
    for answer in assess(shop.store):
        if answer.item in codes:
            (group,) = answer.groups
            assert group.bound is not None
            bounds.append(group.bound.value_um)
    assert len(bounds) == 60
    assert np.mean(np.array(bounds) >= point) >= 0.85
    assert np.median(bounds) <= 1.8 * point
