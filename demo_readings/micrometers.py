"""The micrometers of the invented workshop."""

from demo_readings.bench import MM, UM
from demo_readings.diary import Event, event
from qclog.logbook import gauges
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register


def micrometer(day: str, code: str, who: str, what: str, error_limit_um: int, certificate: str) -> Event:
    """One that reads 25 mm to a micrometre, new and calibrated for a year."""

    def write(entry: Entry, register: Register) -> None:
        gauge = gauges.add_instrument(
            entry,
            register,
            code,
            kind="other",
            unit="mm",
            division_pm=UM,
            range_pm=25 * MM,
            correct_at_mdeg=0,
            serial="",
        )
        gauges.add_calibration(
            entry,
            register,
            gauge,
            done_on="2026-09-01",
            due_on="2027-09-01",
            error_limit_pm=error_limit_um * UM,
            certificate=certificate,
        )

    return event(day, what, who, write)
