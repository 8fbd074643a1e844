"""Where the logbook is, which station writes, and who: as given, else the environment, else defaults."""

import functools
import getpass
import os
import platform
from pathlib import Path

from qclog import addresses, texts

LOGBOOK_VARIABLE = "QCLOG_LOGBOOK"
STATION_VARIABLE = "QCLOG_STATION"
PERSON_VARIABLE = "QCLOG_PERSON"


def logbook_target(given: str | None) -> str:
    """The path or database URL of the logbook: as given, else QCLOG_LOGBOOK, else the user's data folder."""
    chosen = given or os.environ.get(LOGBOOK_VARIABLE)
    if chosen:
        return chosen
    from platformdirs import user_data_path

    return str(user_data_path("qclog", appauthor=False) / "logbook.sqlite")


def logbook_key(target: str) -> str:
    """A name for the logbook at a path or URL that gives nothing away of either."""
    import hashlib

    if addresses.is_url(target):
        address = addresses.shown(target).partition("://")[2].rpartition("@")[2]
    else:
        address = str(Path(target).resolve())
    return hashlib.sha256(address.encode()).hexdigest()[:16]


def station() -> str:
    """The name of the place that writes: QCLOG_STATION, else the name of this computer. Raises RefusedError."""
    return texts.name(os.environ.get(STATION_VARIABLE) or platform.node() or "station", "name of the station")


def person() -> str:
    """Who writes: QCLOG_PERSON, else the name of the account. Raises RefusedError."""
    try:
        named = os.environ.get(PERSON_VARIABLE) or _account()
    except (OSError, KeyError, ImportError):
        return "unknown"
    return texts.name(named, "name of the person")


@functools.cache
def _account() -> str:
    """The name of the account, which a program keeps: it may have to be looked up in a file or on a server."""
    return getpass.getuser()


def occasions() -> Path:
    """The folder of the journals of measuring occasions under way."""
    from platformdirs import user_data_path

    return user_data_path("qclog", appauthor=False) / "occasions"


def backups() -> Path:
    """The folder of backups of logbooks that are no files: of those on a server."""
    from platformdirs import user_data_path

    return user_data_path("qclog", appauthor=False) / "backups"


def sums() -> Path:
    """The folder of sums kept of large logbooks; what is deleted there is worked out again."""
    from platformdirs import user_cache_path

    return user_cache_path("qclog", appauthor=False) / "sums"


def defect_log() -> Path:
    """The file a defect's traceback is written to."""
    from platformdirs import user_log_path

    return user_log_path("qclog", appauthor=False) / "defects.log"
