"""What is said of a modification: how much it gained, how sure that is, and what it cannot know."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.dossier import Gained, dossiers
from reports.gained import told

Gain = Callable[..., Gained | None]


@pytest.fixture
def gained(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Gain:
    """What boring gained, from swings by day before and since."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    assert main(["setup", "add", "L2"]) == 0
    assert main(["item", "add", "C-1", "--kind", "collet", "--size", "7"]) == 0

    def log(swings: str, on: str, *more: str) -> None:
        command = ["log", "C-1", *swings.split(), "--setup", "L2", "--distance", "16", "--accept", "--on", on, *more]
        assert main(command) == 0

    def call(before: dict[str, str], since: dict[str, str], *, refit: str = "", recalled: bool = False) -> Any:
        for on, swings in before.items():
            log(swings, on, *(["--recalled"] if recalled else []))
        if refit:
            assert main(["refit", "L2", "--reason", "cleaned", "--on", refit]) == 0
        assert main(["modify", "C-1", "bored", "--size", "7.35", "--on", "2026-03-01"]) == 0
        for on, swings in since.items():
            log(swings, on)
        store = open_store(str(tmp_path / "book.sqlite"))
        try:
            (dossier,) = dossiers(store, ["C-1"])
            (place,) = dossier.places
            (group,) = place.groups
            return place.gained_of(group)
        finally:
            store.close()

    return call


BEFORE = {"2026-01-10": "12 13 14", "2026-01-12": "13 14 13"}
SINCE = {"2026-03-10": "4 5 4", "2026-03-12": "5 4 4", "2026-03-14": "4 4 5"}


def test_a_gain_is_told_with_its_interval_and_both_sides(gained: Gain) -> None:
    found = gained(BEFORE, SINCE)
    assert found is not None
    words = told(found, "bored")
    assert words.startswith(
        "Bored: it runs 8.8 µm less on the mean; 13.2 µm before (6 clampings in 2 sittings), 4.3 µm"
    )
    assert "With 95 % confidence it is" in words
    assert "single sitting" not in words
    assert "setup" not in words


def test_a_single_sitting_and_a_setup_changed_in_between_are_said(gained: Gain) -> None:
    found = gained({"2026-01-10": "12 13 14"}, SINCE, refit="2026-02-01")
    assert found is not None
    assert "One side rests on a single sitting: other days may differ by more" in told(found, "bored")
    assert "The setup was changed in between too" in told(found, "bored")


def test_it_is_said_where_both_sides_rest_on_a_single_sitting(gained: Gain) -> None:
    found = gained({"2026-01-10": "12 13 14"}, {"2026-03-10": "4 5 4"})
    assert found is not None
    assert "Both sides rest on a single sitting each: other days may differ by more" in told(found, "bored")


def test_a_loss_is_called_one_and_too_few_give_no_interval(gained: Gain) -> None:
    found = gained({"2026-01-10": "4 5"}, {"2026-03-10": "9 10 9"})
    assert found is not None
    words = told(found, "bored")
    assert "it runs 4.8 µm more on the mean" in words
    assert "Too few for an interval" in words


def test_a_difference_within_its_uncertainty_is_not_called_a_change(gained: Gain) -> None:
    found = gained({"2026-01-10": "4 5 6"}, {"2026-03-10": "4 6 5"})
    assert found is not None
    assert "no change is shown" in told(found, "bored")


def test_what_was_recalled_from_a_notebook_is_no_witness_of_a_gain(gained: Gain) -> None:
    assert gained(BEFORE, SINCE, recalled=True) is None
