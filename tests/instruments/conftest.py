"""Fixtures for the indicators: simulated ones on a line, and what was heard from one.

``serve``   puts a simulated indicator on a pseudo-terminal until the end of the test; skips where there is none
``hear``    listens until enough outcomes of a kind came, or fails
"""

import contextlib
import os
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from instruments.listening import Heard, Listening
from instruments.records import Outcome, Reading
from instruments.serving import Serving
from instruments.simulated import SimulatedIndicator

Serve = Callable[..., Serving]
Hear = Callable[..., list[Outcome]]

pseudo_terminals = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")


@pytest.fixture
def serve() -> Iterator[Serve]:
    if not hasattr(os, "openpty"):
        pytest.skip("this system has no pseudo-terminals")
    with contextlib.ExitStack() as stack:

        def serve_one(indicator: SimulatedIndicator, **options: Any) -> Serving:
            return stack.enter_context(Serving(indicator, **options))

        yield serve_one


@pytest.fixture
def hear() -> Hear:
    def until(
        indicator: Listening,
        enough: int = 1,
        *,
        kind: type = Reading,
        seconds: float = 20.0,
        ask: bool = False,
        each: Callable[[Heard], object] | None = None,
    ) -> list[Outcome]:
        """All outcomes until ``enough`` of ``kind`` came; ``each`` sees every step."""
        outcomes: list[Outcome] = []
        end = time.monotonic() + seconds
        while sum(isinstance(outcome, kind) for outcome in outcomes) < enough:
            assert time.monotonic() < end, f"only {outcomes} came in {seconds} s"
            if ask:
                indicator.ask()
            heard = indicator.poll(0.05)
            outcomes += heard.outcomes
            if each is not None:
                each(heard)
        return outcomes

    return until
