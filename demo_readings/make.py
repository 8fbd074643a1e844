"""Makes the demonstration's files anew: python -m demo_readings.make [FOLDER].

The workshop lives through all its events in a temporary logbook, in the order of their days, by the same functions
as a user's commands; then all tables are exported. Nothing depends on when or where it is made.
"""

import contextlib
import datetime
import os
import shutil
import sys
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Final
from unittest import mock

from demo_readings import (
    cards,
    collets,
    faces_and_stops,
    owned,
    second_operation,
    sent_in,
    sister_jobs,
    stories,
    turned,
    watched,
)
from qclog import config
from qclog.logbook.engine import open_store
from qclog.logbook.exchange import export_folder

STATION: Final = "bench"
_NAMESPACE: Final = uuid.UUID("0d2b7a56-5f0e-5d0c-8d5a-5b1f0c9e7a11")


def make(folder: Path) -> None:
    """Write ``workshop/`` and the files of readings into ``folder``, replacing what is there."""
    told = (owned, collets, stories, sister_jobs, faces_and_stops, turned, second_operation, watched, cards)
    events = sorted((one for part in told for one in part.events()), key=lambda one: one.day)
    tables = folder / "workshop"
    if tables.exists():
        shutil.rmtree(tables)
    with tempfile.TemporaryDirectory(prefix="qclog-make-", ignore_cleanup_errors=True) as temporary:
        store = open_store(str(Path(temporary) / "workshop.sqlite"), create=True)
        try:
            for number, one in enumerate(events):
                with _as_entry(number, one.day):
                    one.write(store)
            export_folder(store, tables)
        finally:
            store.close()
    for name, text in sent_in.files().items():
        (folder / name).write_bytes(text.encode())


@contextlib.contextmanager
def _as_entry(number: int, day: str) -> Iterator[None]:
    """Entries written meanwhile have uuid, station and time that follow from their number and day."""
    at = datetime.datetime.fromisoformat(day) + datetime.timedelta(hours=15, seconds=number)
    with (
        mock.patch("qclog.logbook.entries.uuid.uuid4", return_value=uuid.uuid5(_NAMESPACE, str(number))),
        mock.patch("qclog.times.utc_stamp", return_value=at.isoformat(timespec="milliseconds") + "Z"),
        mock.patch.dict(os.environ, {config.STATION_VARIABLE: STATION}),
    ):
        yield


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
