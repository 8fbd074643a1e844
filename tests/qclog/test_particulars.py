"""The names something is noted under: what may stand behind them."""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qclog.errors import QclogError, RefusedError, UsageError
from qclog.particulars import PARTICULARS, Of, is_bond, months_later, names_of, parse


def test_every_name_is_there_once() -> None:
    names = [one.name for one in PARTICULARS]
    assert len(set(names) - {"torque", "picture"}) == len([name for name in names if name not in ("torque", "picture")])
    assert all(name == name.casefold().strip() for name in names)


@pytest.mark.parametrize(
    ("typed", "of", "name", "kept"),
    [
        ("compound=R-60, thick", "work", "compound", "R-60, thick"),
        ("Push-Out = held 1.5 kN ", "work", "push-out", "held 1.5 kN"),
        ("wall_before=1.4", "work", "wall before", "1.4"),
        ("expires=2027-03-31T10:00", "work", "expires", "2027-03-31"),
        ("best clocking=C-046=120 P-3=90.50", "setup", "best clocking", "C-046=120 P-3=90.5"),
        ("every=012", "gauge", "every", "12"),
        ("cure=", "work", "cure", ""),
    ],
)
def test_a_name_and_a_text_are_taken_as_they_are_kept(typed: str, of: Of, name: str, kept: str) -> None:
    found, text = parse(typed, [of])
    assert (found.name, text) == (name, kept)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("compound", "does not say what is noted"),
        ("glue=R-60", "Nothing is noted under 'glue' here"),
        ("machine=lathe", "Nothing is noted under 'machine' here"),
        ("expires=03/31/2027", "can be read in more than one way"),
        ("expires=2027", "has no day"),
        ("depth=deep", "depth"),
        ("compound=" + "x" * 501, "too long"),
        ("compound=a\nb", "line break"),
        ("bonded=perhaps", "neither yes nor no"),
    ],
)
def test_what_cannot_be_noted_is_refused_in_one_line(typed: str, says: str) -> None:
    with pytest.raises(QclogError, match=says) as refused:
        parse(typed, ["work"])
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("what", "noted", "so"),
    [
        ("bonded", {}, True),
        ("Bonded with R-60", {}, True),
        ("set in", {}, False),
        ("set in", {"compound": "R-60"}, True),
        ("set in", {"bonded": "yes"}, True),
        ("trued with a bonded wheel", {"bonded": "no"}, False),
        ("dry fitted", {"compound": "R-60", "bonded": "no"}, False),
    ],
)
def test_work_is_a_bond_as_noted_else_by_its_compound_else_by_its_words(
    what: str, noted: dict[str, str], so: bool
) -> None:
    assert is_bond(what, noted) is so


@pytest.mark.parametrize("typed", ["every=0", "every=-3", "every=1.5", "every=x", "every=\u0661\u0662", "every=99999"])
def test_months_are_a_whole_number_above_zero(typed: str) -> None:
    with pytest.raises(RefusedError, match="whole number"):
        parse(typed, ["gauge"])


@given(st.text(max_size=60))
def test_anything_typed_is_noted_or_refused(typed: str) -> None:
    try:
        found, text = parse(typed, ["item", "work", "setup", "gauge"])
    except (QclogError, UsageError):
        return
    assert found in names_of(["item", "work", "setup", "gauge"])
    assert parse(f"{found.name}={text}", [found.of])[1] == text


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        ("2026-01-12", 12, "2027-01-12"),
        ("2026-01-31", 1, "2026-02-28"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2024-02-29", 48, "2028-02-29"),
        ("2026-12-15T08:00", 1, "2027-01-15"),
        ("2026-08-31", 6, "2027-02-28"),
    ],
)
def test_a_calibration_is_due_on_the_same_day_of_a_later_month(day: str, months: int, later: str) -> None:
    """By the calendar; where the month is too short, on its last day (common practice)."""
    assert months_later(day, months) == later


@given(st.dates(datetime.date(2000, 1, 1), datetime.date(2100, 1, 1)), st.integers(1, 1200))
def test_so_many_months_later_is_that_month(day: datetime.date, months: int) -> None:
    later = datetime.date.fromisoformat(months_later(day.isoformat(), months))
    assert (later.year * 12 + later.month) - (day.year * 12 + day.month) == months
    assert later.day <= day.day
