"""How figures and verdicts are written on a statement."""

from qclog.questions.judging.values import DOES_NOT_HOLD, HOLDS
from reports.numbers import NumberStyle, length, limit, micrometres


def loud(verdict: str) -> str:
    return verdict.upper() if verdict in (HOLDS, DOES_NOT_HOLD) else verdict


def joined(*parts: str | bool | None, between: str = ", ") -> str:
    return between.join(part for part in parts if isinstance(part, str) and part)


def um(value: float, step: float, style: NumberStyle, *, up: bool = False, down: bool = False) -> str:
    return micrometres(value, step_um=step, style=style, round_up=up, round_down=down)


def exactly(value_um: float, style: NumberStyle) -> str:
    return limit(round(value_um * 1e6), style=style)


def mm(value: float, style: NumberStyle) -> str:
    return length(round(value * 1e9), style=style)


def sentence(text: str) -> str:
    """With a capital at its beginning."""
    return f"{text[:1].upper()}{text[1:]}"
