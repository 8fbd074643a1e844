"""What wear says reads as advice: the item as a whole first, what to do before giving it up, then the way down."""

import dataclasses
from enum import StrEnum

import pytest

from qclog.questions.changing.changes import Tested as OneTest
from qclog.questions.changing.outlook import Crosses
from qclog.questions.changing.replacing import Replacing
from qclog.questions.codes import ByCost, Caveat, Sign, Worth
from qclog.questions.wear import KEEP, RETIRE, WATCH, Answer
from reports.advice import advice, by_cost
from reports.tables import WIDTH
from reports.wear import figures, wear
from reports.wording.wear import BY_COST, CURES, MARKS

PLACE = Answer(
    item="B-860",
    modification=1,
    setup="L2",
    setup_revision=1,
    position="A",
    clocking="",
    distance_mm=25.0,
    diameter_mm=8.6,
    characteristic="runout",
    clampings=12,
    sittings=6,
    axis="date",
    worked=None,
    read_over_days=400,
    level_um=7.0,
    limit_um=12.0,
    trend=None,
    step=None,
    signal=None,
    crosses=None,
    next_check=None,
    rhythm=None,
    tests=(),
    decision=KEEP,
    because=(Sign.HOLDS,),
    single_hint=False,
    more_days=0,
    more_clampings=None,
    good_for_um=None,
    cost=None,
    caveats=(),
)
PAST = dataclasses.replace(PLACE, decision=RETIRE, because=(Sign.DOES_NOT_HOLD,), good_for_um=15.0)
ELSEWHERE = dataclasses.replace(PLACE, position="B")
CRACKED = dataclasses.replace(PLACE, decision=RETIRE, because=(Sign.CRACK, Sign.DOES_NOT_HOLD))


def said(*places: Answer) -> str:
    return " ".join(line.strip() for line in advice(places))


def hint(*signs: Sign, worth: Worth = Worth.SINGLE_HINT) -> Answer:
    tests = tuple(OneTest(sign, True, 0.03, 0.05, worth) for sign in signs)
    only = worth == Worth.SINGLE_HINT
    return dataclasses.replace(PLACE, decision=WATCH, because=signs, tests=tests, single_hint=only)


def test_the_way_down_names_what_it_is_no_longer_for_and_what_it_still_is() -> None:
    assert said(PAST) == (
        "B-860 in L2, position A, 25 mm out: RETIRE it from 12 µm work: it does not hold what it was made to. "
        "Still good for 15 µm work; or bore it out, or scrap it."
    )
    assert said(dataclasses.replace(PAST, good_for_um=None)).endswith("made to. Bore it out, or scrap it.")


def test_what_might_help_comes_before_giving_it_up() -> None:
    rising = hint(Sign.LEVEL_RISES, worth=Worth.LIKELY_REAL)
    worn = dataclasses.replace(
        rising, decision=RETIRE, because=(Sign.DOES_NOT_HOLD, Sign.LEVEL_RISES), good_for_um=20.0
    )
    text = said(worn)
    assert "its run-out rises (likely real). Clean it, stone off any burr and measure again. Still good for" in text


@pytest.mark.parametrize("sign", [Sign.CRACK, Sign.BLUE])
def test_what_is_cracked_or_blued_is_scrap_at_every_place_and_good_for_nothing(sign: Sign) -> None:
    gone = dataclasses.replace(CRACKED, because=(sign, Sign.DOES_NOT_HOLD), limit_um=9.0)
    for places in ((gone,), (gone, dataclasses.replace(gone, position="B", because=(sign,)))):
        text = said(*places)
        assert "RETIRE: it" in text
        assert "scrap it" in text
        assert "good for" not in text
        assert "bore" not in text
        assert "keep" not in text
        assert "not before" not in wear(places)


def test_an_item_with_several_places_gets_one_advice_that_does_not_contradict_itself() -> None:
    text = said(PAST, ELSEWHERE)
    assert text.startswith("B-860 in L2, 25 mm out: RETIRE it from 12 µm work at position A; elsewhere keep it.")
    assert text.endswith("At position A: it does not hold what it was made to. Still good for 15 µm work there.")
    assert "scrap" not in text


