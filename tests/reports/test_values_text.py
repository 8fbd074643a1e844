"""Sentences, stamps and tables about sizes, gaps and differences; groups constructed by hand."""

from dataclasses import replace

import pytest

from qclog.questions.codes import Caveat
from qclog.questions.judging.values import Between, Limits, Read, ValueGroup
from reports import numbers, values

DEPTH = ValueGroup(
    item="ST-1",
    setup="",
    setup_revision=0,
    position="",
    clocking="",
    distance_mm=0.0,
    diameter_mm=None,
    characteristic="depth",
    clampings=8,
    sittings=4,
    by_pins=False,
    read_um=Read(12_021.0, 12_027.0, 12_024.25, 1.8, 12_025.0),
    bounds_um=Between(12_017.62, 12_030.91, 0.95, 0.95, "sittings"),
    uncertainty_um=1.4,
    resolution_um=1.0,
    limits_um=Limits(12_000.0, 12_050.0),
    limit_from="item",
    as_read="holds",
    this_sitting="holds",
    next_clampings="holds",
    more_readings=None,
    caveats=(),
)
LIFT = replace(
    DEPTH,
    characteristic="jaw lift",
    setup="VICE",
    distance_mm=16.0,
    read_um=Read(11.0, 12.0, 11.5, 0.5, 12.0),
    bounds_um=Between(None, 13.21, 0.95, 0.95, "sittings"),
    limits_um=Limits(None, 30.0),
)
PINS = replace(
    DEPTH,
    characteristic="bore",
    by_pins=True,
    read_um=Read(6_480.0, 6_490.0, None, None, None),
    bounds_um=None,
    resolution_um=10.0,
    limits_um=Limits(6_470.0, 6_500.0),
    this_sitting="cannot tell",
    next_clampings="cannot tell",
    more_readings=23,
    caveats=(Caveat.BY_PINS,),
)


def test_a_size_is_told_in_mm_and_its_bounds_are_rounded_outward() -> None:
    assert values.verdict(DEPTH) == (
        "HOLDS 12.00 to 12.05 mm. 19 readings in 20 lie from 12.0176 mm to 12.0310 mm as this gauge reads."
    )


def test_one_limit_has_one_bound() -> None:
    assert values.verdict(LIFT) == "HOLDS at most 30 µm. 19 readings in 20 stay under 13.3 µm as this gauge reads."
    assert values.place(LIFT) == "jaw lift, VICE, 16 mm out"


def test_what_pins_tell_is_told_by_both_ends() -> None:
    assert values.verdict(PINS) == (
        "cannot tell yet whether it holds 6.47 to 6.50 mm. What was read lies inside. Pins tell 6.48 mm to 6.49 mm. "
        "A finer step of pins narrows the 10 µm they leave open. As it is, readings on each of more than 20 more days "
        "would tell."
    )


def test_of_pins_that_all_tell_beyond_a_limit_nothing_asks_for_finer_ones() -> None:
    beyond = replace(PINS, as_read="does not hold", more_readings=2)
    assert values.verdict(beyond) == (
        "cannot tell yet whether it holds 6.47 to 6.50 mm. It was read beyond. Pins tell 6.48 mm to 6.49 mm. As it is, "
        "readings on each of 2 more days would settle that it does not hold."
    )
    assert "iner" not in " ".join(values.notes([beyond]))


STAMPS = [
    (DEPTH, "DEPTH HOLDS 12.00 to 12.05 mm"),
    (replace(DEPTH, next_clampings="does not hold"), "DEPTH DOES NOT HOLD 12.00 to 12.05 mm"),
    (PINS, "CANNOT TELL YET: BORE 6.47 to 6.50 mm"),
    (replace(LIFT, limits_um=None, next_clampings="no limit"), "JAW LIFT: NO LIMIT"),
    (replace(DEPTH, next_clampings="cannot tell", caveats=(Caveat.IN_DOUBT,)), "IN DOUBT: DEPTH 12.00 to 12.05 mm"),
]


@pytest.mark.parametrize(("group", "text"), STAMPS)
def test_a_stamp_says_the_verdict_and_its_limits_in_one_piece(group: ValueGroup, text: str) -> None:
    assert values.stamp(group).replace("\u00a0", " ") == text
    assert values.stamp(group).endswith(values.limits(group).replace(" ", "\u00a0"))


def test_a_narrow_list_has_the_verdict_and_of_what() -> None:
    assert values.in_short(PINS) == "CANNOT TELL YET: bore"
    assert values.in_short(replace(DEPTH, caveats=(Caveat.IN_DOUBT,))) == "IN DOUBT: depth"


def test_the_table_leaves_out_what_a_narrow_terminal_can_do_without() -> None:
    wide, narrow = (values.table([DEPTH, LIFT, PINS], width) for width in (200, 90))
    assert "mean" in wide[0]
    assert "mean" not in narrow[0]
    assert all(len(line) <= 90 for line in narrow)
    assert [line.split()[-1] for line in narrow[1:4]] == ["holds", "holds", "tell"]
    assert narrow[4].startswith("(Left out: ")
    assert len(wide) == 4


def test_a_caveat_is_said_once_and_of_whom() -> None:
    notes = values.notes([DEPTH, PINS])
    assert notes[0] == "What it was read with counts against the claim (k = 2): ± 1.4 µm."
    assert notes[1].endswith("(bore)")
    assert len(notes) == 2


