"""Two key positions over many items: what may be said of the chuck, and what swings alone must not say.

Figures are those of a constructed case; shares are own simulation with fixed seeds.
"""

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from qclog.cli.main import main
from qclog.errors import NotFoundError
from qclog.logbook import items, setups
from qclog.questions.codes import Caveat, KeyStatement
from qclog.questions.comparing.key_positions import SWINGS, VECTORS, Answer, key_positions
from qclog.records import Card, Clamping, Work

IN_A = (4.1 + 1.2j, 0.9 + 3.8j, 5.6 - 1.1j, 1.2 - 1.9j)
IN_B = (1.3 + 0.8j, -1.8 + 3.0j, 2.4 - 1.7j, -1.9 - 2.2j)
THREE = np.sqrt(1.0 / 3.0) * np.exp(2j * np.pi * np.arange(3) / 3)
"""Three clampings about their mean, with a variance of 0.25 per axis over all eight cells."""
CODES = ("C-046", "C-047", "C-048", "C-049")
ONE_DAY = ("2026-03-01",)
CRACK = {"finding": "crack", "seen_on": "2026-03-09", "note": ""}


def register_more(shop: Any) -> None:
    shop.do(lambda e, r: items.add_item(e, r, "C-049", Card(kind="collet", bore_pm=6_500_000_000)))


def known_case(shop: Any, codes: Sequence[str] = CODES, **changes: Any) -> None:
    register_more(shop)
    for code, a, b in zip(codes, IN_A, IN_B, strict=False):
        shop.log_vectors(a + THREE, code, **changes)
        shop.log_vectors(b + THREE, code, position="B", **changes)


def only(shop: Any) -> Answer:
    (answer,) = key_positions(shop.store)
    return answer


def test_the_known_case_by_vectors_reaches_the_answer_with_its_figures(shop: Any) -> None:
    known_case(shop)
    answer = only(shop)
    assert (answer.setup, answer.positions, answer.kind, answer.method) == ("LATHE", ("A", "B"), "collet", VECTORS)
    assert answer.shift is not None
    assert answer.shift.tir_um == pytest.approx(2 * 1.498176, abs=2e-6)
    assert answer.shift.direction_deg == pytest.approx(10.091057, abs=1e-4)
    assert answer.shift.radius_um == pytest.approx(2 * 0.184446, abs=2e-6)
    assert answer.chance is not None
    found = (answer.chance.value, answer.chance.low, answer.chance.high)
    assert found == pytest.approx((0.295891, 0.049368, 0.666498), abs=2e-6)
    assert (answer.statement, answer.better, answer.wins) == (KeyStatement.NO_WINNER, None, 1)
    assert answer.items[3].tir_um == pytest.approx((4.494441, 5.813777), abs=2e-6)
    assert [item.better for item in answer.items] == ["B", "B", "B", "A"]
    assert {item.clampings for item in answer.items} == {(3, 3)}
    assert (answer.size_um, answer.caveats) == (None, ())


def test_the_known_case_by_swings_reaches_the_answer_with_its_figures_and_no_winner(shop: Any) -> None:
    register_more(shop)
    for code, a, b in zip(CODES, IN_A, IN_B, strict=True):
        for position, vector in (("A", a), ("B", b)):
            shop.log((2 * abs(vector),) * 2, code, days=ONE_DAY, position=position)
    answer = only(shop)
    assert (answer.statement, answer.better, answer.method) == (KeyStatement.COUNTED, None, SWINGS)
    size = answer.size_um
    assert size is not None
    assert (size.mean_low, size.mean_high) == pytest.approx((2 * 1.382962, 2 * 2.577054), abs=2e-6)
    assert size.low < size.mean_low < size.mean_high < size.high
    assert size.mean_low - size.low == pytest.approx(size.high - size.mean_high)
    assert answer.chance is not None
    found = (answer.chance.value, answer.chance.low, answer.chance.high)
    assert found == pytest.approx((0.3, 0.006309, 0.805880), abs=1e-6)
    assert (answer.wins, answer.shift, answer.p_value) == (1, None, None)


