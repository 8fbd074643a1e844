"""How finely a figure is shown."""

from math import isclose

from qclog.questions.judging.groups import Group


def shown_step(group: Group) -> float:
    """No figure is shown finer than a tenth of what was read, nor finer than the reading where it is fine."""
    return max(group.resolution_um / 10, 0.1) if group.resolution_um >= 1 else group.resolution_um


def read_step(group: Group) -> float:
    """Least, most and last are shown as read: to the step of the indicator, finer where swings were typed finer."""
    tir, step = group.tir_um, group.resolution_um
    whole = all(isclose(value, step * round(value / step), abs_tol=1e-9) for value in (tir.min, tir.max, tir.last))
    return step if whole or group.eccentricity is not None else shown_step(group)


def exact_step(value_um: float) -> float:
    return 1.0 if float(value_um).is_integer() else 0.01
