"""Commands in processes of their own, as a user starts them, and a small workshop to measure in."""

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from qclog.cli.main import main

_RUN = "from qclog.cli.main import run; run()"
SECONDS = 120.0


class Program:
    """A command in a process of its own, its output read as it comes."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        self._seen: dict[str, int] = {}
        self._out = folder / f"{arguments[0]}-{time.monotonic_ns()}.txt"
        with self._out.open("w", encoding="utf-8") as out:
            self.process = subprocess.Popen(
                [sys.executable, "-u", "-c", _RUN, *arguments], stdin=subprocess.PIPE, stdout=out, stderr=out, text=True
            )

    @property
    def said(self) -> str:
        return self._out.read_text(encoding="utf-8")

    def type(self, text: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(text)
        self.process.stdin.flush()

    def wait_for(self, text: str) -> str:
        end = time.monotonic() + SECONDS
        while text not in self.said:
            assert time.monotonic() < end, self.said
            assert self.process.poll() is None or text in self.said, self.said
            time.sleep(0.02)
        return self.said

    def wait_for_more(self, text: str) -> str:
        """Waits until ``text`` was said once more than the last time it was waited for."""
        self._seen[text] = self._seen.get(text, 0) + 1
        end = time.monotonic() + SECONDS
        while self.said.count(text) < self._seen[text]:
            assert time.monotonic() < end, self.said
            assert self.process.poll() is None, self.said
            time.sleep(0.02)
        return self.said

    def ended(self) -> int:
        return self.process.wait(timeout=SECONDS)


@pytest.fixture
def program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Program]]:
    """``program("measure", ...)`` starts a command; L2 has two key positions, C-735 a limit, I-1 steps of 1 um."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in (
        ["setup", "add", "L2", "--positions", "A,B"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7.35", "--made-to", "20um@25mm"],
        ["instrument", "add", "I-1", "--division", "1um", "--kind", "electronic"],
    ):
        assert main(command) == 0
    started: list[Program] = []

    def start(*arguments: str) -> Program:
        started.append(Program(tmp_path, *arguments))
        return started[-1]

    yield start
    for one in started:
        one.process.terminate()
        one.process.wait()
        if one.process.stdin is not None:
            one.process.stdin.close()
