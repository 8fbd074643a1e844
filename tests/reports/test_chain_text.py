"""What is said of a chain: whose it is first, then what to turn; the same on the page, with its picture."""

import dataclasses
import itertools

import pytest

from qclog.questions.chain import Answer, Sizes
from qclog.questions.chains.advice import Advice, Turned
from qclog.questions.chains.distances import Distance, Part
from qclog.questions.chains.plan import ChainPlan
from qclog.questions.codes import Caveat, Clocking, SenseState
from reports.chain import advice, chains, headline, in_lines, plan
from reports.pictures.chain import chain_pictures
from reports.tables import WIDTH
from reports.wording.caveats import CAVEATS

STAYS = Part((), True, 4.0, 3.4, 4.6, 20.0, 0.8, 5.2, now_deg=20.0, then_deg=20.0)
COLLET = Part(("C-735",), False, 9.0, 8.4, 9.6, 140.0, 0.8, 2.3, now_deg=140.0, then_deg=200.0)
PIN = Part(("P-735",), False, 2.0, 1.4, 2.6, 260.0, 0.8, 7.9, now_deg=260.0, then_deg=260.0)
AT = Distance(25.0, False, 6, 1, (STAYS, COLLET, PIN), 0.9, 6, "clampings", 7.1, ("C-735",), 9.0, "item")
TURN = Advice(Clocking.TURN, (Turned("C-735", 0.0, 60.0),), 7.9, 5.2, 2.7, 6.8, 4.4, 5.0)
ANSWER = Answer(
    item="C-735",
    modification=1,
    setup="L2",
    setup_revision=1,
    position="A",
    diameter_mm=7.3,
    characteristic="runout",
    bodies=("C-735", "P-735"),
    kinds=("collet", "pin"),
    pins=("P-735",),
    unturned=("T-1",),
    sense=SenseState.PROVEN,
    counted="clockwise",
    now="C-735=0 P-735=0",
    at_mm=25.0,
    distances=(AT,),
    between_distances=None,
    advice=TURN,
    add="",
    swings_alone=None,
    caveats=(Caveat.ONE_SITTING,),
)


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_whose_it_is_comes_first_then_what_to_turn_and_how_to_confirm_it() -> None:
    told = chains([ANSWER])
    assert told.startswith("C-735, L2, position A, 25 mm out: the collet C-735 OWNS most of it, 9.0 µm")
    assert "Turn collet C-735 from 0° (12 o'clock) to 60° (2 o'clock): expect 5.2 µm in place of 7.9 µm, " in _flat(
        told
    )
    assert "7.9 µm, the test pin left out; the next clamping then stays under 6.8 µm, 19 times in 20." in _flat(told)
    assert "The test pin, with its own run-out, then reads about 4.4 µm" in _flat(told)
    command = 'qclog measure C-735 --setup L2 --positions A --distance 25 --pin P-735 --clocking "C-735=60 P-735=0"'
    assert command in told
    assert CAVEATS[Caveat.ONE_SITTING] in _flat(told)
    assert all(len(line) <= WIDTH for line in told.splitlines() if "qclog measure" not in line)


def test_a_table_has_a_row_for_each_part() -> None:
    rows = [line for line in chains([ANSWER]).splitlines() if "°" in line and "Turn" not in line]
    assert any(row.split()[:3] == ["spindle", "with", "T-1"] and row.split()[3] == "4.0" for row in rows)
    assert any(row.split()[:3] == ["collet", "C-735", "9.0"] for row in rows)


def test_a_setup_counted_the_other_way_gets_its_clockings_as_it_types_them() -> None:
    told = chains([dataclasses.replace(ANSWER, counted="counterclockwise")])
    assert "from 0° to 300°:" in _flat(told)
    assert '--clocking "C-735=300 P-735=0"' in told
    assert "as this setup types them, counterclockwise" in _flat(told)


@pytest.mark.parametrize("why", [code for code in Clocking if code is not Clocking.TURN])
def test_where_nothing_is_advised_it_says_why(why: Clocking) -> None:
    said = advice(dataclasses.replace(ANSWER, advice=Advice(why, now_um=7.9, least_um=5.0)))
    assert "{" not in said
    assert "expect" not in said
    assert "Confirm" not in chains([dataclasses.replace(ANSWER, advice=Advice(why, now_um=7.9))])


def test_nothing_is_owned_where_it_is_not_shown() -> None:
    near = dataclasses.replace(AT, owner=None)
    assert "no part is shown to own more" in headline(dataclasses.replace(ANSWER, distances=(near,)))
    unknown = Part(("C-735",), False, None, None, None, None, None, None)
    lumped = dataclasses.replace(near, parts=(STAYS, unknown))
    answer = dataclasses.replace(ANSWER, distances=(lumped,), add="C-735=180 P-735=0")
    assert "these cannot be told apart yet: collet C-735" in headline(answer)
    assert "Missing, in one sitting" in chains([answer])
    assert "Collet C-735: not told apart." in in_lines(answer)
    assert chain_pictures(answer, "chain 1") == []


