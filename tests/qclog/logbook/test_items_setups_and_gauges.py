"""Items, pins, indicators, setups and limits: one namespace, the newest card wins, bad ones are refused."""

from collections.abc import Callable

import pytest
import sqlalchemy as sa

from qclog.errors import NotFoundError, QclogError, RefusedError
from qclog.logbook import gauges, items, naming, schema, setups
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Register
from qclog.logbook.owned import read_owned, read_setups
from qclog.records import EVERY_DISTANCE, Card, Limit

UM = 1_000_000
Change = Callable[[Entry, Register], object]


def change(store: Store, what: Change) -> object:
    with new_entry(store, "change") as entry:
        return what(entry, Register(entry.connection))


def refused(store: Store, what: Change, error: type[QclogError] = RefusedError) -> str:
    with pytest.raises(error) as said:
        change(store, what)
    assert "\n" not in str(said.value)
    return str(said.value)


@pytest.mark.parametrize("code", ["C-046", "c-046", " c-046 ", "lathe", "p-65", "d-1"])
def test_a_code_is_taken_whatever_its_kind_and_case(book: Store, code: str) -> None:
    assert "is already the code of a" in refused(book, lambda e, r: items.add_item(e, r, code, Card()))
    assert "is already the code of a" in refused(book, lambda e, r: setups.add_setup(e, r, code))


def test_case_is_folded_beyond_ascii(book: Store) -> None:
    change(book, lambda e, r: items.add_item(e, r, "Straße 1", Card()))
    assert "Straße 1 is already" in refused(book, lambda e, r: items.add_item(e, r, "STRASSE 1", Card()))


@pytest.mark.parametrize("code", ["C-046", "4 jaw", "Ø", "A.1", "C-046/B", "K#2", "Spannzange 6,5"])
def test_codes_as_shops_write_them_are_taken(code: str) -> None:
    if code == "Ø":
        assert naming.checked_code(code) == code
    assert naming.checked_code(f"  {code} ") == code


@pytest.mark.parametrize("code", ["", "   ", "-1", "=1+1", "@x", "+3", "x" * 41, "C\n1", "C\t1", "C;1", 'C"1', "_x"])
def test_codes_that_break_a_label_a_file_or_a_command_are_refused(code: str) -> None:
    with pytest.raises(RefusedError):
        naming.checked_code(code)


@pytest.mark.parametrize("code", ["1e5", "007", "Mar-12", "12-Mar", "SEPT 1", "3/4", "2026-03", "2026-03-04", "1-2"])
def test_codes_a_spreadsheet_turns_into_dates_or_numbers_are_refused(code: str) -> None:
    with pytest.raises(RefusedError, match="spreadsheet"):
        naming.checked_code(code)


def test_a_new_item_is_as_received_with_its_card_and_limits(book: Store) -> None:
    with book.reading() as connection:
        register = Register(connection)
        item = register.need("c-046", "item")
        (received,) = register.modifications(item.id)
        (limit,) = register.limits(item.id)
        card = register.item_card(item.id)
    assert (received.number, received.what, received.done_at) == (0, "as received", "")
    assert (limit.upper_pm, limit.distance_pm, limit.setup_id, limit.text) == (8 * UM, 16_000 * UM, None, "8um@16mm")
    assert card is not None
    assert (card["kind"], card["bore_pm"]) == ("collet", 6_500 * UM)


def test_a_newer_card_keeps_what_it_leaves_open(book: Store) -> None:
    with new_entry(book, "card") as entry:
        register = Register(entry.connection)
        item = register.need("C-046", "item")
        items.write_card(entry, register, item, Card(place="drawer 3"))
        items.write_card(entry, register, item, Card(bore_pm=6_600 * UM))
    with book.reading() as connection:
        card = Register(connection).item_card(item.id)
        owned = read_owned(connection)[item.id]
    assert card is not None
    assert (card["kind"], card["place"], card["bore_pm"]) == ("collet", "drawer 3", 6_600 * UM)
    assert (owned.kind, owned.size_pm) == ("collet", 6_600 * UM)


def test_a_card_that_says_nothing_new_is_not_written(book: Store) -> None:
    with book.reading() as connection:
        query = sa.select(sa.func.count()).select_from(schema.item_card)
        before = connection.scalar(query)
    with new_entry(book, "card") as entry:
        register = Register(entry.connection)
        items.write_card(entry, register, register.need("C-046", "item"), Card(kind="collet", bore_pm=6_500 * UM))
    with book.reading() as connection:
        assert connection.scalar(query) == before
        assert connection.scalar(sa.select(schema.entry.c.id).where(schema.entry.c.what == "card")) is None


