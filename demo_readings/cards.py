"""What was noted of holders and gauges and of how work was done, after everything else had happened."""

from collections.abc import Sequence
from typing import Final

from demo_readings.bench import FINE, UM
from demo_readings.diary import Event, event
from qclog import particulars
from qclog.logbook import gauges, noting
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register

_DAY: Final = "2026-09-25"
_SETUPS: Final = {
    "LATHE-A": ("machine=lathe by the window", "nose=A2-5", "master=N", "torque=25 N m"),
    "LATHE-B": ("machine=lathe by the door", "nose=D1-4", "torque=by feel"),
}
_BONDED: Final = (
    "surface=Rz 6, scratched crosswise",
    "degreaser=acetone, twice",
    "primer=none",
    "compound=gap filler, 0.10 mm diametral",
    "batch=Q-2217",
    "expires=2027-03-31",
    "cure=26 h at 21 °C",
    "key=12 o'clock",
    "push-out=held 1.5 kN",
)
_BORED: Final = ("job=314", "ring=slug 18 mm", "stroke=4 mm", "jaws=1, 2, 3", "depth=6 mm")


def events() -> list[Event]:
    return [
        event(_DAY, "note", "AK", _setups),
        event(_DAY, "note", "RT", _work),
        event(_DAY, "instrument check", "MÖ", _check),
        event(_DAY, "torque wrench TW-1", "AK", _wrench),
    ]


def _note(entry: Entry, register: Register, code: str, texts: Sequence[str]) -> None:
    thing = noting.need_thing(register, code)
    noting.note(entry, register, thing, [particulars.parse(text, noting.OF[thing.kind]) for text in texts])


def _setups(entry: Entry, register: Register) -> None:
    for code, texts in _SETUPS.items():
        _note(entry, register, code, texts)


def _work(entry: Entry, register: Register) -> None:
    _note(entry, register, "KI-8", _BONDED)
    _note(entry, register, "JW-2", _BORED)


def _check(entry: Entry, register: Register) -> None:
    _note(entry, register, FINE.code, ["within=0.001mm"])
    gauges.add_check(
        entry,
        register.need(FINE.code, "instrument"),
        done_at=f"{_DAY}T07:10",
        read_pm=100 * UM + UM // 5,
        true_pm=100 * UM,
        within_pm=UM,
        against="blocks 1.1 and 1.0 mm",
    )


def _wrench(entry: Entry, register: Register) -> None:
    wrench = gauges.add_other(entry, register, "TW-1", "torque wrench", [("range", "5 to 50 N m"), ("every", "12")])
    gauges.add_calibration(
        entry,
        register,
        wrench,
        done_on="2026-09-18",
        due_on="2027-09-18",
        certificate="W-26/151",
        as_found="within 4 %",
    )
