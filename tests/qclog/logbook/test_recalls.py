"""Which clampings a gauge found wrong leaves in doubt, and until when."""

from collections.abc import Callable

import pytest
import sqlalchemy as sa

from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import recalls, schema, striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.figures import read_figures, read_series
from qclog.logbook.gauges import add_calibration
from qclog.logbook.lookup import Register
from qclog.records import Clamping, Reading, Turn

SWING = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)
Log = Callable[..., list[int]]


@pytest.fixture
def book(sqlite_book: Store) -> Store:
    """SQLite only: a recall is asked on both databases in the questions' tests."""
    return sqlite_book


def read(taken_at: str, item: str = "C-046", instrument: str = "D-1", pin: str = "P-65", **more: object) -> Clamping:
    base = {"position": "A", "instrument": instrument, "lever_mdeg": 0, "pin": pin}
    return Clamping(item, "LATHE", taken_at, (SWING,), **base | more)  # type: ignore[arg-type]


def write(store: Store, do: Callable[[Entry, Register], object]) -> None:
    with new_entry(store, "test") as entry:
        do(entry, Register(entry.connection))


def found_wrong(store: Store, gauge: str = "D-1", on: str = "2026-03-10", **more: object) -> None:
    def do(entry: Entry, register: Register) -> None:
        name = register.find(gauge)
        assert name is not None
        recalls.add_recall(entry, name, found_at=on, found="bent", **more)  # type: ignore[arg-type]

    write(store, do)


def calibrated(store: Store, on: str, gauge: str = "D-1") -> None:
    def do(entry: Entry, register: Register) -> None:
        name = register.find(gauge)
        assert name is not None
        add_calibration(entry, register, name, done_on=on, error_limit_pm=1_200_000)

    write(store, do)


def cleared(store: Store, reason: str = "it was good", **more: object) -> None:
    write(
        store,
        lambda entry, register: recalls.clear(entry, register.need("D-1", "instrument"), reason, **more),  # type: ignore[arg-type]
    )


def days_in_doubt(store: Store) -> list[str]:
    c = schema.clamping
    with store.reading() as connection:
        ids = recalls.all_in_doubt(connection).tolist()
        return list(connection.scalars(sa.select(c.c.taken_at).where(c.c.id.in_(ids)).order_by(c.c.id)))


def test_what_was_read_with_it_since_its_last_calibration_is_in_doubt(book: Store, log: Log) -> None:
    log(book, *(read(day) for day in ("2026-01-04", "2026-01-05", "2026-03-01", "2026-03-12")))
    log(book, read("2026-03-02", instrument="D-2"), read("2026-03-02", instrument=""))
    assert days_in_doubt(book) == []
    found_wrong(book)
    assert days_in_doubt(book) == ["2026-01-05", "2026-03-01", "2026-03-12"]


def test_without_a_good_check_everything_ever_read_with_it_is(book: Store, log: Log) -> None:
    log(book, read("2020-01-01", instrument="D-2"), read("2026-03-02"))
    found_wrong(book, "D-2")
    assert days_in_doubt(book) == ["2020-01-01"]


def test_the_last_good_check_can_be_said(book: Store, log: Log) -> None:
    log(book, read("2026-02-28"), read("2026-03-01T08:00"), read("2026-03-01T12:00"), read("2026-03-01"))
    found_wrong(book, since="2026-03-01T09:00")
    assert days_in_doubt(book) == ["2026-03-01T12:00", "2026-03-01"]


def test_a_calibration_of_the_day_it_was_found_wrong_is_no_good_check_before_but_ends_it(book: Store, log: Log) -> None:
    log(book, read("2026-03-09"), read("2026-03-10"))
    calibrated(book, "2026-03-10")
    log(book, read("2026-03-10"), read("2026-03-11"))
    found_wrong(book)
    assert days_in_doubt(book) == ["2026-03-09", "2026-03-10"]


def test_of_the_day_of_the_calibration_times_tell_where_both_are_noted(book: Store, log: Log) -> None:
    found_wrong(book)
    calibrated(book, "2026-03-12T12:00")
    log(book, read("2026-03-12T11:00"), read("2026-03-12T13:00"), read("2026-03-12"))
    assert days_in_doubt(book) == ["2026-03-12T11:00"]


def test_what_is_written_later_but_was_read_before_is_in_doubt_too(book: Store, log: Log) -> None:
    found_wrong(book)
    calibrated(book, "2026-03-12")
    log(book, read("2026-03-05"))
    assert days_in_doubt(book) == ["2026-03-05"]


