"""The drawer of the demonstration: each list is made a second time from the bare tables, and what due says to type can
be typed."""

import json
import re
import shlex
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from qclog import times
from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.occasion.planning import planned
from qclog.questions.drawer import drawer as everything
from qclog.questions.due import due as all_due
from reports.due import command
from reports.tables import TERMINAL, WIDTH

NEWEST = "SELECT max(id) FROM {} GROUP BY {}"
NOW = "SELECT * FROM modification AS m WHERE number = (SELECT max(number) FROM modification WHERE item_id = m.item_id)"
STATES = NEWEST.format("item_state", "item_id")
GONE = f"SELECT item_id FROM item_state WHERE id IN ({STATES}) AND state IN ('out', 'scrap')"
MEASURED = """
    SELECT c.item_id, c.modification_id, c.setup_revision_id, c.position, substr(c.taken_at, 1, 10) AS day
    FROM clamping AS c WHERE recalled = 0 AND coalesce(lever_mdeg, 0) <= 30000
    AND id NOT IN (SELECT clamping_id FROM strike WHERE clamping_id IS NOT NULL)
"""
PARTS = f"SELECT item_id FROM setup_link WHERE revision_id IN ({NEWEST.format('setup_revision', 'setup_id')})"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration's logbook."""
    path = tmp_path_factory.mktemp("demo") / "kept.sqlite"
    assert main(["demo", "--keep", str(path)]) == 0
    return path