def test_one_item_at_both_positions_or_one_clamping_is_too_few(shop: Any) -> None:
    known_case(shop, ("C-046",))
    assert key_positions(shop.store) == []
    shop.log_vectors(IN_A[1] + THREE[:2], "C-047")
    shop.log_vectors(IN_B[1] + THREE[:1], "C-047", position="B")
    assert key_positions(shop.store) == []
    shop.log_vectors(IN_B[1] + THREE[1:2], "C-047", position="B")
    assert len(only(shop).items) == 2


def test_what_is_out_of_service_or_was_measured_before_a_change_does_not_count(shop: Any) -> None:
    known_case(shop)
    shop.do(lambda e, r: items.inspect_item(e, r, r.need("C-046", "item"), **CRACK))
    shop.do(lambda e, r: items.modify(e, r, r.need("C-047", "item"), Work("ground", "2026-03-20")))
    assert [item.item for item in only(shop).items] == ["C-048", "C-049"]
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="crash", since="2026-03-20"))
    assert key_positions(shop.store) == []


def test_three_positions_are_taken_two_by_two(shop: Any) -> None:
    known_case(shop)
    shop.do(lambda e, r: setups.add_positions(e, r, r.need("LATHE", "setup"), ["C"]))
    for code, b in zip(CODES, IN_B, strict=True):
        shop.log_vectors(b + 1.0j + THREE, code, position="C")
    assert [answer.positions for answer in key_positions(shop.store)] == [("A", "B"), ("A", "C"), ("B", "C")]


def test_sizes_are_answered_by_class_and_may_have_different_winners(shop: Any) -> None:
    known_case(shop, pin="P-65")
    for code, a, b in zip(CODES, IN_A, IN_B, strict=True):
        shop.log_vectors(a + 20.0 + THREE, code, pin="P-3")
        shop.log_vectors(b + 20.0 + THREE, code, position="B", pin="P-3")
    small, large = key_positions(shop.store)
    assert small.diameter_mm is not None
    assert large.diameter_mm is not None
    assert (small.diameter_mm.largest, large.diameter_mm.smallest) == (3.0, 6.5)
    assert (small.statement, small.better) == (KeyStatement.ONE_POSITION, "B")
    assert large.statement is KeyStatement.NO_WINNER
    assert Caveat.DIAMETER_MATTERS in small.caveats
    assert Caveat.DIAMETER_MATTERS in large.caveats


def test_sizes_of_one_class_are_answered_together_and_without_a_pin_the_item_tells_its_size(shop: Any) -> None:
    known_case(shop, CODES[:2], pin="P-65")
    for code, a, b in zip(CODES[2:], IN_A, IN_B, strict=False):
        shop.log_vectors(a + THREE, code)
        shop.log_vectors(b + THREE, code, position="B")
    assert [item.diameter_mm for item in only(shop).items] == [6.5] * 4


def test_an_item_measured_with_two_pins_of_a_class_counts_once_with_the_one_measured_most(shop: Any) -> None:
    known_case(shop, pin="P-65")
    shop.log_vectors(2 * THREE[:2], diameter_pm=7_000_000_000)
    shop.log_vectors(9 + THREE[:2], position="B", diameter_pm=7_000_000_000)
    answer = only(shop)
    assert [item.item for item in answer.items] == list(CODES)
    assert {item.diameter_mm for item in answer.items} == {6.5}