def test_an_item_retired_at_one_distance_and_watched_at_the_other_says_both_once() -> None:
    near = dataclasses.replace(PAST, distance_mm=3.0, decision=WATCH, because=(Sign.BELL_MOUTH, Sign.CANNOT_TELL))
    far = dataclasses.replace(PAST, because=(Sign.BELL_MOUTH, Sign.DOES_NOT_HOLD))
    text = said(dataclasses.replace(near, more_clampings=4), far)
    assert text.startswith(
        "B-860 in L2, position A: RETIRE it from 12 µm work 25 mm out; watch it 3 mm out. It is bell-mouthed"
    )
    assert text.count("bell-mouthed") == 1
    assert "Log one clamping on each of 4 more days." in text
    assert text.endswith("Still good for 15 µm work; or bore it out, or scrap it.")


def test_places_that_agree_are_not_named_in_the_sentence_for_the_item() -> None:
    assert said(PLACE, ELSEWHERE) == "B-860 in L2, 25 mm out: KEEP."
    assert said(PAST, dataclasses.replace(PAST, position="B")).startswith(
        "B-860 in L2, 25 mm out: RETIRE it from 12 µm work. "
    )


def test_a_watch_on_a_single_hint_says_so_and_asks_for_nothing_but_measuring_again() -> None:
    text = said(hint(Sign.REPEAT_GROWN))
    assert "WATCH, on a single hint: it repeats worse than it did. Measure it again first" in text
    assert "free bore" not in text
    assert "watch, a hint" in wear([hint(Sign.REPEAT_GROWN), ELSEWHERE])


def test_a_hint_beside_a_stronger_reason_is_marked_as_one() -> None:
    watched = dataclasses.replace(hint(Sign.STEPPED), because=(Sign.CANNOT_TELL, Sign.STEPPED), single_hint=False)
    assert "its run-out went up in a step (a single hint, measure it again)." in said(watched)


def test_what_more_clampings_will_not_tell_is_not_sent_to_be_measured_again() -> None:
    never = dataclasses.replace(
        PLACE, decision=WATCH, because=(Sign.CANNOT_TELL,), caveats=(Caveat.MORE_WILL_NOT_TELL,)
    )
    assert said(never).endswith("Check it before every job.")
    assert "Log one" not in said(never)


@pytest.mark.parametrize(
    ("missing", "words"),
    [(1, "Log one clamping on another day."), (3, "Log one clamping on each of 3 more days.")],
)
def test_with_too_few_days_for_a_trend_it_says_what_to_log_next(missing: int, words: str) -> None:
    few = dataclasses.replace(PLACE, more_days=missing, sittings=5 - missing, caveats=(Caveat.FEW_DAYS,))
    assert any(line.endswith(words) for line in figures(few))
    listed = wear([few, ELSEWHERE])
    assert f"needs {missing} more day" in listed
    assert "how many more days with clampings it needs" in " ".join(listed.split())
    assert not any("Log one" in line for line in figures(dataclasses.replace(few, decision=RETIRE)))


def test_a_crossing_is_told_with_its_early_end_whatever_else_is_known() -> None:
    off = Crosses("2027-05-01", None, None, now=False, horizon="2027-05-01")
    (steady,) = figures(dataclasses.replace(PLACE, crosses=off))[1:]
    assert steady.startswith("No drift is proven: before 2027-05-01 at most one clamping in 20 exceeds the limit")
    assert "no farther ahead" in steady
    worn = dataclasses.replace(PLACE, axis="clampings", worked=1_800, because=(Sign.LEVEL_RISES,))
    near = Crosses("2000", "2400", None, now=False, horizon="3600")
    (rising,) = figures(dataclasses.replace(worn, crosses=near))[1:]
    assert "from about 2400 on, not before 2000 clampings in work (1800 noted so far)" in rising
    (late,) = figures(dataclasses.replace(worn, crosses=dataclasses.replace(near, median=None)))[1:]
    assert late.startswith("It rises, but before 2000 clampings in work (1800 noted so far)")
    (now,) = figures(dataclasses.replace(worn, crosses=dataclasses.replace(near, now=True)))[1:]
    assert now == "Even today more than one clamping in 20 may exceed the limit."