def test_swings_alone_name_both_sizes_and_no_owner() -> None:
    answer = dataclasses.replace(
        ANSWER,
        distances=(dataclasses.replace(AT, parts=(), owner=None),),
        advice=Advice(Clocking.NO_HIGH_SPOTS),
        swings_alone=Sizes("C-735", 9.0, 4.0, 4),
    )
    said = headline(answer)
    assert "one of the two runs 9.0 µm, the other 4.0 µm; which is which stays open" in said


def test_the_picture_shows_now_and_as_advised_and_explains_its_signs() -> None:
    now, advised = chain_pictures(ANSWER, "chain 1")
    assert now[1].says == "Parts of the chain head to tail, as clocked now: together 6.2 µm."
    assert advised[1].says == "Parts of the chain head to tail, as advised: together 6.2 µm."
    assert all(name in now[1].svg for name in ("spindle", "C-735", "P-735"))
    assert "Heavy circle: the limit." in now[2]
    assert "Dotted ring" in now[2]
    bare = dataclasses.replace(AT, limit_um=None, parts=tuple(dataclasses.replace(p, circle_um=None) for p in AT.parts))
    (alone,) = chain_pictures(
        dataclasses.replace(ANSWER, distances=(bare,), advice=Advice(Clocking.NOTHING_BETTER)), "chain 1"
    )
    assert "limit" not in alone[2]
    assert "Dotted" not in alone[2]


def test_a_plan_lists_the_runs_in_their_order_and_ends_with_what_to_type() -> None:
    found = ChainPlan(
        item="C-735",
        setup="L2",
        position="A",
        pin="P-735",
        distance_mm=25.0,
        bodies=("C-735", "P-735"),
        kinds=("collet", "pin"),
        unturned=("T-1",),
        turnable="C-735,P-735",
        clockings=("C-735=0 P-735=0", "C-735=120 P-735=0", "C-735=240 P-735=180"),
        rounds=2,
        clampings=6,
        repeat_um=1.0,
        repeat_from="shop",
        circle_um=0.93,
        reaches=None,
        proves_sense=True,
        counted="clockwise",
    )
    told = plan(found)
    lines = [line.split() for line in told.splitlines()]
    assert ["2", "C-735", "120°", "P-735", "(0°)"] in lines
    assert "then back from the last to the first" in told
    assert "known within 1.0 µm TIR (95 %), with a repeat of 1.0 µm of this kind in this setup" in _flat(told)
    assert told.splitlines()[-1].strip() == (
        'qclog measure C-735 --setup L2 --positions A --distance 25 --pin P-735 --turn "C-735,P-735" --clampings 2'
    )
    bare = dataclasses.replace(found, repeat_um=None, circle_um=None, repeat_from=None, proves_sense=False)
    assert "the repeat, which is not known here yet" in _flat(plan(bare))
    assert "qclog sense L2" in plan(bare)


def _part(code: str, tir_um: float, deg: float) -> Part:
    return dataclasses.replace(
        COLLET, bodies=(code,) if code else (), stays=not code, tir_um=tir_um, now_deg=deg, circle_um=tir_um / 8
    )


@pytest.mark.parametrize(
    "parts",
    [
        [("", 4, 20), ("T-12", 3, 100), ("K-1", 2, 200), ("C-735", 6, 140), ("P-735", 1, 260)],
        [("", 0.3, 20), ("T-12", 0.2, 100), ("K-1", 0.25, 200), ("C-735", 9, 140), ("P-735", 0.3, 260)],
        [("", 0.3, 20), ("T-12", 0.2, 100), ("K-1", 0.25, 200), ("C-735", 0.4, 140), ("P-735", 0.3, 260)],
        [("", 3, 90), ("SLEEVE-LONG-1", 3, 90), ("K-1", 3, 270), ("COLLET-735-A", 3, 270), ("P-735", 2, 90)],
        [("", 0.01, 0), ("T-12", 0.01, 0), ("K-1", 0.01, 0), ("C-735", 0.01, 0), ("P-735", 0.01, 0)],
    ],
)
def test_names_of_arrows_never_cover_each_other_nor_leave_the_picture(parts: list[tuple[str, float, float]]) -> None:
    at = dataclasses.replace(AT, parts=tuple(_part(*part) for part in parts))
    answer = dataclasses.replace(ANSWER, distances=(at,), advice=Advice(Clocking.NOTHING_BETTER))
    ((_, picture, _),) = chain_pictures(answer, "chain 1")
    (ax,) = picture.drawn.axes
    named = {"spindle", *(code for code, _, _ in parts if code)}
    boxes = [text.get_window_extent() for text in ax.texts if text.get_text() in named]
    assert len(boxes) == len(parts)
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)
    whole = picture.drawn.bbox
    assert all(whole.x0 <= box.x0 and box.x1 <= whole.x1 and whole.y0 <= box.y0 and box.y1 <= whole.y1 for box in boxes)
