"""A stream of readings over a pseudo-terminal, each accounted for, with memory flat.

    python tests/benchmarks/stream.py [SECONDS [PER_SECOND]]

60 s at 2,000 readings a second unless told. It fails if a line is missing, doubled or refused, or if the memory at the
end is more than 20 MB above that after a tenth of the time.
"""

import resource
import sys
import time
from decimal import Decimal
from pathlib import Path

from instruments.opening import open_indicator
from instruments.profile_files import load_profile
from instruments.records import Reading
from instruments.serving import Serving
from instruments.simulated import SimulatedIndicator


class Counting(SimulatedIndicator):
    """An indicator whose n-th reading is n ten-thousandths of a millimetre, up to 99.9999 and from 0 again."""

    def _value(self, number: int, seconds: float, angle_deg: float, unit: str) -> Decimal:
        del seconds, angle_deg, unit
        return Decimal(number % 1_000_000).scaleb(-4)


def memory_mb() -> float:
    """Memory held now, on Linux; elsewhere the most that was ever held."""
    status = Path("/proc/self/statm")
    if status.exists():
        return int(status.read_text().split()[1]) * resource.getpagesize() / 1e6
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    per_second = float(sys.argv[2]) if len(sys.argv) > 2 else 2000.0
    profile = load_profile("ascii-lines")
    expected = int(seconds * per_second)
    served = Serving(Counting(profile, per_second=per_second), at_once=False)
    heard = refused = out_of_order = 0
    early: float | None = None
    with served, open_indicator(profile, served.address) as indicator:
        time.sleep(1.0)
        used = time.process_time()
        served.begin()
        began = time.monotonic()
        while heard + refused < expected and time.monotonic() - began < 2 * seconds + 10:
            for outcome in indicator.poll(0.1).outcomes:
                if not isinstance(outcome, Reading):
                    refused += 1
                    continue
                out_of_order += outcome.value != Decimal(heard % 1_000_000).scaleb(-4)
                heard += 1
            if early is None and heard > expected / 10:
                early = memory_mb()
        took = time.monotonic() - began
        used = time.process_time() - used
    grown = memory_mb() - (early or 0.0)
    print(f"{heard} of {expected} heard in {took:.1f} s, {refused} refused, {out_of_order} out of order, ", end="")
    print(f"{served.unheard} not taken by the line; {used / took:.2f} of a core for both ends; memory {grown:+.1f} MB")
    if heard < expected or refused or out_of_order or served.unheard or grown > 20:
        sys.exit(1)


if __name__ == "__main__":
    main()
