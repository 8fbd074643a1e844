"""Plain values are kept as they were typed and derived alike on both databases."""

from collections.abc import Callable

import pytest
import sqlalchemy as sa

from qclog.frames import readings
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.records import Clamping, Limit, Reading, Turn

Log = Callable[..., list[int]]
UM = 1_000_000


def value(name: str, *values_um: float, ends_um: tuple[int, int] | None = None) -> Turn:
    low, high = (None, None) if ends_um is None else (end * UM for end in ends_um)
    read = tuple(Reading(round(v * UM), f"{v:g}", UM, low_pm=low, high_pm=high) for v in values_um)
    return Turn("value", read, 0, name)


def log_all(book: Store, log: Log) -> None:
    days = ("2026-03-01", "2026-03-02", "2026-03-03")
    turns = (
        value("depth", 12_031),
        value("bore", 6_485, ends_um=(6_480, 6_490)),
        value("pair difference", 10_002, 10_004),
        value("slot difference", 1_502, 1_505, 1_501),
        value("radial gap", 8_052, 7_998),
    )
    log(book, *(Clamping("C-047", "", day, (turn,)) for day in days for turn in turns))


def test_what_counts_of_readings_kept_together_is_derived_the_same_on_both_databases(book: Store, log: Log) -> None:
    log_all(book, log)
    (answer,) = assess(book, "C-047")
    found = {one.characteristic: (one.read_um.low, one.read_um.high) for one in answer.values}
    assert found == {
        "bore": (6_480.0, 6_490.0),
        "depth": (12_031.0, 12_031.0),
        "pair difference": (-2.0, -2.0),
        "radial gap": (27.0, 27.0),
        "slot difference": (4.0, 4.0),
    }
    assert {one.sittings for one in answer.values} == {3}


def test_a_notebook_sees_both_ends_of_what_pins_told_and_no_middle(book: Store, log: Log) -> None:
    log_all(book, log)
    frame = readings(book, "C-047")
    bore = frame[frame["characteristic"] == "bore"].iloc[0]
    assert (bore["low_um"], bore["high_um"]) == (6_480.0, 6_490.0)
    assert bore.isna()["value_um"]
    assert frame[frame["characteristic"] == "depth"]["value_um"].tolist() == [12_031.0] * 3


def test_turns_of_one_clamping_count_once_by_their_mean(book: Store, log: Log) -> None:
    two = (value("bore", 6_485, ends_um=(6_480, 6_490)), value("bore", 6_495, ends_um=(6_490, 6_500)))
    log(book, Clamping("C-047", "", "2026-03-01", two))
    ((one,),) = [answer.values for answer in assess(book, "C-047")]
    assert (one.clampings, one.read_um.low, one.read_um.high) == (1, 6_485.0, 6_495.0)


@pytest.mark.parametrize(("mdeg", "um"), [(0, 20.0), (60_000, 10.0)])
def test_a_levers_angle_matters_to_a_small_difference_and_to_no_size(
    sqlite_book: Store, log: Log, mdeg: int, um: float
) -> None:
    """True movement = indicated x cos(angle), common practice."""
    turns = (value("jaw lift", 20), value("depth", 12_000))
    log(sqlite_book, *(Clamping("C-048", "", "2026-03-01", (t,), instrument="D-1", lever_mdeg=mdeg) for t in turns))
    lift, depth = (_figure(sqlite_book, name) for name in ("jaw lift", "depth"))
    assert lift == pytest.approx(um)
    assert depth == 12_000.0


def _figure(book: Store, characteristic: str) -> float:
    f, t = schema.figure, schema.turn
    query = sa.select(f.c.value_um).join(t, t.c.id == f.c.turn_id).where(t.c.characteristic == characteristic)
    with book.reading() as connection:
        return float(list(connection.scalars(query.order_by(t.c.id)))[-1])


def test_a_limit_kept_has_both_of_its_ends(sqlite_book: Store) -> None:
    wanted = Limit(12_050 * UM, characteristic="depth", lower_pm=12_000 * UM, text="12.00..12.05mm")
    with new_entry(sqlite_book, "limit") as entry:
        register = Register(entry.connection)
        set_limit(entry, register, register.need("C-047", "item"), 0, wanted)
    with sqlite_book.reading() as connection:
        register = Register(connection)
        (found,) = register.limits(register.need("C-047", "item").id)
    assert (found.lower_pm, found.upper_pm, found.text) == (12_000 * UM, 12_050 * UM, "12.00..12.05mm")
