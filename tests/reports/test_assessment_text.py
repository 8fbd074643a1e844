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


@pytest.mark.parametrize("columns", [40, 50])
def test_on_a_narrow_terminal_the_figures_of_a_place_stand_under_each_other(
    shop: Any, monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    shop.log_vectors(QUARTERS)
    monkeypatch.setattr(assessment, "TERMINAL", columns)
    group = shop.group()
    place, *figures = assessment.table([group])
    assert max(map(len, (place, *figures))) + 2 <= columns
    assert place.startswith("LATHE")
    told = {line[2:18].strip(): line[18:].strip() for line in figures}
    assert {"n", "mean", "sd", "least", "most", "last", "19 in 20 under", "verdict"} <= set(told)
    assert (told["n"], told["verdict"]) == (str(group.clampings), group.next_clampings)
