"""How finely a figure is shown."""

from qclog.questions.judging.groups import Group


def shown_step(group: Group) -> float:
    """No figure is shown finer than a tenth of what was read, nor finer than the reading where it is fine."""
    return max(group.resolution_um / 10, 0.1) if group.resolution_um >= 1 else group.resolution_um


def exact_step(value_um: float) -> float:
    return 1.0 if float(value_um).is_integer() else 0.01