def test_struck_out_and_recalled_readings_are_none_of_it(book: Store, log: Log) -> None:
    (number,) = log(book, read("2026-03-01"))
    log(book, read("2026-02", recalled=True))
    write(book, lambda e, r: striking.strike(e, r.need("C-046", "item"), number, reason="misread"))
    found_wrong(book)
    assert days_in_doubt(book) == []


def test_a_pin_is_recalled_like_an_indicator(book: Store, log: Log) -> None:
    log(book, read("2026-03-01"), read("2026-03-02", pin="P-3"))
    found_wrong(book, "P-65")
    assert days_in_doubt(book) == ["2026-03-01"]


def test_clearing_goes_by_item_and_by_day_and_is_kept_with_its_reason(book: Store, log: Log) -> None:
    log(book, *(read(day, item) for item in ("C-046", "C-047") for day in ("2026-03-01", "2026-03-05")))
    found_wrong(book)
    with book.reading() as connection:
        item = Register(connection).need("C-047", "item").id
    cleared(book, items=[item], before="2026-03-05")
    assert days_in_doubt(book) == ["2026-03-01", "2026-03-05", "2026-03-05"]
    with book.reading() as connection:
        (recall,) = recalls.read_recalls(connection)
        assert [(one.reason, one.who) for one in recalls.read_cleared(connection, recall)] == [
            ("it was good", "tester")
        ]
    cleared(book, items=[item])
    assert days_in_doubt(book) == ["2026-03-01", "2026-03-05"]
    log(book, read("2026-03-04", "C-047"))
    assert days_in_doubt(book) == ["2026-03-01", "2026-03-05", "2026-03-04"]


def test_clearing_everything_withdraws_the_recall_also_for_what_is_entered_later(book: Store, log: Log) -> None:
    log(book, read("2026-03-01"))
    found_wrong(book)
    cleared(book)
    log(book, read("2026-03-02"))
    assert days_in_doubt(book) == []
    with pytest.raises(NotFoundError):
        cleared(book)


@pytest.mark.parametrize(
    "more",
    [
        {"found": " "},
        {"read_pm": 20, "true_pm": 20},
        {"since": "2026-03-11"},
    ],
)
def test_a_recall_that_cannot_be_is_refused(book: Store, more: dict[str, object]) -> None:
    def do(entry: Entry, register: Register) -> None:
        gauge = register.need("D-1", "instrument")
        recalls.add_recall(entry, gauge, **{"found_at": "2026-03-10", "found": "bent"} | more)  # type: ignore[arg-type]

    with pytest.raises(RefusedError):
        write(book, do)


def test_the_same_again_and_a_clearing_without_a_reason_are_refused(book: Store, log: Log) -> None:
    log(book, read("2026-03-01"))
    found_wrong(book)
    with pytest.raises(RefusedError):
        found_wrong(book)
    with pytest.raises(RefusedError):
        cleared(book, reason=" ")
    assert days_in_doubt(book) == ["2026-03-01"]


def test_figures_leave_out_what_is_in_doubt_where_there_is_something_else(book: Store, log: Log) -> None:
    numbers = log(book, read("2026-03-01"), read("2026-03-02", instrument="D-2"), read("2026-03-03", "C-047"))
    found_wrong(book)
    with book.reading() as connection:
        of = {one.item: one.id for one in read_series(connection)}
        figures = read_figures(connection)
        everything = read_figures(connection, also_in_doubt=True)
    assert dict(zip(figures.clamping.tolist(), figures.in_doubt.tolist(), strict=True)) == {
        numbers[1]: False,
        numbers[2]: True,
    }
    assert figures.left_out == {of["C-046"]}
    assert not figures.newest_left_out
    assert everything.clamping.tolist() == numbers
    assert not everything.in_doubt.any()
    log(book, read("2026-03-04"))
    with book.reading() as connection:
        assert read_figures(connection).newest_left_out == {of["C-046"]}


@pytest.mark.parametrize("few", [0, 100])
def test_a_few_clampings_are_in_doubt_whether_they_are_looked_up_or_all_are_read(
    book: Store, log: Log, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    monkeypatch.setattr(recalls, "_FEW", few)
    monkeypatch.setattr(recalls, "_AT_ONCE", 2)
    numbers = log(book, *(read(f"2026-03-0{day}") for day in range(1, 6)), read("2026-03-02", item="C-047"))
    found_wrong(book)
    with book.reading() as connection:
        everything = set(recalls.all_in_doubt(connection).tolist())
        assert everything == set(numbers)
        asked = numbers[1:4]
        assert everything.intersection(asked) == set(asked).intersection(
            recalls.all_in_doubt(connection, asked).tolist()
        )
        assert len(recalls.all_in_doubt(connection, asked)) == (len(asked) if few else len(numbers))
