"""An assessment on a terminal: its table fits, and what it leaves out is the least that matters."""

from typing import Any

import pytest

from reports import assessment

QUARTERS = [4 + 2j, 4.5 + 1.5j, 3.8 + 2.2j]


@pytest.mark.parametrize("columns", [64, 72, 80, 100, 120])
def test_a_table_fits_the_terminal_and_keeps_place_bound_limit_and_verdict(
    shop: Any, monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    shop.log_vectors(QUARTERS)
    monkeypatch.setattr(assessment, "TERMINAL", columns)
    head, row, *told = assessment.table(shop.answer().groups)
    assert max(len(line) for line in (head, row, *told)) + 2 <= columns
    assert all(title in head for title in ("where", " n ", "mean", "19 in 20 under", "limit", "verdict"))
    assert ("last" in head) is (columns == 120)
    assert ("(Left out: " in " ".join(told)) is (columns < 120)


def test_at_fifty_columns_the_place_and_the_verdict_stay_and_what_went_is_named(
    shop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.log_vectors(QUARTERS)
    monkeypatch.setattr(assessment, "TERMINAL", 50)
    lines = assessment.table(shop.answer().groups)
    assert max(map(len, lines)) + 2 <= 50
    assert all(title in lines[0] for title in ("where", "verdict"))
    assert "mean" in " ".join(lines[2:])
