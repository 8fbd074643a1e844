"""What the logbook keeps of one thing, as events in the order of time."""

from qclog.logbook.chronicle.events import Event, Happened
from qclog.logbook.chronicle.things import read_chronicle, read_chronicle_by_day

__all__ = ["Event", "Happened", "read_chronicle", "read_chronicle_by_day"]
