"""What to mind at the machine, and of what was found on an item."""

from collections.abc import Collection, Iterable
from typing import Final

from qclog.characteristics import DIAMETRAL_GAP, RADIAL_GAP
from qclog.logbook.findings import CRASH, SOUND
from qclog.questions.codes import LOCKING
from qclog.records import Limit

CAUTIONS: Final = (
    "Isolate the machine and turn the spindle by hand. Key out. Keep clear of the cutter, cables and phone away from "
    "the chuck. At the end: pin out, indicator away, key out, then power.",
    "A bored, annealed or soft item is no longer rated by its maker: inspect it, guard it, keep to the lowest speed "
    "limit in the chain. A cracked or heat-blued item is scrap whatever its run-out.",
    "Local rules and licensed practice come first. Nothing here advises a clamping force or a speed.",
)
FINDING_ADVICE: Final = {
    "crack": "Out of service whatever its run-out: mark it and scrap it.",
    "blue": "The temper is gone: out of service whatever its run-out; mark it and scrap it.",
    "bell-mouth": "Short work is not held; compare the run-out near and far.",
    "lost spring": "It no longer opens by itself; measure its free bore against the card.",
    "slip": "Inspect it; after a second slip retire it.",
    "crash": "Look for cracks and measure it again before relying on it.",
    "burr": "Stone it off flat, without rounding the seat, and measure again.",
    "fretting": "Clean cone and bore; if the brown rings come back, retire it.",
    "collapsed": "It was closed empty or on undersize: retire it.",
    "sound": "Back in use on the word of the one who looked.",
}
SKIM: Final = "Soft jaws are skimmed anew."
CLEAR: Final = 'Once it is found in order: qclog inspect {code} sound --note "how you know".'

WIDEST_GAP_PM: Final = 150_000_000
WIDE_GAP: Final = (
    "Is the gap right? Retaining compounds want less than 0.15 mm diametral, 0.075 mm radial (common practice); the "
    "sheet of the compound comes first."
)


def wide_gap(limits: Iterable[Limit]) -> str:
    """A word on a limit that leaves a bond more room than compounds want; '' where none does."""
    widest = {DIAMETRAL_GAP: WIDEST_GAP_PM, RADIAL_GAP: WIDEST_GAP_PM // 2}
    ends = ((one.characteristic, one.upper_pm) for one in limits)
    return WIDE_GAP if any(end is not None and end > widest.get(name, end) for name, end in ends) else ""


def advice_on(finding: str, kind: str) -> str:
    """What to do about a finding on an item of a kind."""
    return f"{FINDING_ADVICE[finding]} {SKIM}" if (finding, kind) == (CRASH, "jaws") else FINDING_ADVICE[finding]


def to_clear(code: str, findings: Collection[str]) -> str:
    """What to type once an item is found in order; '' where nothing stands against it or it is out for good."""
    return CLEAR.format(code=code) if findings and not {*LOCKING, SOUND}.intersection(findings) else ""