def test_a_card_that_cannot_be_is_refused_and_leaves_no_item(sqlite_book: Store) -> None:
    assert "no kind of item" in refused(sqlite_book, lambda e, r: items.add_item(e, r, "X-1", Card(kind="vice")))
    backwards = Card(range_low_pm=7_000 * UM, range_high_pm=6_000 * UM)
    assert "ends before" in refused(sqlite_book, lambda e, r: items.add_item(e, r, "X-1", backwards))
    with sqlite_book.reading() as connection:
        assert Register(connection).find("X-1") is None


def test_the_newest_limit_of_each_key_is_in_force(book: Store) -> None:
    with new_entry(book, "limits") as entry:
        register = Register(entry.connection)
        item = register.need("C-046", "item")
        set_limit(entry, register, item, 0, Limit(6 * UM, distance_pm=16_000 * UM))
        set_limit(entry, register, item, 0, Limit(20 * UM, distance_pm=40_000 * UM))
        set_limit(entry, register, item, 0, Limit(5 * UM, setup="lathe", position="A"))
    with book.reading() as connection:
        register = Register(connection)
        limits = register.limits(item.id)
        owned = read_owned(connection)[item.id].limits
        lathe = register.need("LATHE", "setup").id
    assert {(x.distance_pm, x.upper_pm, x.setup_id, x.position) for x in limits} == {
        (16_000 * UM, 6 * UM, None, ""),
        (40_000 * UM, 20 * UM, None, ""),
        (EVERY_DISTANCE, 5 * UM, lathe, "A"),
    }
    assert set(owned) == set(limits)


@pytest.mark.parametrize("limit", [Limit(0), Limit(-UM), Limit(UM, distance_pm=-2)])
def test_a_limit_that_cannot_be_is_refused(sqlite_book: Store, limit: Limit) -> None:
    refused(sqlite_book, lambda e, r: set_limit(e, r, r.need("C-047", "item"), 0, limit))


def test_a_limit_in_an_unknown_setup_is_not_found(sqlite_book: Store) -> None:
    limit = Limit(UM, setup="LATHF")
    said = refused(sqlite_book, lambda e, r: set_limit(e, r, r.need("C-047", "item"), 0, limit), NotFoundError)
    assert "Did you mean LATHE?" in said


def test_pins_and_indicators_that_cannot_be_are_refused(sqlite_book: Store) -> None:
    def pin(entry: Entry, register: Register) -> object:
        return gauges.add_pin(entry, register, "P-0", diameter_pm=0, roundness_pm=None, kind="pin", grade="")

    def instrument(kind: str, division_pm: int) -> Change:
        return lambda entry, register: gauges.add_instrument(
            entry,
            register,
            "D-9",
            kind=kind,
            unit="um",
            division_pm=division_pm,
            range_pm=None,
            correct_at_mdeg=0,
            serial="",
        )

    assert "diameter above zero" in refused(sqlite_book, pin)
    assert "no kind of indicator" in refused(sqlite_book, instrument("plunge", UM))
    assert "division of D-9" in refused(sqlite_book, instrument("lever", 0))


def test_the_calibration_in_force_is_the_newest_not_later_than_the_day(book: Store) -> None:
    with new_entry(book, "calibrate") as entry:
        register = Register(entry.connection)
        gauge = register.need("D-1", "instrument")
        gauges.add_calibration(entry, register, gauge, done_on="2026-06-01", error_limit_pm=UM, as_found="+2 um")
        gauges.add_calibration(entry, register, gauge, done_on="2025-01-01", uncertainty_pm=2 * UM, coverage_factor=2.0)
    with book.reading() as connection:
        register = Register(connection)
        done = {
            day: row["done_on"] if (row := register.calibration_at(gauge.id, day)) else None
            for day in ("2024-12-31", "2025-01-01", "2026-01-05T00:00", "2026-05-31", "2026-06-01", "2030-01-01")
        }
    assert list(done.values()) == [None, "2025-01-01", "2026-01-05", "2026-01-05", "2026-06-01", "2026-06-01"]


@pytest.mark.parametrize("factor", [None, 0.0, -2.0])
def test_an_uncertainty_without_its_coverage_factor_is_refused(sqlite_book: Store, factor: float | None) -> None:
    said = refused(
        sqlite_book,
        lambda e, r: gauges.add_calibration(
            e, r, r.need("D-2", "instrument"), done_on="2026-02-01", uncertainty_pm=UM, coverage_factor=factor
        ),
    )
    assert "coverage factor" in said


def test_a_setup_is_a_chain_of_items_from_the_spindle_outward(book: Store) -> None:
    with book.reading() as connection:
        register = Register(connection)
        setup = register.need("lathe", "setup")
        (revision,) = register.revisions(setup.id)
        links = register.links(revision.id)
        positions = register.positions(setup.id)
        owned = read_setups(connection)[setup.id]
    assert [(link.rank, link.text, link.clocking_mdeg) for link in links] == [(1, "S-1", None), (2, "K-1", None)]
    assert positions == ["A", "B"]
    assert (revision.number, revision.since, revision.sense) == (1, "", "clockwise")
    assert (owned.revision, owned.revision_id) == (1, revision.id)


