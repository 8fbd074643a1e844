"""The step that sizes show, held against a search through every step and stretch; prices as a shop writes them."""

import random
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qclog.questions.owned.prices import Total, parse_price, totals
from qclog.questions.owned.size_sets import SizeSet, size_set

MM = 10**9
INCH = 25_400_000_000
STEPS = (2 * MM, MM, MM // 2, MM // 10, INCH // 16, INCH // 32, INCH // 64)
HALVES = [k * MM // 2 for k in range(1, 35)]


def test_collets_from_half_a_millimetre_to_17_by_halves_are_34() -> None:
    found = size_set(HALVES)
    assert found == SizeSet(MM // 2, MM // 2, 17 * MM)
    assert len(found.sizes_pm) == 34


@pytest.mark.parametrize("seed", range(5))
def test_the_gaps_of_a_set_by_halves_are_those_that_were_taken_out(seed: int) -> None:
    taken = set(random.Random(seed).sample(HALVES[1:-1], 6))
    found = size_set(set(HALVES) - taken)
    assert found is not None
    assert set(found.sizes_pm) - (set(HALVES) - taken) == taken


@pytest.mark.parametrize("step", STEPS)
def test_each_step_is_found_in_a_whole_set_of_it(step: int) -> None:
    sizes = [step * k for k in range(30, 61)]
    assert size_set([*sizes, *sizes]) == SizeSet(step, sizes[0], sizes[-1])


def test_inch_sizes_written_to_three_places_are_their_fractions() -> None:
    found = size_set(round(round(k / 64, 3) * INCH) for k in range(8, 33))
    assert found == SizeSet(INCH // 64, INCH // 8, INCH // 2)
    assert found.place_of(round(0.266 * INCH)) == 17 * INCH // 64
    assert found.place_of(round(0.27 * INCH)) is None


def test_a_set_goes_to_its_ends_over_a_gap_beside_them() -> None:
    assert size_set(size for size in HALVES if size not in (HALVES[1], HALVES[-2])) == SizeSet(
        MM // 2, MM // 2, 17 * MM
    )


def test_odd_sizes_and_few_sizes_make_no_set() -> None:
    assert size_set([]) is None
    assert size_set([6 * MM, 7 * MM, 8 * MM, 9 * MM]) is None
    assert size_set(round(size * MM) for size in (4.12, 5.35, 6.4, 7.95, 8.55, 9.05, 11.65)) is None
    assert size_set(k * MM for k in (3, 8, 13, 17, 25)) is None


def test_a_few_halves_among_whole_millimetres_stay_beside_the_set() -> None:
    whole = [k * MM for k in range(1, 21)]
    assert size_set([*whole, *(k * MM + MM // 2 for k in range(1, 6))]) == SizeSet(MM, MM, 20 * MM)


def test_of_two_steps_with_as_many_exceptions_the_coarser_is_the_set() -> None:
    """Nine halves too many beside whole millimetres, or nine too few among the halves."""
    assert size_set(size for i, size in enumerate(HALVES) if i % 4) == SizeSet(MM, MM, 17 * MM)


def test_nearly_as_many_gaps_as_sizes_make_no_set() -> None:
    runs = [first + k for first in (1, 6, 11, 16, 21) for k in range(3)]
    assert size_set(k * MM // 10 for k in runs) is None
    assert size_set(k * MM // 10 for k in runs[:9]) == SizeSet(MM // 10, MM // 10, 13 * MM // 10)


def test_one_size_far_beyond_opens_no_gaps() -> None:
    found = size_set([*(k * MM for k in range(3, 14)), 30 * MM])
    assert found == SizeSet(MM, 3 * MM, 13 * MM)
    assert found.place_of(30 * MM) is None


def _score(sizes: set[int], step: int, first: int, last: int) -> tuple[int, int]:
    """How many more places of a stretch are filled than empty, and how many are filled."""
    filled = sum(size in sizes for size in range(first, last + 1, step))
    return 2 * filled - ((last - first) // step + 1), filled


@given(st.sets(st.integers(1, 30), min_size=1, max_size=20))
def test_no_other_stretch_leaves_fewer_exceptions(places: set[int]) -> None:
    """Brute force: of each step every first and last size."""
    sizes = {place * MM // 2 for place in places}
    found = size_set(sizes)
    told = 0 if found is None else _score(sizes, found.step_pm, found.first_pm, found.last_pm)[0]
    best = {}
    for step in STEPS:
        on_step = [size for size in sizes if size % step == 0]
        every = [_score(sizes, step, first, last) for first in on_step for last in on_step if first <= last]
        best[step] = [one for one in every if one[0] == max(every)[0]]
    assert found is None or told == best[found.step_pm][0][0]
    for stretches in best.values():
        if any(score > told for score, _ in stretches):
            assert any(filled < 5 or 2 * score < filled for score, filled in stretches)


@pytest.mark.parametrize(
    ("typed", "amount", "currency"),
    [
        ("18 EUR", "18", "EUR"),
        ("18,50 €", "18.50", "EUR"),
        ("€12.5", "12.5", "EUR"),
        ("CHF 30", "30", "CHF"),
        ("$20", "20", "$"),
        ("18", "18", ""),
    ],
)
def test_a_price_is_read_where_it_says_just_that(typed: str, amount: str, currency: str) -> None:
    assert parse_price(typed) == (Decimal(amount), currency)


@pytest.mark.parametrize("typed", ["", "ask", "1.200 EUR", "about 20 EUR", "20 each", "EUR 20 EUR", "20-25 EUR", "-3"])
def test_what_may_mean_something_else_is_not_added_up(typed: str) -> None:
    assert parse_price(typed) is None


def test_each_currency_is_added_up_for_itself_to_the_cent() -> None:
    found = totals(["0.10 EUR", "0,20 €", "5 CHF", "ask", ""])
    assert found == (Total(Decimal("5"), "CHF", 1), Total(Decimal("0.30"), "EUR", 2))
