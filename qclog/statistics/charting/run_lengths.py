"""How long a chart runs until it alarms: average run lengths, in points, for normal scores shifted by so many standard
deviations. 1 in so many points alarms falsely where the shift is 0.

Cumulative sums and weighted means by integral equations (Page 1954; Crowder 1987; Lucas and Crosier 1982 for the head
start), with an atom at the barrier 0; single points with run rules by a Markov chain (Champ and Woodall 1987). All from
memory, checked against their published tables.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, pi, sqrt
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_NODES = 96


@dataclass(frozen=True, slots=True)
class Rule:
    """``count`` of ``among`` successive points more than ``beyond`` standard deviations off, all on the same side."""

    count: int
    among: int
    beyond: float


BEYOND = Rule(1, 1, 3.0)
TWO_OF_THREE = Rule(2, 3, 2.0)
FOUR_OF_FIVE = Rule(4, 5, 1.0)
NINE_IN_A_ROW = Rule(9, 9, 0.0)


def single_points(shift: float, limit: float = 3.0) -> float:
    """Points beyond plus or minus a limit: 1/(Φ(-limit + shift) + Φ(-limit - shift))."""
    return 1.0 / (_phi(-limit + shift) + _phi(-limit - shift))


def points_above(shift: float, once_in: float) -> float:
    """Points above a limit that chance alone passes once in so many points: 1/Φ(shift - limit)."""
    limit = NormalDist().inv_cdf(1.0 - 1.0 / once_in)
    return 1.0 / _phi(shift - limit)


def cumulative_sum(shift: float, allowance: float, limit: float, head_start: float = 0.0) -> float:
    """One-sided: C = max(0, C + z - allowance) > limit, from the head start on."""
    node, weight = _nodes(0.0, limit)
    kernel = _row(np.r_[0.0, node], node, weight, allowance, shift)
    return _from(kernel, _row(np.array([head_start]), node, weight, allowance, shift))


def two_sided_sums(shift: float, allowance: float, limit: float, head_start: float = 0.0) -> float:
    """A sum upwards and one downwards: 1/ARL = 1/ARL up + 1/ARL down, exact without a head start."""
    up, down = (cumulative_sum(s, allowance, limit) for s in (shift, -shift))
    if head_start == 0.0:
        return 1.0 / (1.0 / up + 1.0 / down)
    up_ahead, down_ahead = (cumulative_sum(s, allowance, limit, head_start) for s in (shift, -shift))
    return (up_ahead * down + up * down_ahead - up * down) / (up + down)


def weighted_mean(shift: float, weight: float, width: float) -> float:
    """Two-sided: E = (1 - weight) E + weight z beyond plus or minus width sqrt(weight/(2 - weight)), from 0 on."""
    limit = width * sqrt(weight / (2.0 - weight))
    node, by = _nodes(-limit, limit)

    def row(start: Floats) -> Floats:
        return np.asarray(by * _density((node[None, :] - (1.0 - weight) * start[:, None]) / weight - shift) / weight)

    return _from(row(node), row(np.zeros(1)))


def with_rules(shift: float, rules: Sequence[Rule]) -> float:
    """Single points with run rules, each on both sides; beyond-the-limit rules among them."""
    edges = sorted({rule.beyond for rule in rules})
    cuts = [-np.inf, *(-edge for edge in reversed(edges) if edge), *edges, np.inf]
    chance = [_phi(high - shift) - _phi(low - shift) for low, high in itertools.pairwise(cuts)]
    middle = [_middle(low, high) for low, high in itertools.pairwise(cuts)]
    hits = [tuple(tuple(side * point > rule.beyond for side in (1, -1)) for rule in rules) for point in middle]
    start = tuple(((0,) * (rule.among - 1), (0,) * (rule.among - 1)) for rule in rules)
    states, moves, todo = {start: 0}, [], [start]
    while todo:
        state = todo.pop()
        for likely, hit in zip(chance, hits, strict=True):
            after = _after(state, hit, rules)
            if after is None:
                continue
            if after not in states:
                states[after] = len(states)
                todo.append(after)
            moves.append((states[state], states[after], likely))
    chain = np.zeros((len(states), len(states)))
    for here, there, likely in moves:
        chain[here, there] += likely
    lengths = np.linalg.solve(np.eye(len(states)) - chain, np.ones(len(states)))
    return float(lengths[0])


_State = tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]


def _after(state: _State, hit: tuple[tuple[bool, ...], ...], rules: Sequence[Rule]) -> _State | None:
    """What is remembered after a point, None where a rule is fulfilled. What cannot count any more is forgotten."""
    found = []
    for (up, down), now, rule in zip(state, hit, rules, strict=True):
        sides = []
        for past, new in zip((up, down), now, strict=True):
            row = (*past, int(new))
            if new and sum(row) >= rule.count:
                return None
            sides.append(_worth_keeping(row[1:], rule.count))
        found.append((sides[0], sides[1]))
    return tuple(found)


def _worth_keeping(past: tuple[int, ...], count: int) -> tuple[int, ...]:
    """The past hits, oldest first, without those that cannot come to the count any more, however the next points fall:
    after j more points all but the j - 1 oldest are still among the last ones, with j new ones beside them."""
    possible = [sum(past[j:]) + j + 1 >= count for j in range(len(past))]
    return tuple(hit if any(possible[: i + 1]) else 0 for i, hit in enumerate(past))


def _row(start: Floats, node: Floats, weight: Floats, allowance: float, shift: float) -> Floats:
    moved = node[None, :] - start[:, None] + allowance - shift
    return np.asarray(np.c_[_phis(-start + allowance - shift), weight * _density(moved)])


def _from(kernel: Floats, row: Floats) -> float:
    """1 + row · L where L = 1 + kernel · L."""
    lengths = np.linalg.solve(np.eye(kernel.shape[0]) - kernel, np.ones(kernel.shape[0]))
    return float(1.0 + (row @ lengths)[0])


def _nodes(low: float, high: float) -> tuple[Floats, Floats]:
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    half = (high - low) / 2.0
    return low + half * (node + 1.0), half * weight


def _middle(low: float, high: float) -> float:
    if np.isinf(low):
        return high - 1.0
    return low + 1.0 if np.isinf(high) else (low + high) / 2.0


def _density(x: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * x**2) / sqrt(2.0 * pi))


def _phi(x: float) -> float:
    return 0.5 * (1.0 + erf(x / sqrt(2.0))) if abs(x) < np.inf else float(x > 0)


def _phis(x: Floats) -> Floats:
    return np.array([_phi(float(value)) for value in x])