def test_a_setup_of_unknown_parts_is_not_found_and_not_kept(sqlite_book: Store) -> None:
    said = refused(sqlite_book, lambda e, r: setups.add_setup(e, r, "MILL", links=["S-1", "K-9"]), NotFoundError)
    assert "no item 'K-9'" in said
    assert "K-1" in said
    with sqlite_book.reading() as connection:
        assert Register(connection).find("MILL") is None


def test_a_pin_is_no_part_of_a_chain(sqlite_book: Store) -> None:
    said = refused(sqlite_book, lambda e, r: setups.add_setup(e, r, "MILL", links=["P-65"]), NotFoundError)
    assert said.startswith("P-65 is a pin, not an item.")


def test_positions_can_be_added_once_each(sqlite_book: Store) -> None:
    change(sqlite_book, lambda e, r: setups.add_positions(e, r, r.need("LATHE", "setup"), ["A then B"]))
    with sqlite_book.reading() as connection:
        register = Register(connection)
        setup = register.need("LATHE", "setup")
        assert register.positions(setup.id) == ["A", "B", "A then B"]
        assert setups.known_position(register, setup, " a THEN b ") == "A then B"
    for twice in (["a"], ["C", "c"], [" "], ["x" * 41]):
        refused(sqlite_book, lambda e, r, p=twice: setups.add_positions(e, r, r.need("LATHE", "setup"), p))  # type: ignore[misc]


def test_an_unknown_position_names_those_there_are(sqlite_book: Store) -> None:
    with sqlite_book.reading() as connection:
        register = Register(connection)
        lathe, tail = register.need("LATHE", "setup"), register.need("TAIL", "setup")
        with pytest.raises(NotFoundError, match="It has A, B"):
            setups.known_position(register, lathe, "C")
        with pytest.raises(RefusedError, match="A, B"):
            setups.known_position(register, lathe, "")
        with pytest.raises(NotFoundError, match="It has none"):
            setups.known_position(register, tail, "A")
        assert setups.known_position(register, tail, " ") == ""


def test_states_findings_and_use_are_kept_or_refused(book: Store) -> None:
    with new_entry(book, "seen") as entry:
        register = Register(entry.connection)
        item = register.need("C-046", "item")
        items.inspect_item(entry, register, item, finding="crack", seen_on="2026-03-01", note="at a slot")
        items.inspect_item(entry, register, item, finding="sound", seen_on="2026-03-02", note="was a scratch")
        items.inspect_item(entry, register, item, finding="slip", seen_on="2026-03-03", note="")
        items.set_state(entry, register, item, state="out", limit_pm=None, since="2026-03-03", reason="slips")
        items.record_use(entry, item, used_on="2026-03-03", clampings=40, hours=None, note="")
    with book.reading() as connection:
        owned = read_owned(connection)[item.id]
    assert (owned.state, owned.findings) == ("out", ("slip",))

    def do(call: Callable[[Entry, Register], object]) -> str:
        return refused(book, call)

    assert "no finding" in do(lambda e, r: items.inspect_item(e, r, item, finding="rust", seen_on="", note=""))
    assert "no state" in do(lambda e, r: items.set_state(e, r, item, state="lost", limit_pm=None, since="", reason=""))


@pytest.mark.parametrize(("clampings", "hours"), [(None, None), (0, None), (None, 0.0), (-5, 2.0)])
def test_use_without_a_number_is_refused_with_what_to_type(
    book: Store, clampings: int | None, hours: float | None
) -> None:
    with book.reading() as connection:
        item = Register(connection).need("C-046", "item")
    told = refused(
        book,
        lambda e, _: items.record_use(e, item, used_on="2026-03-03", clampings=clampings, hours=hours, note=""),
    )
    assert "How much was C-046 used?" in told
    assert "--clampings 40" in told
    assert "--hours 2.5" in told


def test_an_unknown_code_names_the_nearest_and_how_to_add_it(sqlite_book: Store) -> None:
    with sqlite_book.reading() as connection:
        register = Register(connection)
        with pytest.raises(NotFoundError, match=r"C-049.*C-046.*qclog item add C-049"):
            register.need("C-049", "item")
        with pytest.raises(NotFoundError, match="is an item, not a setup"):
            register.need("C-046", "setup")


def test_a_settings_newest_value_wins(book: Store) -> None:
    for unit in ("um", "thou"):
        change(book, lambda e, r, u=unit: items.change_setting(e, r, "unit", u))  # type: ignore[misc]
    with book.reading() as connection:
        assert Register(connection).setting("unit") == "thou"
        assert Register(connection).setting("nothing", "x") == "x"
        assert connection.scalar(schema.setting.select().with_only_columns(schema.setting.c.id).limit(1)) == 1
