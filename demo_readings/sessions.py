"""Makes the demonstration's two recorded occasions anew: python -m demo_readings.sessions [FOLDER].

What a simulated indicator said and what was typed meanwhile, with their times, as ``qclog measure --record`` keeps it.
"""

import cmath
import dataclasses
import math
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import demo_readings
from instruments.profile_files import load_profile
from instruments.recordings import write_recording
from instruments.records import Arrival, Bytes, Change, Typed
from instruments.simulated import Fault, SimulatedIndicator, Spindle

BUTTON: Final = "b-945-by-button.jsonl"
TURNED: Final = "b-670-turned-by-hand.jsonl"
NORTH: Final = Spindle(7.75, 220.0, noise_um=0.2)
SOUTH: Final = Spindle(1.8, 300.0, noise_um=0.2)
SLEEVE_CLEANED: Final = Spindle(3.1, 75.0, noise_um=0.2, seconds_per_turn=16.0, unevenness=0.2)
REPEAT_UM: Final = 0.4
CLAMPINGS: Final = 5
TURNED_SECONDS: Final = (43.2, 43.2, 43.2, 33.0)
"""How long each clamping is turned; the recording ends with the last reading that is wanted."""
_ANGLES: Final = (0, 90, 180, 270, 0)
_PORT: Final = "usb:1234:5678"


def by_button() -> Iterator[Arrival]:
    """B-945 at both key positions of LATHE-A, N S S N; once the indicator was on hold, once the button bounced, and
    once a reading was taken back."""
    chance = random.Random("B-945 by button")
    indicator = SimulatedIndicator(load_profile("ascii-button"), NORTH, faults=(Fault("hold", 7), Fault("double", 23)))
    now, said = 0.0, 0
    yield Change("connected", now, _PORT)
    for clamping in range(2 * CLAMPINGS):
        indicator.spindle = _clamped((NORTH, SOUTH, SOUTH, NORTH)[clamping % 4], chance)
        now += 20.0
        for at, angle in enumerate(_ANGLES):
            again = 2 if indicator.saying(said).fault == "hold" else 1
            for _ in range(again):
                now += round(chance.uniform(1.5, 3.0), 3)
                yield Bytes(indicator.saying(said, seconds=now, angle_deg=angle).data, now)
                said += 1
            if (clamping, at) == (4, 2):
                yield Typed("u", now := now + 2.0)
                yield Typed("m", now := now + 1.0)
                now += 2.0
                yield Bytes(indicator.saying(said, seconds=now, angle_deg=angle).data, now)
                said += 1


def turned_by_hand() -> Iterator[Arrival]:
    """B-670 at N of LATHE-A, four clampings, each turned slowly by hand; Enter begins it and marks the zero."""
    chance = random.Random("B-670 turned by hand")
    now = 0.0
    yield Change("connected", now, _PORT)
    for clamping, seconds in enumerate(TURNED_SECONDS):
        spindle = _clamped(SLEEVE_CLEANED, chance)
        indicator = SimulatedIndicator(load_profile("ascii-lines"), spindle, per_second=5.0, seed=clamping)
        begun = now = now + 25.0
        turns = -1
        for saying in indicator.stream():
            if saying.seconds > seconds:
                break
            now = round(begun + saying.seconds, 3)
            yield Bytes(saying.data, now)
            if saying.number == 2 or saying.angle_deg // 360 > max(turns, 0):
                yield Typed("", round(now + 0.05, 3))
            turns = int(saying.angle_deg // 360)


def make(folder: Path) -> None:
    """Write both recordings into ``folder``, in place of those that are there."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, arrivals in ((BUTTON, by_button()), (TURNED, turned_by_hand())):
        (folder / name).unlink(missing_ok=True)
        write_recording(folder / name, arrivals)


def _clamped(spindle: Spindle, chance: random.Random) -> Spindle:
    """Clamped anew: moved by the repeat on both axes."""
    vector = cmath.rect(spindle.eccentricity_um, math.radians(spindle.high_spot_deg))
    vector += complex(chance.gauss(0, REPEAT_UM / 2), chance.gauss(0, REPEAT_UM / 2))
    return dataclasses.replace(
        spindle, eccentricity_um=abs(vector), high_spot_deg=math.degrees(cmath.phase(vector)) % 360
    )


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(demo_readings.__path__[0]) / "sessions")
