"""What an import did, or why it was refused."""

from typing import Final

from qclog.logbook.exchange import Imported, ImportRefusedError
from qclog.questions.import_doubts import ImportDoubts
from reports.numbers import METRIC, NumberStyle, count
from reports.wording.commands import typed
from reports.wording.slips import doubt

_MOST_SHOWN: Final = 20


def imported(result: Imported) -> str:
    """What was taken in, what was there already, and what was entered on the way."""
    line = f"{count(result.clampings, 'clamping')} with {count(result.readings, 'reading')} taken in"
    if result.skipped:
        line += f"; {result.skipped} were in the logbook already"
    for what, codes in (
        ("items", result.created_items),
        ("setups", result.created_setups),
        ("key positions", result.created_positions),
        ("pins", result.created_pins),
    ):
        if codes:
            more = f" and {len(codes) - _MOST_SHOWN} more" if len(codes) > _MOST_SHOWN else ""
            line += f"; entered {what} {', '.join(codes[:_MOST_SHOWN])}{more}"
    if result.limits:
        line += f"; {count(result.limits, 'limit')} noted"
    return f"{line}."


def doubtful(noticed: ImportDoubts, style: NumberStyle = METRIC) -> str:
    """What of it looks like a slip, a line each, with what to do; the first ones where there are many."""
    lines = []
    for one in noticed.first[:_MOST_SHOWN]:
        code = typed(one.item)
        mend = f"If so, its number is in qclog item show {code}; then: qclog strike {code} NUMBER --reason misread"
        lines.append(f"Doubtful, line {one.line}, {one.item}: {doubt(one.found, style)} {mend}")
    if noticed.total > len(lines):
        lines.append(f"... and {noticed.total - len(lines)} more.")
    return "\n".join(lines)


def faults(error: ImportRefusedError) -> str:
    """The faults of a refused file, a line each; the first ones where there are many."""
    lines = [str(fault) for fault in error.faults[:_MOST_SHOWN]]
    if error.total > len(lines):
        lines.append(f"... and {error.total - len(lines)} more.")
    return "\n".join(lines)