MORE = Caveat.MORE_WILL_NOT_TELL
OPEN = replace(DEPTH, this_sitting="cannot tell", next_clampings="cannot tell")


def test_where_only_the_gauge_leaves_it_open_the_verdict_says_so_and_what_to_do() -> None:
    together = (MORE, Caveat.KEPT_TOGETHER)
    pair = replace(OPEN, limits_um=Limits(12_015.0, 12_035.0), uncertainty_um=5.4, caveats=together)
    says = values.verdict(pair)
    assert says.endswith(
        "The ± 5.4 µm of what it was read with may still take that beyond a limit; it counts for each of the readings "
        "kept together."
    )
    assert values.grounds(pair) in says
    assert "too uncertain for limits this close: read it with a better gauge" in " ".join(values.notes([pair]))
    for other in (replace(pair, uncertainty_um=1.4), replace(pair, limits_um=Limits(12_018.0, 12_035.0))):
        assert "may still" not in values.verdict(other)


HINDERED = [
    (replace(OPEN, caveats=(MORE, Caveat.INSTRUMENT_NOT_SUITED)), "too uncertain"),
    (replace(OPEN, read_um=Read(12_021.0, 12_049.0, 12_035.0, 9.0, 12_049.0), caveats=(MORE,)), "too near a limit"),
    (replace(OPEN, read_um=Read(12_001.0, 12_027.0, 12_014.0, 9.0, 12_027.0), caveats=(MORE,)), "too near a limit"),
    (replace(OPEN, read_um=Read(12_010.0, 12_040.0, 12_025.0, 12.0, 12_040.0), caveats=(MORE,)), "changes too much"),
    (replace(OPEN, caveats=(MORE, Caveat.RESOLUTION_FLOOR)), "too coarse steps"),
    (replace(PINS, more_readings=None, caveats=(MORE, Caveat.BY_PINS)), "Pins leave open where"),
]


@pytest.mark.parametrize(("group", "why"), HINDERED)
def test_why_more_readings_will_not_settle_it_is_said_with_what_to_do(group: ValueGroup, why: str) -> None:
    (told,) = [note for note in values.notes([group]) if "More readings will not settle it." in note]
    assert why in told
    assert ": read it" in told or ": look for" in told


def test_nothing_asks_for_more_readings_beside_the_word_that_more_will_not_settle_it() -> None:
    hindered = replace(OPEN, caveats=(Caveat.ROUGH_BOUND, MORE))
    assert "more narrow them" not in " ".join(values.notes([hindered]))
    other = replace(LIFT, caveats=(Caveat.ROUGH_BOUND,))
    notes = values.notes([hindered, other])
    assert [note.endswith("more narrow them. (jaw lift, VICE, 16 mm out)") for note in notes].count(True) == 1


def test_what_is_said_of_values_never_speaks_of_run_out_or_clampings() -> None:
    for code in (Caveat.FEW_CLAMPINGS, Caveat.ONE_SITTING, Caveat.ROUGH_BOUND, Caveat.MORE_WILL_NOT_TELL):
        assert "run-out" not in values.caveat(code)
        assert "clamping" not in values.caveat(code)


LIMITS = [
    ((12_000_000_000, 12_050_000_000), "12.00 to 12.05 mm"),
    ((-50_000_000, 0), "-50 to 0 µm"),
    ((-3_000_000, 3_000_000), "± 3 µm"),
    ((None, 10_000_000), "at most 10 µm"),
    ((6_470_000_000, None), "at least 6.47 mm"),
    ((20_000_000, 100_000_000), "20 to 100 µm"),
]


@pytest.mark.parametrize(("ends", "text"), LIMITS)
def test_limits_are_told_as_they_were_set(ends: tuple[int | None, int | None], text: str) -> None:
    assert numbers.limits(*ends) == text


def test_an_inch_shop_sees_the_inch_figure_beside() -> None:
    """12.01762 mm / 25.4 = 0.473134 in."""
    style = numbers.NumberStyle(inch=True)
    told = numbers.limits(11_988_800_000, 12_039_600_000, style=style)
    assert told == "11.9888 mm (0.472 in) to 12.0396 mm (0.474 in)"
    assert numbers.size(12_017.62, step_um=1.0, style=style) == "12.018 mm (0.47313 in)"


def test_what_does_not_hold_says_what_to_do_and_what_was_read_where_bounds_are_useless() -> None:
    few = replace(
        DEPTH,
        read_um=Read(11_900.0, 12_027.0, 11_963.0, 60.0, 11_900.0),
        bounds_um=Between(9_000.0, 15_000.0, 0.95, 0.95, "sittings"),
        next_clampings="does not hold",
        caveats=(Caveat.ROUGH_BOUND,),
    )
    assert values.verdict(few) == "DOES NOT HOLD 12.00 to 12.05 mm. It was read from 11.9 mm to 12.027 mm."
    assert values.to_do(few) == (
        "Look for a slip first (qclog item show ST-1) and strike it out: qclog strike ST-1 NUMBER --reason misread. "
        "Else work it to 12.00 to 12.05 mm again, and note it: qclog modify ST-1 WORK"
    )
    assert values.to_do(DEPTH) == values.to_do(replace(few, before_bonding=1)) == ""


def test_what_was_read_beyond_and_more_will_not_tell_says_what_to_do() -> None:
    beyond = replace(DEPTH, as_read="does not hold", next_clampings="cannot tell")
    assert values.to_do(beyond).startswith("Look for a slip first")
    assert values.to_do(replace(beyond, more_readings=3)) == ""
