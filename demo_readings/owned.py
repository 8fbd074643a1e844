"""What the invented workshop owns: machines and holders, setups, indicators, pins."""

from typing import Final

from demo_readings.bench import FINE, MM, UM
from demo_readings.diary import Event, event, made_to
from qclog.logbook import gauges, items, setups
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.records import Card

OPENED: Final = "2024-02-05"
_BORES: Final = "4.12 5.35 6.4 6.55 6.7 6.85 7.1 7.35 7.6 7.8 7.95 8.15 8.35 8.55 8.6 8.7 8.8 9.05 9.2 9.45 9.9 11.65"
_NOMINALS: Final = "5 8 9"


def events() -> list[Event]:
    """Everything that was there when the logbook was opened, and what the calibrations brought later."""
    return [
        event(OPENED, "items of the first day", "AK", _holders),
        event(OPENED, "setups of the first day", "AK", _setups),
        event(OPENED, "indicators of the first day", "AK", _indicators),
        event(OPENED, "pins of the first day", "AK", _pins),
        *_later_calibrations(),
        event("2026-08-10", "indicator E-2", "AK", _new_indicator),
    ]


def _holders(entry: Entry, register: Register) -> None:
    for code, card in {
        "SP-1": Card(kind="spindle", place="lathe by the window", note="witness mark at the key, painted white"),
        "SP-2": Card(kind="spindle", place="lathe by the door"),
        "SL-3": Card(
            kind="sleeve", system="Morse 4 to Morse 3", mark="III", note='marked "III", slot to the white mark'
        ),
        "CH-1": Card(kind="chuck", system="8 degree collets", note="key-operated, keys N and S opposite"),
        "CH-2": Card(kind="chuck", system="8 degree collets", acquired="2011, second-hand", note="key-operated, older"),
        "DH-1": Card(kind="dividing head", place="mill", note="counts the other way round"),
        "AR-1": Card(kind="arbor", nominal_pm=16 * MM, material="tool steel", note="für Scheibenfräser"),
        "JW-1": Card(kind="jaws", nominal_pm=24 * MM, material="mild steel", note="soft, bored in place on ring R-24"),
    }.items():
        items.add_item(entry, register, code, card)


def _setups(entry: Entry, register: Register) -> None:
    setups.add_setup(entry, register, "LATHE-A", links=["SP-1", "SL-3", "CH-1"], positions=["N", "S"])
    setups.add_setup(entry, register, "LATHE-B", links=["SP-2", "CH-2"], positions=["1", "2"])
    setups.add_setup(entry, register, "HEAD", links=["DH-1"], sense="counterclockwise", limits=[made_to(20)])


def _indicators(entry: Entry, register: Register) -> None:
    def add(code: str, kind: str, unit: str, division_um: float, range_um: float, correct_at_deg: int) -> None:
        gauges.add_instrument(
            entry,
            register,
            code,
            kind=kind,
            unit=unit,
            division_pm=round(division_um * UM),
            range_pm=round(range_um * UM),
            correct_at_mdeg=correct_at_deg * 1000,
            serial="",
        )

    add("L-1", "lever", "um", 1, 200, 12)
    add("E-1", "electronic", "um", 0.2, 200, 0)
    add("D-1", "plunger", "um", 10, 10_000, 0)
    add("I-1", "lever", "in", 2.54, 203.2, 0)
    _calibrate(entry, register, "L-1", "2024-01-22", "2025-01-22", 1.2, "W-24/031")
    _calibrate(entry, register, "I-1", "2024-01-22", "2027-01-22", 2.5, "W-24/032")


def _pins(entry: Entry, register: Register) -> None:
    for bore in (*_BORES.split(), *_NOMINALS.split()):
        hundredths = round(float(bore) * 100)
        gauges.add_pin(
            entry,
            register,
            f"P-{hundredths}",
            diameter_pm=hundredths * MM // 100 - 6 * UM,
            roundness_pm=UM * 3 // 10,
            kind="pin",
            grade="Z, minus",
        )
    gauges.add_pin(
        entry, register, "P-412L", diameter_pm=4_115 * UM, roundness_pm=2 * UM, kind="pin", grade="three-lobed"
    )
    gauges.add_pin(entry, register, "R-24", diameter_pm=24 * MM, roundness_pm=UM, kind="ring", grade="")


def _later_calibrations() -> list[Event]:
    def lever(day: str, due: str, certificate: str) -> Event:
        return event(
            day,
            "calibrate L-1",
            "AK",
            lambda entry, register: _calibrate(entry, register, "L-1", day, due, 1.2, certificate),
        )

    def electronic(day: str, due: str, certificate: str) -> Event:
        def write(entry: Entry, register: Register) -> None:
            gauges.add_calibration(
                entry,
                register,
                register.need("E-1", "instrument"),
                done_on=day,
                due_on=due,
                uncertainty_pm=UM * 3 // 10,
                coverage_factor=2.0,
                certificate=certificate,
                as_found="within ± 0.4 µm",
                as_left="not adjusted",
            )

        return event(day, "calibrate E-1", "AK", write)

    return [
        electronic("2024-05-13", "2025-05-13", "W-24/118"),
        lever("2025-01-20", "2026-01-20", "W-25/017"),
        electronic("2025-05-12", "2026-05-12", "W-25/122"),
        lever("2026-01-19", "2027-01-19", "W-26/009"),
    ]


def _new_indicator(entry: Entry, register: Register) -> None:
    gauge = gauges.add_instrument(
        entry,
        register,
        FINE.code,
        kind="electronic",
        unit="um",
        division_pm=UM // 5,
        range_pm=MM // 5,
        correct_at_mdeg=0,
        serial="",
    )
    gauges.add_calibration(
        entry,
        register,
        gauge,
        done_on="2026-08-10",
        due_on="2027-08-10",
        uncertainty_pm=UM * 3 // 10,
        coverage_factor=2.0,
        certificate="W-26/131",
        as_found="within ± 0.4 µm",
        as_left="not adjusted",
    )


def _calibrate(
    entry: Entry, register: Register, code: str, day: str, due: str, error_um: float, certificate: str
) -> None:
    gauges.add_calibration(
        entry,
        register,
        register.need(code, "instrument"),
        done_on=day,
        due_on=due,
        error_limit_pm=round(error_um * UM),
        certificate=certificate,
        as_found="in order",
        as_left="not adjusted",
    )
