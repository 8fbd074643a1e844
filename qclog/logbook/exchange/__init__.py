"""The exchange form: readings in one CSV file, and a whole logbook as a folder of them."""

from qclog.logbook.exchange.export import export_readings
from qclog.logbook.exchange.faults import Fault, ImportRefusedError
from qclog.logbook.exchange.folder import export_folder, import_folder
from qclog.logbook.exchange.importing import Imported, import_readings

__all__ = [
    "Fault",
    "ImportRefusedError",
    "Imported",
    "export_folder",
    "export_readings",
    "import_folder",
    "import_readings",
]
