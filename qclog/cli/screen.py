"""The screen of a guided occasion: lines that stay, and below them one line that follows the reading."""

import shutil
import sys
import textwrap
import time
from typing import Final

import typer

from qclog import texts

_PICTURES_A_SECOND: Final = 10.0


class Screen:
    """Talk goes to the error output. Bells and the line that changes are for a terminal only."""

    def __init__(self, *, quiet: bool = False) -> None:
        self._terminal = sys.stderr.isatty()
        self._rings = self._terminal and not quiet
        self._shown = ""
        self._shown_at = float("-inf")

    def say(self, text: str, *, bells: int = 0) -> None:
        """A line that stays; ``bells``: one for accepted, two for refused, three for a clamping that is done."""
        from reports.tables import WIDTH

        self._wipe()
        text = texts.harmless(text)
        width = min(WIDTH, shutil.get_terminal_size().columns) if self._terminal else WIDTH
        lines = textwrap.wrap(text, width, subsequent_indent="  ") if len(text) > width else [text]
        typer.echo("\a" * bells * self._rings + "\n".join(lines), err=True)

    def follow(self, text: str) -> None:
        """What the line that changes shows now, at the most ten times a second."""
        now = time.monotonic()
        if not self._terminal or now - self._shown_at < 1 / _PICTURES_A_SECOND:
            return
        text = text[: shutil.get_terminal_size().columns - 1]
        typer.echo("\r" + text.ljust(len(self._shown)), err=True, nl=False)
        self._shown, self._shown_at = text, now

    def _wipe(self) -> None:
        if self._shown:
            typer.echo("\r" + " " * len(self._shown) + "\r", err=True, nl=False)
            self._shown = ""
