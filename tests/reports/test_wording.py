"""Every code that an answer may carry has a sentence, and the sentences say what a toolmaker needs."""

import dataclasses
import re
from enum import StrEnum

import pytest

from qclog.logbook import findings
from qclog.questions.assess import Answer, Reason
from qclog.questions.codes import (
    FINDINGS,
    ByCost,
    Caveat,
    Clocking,
    Due,
    Flag,
    KeyStatement,
    NextStep,
    SenseState,
    Sign,
    Wanted,
    Worth,
)
from qclog.questions.doubts import Doubt, Doubtful
from qclog.questions.judging.groups import Bound, Group, Swing
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, NO_LIMIT
from reports.assessment import assessment, table
from reports.numbers import NumberStyle
from reports.tables import WIDTH
from reports.wording import slips, verdicts
from reports.wording.cautions import FINDING_ADVICE
from reports.wording.caveats import CAVEATS
from reports.wording.clocking import CLOCKINGS, SENSES
from reports.wording.comparing import KEY_STATEMENTS, WORTHS
from reports.wording.due import DUE, NEXT_STEPS, WANTED
from reports.wording.flags import FLAGS
from reports.wording.wear import BY_COST, MARKS, SIGNS

GROUP = Group(
    item="C-735",
    setup="L2",
    setup_revision=1,
    position="A",
    clocking="",
    distance_mm=25.0,
    diameter_mm=7.3,
    characteristic="runout",
    clampings=6,
    sittings=3,
    tir_um=Swing(mean=4.8, sd=0.6, min=4.0, max=6.0, last=5.0),
    eccentricity=None,
    repeat_um=None,
    next=None,
    bound=Bound(7.812, 0.95, 0.95, "sittings"),
    uncertainty_um=1.2,
    resolution_um=1.0,
    limit_um=9.0,
    limit_from="item",
    as_read=HOLDS,
    this_sitting=HOLDS,
    next_clampings=HOLDS,
    more_clampings=None,
    caveats=(),
)


def _answer(group: Group = GROUP, reasons: tuple[Reason, ...] = ()) -> Answer:
    return Answer("C-735", "", 1, "bored", reasons, (group,))


@pytest.mark.parametrize(
    ("codes", "sentences"),
    [
        (Caveat, CAVEATS),
        (Flag, FLAGS),
        (Doubt, slips.DOUBTS),
        (Sign, SIGNS),
        (KeyStatement, KEY_STATEMENTS),
        (Worth, WORTHS),
        (Worth, MARKS),
        (ByCost, BY_COST),
        (SenseState, SENSES),
        (Clocking, CLOCKINGS),
        (Due, DUE),
        (Wanted, WANTED),
        (NextStep, NEXT_STEPS),
    ],
)
def test_every_code_has_a_sentence_and_no_sentence_is_orphaned(
    codes: type[StrEnum], sentences: dict[StrEnum, str]
) -> None:
    assert set(codes) == set(sentences)
    assert all(sentence.strip() for sentence in sentences.values())


def test_every_finding_of_an_inspection_has_advice_and_all_but_sound_raise_a_flag() -> None:
    assert set(FINDING_ADVICE) == set(findings.FINDINGS)
    assert set(FINDINGS) == set(findings.FINDINGS) - {findings.SOUND}


@pytest.mark.parametrize("doubt", list(Doubt))
@pytest.mark.parametrize("against", ["", "history", "limit", "usual", "bore", "circle"])
def test_every_doubt_can_be_asked(doubt: Doubt, against: str) -> None:
    asked = slips.doubt(Doubtful(doubt, "127", 127.0, against, 5.0))
    assert "{" not in asked
    assert asked.count("\n") == 0


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (HOLDS, "HOLDS 9 µm"),
        (DOES_NOT_HOLD, "DOES NOT HOLD 9 µm"),
        (CANNOT_TELL, "cannot tell yet whether it holds 9 µm"),
    ],
)
def test_the_verdict_on_the_next_clampings_comes_first(verdict: str, words: str) -> None:
    assert verdicts.verdict(dataclasses.replace(GROUP, next_clampings=verdict)).startswith(words)


def test_without_a_limit_the_sentence_says_so_and_still_gives_the_bound() -> None:
    group = dataclasses.replace(GROUP, limit_um=None, next_clampings=NO_LIMIT)
    assert verdicts.verdict(group) == ("no limit is set. 19 clampings in 20 stay under 7.9 µm as this indicator reads.")


def test_missing_clampings_are_named_as_days() -> None:
    group = dataclasses.replace(GROUP, next_clampings=CANNOT_TELL, more_clampings=3)
    assert "one clamping on each of 3 more days" in verdicts.verdict(group)
    assert "one clamping on another day" in verdicts.verdict(dataclasses.replace(group, more_clampings=1))


