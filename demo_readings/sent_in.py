"""Two files of readings as others send them in: from a spreadsheet with inch columns, and from a German one."""

import csv
import io
from collections.abc import Sequence
from typing import Final

from demo_readings.bench import Bench, Gauge, Runs

_TENTHS: Final = Gauge("I-1", 2.54, "{tenths:.0f}")
_FINE: Final = Gauge("E-1", 0.2, "{um:.1f}")
_EIGHTHS: Final = tuple(range(0, 360, 45))


def files() -> dict[str, str]:
    """The files by name, each as text."""
    return {"readings-inch-2026-08.csv": _inch(), "readings-teilkopf-2026-09.csv": _head()}


def _inch() -> str:
    """A soft collet read in tenths, thou and inches, as each reader writes them."""
    bench = Bench("inch")
    header = ["taken_at", "item", "setup", "position", "clamping", "distance", "kind", "value", "unit"]
    header += ["angle_deg", "instrument", "pin", "operator", "note"]
    rows = []
    for day, who, unit in (("2026-08-04", "RT", "tenths"), ("2026-08-11", "MÖ", "thou"), ("2026-08-18", "AK", "in")):
        swings = bench.swings(Runs(8.9, 45, 0.8, 1.2), 4, _TENTHS)
        for number, swing in enumerate(swings, start=1):
            value = {"tenths": swing, "thou": f"{int(swing) / 10:.1f}", "in": f"{int(swing) / 10_000:.4f}"}[unit]
            note = 'tightened twice, "second try"' if (unit, number) == ("thou", 3) else ""
            cells = [day, "B-535", "LATHE-B", "1", str(number), "16", "tir", value, unit]
            rows.append([*cells, "4 o'clock" if number == 1 else "", "I-1", "P-535", who, note])
    return _text(header, rows, ",")


def _head() -> str:
    """A driver turned for the dividing head, unknown until then: eight readings a turn, decimal commas."""
    bench = Bench("driver")
    header = ["item", "taken_at", "setup", "clamping", "pin", "diameter", "distance", "kind", "angle_deg"]
    header += ["value", "unit", "instrument", "operator", "limit", "note"]
    rows = []
    for day in ("2026-09-08", "2026-09-15", "2026-09-22"):
        turns = bench.turns(Runs(5.6, 80, 0.3, 0.4), 4, _EIGHTHS, _FINE)
        for number, turn in enumerate(turns, start=1):
            for angle, reading in zip(_EIGHTHS, turn.split(), strict=True):
                cells = ["MN-14", f"{day}T09:{10 * number}", "HEAD", str(number), "R-14", "13,996", "30", "point"]
                value = reading.replace(".", ",")
                rows.append([*cells, str(angle), value, "um", "E-1", "MÖ", "12um", "Mitnehmer, frisch überdreht; kühl"])
    return _text(header, rows, ";")


def _text(header: Sequence[str], rows: Sequence[Sequence[str]], delimiter: str) -> str:
    file = io.StringIO()
    csv.writer(file, delimiter=delimiter).writerows([header, *rows])
    return file.getvalue()
