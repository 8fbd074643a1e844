"""The answers about 200 places of a logbook, each computed again from its readings by itself, to ten digits.

Straight from the documented method (the table in DEVELOPERS.md, the module docstrings) with numpy and scipy.stats, one
place after the other, and nothing of the program's own statistics. Readings are simulated with a fixed seed.
"""

import itertools
from dataclasses import dataclass
from math import hypot, inf, pi, sqrt
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.logbook.engine import open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.gauges import add_calibration, add_instrument
from qclog.logbook.items import add_item
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Register
from qclog.logbook.setups import add_setup
from qclog.questions.assess import assess
from qclog.questions.judging.groups import Group
from qclog.records import Card, Clamping, Limit, Reading, Turn

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Vectors = npt.NDArray[np.complex128]

TENTH, UM, MM = 100_000, 1_000_000, 1_000_000_000
Z = float(scipy.stats.norm.ppf(0.95))
ERROR_LIMIT_UM = 1.2
SITTINGS = ((1,), (2,), (4,), (12,), (1, 1), (3, 3), (2, 5, 1), (1, 1, 1, 1), (4, 4, 4, 4, 4), (6, 5, 7, 6))
LOOKS = (20, 22, 25, 28, 32, 36, 40)
SETUP_LIMIT_UM = 9.0


@dataclass(frozen=True)
class Place:
    """A place and what is read there: ``readings`` in tenths of a micrometre, a row a clamping; ``limit_um`` the
    item's own."""

    item: str
    setup: str
    position: str
    sizes: tuple[int, ...]
    readings: Ints
    known_gauge: bool
    limit_um: float | None

    @property
    def sitting(self) -> Ints:
        return np.repeat(np.arange(len(self.sizes)), self.sizes)

    @property
    def governing(self) -> float | None:
        limits = [x for x in (self.limit_um, SETUP_LIMIT_UM if self.setup == "L1" else None) if x is not None]
        return min(limits, default=None)


def simulated() -> list[Place]:
    """Swings, quarter turns and turns of twelve, over one sitting and more, with and without a known indicator, with a
    limit of the item's, of the setup's, of both and of none."""
    rng = np.random.default_rng(20261130)
    found = []
    kinds = itertools.product((1, 4, 12), SITTINGS, (True, False), ("item", "setup", "both", "none"))
    for number, (points, sizes, known_gauge, limits) in enumerate(kinds):
        own = rng.normal(0, 1.6) + 1j * rng.normal(0, 1.6)
        day = np.repeat(rng.normal(0, 0.25, len(sizes)) + 1j * rng.normal(0, 0.25, len(sizes)), sizes)
        n = sum(sizes)
        vector = own + day + 0.35 * (rng.standard_normal(n) + 1j * rng.standard_normal(n))
        turn = np.arange(points) * 2 * pi / points
        read = (vector[:, None] * np.exp(-1j * turn)).real + rng.normal(0, 0.1, (n, points))
        tenths = (
            np.rint(10 * read).astype(np.int64) if points > 1 else np.rint(20 * np.abs(vector[:, None])).astype(int)
        )
        setup = "L1" if limits in ("setup", "both") else "L2"
        limit = float(np.round(2 * abs(own) * rng.uniform(0.6, 2.4) + 1)) if limits in ("item", "both") else None
        found.append(Place(f"G-{number:03d}", setup, "AB"[number % 2], sizes, tenths, known_gauge, limit))
    return found


PLACES = simulated()


