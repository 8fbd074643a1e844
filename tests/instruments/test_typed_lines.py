"""A gauge that types like a keyboard: lines handed over one by one, or followed in a file."""

import io
import time
from decimal import Decimal

import pytest

from instruments.errors import PortRefusedError
from instruments.indicator import Indicator
from instruments.profile_files import load_profile
from instruments.records import Outcome, Reading, Refused, Why
from instruments.sources import TypedLines


def outcomes_of(typed: TypedLines) -> list[Outcome]:
    indicator = Indicator(load_profile("keyboard-wedge"), typed)
    found: list[Outcome] = []
    deadline = time.monotonic() + 10.0
    while not indicator.ended and time.monotonic() < deadline:
        found += indicator.poll(0.01).outcomes
    return [*found, *indicator.close()]


def test_lines_that_are_handed_over_become_readings_point_or_comma() -> None:
    typed = TypedLines()
    indicator = Indicator(load_profile("keyboard-wedge"), typed)
    values = []
    for line in ("0.012", "-0,003\n", "−0.001\r\n"):
        typed.typed(line)
        (outcome,) = indicator.poll(1.0).outcomes
        assert isinstance(outcome, Reading)
        values.append(outcome.value)
        time.sleep(0.31)  # a press sooner than this is a double one
    assert values == [Decimal("0.012"), Decimal("-0.003"), Decimal("-0.001")]


@pytest.mark.parametrize("line", ["hello", "", "0.012mm", "12", "O.012", "0.0l2", "0.012 0.013"])
def test_what_is_no_number_is_refused(line: str) -> None:
    typed = TypedLines()
    typed.follow(io.StringIO(line + "\n"))
    assert not [outcome for outcome in outcomes_of(typed) if isinstance(outcome, Reading)]


def test_a_last_line_without_enter_is_refused_as_a_part() -> None:
    typed = TypedLines()
    typed.follow(io.StringIO("0.01"))
    (outcome,) = outcomes_of(typed)
    assert isinstance(outcome, Refused)
    assert (outcome.why, outcome.raw) == (Why.PARTIAL, b"0.01")


def test_nothing_can_be_sent_to_a_keyboard() -> None:
    with pytest.raises(PortRefusedError, match="cannot be sent to a keyboard"):
        TypedLines().write(b"?")
