"""Changes as plain values and back, to be written down and read again to the last digit."""

import dataclasses
from typing import Any, Final

from qclog.logbook.figures import Series
from qclog.questions.changing.changes import Changes, Tested
from qclog.questions.changing.rhythm import Rhythm
from qclog.questions.codes import Sign
from qclog.statistics.changing.retirement import DriftLimits
from qclog.statistics.changing.step import Step
from qclog.statistics.changing.trend import Line, Trend
from qclog.statistics.many import values

_NAMES: Final = tuple(field.name for field in dataclasses.fields(Changes) if field.name != "series")
_PARTS: Final = {"line": Line, "step": Step, "rhythm": Rhythm, "limits_ahead": DriftLimits}


def plain(changes: Changes) -> dict[str, Any]:
    """All but the series and the marks, which are given when all tests are known."""
    found = dict(zip(_NAMES, values(changes)[1:], strict=True))
    for name in _PARTS:
        found[name] = found[name] and values(found[name])
    found["tests"] = [(one.sign, one.found, one.p_value, one.by_chance) for one in changes.tests]
    if changes.trend is not None:
        line, *rest = values(changes.trend)
        found["trend"] = (values(line), *rest)
    return found


def from_plain(series: Series, given: dict[str, Any]) -> Changes:
    """What ``plain`` gave. Raises KeyError, TypeError, ValueError for what it cannot have given."""
    found = dict(given)
    for name, kind in _PARTS.items():
        found[name] = found[name] and kind(*found[name])
    found["tests"] = tuple(Tested(Sign(sign), *rest) for sign, *rest in found["tests"])
    if found["trend"] is not None:
        line, *rest = found["trend"]
        found["trend"] = Trend(Line(*line), *rest)
    return Changes(series, **found)