def clampings(place: Place) -> list[Clamping]:
    found = []
    points = place.readings.shape[1]
    for number, (sitting, row) in enumerate(zip(place.sitting.tolist(), place.readings.tolist(), strict=True)):
        readings = tuple(
            Reading(tenths * TENTH, f"{tenths / 10:.1f}", TENTH, None if points == 1 else round(360_000 * i / points))
            for i, tenths in enumerate(row)
        )
        turn = Turn("tir" if points == 1 else "point", readings, 25 * MM)
        gauge: dict[str, Any] = {"instrument": "D-1"} if place.known_gauge else {}
        at = f"2026-0{3 + sitting}-05T{8 + number // 60:02d}:{number % 60:02d}"
        found.append(Clamping(place.item, place.setup, at, (turn,), position=place.position, **gauge))
    return found


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Group]:
    """What ``assess`` says of everything, by item."""
    from qclog.logbook.clampings import Resolver, write_clampings

    store = open_store(str(tmp_path_factory.mktemp("recomputed") / "book.sqlite"), create=True)
    with new_entry(store, "simulated") as entry:
        register = Register(entry.connection)
        for setup in ("L1", "L2"):
            add_setup(entry, register, setup, positions=["A", "B"])
        limit = Limit(round(SETUP_LIMIT_UM * UM), 25 * MM)
        set_limit(entry, register, register.need("L1", "setup"), 0, limit)
        gauge: dict[str, Any] = {"kind": "plunger", "unit": "um", "division_pm": UM, "range_pm": None}
        name = add_instrument(entry, register, "D-1", correct_at_mdeg=0, serial="", **gauge)
        due: dict[str, Any] = {"done_on": "2026-01-05", "due_on": "2027-01-05"}
        add_calibration(entry, register, name, error_limit_pm=round(ERROR_LIMIT_UM * UM), **due)
        for place in PLACES:
            limits = [] if place.limit_um is None else [Limit(round(place.limit_um * UM), 25 * MM)]
            add_item(entry, register, place.item, Card(kind="other"), limits)
    with new_entry(store, "simulated") as entry:
        resolver = Resolver(Register(entry.connection))
        write_clampings(entry, [resolver.resolve(one) for place in PLACES for one in clampings(place)])
    found = {answer.item: answer.groups[0] for answer in assess(store) if answer.item}
    store.close()
    return found


def step_um(place: Place) -> float:
    """A tenth was typed; where every reading of a turn ends in a half, halves; the finest of all turns counts."""
    return float(np.where(np.abs(place.readings) % 10 == 5, 0.5, 0.1).min())


def turns(place: Place) -> tuple[Floats, Vectors]:
    """The full swing and the once-per-turn vector of each clamping, µm; the vector of a swing is NaN."""
    values, points = place.readings / 10, place.readings.shape[1]
    if points == 1:
        return values[:, 0], np.full(len(values), np.nan, dtype=np.complex128)

    def waves(at: Floats, harmonics: int) -> Floats:
        return np.column_stack(
            [np.ones_like(at), *(f(k * at) for k in range(1, harmonics + 1) for f in (np.cos, np.sin))]
        )

    angles, grid = np.arange(points) * 2 * pi / points, np.radians(np.arange(720) / 2)
    once = np.linalg.lstsq(waves(angles, 1 if points < 6 else 2), values.T, rcond=None)[0]
    harmonics = 1 if points < 6 else 3
    curve = waves(grid, harmonics) @ np.linalg.lstsq(waves(angles, harmonics), values.T, rcond=None)[0]
    return curve.max(axis=0) - curve.min(axis=0), once[1] + 1j * once[2]


def factor(n: float, df: float, confidence: float) -> float:
    """One-sided tolerance factor for 95 % (ISO 16269-6)."""
    return float(scipy.stats.nct.ppf(confidence, df, Z * sqrt(n))) / sqrt(n)


def risk(n: int, confidence: float) -> float:
    """The price of looking again: beyond 20 clampings the risk shrinks by the next preferred number."""
    return (1 - confidence) * 20 / next(look for look in LOOKS if look >= n)


@dataclass(frozen=True)
class Bounds:
    median: float = inf
    p95: float = inf
    upper: float = inf
    holds: float = inf
    fails: float = -inf
    centre: float = inf


def satterthwaite(first: float, df_first: float, second: float, df_second: float) -> float:
    return (first + second) ** 2 / (first**2 / df_first + second**2 / df_second)


def margins(between: float, df_between: int, rest: float, df_rest: int, v: float, n: int) -> tuple[float, ...]:
    """What sums of two mean squares add to a centre: for the next clamping, for the bound shown, for both verdicts."""
    tau = sqrt(between + rest)
    df = satterthwaite(between + v, df_between, rest, df_rest)
    predicted = float(scipy.stats.t.ppf(0.95, df)) * sqrt(between + rest + v)

    def upper(tail: float) -> float:
        def excess(df: int) -> float:
            return df / float(scipy.stats.chi2.ppf(tail, df)) - 1

        most = sqrt(tau**2 + hypot(excess(df_between) * between, excess(df_rest) * rest))
        return Z * tau + hypot(float(scipy.stats.t.isf(tail, df_between)) * sqrt(v), Z * (most - tau))

    df = satterthwaite(between, df_between, rest, df_rest)
    lower = factor((between + rest) / v, df, risk(n, 0.988)) * tau
    return predicted, upper(0.05), upper(risk(n, 0.993)), lower


