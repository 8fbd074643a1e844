"""What can go wrong, one type each, with the exit code the command line gives for it.

A message says what happened, to what, and what to do next; it is written for the person at the
machine. This module imports nothing of the project, so that everybody may use it.
"""


class QclogError(Exception):
    """Base of all errors the program explains itself. ``exit_code`` is part of the promises."""

    exit_code = 70

    def __init__(self, what: str, remedy: str = "") -> None:
        """``what`` happened and to what; ``remedy``: what to do next, may be empty."""
        super().__init__(what)
        self.what = what
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.what} {self.remedy}".strip()


class UsageError(QclogError):
    """The command cannot be understood as typed."""

    exit_code = 2


class NotFoundError(QclogError):
    """Something named does not exist: a logbook, a code, a setup, a file."""

    exit_code = 3


class RefusedError(QclogError):
    """Understood, but not taken into the logbook: a doubtful value, a rule broken, a double name."""

    exit_code = 4


class LengthError(RefusedError):
    """A text that is no length, or one with two meanings."""


class NotAnswerableError(RefusedError):
    """Figures that no answer can be computed from: too few, not finite."""


class BusyError(QclogError):
    """The logbook stayed locked by another program for longer than is worth waiting."""

    exit_code = 5


class DamagedError(QclogError):
    """The logbook is damaged, is no logbook, or was written by a newer program."""

    exit_code = 6


class InstrumentError(QclogError):
    """An indicator that is silent, lost or garbled."""

    exit_code = 7
