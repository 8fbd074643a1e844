"""The price of looking: the confidence a verdict needs when it is recomputed after every clamping.

Whoever looks after each clamping and stops at the first wanted word has many chances to be wrong. With
0.95 at every look, an item standing exactly at its limit is called good in 15 to 23 % of the cases by the
twentieth clamping. One constant, higher confidence at every look repairs that (the constant level of
group-sequential tests after Pocock 1977, Biometrika 64, from memory). The constants are from own simulation
with Rice-distributed swings, looks after every clamping up to 20, item exactly at its limit. Simulated
share of wrong "holds" / wrong "does not hold" over all looks, systematic part 0 to 10 times the scatter:

- own data of one sitting, looks from n = 3: 0.027-0.055 / 0.043-0.049
- own data over sittings, looks from two sittings on: 0.002-0.036 / 0.02-0.06, at most 0.09 without any
  sitting effect and 3 to 4 clampings in each sitting
- shop figures, looks from n = 1: 0.000-0.045 / 0.008-0.058

Up to 20 looks the confidence is constant. Beyond, the risk 1 - confidence shrinks as 20/n; up to n = 200
the shares are then 0.031-0.056 / 0.056-0.090 (0.088 / 0.056 without systematic part). To keep the shipped
tables small n is first rounded up to a preferred number in steps of about 12 %, so that the risk never
exceeds the formula's; beyond 200 the formula is used as it stands.

Bounds that are only shown, and decide nothing, stay at 95 %.
"""

import numpy as np
import numpy.typing as npt

OWN_HOLDS = 0.993
OWN_DOES_NOT_HOLD = 0.988
SHOP_HOLDS = 0.988
SHOP_DOES_NOT_HOLD = 0.990

FREE_LOOKS = 20
LOOKS = (20, 22, 25, 28, 32, 36, 40, 45, 50, 56, 63, 71, 80, 90, 100, 112, 125, 140, 160, 180, 200)


def risk(clampings: npt.ArrayLike, confidence: float) -> npt.NDArray[np.float64]:
    """Risk 1 - confidence of the verdict at the look after this many clampings.

    clampings: any shape, counts. confidence: one of the constants of this module.
    """
    n = np.asarray(clampings, dtype=np.float64)
    ladder = np.array(LOOKS, dtype=np.float64)
    step = ladder[np.minimum(np.searchsorted(ladder, n), ladder.size - 1)]
    return (1.0 - confidence) * FREE_LOOKS / np.maximum(step, n)