@pytest.fixture(autouse=True)
def today(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(times, "now", lambda: "2026-10-01T12:00:00+00:00")


def rows(kept: Path, query: str) -> list[Any]:
    connection = sqlite3.connect(kept)
    try:
        return connection.execute(query).fetchall()
    finally:
        connection.close()


def asked(kept: Path, question: str, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capsys.readouterr()
    assert main(["--logbook", str(kept), question, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["question"] == question
    return dict(document)


def test_every_item_stands_in_the_drawer_with_card_and_day(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cards = dict(
        rows(
            kept,
            f"SELECT text, place FROM item_card JOIN name ON name.id = item_id"
            f" WHERE item_card.id IN ({NEWEST.format('item_card', 'item_id')})",
        )
    )
    days = dict(
        rows(
            kept,
            f"SELECT text, max(day) FROM ({MEASURED}) AS c JOIN ({NOW}) AS m ON m.id = c.modification_id"
            " JOIN name ON name.id = c.item_id GROUP BY text",
        )
    )
    answers = asked(kept, "drawer", capsys)["answers"]
    assert {one["item"]: one["place"] for one in answers} == cards
    assert {one["item"]: one["last_measured"] for one in answers if one["last_measured"]} == days
    assert len(answers) == len(cards) == 51


def test_the_worst_stand_first_as_the_verdicts_say(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    verdicts = {
        one["item"]: {group["next_clampings"] for group in one["groups"]}
        for one in asked(kept, "assess", capsys)["answers"]
        if one["item"] and one["groups"]
    }
    answers = asked(kept, "drawer", capsys)["answers"]
    assert {one["item"]: {p["next_clampings"] for p in one["places"]} for one in answers if one["places"]} == verdicts
    for one in asked(kept, "assess", capsys)["answers"]:
        verdicts.setdefault(one["item"], set()).update(value["next_clampings"] for value in one["values"])
    verdicts |= {item: {"holds"} for item in ("JW-2", "JW-3", "KI-8")}  # they go by their sitting
    usable = [one for one in answers if one["state"] == "in service"]
    bad = [one["item"] for one in usable if one["reasons"] or "retire" in [place["wear"] for place in one["places"]]]
    assert [one["item"] for one in answers][: len(bad)] == bad
    undecided = [
        one["item"] for one in usable if "cannot tell" in verdicts.get(one["item"], ()) and one["item"] not in bad
    ]
    assert [one["item"] for one in answers][len(bad) : len(bad) + len(undecided)] == undecided
    assert answers[-1]["item"] == "B-870"


def test_odd_and_married_items_are_those_of_the_tables(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    odd = rows(
        kept,
        f"SELECT text, bore_pm / 1e9 FROM item_card JOIN name ON name.id = item_id WHERE item_card.id IN"
        f" ({NEWEST.format('item_card', 'item_id')}) AND bore_pm <> nominal_pm AND item_id NOT IN ({GONE})",
    )
    married = rows(
        kept,
        f"SELECT text, holder, position FROM ({NOW}) AS m JOIN name ON name.id = m.item_id"
        f" WHERE holder <> '' AND item_id NOT IN ({GONE})",
    )
    found = asked(kept, "drawer", capsys)
    (sizes,) = found["sizes"]
    assert {(one["item"], one["size_mm"]) for one in sizes["beside"]} == set(odd)
    assert (sizes["step_mm"], sizes["present_mm"], sizes["missing"]) == (None, [], [])
    assert {(one["item"], one["setup"], one["position"]) for one in found["married"]} == set(married)


def test_to_order_is_a_blank_for_each_that_is_scrap_or_holds_nowhere(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wanted = {text for (text,) in rows(kept, f"SELECT text FROM name WHERE id IN ({GONE})")}
    by_item: dict[str, set[str]] = {}
    for one in asked(kept, "wear", capsys)["answers"]:
        by_item.setdefault(one["item"], set()).add(one["decision"])
    wanted |= {item for item, told in by_item.items() if told == {"retire"}}
    found = asked(kept, "drawer", capsys)
    assert {code for one in found["reorder"] for code in one["instead_of"]} == wanted == {"B-780", "B-860", "B-870"}
    assert found["totals"] == [{"amount": 14.5 * len(wanted), "currency": "EUR", "pieces": len(wanted)}]
    assert [(one["size_mm"], one["work_to_mm"]) for one in found["reorder"]] == [(7.0, 7.8), (8.0, 8.6), (8.0, 8.7)]


def test_due_is_what_the_tables_say(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    current = f"JOIN ({NOW}) AS m ON m.id = c.modification_id"
    unmeasured = rows(
        kept,
        f"SELECT text, number FROM ({NOW}) AS m JOIN name ON name.id = item_id WHERE item_id NOT IN"
        f" (SELECT c.item_id FROM ({MEASURED}) AS c {current}) AND item_id NOT IN ({PARTS})"
        f" AND item_id NOT IN ({GONE})",
    )
    newest = NEWEST.format("setup_revision", "setup_id")
    changed = rows(
        kept,
        f"SELECT DISTINCT text, r.setup_id, c.position FROM ({MEASURED}) AS c {current}"
        " JOIN setup_revision AS r ON r.id = c.setup_revision_id JOIN name ON name.id = c.item_id"
        f" WHERE c.item_id NOT IN ({GONE}) EXCEPT SELECT DISTINCT text, r.setup_id, c.position FROM ({MEASURED}) AS c"
        f" {current} JOIN setup_revision AS r ON r.id = c.setup_revision_id JOIN name ON name.id = c.item_id"
        f" WHERE r.id IN ({newest})",
    )
    assessed = [one for one in asked(kept, "assess", capsys)["answers"] if one["item"]]
    undecided = {
        *(
            (one["item"], group["setup"], group["more_clampings"])
            for one in assessed
            for group in one["groups"]
            if not (group["this_sitting"] == "holds" and "chuck_repeat" in group["caveats"])  # jaws, for their job
        ),
        *((one["item"], value["setup"], value["more_readings"]) for one in assessed for value in one["values"]),
    }
    overdue = rows(
        kept,
        "SELECT text, max(due_on) FROM calibration JOIN name ON name.id = gauge_id GROUP BY text"
        " HAVING max(due_on) < '2026-10-01'",
    )
    never = rows(
        kept, "SELECT text FROM name WHERE kind = 'instrument' AND id NOT IN (SELECT gauge_id FROM calibration)"
    )
    found = asked(kept, "due", capsys)["answers"]
    by_reason: dict[str, list[dict[str, Any]]] = {}
    for one in found:
        by_reason.setdefault(one["why"], []).append(one)
    assert [(one["code"],) for one in by_reason["modified"]] == [(text,) for text, _ in unmeasured] == [("B-1236",)]
    assert [one["code"] for one in by_reason["setup_changed"]] == [text for text, *_ in changed] == ["B-670"]
    assert {(one["code"], one["setup"], one["more_clampings"]) for one in by_reason["undecided"]} == {
        one for one in undecided if one[-1]
    }
    assert [one["code"] for one in by_reason["beyond"]] == ["ST-12"]
    assert [one["code"] for one in by_reason["past_limit"]] == ["B-860"]
    assert [(one["code"], one["until"]) for one in by_reason["gauge_overdue"]] == overdue
    assert [(one["code"],) for one in by_reason["gauge_never_calibrated"]] == never
    assert list(by_reason) == [
        *("modified", "setup_changed", "beyond", "past_limit", "undecided", "gauge_overdue"),
        "gauge_never_calibrated",
    ]


def test_what_due_says_to_type_is_a_plan_that_can_be_measured(kept: Path) -> None:
    store = open_store(str(kept))
    try:
        typed = [shlex.split(command(one)) for one in all_due(store)]
        plans = 0
        for _, what, code, *options in typed:
            if what != "measure":
                continue
            given = dict(zip(options[::2], options[1::2], strict=True))
            plan = planned(
                store,
                code,
                setup=given["--setup"],
                positions=[one for one in given.get("--positions", "").split(",") if one],
                distance_pm=round(float(given["--distance"]) * 1e9),
                clampings=int(given.get("--clampings", "6")),
                steps=4,
                until_settled=True,
                pin=given.get("--pin", ""),
                instrument=given.get("--instrument", ""),
                operator="",
                check="",
            )
            assert plan.item == code
            plans += 1
        assert plans == 5
    finally:
        store.close()


def test_the_list_fits_a_terminal_uses_its_width_and_names_every_item(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    capsys.readouterr()
    assert main(["--logbook", str(kept), "drawer"]) == 0
    printed = capsys.readouterr().out
    assert max(len(line) for line in printed.splitlines()) <= TERMINAL
    if TERMINAL >= 120:
        assert "kept at" in printed
        assert "Left out" not in printed
    assert re.search(r"B-945 .* LATHE-A N \+1 ", printed)
    store = open_store(str(kept))
    codes = [entry.item.code for entry in everything(store).entries]
    store.close()
    assert [code for code in codes if not re.search(rf"\b{code}\b", printed)] == []
    assert main(["--logbook", str(kept), "due"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in lines if " qclog " not in line) <= WIDTH


def test_of_what_rises_past_its_limit_due_and_assess_say_what_wear_decides(
    kept: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def told(*question: str) -> str:
        assert main(["--logbook", str(kept), *question]) == 0
        return " ".join(capsys.readouterr().out.split())

    decided = "RETIRE it from 12 µm work: it does not hold what it was made to"
    assert decided in told("wear", "B-860")
    assert f"is told by wear, which decides. B-860 in LATHE-A, position N, 16 mm out: {decided}" in told(
        "assess", "B-860"
    )
    assert "B-860 in LATHE-A N (drawer 2): does not hold 12 µm any more." in told("due")


@pytest.fixture(scope="module")
def pages(kept: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Some pages of the demonstration, without the explanations at their end."""
    folder = tmp_path_factory.mktemp("pages")
    told = {}
    for code in ("B-1045", "B-1236", "B-795", "ST-12"):
        assert main(["--logbook", str(kept), "report", code, "--to", str(folder / "page.html")]) == 0
        page = (folder / "page.html").read_text(encoding="utf-8")
        told[code] = " ".join(re.sub(r"<[^>]+>", "", page.split("</style>")[1].split('class="meanings"')[0]).split())
    return told


def test_a_page_offers_to_measure_as_advised_and_as_it_was_measured_before(pages: dict[str, str]) -> None:
    assert "--pin P-1045 --clocking &#34;B-1045=80 P-1045=240 SL-5=50&#34;" in pages["B-1045"]
    assert "qclog measure B-1236 --setup LATHE-C --distance 20 --pin P-1230 --instrument E-2" in pages["B-1236"]


def test_a_page_says_things_once(pages: dict[str, str]) -> None:
    assert pages["B-795"].count("short work is not held") == 1
    assert pages["B-1045"].count("a three-lobed pin or bore would read as run-out") == 1
    assert pages["B-1045"].count("lobes reads as run-out") == 1


def test_a_size_is_not_told_in_words_of_run_out(
    kept: Path, pages: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert "The number of a reading leads to its dot" in pages["ST-12"]
    assert "A clamping's number" not in pages["ST-12"]
    capsys.readouterr()
    main(["--logbook", str(kept), "study", "ST-12"])
    assert "qclog log ST-12" not in capsys.readouterr().out