def test_the_list_says_first_how_many_signs_chance_would_show() -> None:
    quiet = OneTest(Sign.LEVEL_RISES, False, 0.5, 0.05)
    drawer = [dataclasses.replace(PLACE, item=f"C-{i}", tests=(quiet,) * 2) for i in range(10)]
    first = " ".join(wear(drawer).split("\n\n")[0].split())
    assert first == (
        "10 places: 0 retire, 0 watch, 10 keep. 20 tests for a change: about 1.0 signs would appear by chance with "
        "nothing wrong; none found."
    )
    one = " ".join(wear([*drawer, hint(Sign.LEVEL_RISES)]).split("\n\n")[0].split())
    assert one.endswith("; 1 found, in number no more than chance.")
    real = hint(Sign.LEVEL_RISES, worth=Worth.LIKELY_REAL)
    assert "1 found, in number no more than chance, 1 of them likely real." in " ".join(wear([*drawer, real]).split())
    assert "test" not in wear([PLACE, dataclasses.replace(PLACE, item="C-1")]).split("\n")[0]


def test_in_a_list_the_retired_come_first_then_the_surest_sign() -> None:
    weak, strong = (dataclasses.replace(hint(Sign.LEVEL_RISES), item=code) for code in ("C-1", "C-2"))
    strong = dataclasses.replace(strong, tests=(OneTest(Sign.LEVEL_RISES, True, 0.0001, 0.05, Worth.LIKELY_REAL),))
    text = wear([weak, strong, PAST])
    assert text.index("B-860 in") < text.index("C-2 in") < text.index("C-1 in")


@pytest.mark.parametrize(
    ("cost", "words"),
    [
        ((0.02, 0.0225, None, ByCost.KEEP), "more than 1 in 44 clampings go over; now about 1 in 50 do: keep it."),
        ((0.1, 0.0125, None, ByCost.REPLACE), "more than 1 in 80 clampings go over; now about 1 in 10 do: replace it."),
        ((0.01, 0.0125, 2_900, ByCost.KEEP), "as it rises, replacing pays from clamping 2900 in work on: keep it."),
        ((0.5, 1.5, None, ByCost.KEEP), "at these figures replacing never pays: keep it."),
        ((0.0, 0.0125, None, ByCost.KEEP), "now fewer than 1 in 1000 do: keep it."),
        ((None, 0.0125, None, ByCost.CANNOT_TELL), "cannot be told without a limit and clampings on three days."),
        ((None, 0.0125, None, ByCost.OUTRANKED), "Cost does not come into it: what is wrong outranks it."),
    ],
)
def test_what_the_costs_advise_is_said_in_numbers_of_clampings(
    cost: tuple[float | None, float, int | None, ByCost], words: str
) -> None:
    weighed = dataclasses.replace(PLACE, cost=Replacing(*cost))
    assert words in by_cost(weighed)
    assert words in " ".join(wear([weighed, ELSEWHERE]).split())


def test_where_it_rises_the_chance_is_that_at_the_next_check() -> None:
    rising = dataclasses.replace(hint(Sign.LEVEL_RISES), cost=Replacing(0.2, 0.0125, None, ByCost.REPLACE))
    assert "; at the next check about 1 in 5 do: replace it." in by_cost(rising)
    due = dataclasses.replace(rising, cost=Replacing(0.2, 0.0125, 828, ByCost.REPLACE))
    assert by_cost(due) == "By cost: as it rises, replacing has paid since clamping 828 in work: replace it."


def test_without_costs_nothing_is_said_of_them() -> None:
    assert by_cost(PLACE) == ""
    assert "cost" not in wear([PLACE]).lower()


@pytest.mark.parametrize(("codes", "sentences"), [(Worth, MARKS), (ByCost, BY_COST)])
def test_every_mark_and_every_advice_by_cost_has_its_words(codes: type[StrEnum], sentences: dict[StrEnum, str]) -> None:
    assert set(codes) == set(sentences)
    assert set(CURES) <= set(Sign)


def test_advice_is_wrapped_for_a_terminal() -> None:
    everything = dataclasses.replace(PAST, because=tuple(sign for sign in Sign if sign not in (Sign.CRACK, Sign.BLUE)))
    for places in ([everything], [everything, dataclasses.replace(PAST, position="B"), ELSEWHERE]):
        assert max(len(line) for line in advice(places)) <= WIDTH


def test_many_places_at_which_nothing_changes_have_no_line_and_are_counted() -> None:
    watched = dataclasses.replace(PLACE, decision=WATCH)
    steady = [dataclasses.replace(PLACE, item=f"B-{number}", decision=KEEP) for number in range(101)]
    told = wear([watched, *steady])
    assert "101 places to keep without any sign of a change have no line here: qclog wear CODE" in " ".join(
        told.split()
    )
    assert "B-100" not in told
    assert "B-860" in told
    assert "B-99" in wear([watched, *steady[:100]])
