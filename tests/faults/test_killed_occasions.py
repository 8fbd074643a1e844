"""A guided occasion killed at any moment goes on where it stopped: nothing accepted is lost, nothing is logged twice.

Each child is forked from this process, so that it starts at once, and runs ``qclog measure`` with its keyboard and its
screen on pipes. The hands here type a reading at each prompt, no two alike, until the child is killed (SIGKILL).
QCLOG_TEST_KILLS says how often.
"""

import os
import random
import re
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from qclog.cli.main import main
from qclog.logbook import schema
from qclog.logbook.engine import open_store

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked and killed with POSIX signals"),
    pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning"),
]

KILLS = int(os.environ.get("QCLOG_TEST_KILLS", "5"))
LONGEST_SECONDS = 0.4
CLAMPINGS = 8
NOTHING_TO_GO_ON_WITH = 3
TURN = {0: 0.0, 90: 3.0, 180: 6.0, 270: 3.0}


class Hands:
    """Types a reading whenever one is wanted; ``taken`` are those the program said it has, but for returns to zero,
    which are no readings of a turn."""

    def __init__(self) -> None:
        self.taken: set[str] = set()
        self._returns: set[str] = set()
        self._typed = 0

    def _reading(self, angle: int, *, returning: bool) -> str:
        self._typed += 1
        text = f"{TURN[angle] * (1 + self._typed % 5 / 10) + self._typed * 1e-4:.4f}"
        if returning:
            self._returns.add(text)
        return text

    def _hear(self, said: str) -> None:
        self.taken |= set(re.findall(r"^  (\S+) µm  taken$", said, flags=re.MULTILINE)) - self._returns

    def work(self, arguments: list[str], *, kill_after: float | None) -> int | None:
        """Runs a command until it ends, or is killed so many seconds after it first wants a reading. Its exit code, or
        None where it was killed."""
        child, keyboard, screen = _forked(arguments)
        kill_at: float | None = None
        with os.fdopen(screen, "rb", buffering=0) as reads, os.fdopen(keyboard, "wb", buffering=0) as types:
            os.set_blocking(reads.fileno(), False)
            while True:
                new = (reads.read() or b"").decode()
                self._hear(new)
                if wanted := re.search(r"Turn to (\d+)°( again)?.*\n$", new):
                    kill_at = kill_at or (time.monotonic() + kill_after if kill_after is not None else None)
                    text = self._reading(int(wanted[1]), returning=bool(wanted[2]))
                    types.write(f"{text}\n".encode())
                if kill_at is not None and time.monotonic() >= kill_at:
                    os.kill(child, signal.SIGKILL)
                    kill_after = kill_at = None
                done, status = os.waitpid(child, os.WNOHANG)
                if done:
                    self._hear((reads.read() or b"").decode())
                    return None if os.WIFSIGNALED(status) else os.waitstatus_to_exitcode(status)
                time.sleep(0.001)


def _forked(arguments: list[str]) -> tuple[int, int, int]:
    """A child that runs a command; its number, its keyboard and its screen."""
    reads, keyboard = os.pipe()
    screen, says = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            for end in (keyboard, screen):
                os.close(end)
            sys.stdin = os.fdopen(reads, encoding="utf-8")
            sys.stdout = sys.stderr = os.fdopen(says, "w", encoding="utf-8", buffering=1)
            os._exit(main(arguments))
        finally:
            os._exit(99)
    os.close(reads)
    os.close(says)
    return child, keyboard, screen


@pytest.fixture
def occasion(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], list[str]]:
    """The readings in the logbook, as typed, in their order."""
    book = str(tmp_path / "book.sqlite")
    monkeypatch.setenv("QCLOG_LOGBOOK", book)
    for command in (
        ["setup", "add", "L2", "--positions", "A,B"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7.35", "--made-to", "9um@25mm"],
        ["pin", "add", "P-735", "--diameter", "7.348"],
        ["instrument", "add", "I-1", "--division", "1um"],
    ):
        assert main(command) == 0

    def logged() -> list[str]:
        store = open_store(book)
        with store.reading() as connection:
            found = list(connection.scalars(sa.select(schema.reading.c.text).order_by(schema.reading.c.id)))
        store.close()
        return found

    return logged


@pytest.mark.parametrize(
    "plan",
    [
        ["--positions", "A,B", "--clampings", str(CLAMPINGS // 2), "--to-the-end"],
        ["--study", "--pins", "P-735", "--clampings", str(CLAMPINGS // 4)],  # at both positions, each read twice
    ],
    ids=["there and back", "study"],
)
def test_an_occasion_killed_at_random_moments_goes_on_and_ends_whole(
    occasion: Callable[[], list[str]], plan: list[str]
) -> None:
    moment = random.Random(50)
    hands, killed, occasions = Hands(), 0, 0
    begin = ["measure", "C-735", *plan, "--instrument", "I-1"]
    code: int | None = 0
    while killed < KILLS or code is None:
        occasions += code is not None
        code = hands.work(
            ["measure"] if code is None else begin,
            kill_after=moment.uniform(0.0, LONGEST_SECONDS) if killed < KILLS else None,
        )
        assert code in (None, 0, NOTHING_TO_GO_ON_WITH)  # the last: killed behind its end
        killed += code is None
    there = occasion()
    assert len(there) == len(set(there)) == occasions * CLAMPINGS * len(TURN)  # none twice, none missing
    assert hands.taken <= set(there)
    assert len(hands.taken) > len(there) / 2