def test_a_verdict_of_one_sitting_is_bound_to_that_sitting() -> None:
    group = dataclasses.replace(
        GROUP, sittings=1, next_clampings=CANNOT_TELL, bound=Bound(7.812, 0.95, 0.95, "one sitting")
    )
    said = verdicts.verdict(group)
    assert "In this sitting it holds 9 µm." in said
    assert "in this sitting as this indicator reads" in said


def test_a_flag_is_unmistakable_without_colour_and_names_the_place() -> None:
    reason = Reason(Flag.NEXT_CLAMPINGS, "C-735", "L2", "A", 25.0)
    group = dataclasses.replace(GROUP, next_clampings=DOES_NOT_HOLD)
    first = assessment([_answer(group, (reason,))]).splitlines()[0]
    assert first.startswith("*** FLAGGED *** C-735")
    assert "L2, position A, 25 mm out" in assessment([_answer(group, (reason,))])


def test_flagged_items_come_before_the_others() -> None:
    flagged = Answer("Z-1", "", 0, "as received", (Reason(Flag.CRACK, "Z-1"),), ())
    text = assessment([_answer(), flagged])
    assert text.index("Z-1") < text.index("C-735")
    assert text.startswith("2 items and setups assessed, 1 flagged:")


def test_the_bound_is_rounded_away_from_the_claim() -> None:
    assert "under 7.9 µm" in verdicts.verdict(GROUP)


def test_read_figures_are_shown_no_finer_than_they_were_read() -> None:
    row = assessment([_answer()]).splitlines()[-3].split()
    assert row[8:11] == ["4", "6", "5"]


def test_inch_stands_beside_when_the_logbook_wants_it() -> None:
    assert "9 µm (0.00035 in)" in verdicts.verdict(GROUP, NumberStyle(inch=True))


def test_each_caveat_is_said_once_and_only_of_the_groups_it_is_true_of() -> None:
    other = dataclasses.replace(GROUP, position="B", caveats=(Caveat.SHOP_REPEAT,))
    text = assessment([Answer("C-735", "", 1, "bored", (), (GROUP, other))])
    assert text.count("How much it changes") == 1
    assert "in this setup. (L2, position B, 25 mm out)" in " ".join(text.split())


def test_sentences_are_wrapped_for_a_terminal() -> None:
    group = dataclasses.replace(GROUP, next_clampings=CANNOT_TELL, more_clampings=3, caveats=tuple(Caveat))
    lines = assessment([_answer(group)]).splitlines()
    table = next(i for i, line in enumerate(lines) if "mean" in line)
    assert max(len(line) for line in lines[:table] + lines[table + 2 :]) <= WIDTH
    assert max(len(line) for line in lines) <= 120


def test_an_item_that_is_out_of_service_is_not_said_to_hold_anything() -> None:
    cracked = _answer(reasons=(Reason(Flag.CRACK, "C-735"),))
    for text in (assessment([cracked]), assessment([cracked, _answer(dataclasses.replace(GROUP, item="C-9"))])):
        assert "HOLDS" not in text.replace("C-9", "")
        assert "OUT OF SERVICE" in text


def test_a_bound_far_beyond_what_was_read_is_not_shown() -> None:
    group = dataclasses.replace(GROUP, bound=Bound(184.1, 0.95, 0.95, "sittings"), caveats=(Caveat.ROUGH_BOUND,))
    assert "no useful bound yet" in verdicts.verdict(group)
    assert "184" not in assessment([_answer(group)])


def test_swings_typed_finer_than_the_indicators_step_are_shown_as_typed_and_whole_steps_whole() -> None:
    """A digital indicator of 1 um: 5.4 to 6.6 around a mean of 6.0 never stand there as 5 and 7."""
    typed = dataclasses.replace(GROUP, tir_um=Swing(6.03, 0.6, 5.4, 6.6, 6.6), resolution_um=1.0, eccentricity=None)
    assert cells(typed)[3:8] == ["6.0", "0.6", "5.4", "6.6", "6.6"]
    whole = dataclasses.replace(typed, tir_um=Swing(6.03, 0.6, 5.0, 7.0, 7.0))
    assert cells(whole)[3:8] == ["6.0", "0.6", "5", "7", "7"]


def test_of_a_face_the_circle_stands_in_the_table() -> None:
    face = dataclasses.replace(GROUP, characteristic="face runout", distance_mm=0.0, diameter_mm=30.0)
    assert cells(face)[0].endswith("L2 A face on 30 mm")
    assert cells(dataclasses.replace(face, diameter_mm=None))[0].endswith("L2 A face")


def cells(group: Group) -> list[str]:
    """The row of a group, taken apart where two blanks or more stand."""
    return re.split(r"  +", table([group])[1])
