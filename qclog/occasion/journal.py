"""The journal of an occasion under way: a line for everything accepted, on the disk before the next prompt.

What is not yet a whole clamping cannot stand in the logbook; it stands here. A line torn by a crash was never
acknowledged and is left out. Once everything is in the logbook the journal is removed.
"""

import dataclasses
import json
import os
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from filelock import FileLock, Timeout

from qclog import times
from qclog.errors import DamagedError, RefusedError
from qclog.occasion.plan import Plan, Stop

_FORM: Final = 3


@dataclass(frozen=True, slots=True)
class Event:
    """One line: what happened ("reading", "misread", "badly clamped", "logged"), when, and its text."""

    what: str
    at: str
    text: str = ""


class Journal:
    """Open for writing. Use ``begin`` for a new occasion and ``resume`` for one that was interrupted."""

    def __init__(self, path: Path, plan: Plan, key: str, events: list[Event]) -> None:
        """Raises RefusedError where another program has this occasion open."""
        self.path, self.plan, self.key, self.events = path, plan, key, events
        path.parent.mkdir(parents=True, exist_ok=True)
        self._lock = FileLock(path.with_suffix(".lock"))
        try:
            self._lock.acquire(blocking=False)
        except Timeout as error:
            raise RefusedError(
                f"The occasion of {plan.item} is open in another window.", "Go on there, or close that one first."
            ) from error

    @classmethod
    def begin(cls, folder: Path, logbook: str, plan: Plan) -> "Journal":
        """A new occasion of ``logbook``; ``key`` names it for good."""
        key = uuid.uuid4().hex[:12]
        head = {"form": _FORM, "logbook": logbook, "key": key, "plan": dataclasses.asdict(plan)}
        journal = cls(folder / f"{key}.jsonl", plan, key, [])
        journal._write(head)
        return journal

    @classmethod
    def resume(cls, path: Path) -> "Journal":
        """Raises DamagedError for what is no journal."""
        head, *lines = _whole_lines(path)
        if head.get("form") != _FORM:
            raise DamagedError(f"{path} was begun by another qclog.", "Go on with that one, or move it away.")
        try:
            said = head["plan"]
            several = {key: tuple(said[key]) for key in ("positions", "clockings", "also_pm")}
            plan = Plan(**{**said, **several, "stops": tuple(Stop(**stop) for stop in said["stops"])})
            events = [Event(**line) for line in lines]
        except (KeyError, TypeError, AttributeError) as error:
            raise DamagedError(f"{path} is no journal of an occasion.", "Move it away to begin anew.") from error
        _cut_torn_line(path)
        return cls(path, plan, head["key"], events)

    def note(self, what: str, text: str = "") -> Event:
        """Keep an event; when this returns it is on the disk."""
        event = Event(what, times.now(), text)
        self._write(dataclasses.asdict(event))
        self.events.append(event)
        return event

    @property
    def waits(self) -> bool:
        """Whether a whole clamping stands here that the logbook does not have."""
        said = [event.what for event in self.events]
        return said.count("whole") > said.count("logged")

    def close(self) -> None:
        """The occasion is over and everything is in the logbook."""
        self.path.unlink(missing_ok=True)
        self.leave()
        self.path.with_suffix(".lock").unlink(missing_ok=True)

    def leave(self) -> None:
        """Another program may go on with it."""
        self._lock.release()

    def _write(self, line: dict[str, Any]) -> None:
        try:
            with self.path.open("ab") as file:
                file.write(json.dumps(line, ensure_ascii=False).encode() + b"\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise RefusedError(
                f"The journal {self.path} cannot be written: {error.strerror or error}.",
                "Make room on the disk and go on: qclog measure",
            ) from error


def interrupted(folder: Path, logbook: str) -> list[Path]:
    """Journals of occasions of ``logbook`` that were not finished, the oldest first."""
    found = sorted(folder.glob("*.jsonl"), key=lambda path: path.stat().st_mtime) if folder.is_dir() else []
    return [path for path in found if next(_whole_lines(path), {}).get("logbook") == logbook]


def stopped(folder: Path, logbook: str, item: str) -> Iterator[Journal]:
    """The occasions of ``item`` that were not finished and have nothing that the logbook lacks but a clamping that was
    not read to its end. Each is open until it is closed or left."""
    for path in interrupted(folder, logbook):
        if next(_whole_lines(path))["plan"]["item"] == item:
            journal = Journal.resume(path)
            if journal.waits:
                journal.leave()
            else:
                yield journal


def _whole_lines(path: Path) -> Iterator[dict[str, Any]]:
    for line in path.read_bytes().split(b"\n")[:-1]:
        try:
            yield json.loads(line)
        except (ValueError, RecursionError) as error:
            raise DamagedError(f"{path} is damaged.", "Move it away to begin anew.") from error


def _cut_torn_line(path: Path) -> None:
    """Take off a last line without its end, so that the next one stands by itself."""
    written = path.read_bytes()
    if not written.endswith(b"\n"):
        with path.open("r+b") as file:
            file.truncate(written.rfind(b"\n") + 1)
