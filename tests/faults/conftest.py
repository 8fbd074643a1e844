"""Fixtures for tests of faults: children that are killed at a random moment.

Each child is forked from the test's process, so that it starts at once; it writes a line for everything it was told
is kept into a pipe, and is killed (SIGKILL) at the moment given. The time a kill takes to happen is part of the
randomness. This is a killed program, not a power cut: that the disk keeps what was synced is left to the disk.
"""

import os
import signal
import time
from collections.abc import Callable

import pytest

Say = Callable[[str], None]
Killed = Callable[[Callable[[Say], None], float], list[str]]


@pytest.fixture
def killed() -> Killed:
    """``killed(work, after_seconds)``: what the child that does ``work(say)`` said before it was killed.

    Its first line says that it has begun and is not among them. The time counts from there; below zero, from when it
    next said something.
    """

    def kill(work: Callable[[Say], None], after_seconds: float) -> list[str]:
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                os.close(reading)

                def say(text: str) -> None:
                    os.write(writing, text.encode() + b"\n")

                work(say)
                signal.pause()
            finally:
                os._exit(1)
        os.close(writing)
        with os.fdopen(reading, "rb") as pipe:
            assert pipe.readline(), "the child did not begin"
            first = pipe.readline() if after_seconds < 0 else b""
            time.sleep(max(after_seconds, 0.0))
            os.kill(child, signal.SIGKILL)
            said = (first + pipe.read()).decode()
        _, status = os.waitpid(child, 0)
        assert os.WTERMSIG(status) == signal.SIGKILL
        return said.split()

    return kill
