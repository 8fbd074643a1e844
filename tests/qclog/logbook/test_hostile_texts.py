"""What is written into a logbook is text that can be read; what comes out of one computes and commands nothing."""

import csv
import dataclasses
import re
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

from qclog.cli.main import main
from qclog.errors import QclogError, RefusedError
from qclog.logbook import gauges, items, limits, schema, setups, striking
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.exchange import export_folder, export_readings, import_folder, import_readings
from qclog.logbook.exchange.spreadsheets import guarded, unguarded
from qclog.logbook.lookup import Register
from qclog.records import Card, Clamping, Limit, Reading, Turn, Work

UM = 1_000_000
SIGNS = "=+-@\uff1d\uff0b\uff0d\uff20"
SWING = Turn("tir", (Reading(5 * UM, "5", UM),), 16_000 * UM)
Log = Callable[..., list[int]]
Write = Callable[[Entry, Register, str], object]


def clamping(**texts: str) -> Clamping:
    plain = Clamping("C-046", "LATHE", "2026-03-04T10:00", (SWING,), position="A")
    return dataclasses.replace(plain, **texts)  # type: ignore[arg-type]


WRITERS: dict[str, Write] = {
    "card": lambda e, r, text: items.write_card(e, r, r.need("C-046", "item"), Card(place=text)),
    "work": lambda e, r, text: items.modify(e, r, r.need("C-046", "item"), Work(text, "2026-05-01")),
    "state": lambda e, r, text: items.set_state(
        e, r, r.need("C-046", "item"), state="out", limit_pm=None, since="2026", reason=text
    ),
    "inspection": lambda e, r, text: items.inspect_item(
        e, r, r.need("C-046", "item"), finding="slip", seen_on="2026", note=text
    ),
    "use": lambda e, r, text: items.record_use(
        e, r.need("C-046", "item"), used_on="2026", clampings=1, hours=None, note=text
    ),
    "item": lambda e, r, text: items.add_item(e, r, f"C{text}", Card()),
    "setup": lambda e, r, text: setups.add_setup(e, r, f"L{text}"),
    "position": lambda e, r, text: setups.add_positions(e, r, r.need("LATHE", "setup"), [f"C{text}"]),
    "refit": lambda e, r, text: setups.refit(e, r, r.need("LATHE", "setup"), reason=text, since="2026-05-01"),
    "limit": lambda e, r, text: limits.set_limit(
        e, r, r.need("C-046", "item"), 0, Limit(UM, characteristic=f"bore{text}")
    ),
    "pin": lambda e, r, text: gauges.add_pin(
        e, r, "P-9", diameter_pm=UM, roundness_pm=None, kind="pin", grade=text
    ),
    "certificate": lambda e, r, text: gauges.add_calibration(
        e, r, r.need("D-1", "instrument"), done_on="2026-05-01", error_limit_pm=UM, certificate=text
    ),
    "strike": lambda e, r, text: striking.strike(e, r.need("C-046", "item"), 1, reason=f"misread{text}"),
}  # fmt: skip


@pytest.mark.parametrize("text", ["\0", "\x1b[2J", "\udcff", "a\nb", "x" * 501], ids=ascii)
def test_no_fact_takes_a_text_that_cannot_be_read(store: Store, workshop: Callable[[Store], None], text: str) -> None:
    workshop(store)
    for what, write in WRITERS.items():
        with pytest.raises(RefusedError) as refused, new_entry(store, "test") as entry:
            write(entry, Register(entry.connection), text)
        assert str(refused.value).isprintable(), what
    with store.reading() as connection:
        assert connection.scalar(sa.select(sa.func.count()).select_from(schema.entry)) == 1


@pytest.mark.parametrize("field", ["sitting", "label", "position", "operator", "torque", "conditions", "note"])
def test_no_clamping_takes_a_text_that_cannot_be_read(sqlite_book: Store, log: Log, field: str) -> None:
    for text in ("\0", "\x9b2J", "\ud800", "a\rb", "x" * 501):
        with pytest.raises(RefusedError):
            log(sqlite_book, clamping(**{field: text}))


def test_what_cannot_be_looked_up_or_counted_gives_one_line(store: Store, workshop: Callable[[Store], None]) -> None:
    """PostgreSQL refuses NUL, neither database takes such a number: what slips through is told all the same."""
    workshop(store)
    for code in ("\0", "\ud800", "x" * 5_000):
        with pytest.raises(QclogError) as refused, store.reading() as connection:
            Register(connection).need(code, "item")
        assert str(refused.value).isprintable()
        assert len(str(refused.value)) < 400
    for number in (2**63, 2**70):
        with pytest.raises(RefusedError):
            use(store, number)


def use(store: Store, clampings: int) -> None:
    with new_entry(store, "test") as entry:
        item = Register(entry.connection).need("C-046", "item")
        items.record_use(entry, item, used_on="2026", clampings=clampings, hours=None, note="")


@given(st.text(st.sampled_from(f"'{SIGNS}1a "), max_size=6))
@settings(deadline=None)
def test_a_guarded_text_is_no_formula_and_comes_back_as_it_was(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert re.fullmatch(r"[+-][0-9]+([.,][0-9]+)?", text) or not guarded(text).startswith(tuple(SIGNS))


FORMULAS = {"note": '=HYPERLINK("http://x","5 um")', "operator": "@SUM(1)", "sitting": "'=1", "label": "-1+1"}


def test_exported_files_hold_no_formula_and_import_as_they_were(
    sqlite_book: Store, sqlite_workshop: Path, tmp_path: Path, log: Log
) -> None:
    log(sqlite_book, clamping(**FORMULAS))
    export_readings(sqlite_book, tmp_path / "out.csv")
    export_folder(sqlite_book, tmp_path / "out")
    for path in (tmp_path / "out.csv", *(tmp_path / "out").iterdir()):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.reader(file):
                assert not [cell for cell in row if cell.startswith(tuple(SIGNS)) and not _is_number(cell)], path.name
    (tmp_path / "other.sqlite").write_bytes(sqlite_workshop.read_bytes())
    for target, take in (("other.sqlite", import_readings), ("empty.sqlite", import_folder)):
        other = open_store(str(tmp_path / target), create=True)
        take(other, tmp_path / ("out.csv" if take is import_readings else "out"))
        with other.reading() as connection:
            found = connection.execute(
                sa.select(schema.clamping, schema.sitting.c.label.label("sitting")).join(schema.sitting)
            ).one()
        assert {name: found._mapping[name] for name in FORMULAS} == FORMULAS
        other.close()


def _is_number(cell: str) -> bool:
    return cell.lstrip("+-").replace(".", "").isdigit()


def test_a_note_of_elsewhere_commands_no_terminal(
    sqlite_book: Store, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with new_entry(sqlite_book, "by another program") as entry:
        item = Register(entry.connection).need("C-046", "item")
        for note in ("\x1b]0;owned\a", "\x9b2J", "\u202eevil", "HOLDS\r"):
            entry.add(schema.inspection, item_id=item.id, seen_on="2026-03-04", finding="slip", note=note)
    monkeypatch.setenv("QCLOG_LOGBOOK", sqlite_book.target)
    for question in (["item", "show", "C-046"], ["item", "show", "C-046", "--json"], ["assess"], ["wear"]):
        assert main(question) == 0
        out, err = capsys.readouterr()
        assert (out + err).replace("\n", "").isprintable()
    assert main(["item", "show", "C-046"]) == 0
    assert "\\u001b]0;owned\\u0007" in capsys.readouterr().out
