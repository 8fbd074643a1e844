"""A slow turn captured from a stream: enough after a turn and a half, the swing as it would be typed."""

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.notation import parse_swing
from qclog.occasion.slow_turn import SlowTurnCapture

PER_TURN = 120


def _turn(
    turns: float, *, high_spot: float = 130.0, marked: bool = False, start: float = 200.0, seed: int = 1
) -> SlowTurnCapture:
    """An eccentricity of 3 um, turned evenly from ``start`` degrees, read to 0.1 um; marked at the zero."""
    rng = np.random.default_rng(seed)
    capture = SlowTurnCapture(0.1)
    angles = start + 360 * np.arange(int(turns * PER_TURN)) / PER_TURN
    for before, angle in zip([angles[0], *angles[:-1]], angles, strict=True):
        capture.add(round(3.0 * np.cos(np.radians(angle - high_spot)) + rng.normal() * 0.1, 1))
        if marked and before // 360 < angle // 360:
            capture.mark()
    return capture


@pytest.mark.parametrize(("turns", "enough"), [(0.7, False), (1.1, False), (2.2, True)])
def test_a_turn_and_a_half_is_enough(turns: float, enough: bool) -> None:
    assert _turn(turns).enough() is enough


def test_the_swing_is_that_of_the_pin_and_reads_as_if_typed() -> None:
    captured = _turn(2.5).captured()
    typed = parse_swing(captured.text, bare="um", graduation_pm=None)
    assert typed.angle_mdeg is None
    assert typed.picometres / 1e6 == pytest.approx(6.0, abs=3 * captured.u_um + 0.02)


def test_with_the_mark_the_high_spot_is_known_too_to_within_what_is_said() -> None:
    capture = _turn(3.2, marked=True)
    assert capture.marks >= 2
    assert capture.enough()
    typed = parse_swing(capture.captured().text, bare="um", graduation_pm=None)
    assert typed.angle_mdeg is not None
    assert typed.angle_within_mdeg > 0
    off = (typed.angle_mdeg / 1000 - 130.0 + 180.0) % 360.0 - 180.0
    assert abs(off) <= typed.angle_within_mdeg / 1000


def test_one_mark_is_not_enough_while_turning() -> None:
    capture = _turn(2.5)
    capture.mark()
    capture.mark()
    assert capture.marks == 1
    assert not capture.enough()


def test_less_than_a_turn_is_no_swing() -> None:
    with pytest.raises(NotAnswerableError, match="Less than one full turn"):
        _turn(0.6).captured()
    with pytest.raises(NotAnswerableError):
        SlowTurnCapture(0.1).captured()


def test_marks_that_do_not_fit_leave_the_swing_alone() -> None:
    capture = _turn(2.5)
    capture.mark()
    captured = capture.captured()
    assert "marks_not_used" in captured.caveats or "@" in captured.text
    assert parse_swing(captured.text.partition("@")[0], bare="um", graduation_pm=None).picometres > 0
