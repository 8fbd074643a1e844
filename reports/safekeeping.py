"""What was found when a logbook was looked through, kept, brought back or copied."""

from qclog.logbook.upgrading import Moved


def moved(done: Moved) -> str:
    """That an older logbook was moved to the newest schema when it was opened."""
    return f"The logbook was made by an older qclog and now has the newest tables; as it was before: {done.backup}"
