"""Key positions over many items are told answer first, in words that fit what is held, with the push of the key."""

import dataclasses

import pytest

from qclog.questions.codes import Caveat, KeyStatement
from qclog.questions.comparing.directions import Shift
from qclog.questions.comparing.key_positions import SWINGS, VECTORS, Answer, Chance, Diameters, ItemAtBoth, Size
from reports.key_positions import key_positions, sentence
from reports.tables import WIDTH

BY_VECTORS = Answer(
    setup="L2",
    setup_revision=1,
    positions=("A", "B"),
    distance_mm=25.0,
    diameter_mm=Diameters(6.5, 9.4),
    clocking="",
    characteristic="runout",
    kind="collet",
    items=(
        ItemAtBoth("C-735", 7.3, (3, 3), (8.54, 3.05), "B"),
        ItemAtBoth("C-920", 9.2, (3, 3), (4.5, 5.8), "A"),
        ItemAtBoth("C-940", 9.4, (3, 3), (5.0, 5.0), None),
    ),
    statement=KeyStatement.NO_WINNER,
    better=None,
    wins=1,
    chance=Chance(0.296, 0.049, 0.666, 0.95),
    shift=Shift(3.0, 10.1, 0.37, 0.95),
    size_um=None,
    p_value=1e-6,
    p_depends=0.6,
    depends=False,
    method=VECTORS,
    caveats=(),
)
BY_SWINGS = dataclasses.replace(
    BY_VECTORS,
    statement=KeyStatement.COUNTED,
    chance=Chance(0.3, 0.006, 0.806, 0.95),
    shift=None,
    size_um=Size(2.766, 5.154, 2.37, 5.62, 0.95),
    p_value=None,
    method=SWINGS,
)


def told(answer: Answer) -> str:
    return " ".join(key_positions([answer]).split())


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        (KeyStatement.NO_EFFECT, "no effect of the key position is shown"),
        (KeyStatement.PER_ITEM, "no chuck-wide winner: choose per collet (A is right for about 3 in 10)"),
        (
            KeyStatement.NO_WINNER,
            "no chuck-wide winner shown; A is expected to be right for about 3 in 10 collets (5 % to 67 %)",
        ),
        (
            KeyStatement.COUNTED,
            "swings alone name no winner for the chuck; A may be right for about 3 in 10 collets (5 % to 67 %)",
        ),
    ],
)
def test_each_statement_is_a_sentence_in_shop_words(statement: KeyStatement, says: str) -> None:
    assert sentence(dataclasses.replace(BY_VECTORS, statement=statement)) == says


@pytest.mark.parametrize(
    ("better", "chance"), [("A", Chance(0.99, 0.92, 0.9995, 0.95)), ("B", Chance(0.01, 0.0005, 0.08, 0.95))]
)
def test_the_share_told_of_a_winner_is_that_of_the_winner(better: str, chance: Chance) -> None:
    answer = dataclasses.replace(BY_VECTORS, statement=KeyStatement.ONE_POSITION, better=better, chance=chance)
    assert sentence(answer) == (
        f"use position {better} for this chuck, it is right for about 99 in 100 collets (92 % to > 99 %)"
    )


@pytest.mark.parametrize("statement", list(KeyStatement))
@pytest.mark.parametrize("chance", [None, Chance(0.25, 0.0, 1.0, 0.95)])
def test_every_statement_can_be_told_whatever_the_chance(statement: KeyStatement, chance: Chance | None) -> None:
    said = sentence(dataclasses.replace(BY_VECTORS, statement=statement, chance=chance, better="B"))
    assert "{" not in said
    assert "None" not in said


@pytest.mark.parametrize(("kind", "word"), [("collet", "collets"), ("jaws", "jaws"), ("item", "items")])
def test_what_is_held_is_called_by_its_name(kind: str, word: str) -> None:
    assert f"3 in 10 {word} (" in sentence(dataclasses.replace(BY_VECTORS, kind=kind))


def test_the_place_the_items_and_the_push_follow_the_sentence() -> None:
    text = key_positions([BY_VECTORS])
    assert text.startswith("L2, A or B, 25 mm out, sizes 6.5 to 9.4 mm, over 3 collets: no chuck-wide winner shown;")
    rows = [line.split() for line in text.splitlines()]
    assert ["C-735", "8.5", "3.1", "B"] in rows
    assert ["C-940", "5.0", "5.0", "-"] in rows
    assert "A was better for 1 of 3." in text
    assert "At A the key pushes the axis by 3.0 µm ± 0.37 µm towards 10°, at B the other way." in told(BY_VECTORS)


def test_one_size_and_what_was_clocked_are_named() -> None:
    one = dataclasses.replace(BY_VECTORS, diameter_mm=Diameters(6.5, 6.5), clocking="K-1=60")
    assert key_positions([one]).startswith("L2, A or B, clocked K-1=60, 25 mm out, size 6.5 mm, over 3 collets:")
    assert "size" not in told(dataclasses.replace(BY_VECTORS, diameter_mm=None))


def test_swings_alone_tell_the_size_of_the_push_rounded_outward_and_neither_its_direction_nor_a_winner() -> None:
    text = told(BY_SWINGS)
    assert "The key pushes the axis by 2.3 µm to 5.7 µm one way or the other" in text
    assert "towards" not in text
    assert "use position" not in text
    assert "--quarters" in text


def test_a_push_that_may_be_none_is_told_by_its_upper_end_alone() -> None:
    none = dataclasses.replace(BY_SWINGS, size_um=Size(0.4, 5.2, 0.0, 5.6, 0.95))
    assert "by at most 5.6 µm" in told(none)
    assert "pushes" not in told(dataclasses.replace(BY_SWINGS, size_um=None))
    unproven = dataclasses.replace(BY_VECTORS, statement=KeyStatement.NO_EFFECT, chance=None)
    assert "comes out at 3.0 µm ± 0.37 µm: it may be none." in told(unproven)


def test_a_push_that_differs_from_item_to_item_is_told_so() -> None:
    assert "How far it pushes is not the same for every collet." in told(dataclasses.replace(BY_VECTORS, depends=True))
    assert "What the position changes is not the same" in told(dataclasses.replace(BY_SWINGS, depends=True))


def test_lines_fit_a_terminal_and_every_caveat_is_told() -> None:
    text = key_positions([dataclasses.replace(BY_SWINGS, caveats=tuple(Caveat))])
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert text.count("  - ") == 2 + len(Caveat)