def test_how_items_were_clocked_does_not_part_them_but_how_the_chuck_was_does(shop: Any) -> None:
    register_more(shop)
    for i, (code, a, b) in enumerate(zip(CODES, IN_A, IN_B, strict=True)):
        clocking = ((code, 120_000), ("P-65", 90_000), ("K-1", 60_000 * (i // 2)))
        shop.log_vectors(a + THREE, code, clocking=clocking)
        shop.log_vectors(b + THREE, code, position="B", clocking=clocking)
    answers = key_positions(shop.store)
    assert {a.clocking: [item.item for item in a.items] for a in answers} == {
        "K-1=0": ["C-046", "C-047"],
        "K-1=60": ["C-048", "C-049"],
    }


def test_vectors_serve_where_half_of_the_items_have_them_and_the_others_are_left_out(shop: Any) -> None:
    known_case(shop, CODES[:3])
    shop.log((6.0, 6.2), "C-049", days=ONE_DAY)
    shop.log((7.0, 7.2), "C-049", days=ONE_DAY, position="B")
    answer = only(shop)
    assert (answer.method, [item.item for item in answer.items]) == (VECTORS, list(CODES[:3]))
    assert Caveat.HIGH_SPOTS_MISSING in answer.caveats


def test_swings_of_all_serve_where_most_items_have_no_high_spots(shop: Any) -> None:
    known_case(shop, CODES[:2])
    shop.do(lambda e, r: items.add_item(e, r, "C-050", Card(kind="collet", bore_pm=6_500_000_000)))
    for code in (*CODES[2:], "C-050"):
        shop.log((6.0, 6.2), code, days=ONE_DAY)
        shop.log((7.0, 7.2), code, days=ONE_DAY, position="B")
    answer = only(shop)
    assert (answer.method, len(answer.items)) == (SWINGS, 5)
    assert Caveat.HIGH_SPOTS_MISSING in answer.caveats


def test_items_bored_at_one_of_the_positions_are_said_to_favour_it(shop: Any) -> None:
    register_more(shop)
    bored = Work("bored", "2026-02-20", holder="LATHE", position="A")
    shop.do(lambda e, r: items.modify(e, r, r.need("C-046", "item"), bored))
    assert Caveat.BORED_IN_PLACE not in _logged(shop, "C-047", "C-048").caveats
    assert Caveat.BORED_IN_PLACE in _logged(shop, "C-046").caveats


def _logged(shop: Any, *codes: str) -> Answer:
    for code in codes:
        shop.log_vectors(3.0 + THREE, code)
        shop.log_vectors(2.0 + THREE, code, position="B")
    return only(shop)


def test_positions_read_on_different_days_carry_a_caveat(shop: Any) -> None:
    for code in CODES[:2]:
        shop.log_vectors(3.0 + THREE, code)
        shop.log_vectors(2.0 + THREE, code, position="B", days=("2026-03-02",))
    assert only(shop).caveats == (Caveat.DIFFERENT_DAYS,)


def test_no_push_of_the_key_is_shown_where_there_is_none(shop: Any) -> None:
    for i, code in enumerate(CODES[:3]):
        shop.log_vectors(3.0 * i + THREE, code)
        shop.log_vectors(3.0 * i + 0.1j**i + THREE, code, position="B")
    answer = only(shop)
    assert (answer.statement, answer.better, answer.chance) == (KeyStatement.NO_EFFECT, None, None)


def test_swings_that_prove_a_crossing_say_to_choose_item_by_item(shop: Any) -> None:
    for code, better, worse in (("C-046", "A", "B"), ("C-047", "B", "A")):
        shop.log((4.0, 4.2, 4.4, 4.1), code, days=ONE_DAY, position=better)
        shop.log((9.0, 9.2, 9.4, 9.1), code, days=ONE_DAY, position=worse)
    answer = only(shop)
    assert (answer.statement, answer.better, answer.method) == (KeyStatement.PER_ITEM, None, SWINGS)
    assert answer.depends


def test_no_size_of_the_push_is_told_where_none_fits_all_items(shop: Any) -> None:
    for code, low, high in (("C-046", 1.0, 1.2), ("C-047", 3.0, 19.0)):
        shop.log((low, low + 0.1, low + 0.2), code, days=ONE_DAY)
        shop.log((high, high + 0.1, high + 0.2), code, days=ONE_DAY, position="B")
    assert only(shop).size_um is None


def test_an_unknown_setup_is_named_with_the_nearest(shop: Any) -> None:
    with pytest.raises(NotFoundError, match="LATHF"):
        key_positions(shop.store, setup="LATHF")


def test_the_command_tells_key_positions_where_no_item_or_a_setup_is_named(
    shop: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    known_case(shop)
    monkeypatch.setenv("QCLOG_LOGBOOK", shop.store.target)

    def told(*words: str) -> int:
        capsys.readouterr()
        assert main(["compare", *words, "--json"]) == 0
        return len(json.loads(capsys.readouterr().out)["key_positions"])

    assert [told(), told("--setup", "LATHE"), told("C-046", "--setup", "LATHE")] == [1, 1, 1]
    assert [told("C-046"), told("--by", "item")] == [0, 0]
    assert main(["compare"]) == 0
    text = capsys.readouterr().out
    assert text.index("4 comparisons, the surest first.") < text.index("LATHE, A or B, 16 mm out")
    assert "no chuck-wide winner shown; A is expected to be right for about 3 in 10 collets" in " ".join(text.split())


def chucks(shop: Any, log: Any, count: int, e: complex, seed: int, *, vectors: bool = True) -> list[Answer]:
    """Answers about so many chucks, eight collets in each: p 1.5, collets 3 µm out at random, a repeat of 0.5 µm."""
    rng = np.random.default_rng(seed)
    codes = [f"X-{i}" for i in range(8)]
    names = [f"CHUCK-{i:02d}" for i in range(count)]

    def register(entry: Any, register: Any) -> None:
        for code in codes:
            items.add_item(entry, register, code, Card(kind="collet"))
        for name in names:
            setups.add_setup(entry, register, name, positions=["A", "B"])

    shop.do(register)
    clampings = []
    for name in names:
        for code in codes:
            out = 3.0 * np.exp(2j * np.pi * rng.random())
            for position, p in (("A", 1.5), ("B", -1.5)):
                for away in 0.5 * (rng.standard_normal(3) + 1j * rng.standard_normal(3)):
                    vector = e + p + out + away
                    turn = shop.quarters(vector) if vectors else shop.swing(round(2 * abs(vector), 1))
                    clampings.append(Clamping(code, name, ONE_DAY[0], (turn,), position=position))
    log(shop.store, *clampings)
    answers = key_positions(shop.store)
    assert len(answers) == count
    return answers


@pytest.mark.parametrize(("e", "right"), [(2.0, np.arccos(2 / 3) / np.pi), (-2.0, 1.0 - np.arccos(2 / 3) / np.pi)])
def test_a_chuck_whose_items_disagree_is_never_given_a_winner(shop: Any, log: Any, e: float, right: float) -> None:
    answers = chucks(shop, log, 50, e, 20260721)
    told = [answer.statement for answer in answers]
    assert set(told) == {KeyStatement.PER_ITEM, KeyStatement.NO_WINNER}
    assert told.count(KeyStatement.PER_ITEM) >= 5
    assert [answer.better for answer in answers] == [None] * 50
    held = [a.shift is not None and abs(_vector(a) - 3.0) <= a.shift.radius_um for a in answers]
    assert np.mean(held) >= 0.86
    assert np.mean([a.chance is not None and a.chance.low <= right <= a.chance.high for a in answers]) >= 0.86
    assert np.mean([answer.wins / 8 for answer in answers]) == pytest.approx(right, abs=0.07)


@pytest.mark.parametrize(("e", "right"), [(8.0, "B"), (-8.0, "A")])
def test_a_chuck_far_off_along_the_push_is_given_the_right_position(
    shop: Any, log: Any, e: complex, right: str
) -> None:
    answers = chucks(shop, log, 20, e, 20260722)
    assert [answer.better for answer in answers].count(right) >= 18
    assert {answer.better for answer in answers} <= {right, None}


@pytest.mark.parametrize("e", [2.0, 8.0])
def test_swings_alone_never_give_a_winner(shop: Any, log: Any, e: complex) -> None:
    answers = chucks(shop, log, 20, e, 20260723, vectors=False)
    assert {answer.better for answer in answers} == {None}
    assert {answer.statement for answer in answers} <= {KeyStatement.COUNTED, KeyStatement.PER_ITEM}
    sizes = [answer.size_um for answer in answers if answer.size_um is not None]
    assert len(sizes) == 20
    assert np.mean([size.low <= 3.0 <= size.high for size in sizes]) >= 0.9
    if e == 8.0:
        assert {answer.statement for answer in answers} == {KeyStatement.COUNTED}


def _vector(answer: Answer) -> complex:
    assert answer.shift is not None
    return complex(answer.shift.tir_um * np.exp(1j * np.radians(answer.shift.direction_deg)))