def from_swings(swing: Floats, sitting: Ints, step: float, *, one_sitting: bool) -> Bounds:
    entered = np.where(swing == 0, step / 4, swing)
    y, n = entered ** (2 / 3), swing.size
    floor = step / sqrt(12) * 2 / 3 * float(entered.mean()) ** (-1 / 3)
    sizes = np.bincount(sitting)
    m, exact = sizes.size, n == sizes.size and n >= 3
    if one_sitting or exact:
        if n < 3:
            return Bounds(centre=float(y.mean() ** 1.5))
        centre, sd = float(y.mean()), max(float(y.std(ddof=1)), floor)
        add = [
            float(scipy.stats.t.ppf(0.95, n - 1)) * sqrt(1 + 1 / n),
            *(factor(n, n - 1, p) for p in (0.95, 1 - risk(n, 0.993), risk(n, 0.988))),
        ]
        add = [one * sd for one in add]
    elif m == 1:
        return Bounds(centre=float(y.mean() ** 1.5))
    else:
        means = np.array([y[sitting == i].mean() for i in range(m)])
        size, centre = m / float(np.sum(1 / sizes)), float(means.mean())
        between = max(float(means.var(ddof=1)), floor**2 / size)
        within = max(float(np.sum((y - means[sitting]) ** 2)) / (n - m), floor**2) if n > m else 0.0
        add = list(margins(between, m - 1, (1 - 1 / size) * within, max(n - m, 1), between / m, n))
    p95, upper, holds, fails = (max(centre + one, 0) ** 1.5 for one in add)
    return Bounds(centre**1.5, p95, upper, holds, fails, centre**1.5)


def from_vectors(
    e: Vectors, swing: Floats, sitting: npt.NDArray[np.int64], step: float, *, one_sitting: bool
) -> Bounds:
    vector, n = swing / 2 * np.exp(1j * np.angle(e)), swing.size
    floor, sizes = step / 2 / sqrt(12), np.bincount(sitting)
    m = sizes.size
    middle = float(np.mean([np.mean(swing[sitting == i] ** (2 / 3)) for i in range(m)]) ** 1.5)

    def centres(modulus: float, v: float, sd: float) -> tuple[float, float]:
        length = sqrt(max(modulus**2 - 2 * v, 0))
        return sqrt(length**2 + sd**2), sd * (float(scipy.stats.rice.ppf(0.95, length / sd)) - Z)

    if one_sitting or (n == m and n >= 3):
        if n < 2:
            return Bounds(centre=middle)
        df, mean = 2 * (n - 1), vector.mean()
        sd = max(sqrt(float(np.sum(np.abs(vector - mean) ** 2)) / df), floor)
        high, low = centres(abs(mean), sd**2 / n, sd)
        add = [
            float(scipy.stats.t.ppf(0.95, df)) * sqrt(1 + 1 / n) * sd,
            *(factor(n, df, p) * sd for p in (0.95, 1 - risk(n, 0.993), risk(n, 0.988))),
        ]
        if n < 3:
            add[2:] = inf, -inf
    elif m == 1:
        return Bounds(centre=middle)
    else:
        means = np.array([vector[sitting == i].mean() for i in range(m)])
        size, mean = m / float(np.sum(1 / sizes)), means.mean()
        between = max(float(np.sum(np.abs(means - mean) ** 2)) / 2 / (m - 1), floor**2 / size)
        within = max(float(np.sum(np.abs(vector - means[sitting]) ** 2)) / 2 / (n - m), floor**2) if n > m else 0.0
        rest = (1 - 1 / size) * within
        high, low = centres(abs(mean), between / m, sqrt(between + rest))
        add = list(margins(between, 2 * (m - 1), rest, max(2 * (n - m), 1), between / m, n))
    p95, upper, holds = (2 * (high + one) for one in add[:3])
    return Bounds(middle, p95, upper, holds, max(2 * (low + add[3]), 0), middle)


def widened(bound: float, centre: float, guard: float, *, linear: bool) -> float:
    """Up; down is the same of the negative figures."""
    if abs(bound) == inf:
        return bound
    middle = min(centre, bound)
    return middle + (bound - middle + guard if linear else hypot(bound - middle, guard))


def told(bounds: Bounds, guard: float, limit: float | None, *, linear: bool) -> tuple[str, float, float]:
    """The verdict, and what is held against the limit for "holds" and for "does not hold"."""
    up = widened(bounds.holds, bounds.centre, guard, linear=linear)
    down = -widened(-bounds.fails, -bounds.centre, guard, linear=linear)
    if limit is None:
        return "no limit", up, down
    return "holds" if up <= limit else "does not hold" if down > limit else "cannot tell", up, down


