"""A comparison is told answer first: which is better, whether that is only a matter of direction, what chance makes
of a list."""

import dataclasses

import pytest

from qclog.questions.codes import Caveat, Worth
from qclog.questions.compare import BETTER, NO_DIFFERENCE, UNDECIDED, Answer, Member
from qclog.questions.comparing.directions import METHOD, Shift, Vectors
from qclog.questions.comparing.one import Difference
from reports.comparison import comparison

VECTORS = Vectors(
    shift=Shift(8.5, 165.0, 1.2, 0.95),
    high_spots_deg=(120.0, 209.6),
    p_value=0.0001,
    differ_in_direction=True,
    scatter_ratio=0.9,
    p_scatter=0.8,
    repeats_better=None,
    p_better_next=0.55,
    p_better_low=0.3,
    p_better_high=0.8,
    method=METHOD,
)
ALIKE = Answer(
    by="position",
    item="C-735",
    setup="L2",
    position=None,
    distance_mm=25.0,
    diameter_mm=7.3,
    pins_mm=(7.348,),
    clocking="",
    characteristic="runout",
    groups=(Member("A", 6, 2, 6.0, 0.5, 7.9), Member("B", 6, 2, 6.2, 0.5, 8.1)),
    better=None,
    settled=True,
    outcome=NO_DIFFERENCE,
    matters_um=2.0,
    difference_um=Difference(0.2, -0.4, 0.8, 0.95),
    p_better_next=0.55,
    p_value=0.5,
    method="two groups of swings",
    more_clampings=0,
    vectors=VECTORS,
    p_permutation=0.6,
    pairs_better=0.55,
    mark=None,
    caveats=(),
)
OPEN = dataclasses.replace(ALIKE, outcome=UNDECIDED, settled=False, more_clampings=4, p_value=0.03)
SETTLED = dataclasses.replace(
    ALIKE, outcome=BETTER, better="A", difference_um=Difference(4.0, 3.0, 5.0, 0.95), p_value=0.0001, p_better_next=0.99
)


def told(*answers: Answer) -> str:
    return " ".join(comparison(answers).split())


def test_positions_that_differ_in_direction_alone_are_told_so_with_both_high_spots() -> None:
    text = told(ALIKE)
    assert text.startswith(
        "C-735, L2, 25 mm out, pin 7.348 mm: no difference that matters: A and B differ by less than"
    )
    assert (
        "They differ in direction, not in size: A's high spot stands at 120°, B's at 210°; neither is better." in text
    )


def test_where_it_is_not_settled_which_is_better_their_sizes_are_not_said_to_be_alike() -> None:
    text = told(OPEN)
    assert "They differ in direction: A's high spot stands at 120°, B's at 210°." in text
    assert "not in size" not in text
    assert "neither is better" not in text


@pytest.mark.parametrize("vectors", [None, dataclasses.replace(VECTORS, differ_in_direction=False)])
def test_without_a_difference_of_direction_none_is_told(vectors: Vectors | None) -> None:
    assert "direction" not in told(dataclasses.replace(ALIKE, vectors=vectors))


def test_a_better_one_is_not_talked_away_by_its_direction() -> None:
    text = told(SETTLED)
    assert "position A is BETTER than B, by 3.0 µm to 5.0 µm on the mean." in text
    assert "direction" not in text


def test_the_one_that_repeats_better_is_a_hint() -> None:
    vectors = dataclasses.replace(VECTORS, repeats_better="B")
    assert "B seems to repeat better (a hint" in told(dataclasses.replace(SETTLED, vectors=vectors))


def test_one_comparison_stands_alone_and_a_list_under_one_line_that_says_what_chance_would_show() -> None:
    assert "By chance" not in told(SETTLED)
    text = comparison([SETTLED, OPEN, ALIKE])
    assert text.splitlines()[0] == (
        "3 comparisons, the surest first. By chance alone fewer than one would show a difference; 2 do."
    )
    assert text.count("Figures in µm TIR") == 1


@pytest.mark.parametrize(
    ("p_values", "says"),
    [
        ((0.5, 0.6), "fewer than one would show a difference; none does."),
        ((0.0001, 0.6), "fewer than one would show a difference; 1 does."),
        ((0.04,) * 2 + (0.5,) * 38, "about 2 would show a difference; 2 do, no more than chance."),
        ((0.0001,) * 9 + (0.5,) * 31, "about 2 would show a difference; 9 do."),
    ],
)
def test_what_chance_would_show_stands_beside_what_was_found(p_values: tuple[float, ...], says: str) -> None:
    answers = [dataclasses.replace(ALIKE, p_value=p) for p in p_values]
    assert says in told(*answers)


def test_nothing_is_said_of_chance_where_nothing_could_be_tested() -> None:
    few = dataclasses.replace(OPEN, p_value=None, difference_um=None, vectors=None)
    assert "By chance" not in told(few, few)
    assert "too few to compare; log 4 more clampings of each." in told(few, few)


def test_what_a_difference_is_worth_among_many_stands_in_its_sentence() -> None:
    assert "99 in 100. That they differ is likely real." in told(dataclasses.replace(SETTLED, mark=Worth.LIKELY_REAL))
    hint = told(dataclasses.replace(OPEN, mark=Worth.SINGLE_HINT))
    assert "That they differ is a single hint among so many: repeat it." in hint
    assert "likely real" not in told(dataclasses.replace(ALIKE, mark=Worth.LIKELY_REAL))


def test_a_winner_that_may_change_with_the_diameter_is_told_so() -> None:
    text = told(dataclasses.replace(SETTLED, caveats=(Caveat.DIAMETER_MATTERS,)))
    assert "The winner may change with the diameter" in text


def test_what_the_toolmaker_does_not_need_is_kept_out_of_the_text() -> None:
    text = told(SETTLED).casefold()
    for word in ("p =", "p value", "permutation", "welch", "confidence"):
        assert word not in text
