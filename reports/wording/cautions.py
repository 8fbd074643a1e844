"""What to mind at the machine, and of what was found on an item."""

from typing import Final

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
    "crash": "Look for cracks and measure it again before relying on it; soft jaws are skimmed anew.",
    "burr": "Stone it off flat, without rounding the seat, and measure again.",
    "fretting": "Clean cone and bore; if the brown rings come back, retire it.",
    "collapsed": "It was closed empty or on undersize: retire it.",
    "sound": "Back in use on the word of the one who looked.",
}