def digits(found: float | None, expected: float, rel: float = 1e-10) -> None:
    assert found == pytest.approx(expected, rel=rel, abs=1e-12)


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place.item)
def test_a_place_recomputed_from_its_readings_has_the_figures_told(place: Place, answered: dict[str, Group]) -> None:
    found = answered[place.item]
    swing, e = turns(place)
    sitting, step, n, limit = place.sitting, step_um(place), len(place.readings), place.governing
    directed = place.readings.shape[1] > 1
    assert (found.clampings, found.sittings, found.limit_um) == (n, len(place.sizes), limit)
    for value, expected in (
        (found.tir_um.mean, swing.mean()),
        (found.tir_um.min, swing.min()),
        (found.tir_um.max, swing.max()),
        (found.tir_um.last, swing[-1]),
        (found.resolution_um, step),
    ):
        digits(value, float(expected))
    if n > 1:
        digits(found.tir_um.sd, float(swing.std(ddof=1)), 1e-9)

    u = ERROR_LIMIT_UM / sqrt(3)
    if not place.known_gauge:
        u = hypot((0.5 if step <= 0.2 else 2.0) / sqrt(3), 0.035 * float(swing.mean()))
    digits(found.uncertainty_um, 2 * u)
    last = sitting == sitting[-1]
    if directed:
        assert found.eccentricity is not None
        digits(found.eccentricity.tir_um, 2 * abs(e.mean()), 1e-9)
        here = from_vectors(e[last], swing[last], np.zeros(last.sum(), int), step, one_sitting=True)
        following = from_vectors(e, swing, sitting, step, one_sitting=False)
    else:
        here = from_swings(swing[last], np.zeros(last.sum(), int), step, one_sitting=True)
        following = from_swings(swing, sitting, step, one_sitting=False)
    shown = here if following.upper == inf else following
    assert (found.bound is None) is (shown.upper == inf)
    if found.bound is not None and found.next is not None:
        for value, expected in (
            (found.bound.value_um, shown.upper),
            (found.next.median_um, shown.median),
            (found.next.p95_um, shown.p95),
        ):
            digits(value, expected)

    guard, linear = Z * u, not place.known_gauge
    read = "no limit" if limit is None else "cannot tell"
    if limit is not None and swing.max() <= limit - guard:
        read = "holds"
    elif limit is not None and swing.max() >= limit + guard:
        read = "does not hold"
    verdict, up, down = told(following, guard, limit, linear=linear)
    assert (found.as_read, found.this_sitting, found.next_clampings) == (
        read,
        told(here, guard, limit, linear=linear)[0],
        verdict,
    )
    if up < inf:
        digits(found.holds_from_um, up)
    assert (found.decision is not None) is (verdict in ("holds", "does not hold"))
    if found.decision is not None:
        exact = verdict == "holds" or not directed  # the Rice point of the program is good to 1e-8
        digits(found.decision.decides_um, up if verdict == "holds" else down, 1e-10 if exact else 1e-7)


def test_every_kind_of_place_and_every_verdict_is_among_them(answered: dict[str, Group]) -> None:
    assert len(PLACES) >= 200
    for verdict in ("as_read", "this_sitting", "next_clampings"):
        counts = [
            sum(getattr(group, verdict) == word for group in answered.values())
            for word in ("holds", "does not hold", "cannot tell", "no limit")
        ]
        assert min(counts) >= 3
    assert {place.governing is None for place in PLACES} == {True, False}
    from_item = [place for place in PLACES if place.limit_um and place.setup == "L1"]
    assert {place.limit_um < SETUP_LIMIT_UM for place in from_item if place.limit_um} == {True, False}


def test_the_scatter_is_alike_in_all_directions_wherever_vectors_are_judged() -> None:
    """Else the larger of two bounds would govern: the sphericity test pooled over each place of the clock."""
    for setup, position in itertools.product(("L1", "L2"), "AB"):
        squares, twist, df = 0.0, 0j, 0
        for place in PLACES:
            if (place.setup, place.position) == (setup, position) and place.readings.shape[1] > 1:
                swing, e = turns(place)
                away = swing / 2 * np.exp(1j * np.angle(e))
                away = away - away.mean()
                squares, twist, df = squares + np.sum(np.abs(away) ** 2), twist + np.sum(away**2), df + swing.size - 1
        assert (1 - abs(twist / squares) ** 2) ** ((df - 1) / 2) >= 0.05
