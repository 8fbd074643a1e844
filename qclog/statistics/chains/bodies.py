"""Whose is the run-out? Bodies of a chain told apart by how they were turned against each other.

The eccentricity of clamping i is e_i = S + sum_X X exp(i a_Xi) + scatter: S of the spindle and all that was never
turned, X of each body turned to the absolute angle a_X, as vectors in the frame of the spindle (least squares in
complex form; for two settings half a turn apart it is the classical reversal, Donaldson 1972, Evans, Hocken and
Estler 1996, CIRP Annals 45(2), from memory). Angles in degrees, lengths in µm; a standard deviation or error is per
axis, with two degrees of freedom a vector.

Sittings: a day may shift everything by one vector that nobody turned. Where several sittings share the clampings,
each has its own S, the bodies are told from within sittings alone, and S is the mean over sittings, its scatter from
that between them. Where each sitting saw one clocking only, its mean is one run, and the scatter is that of days.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import SHOWN_RISK, Floats
from qclog.statistics.chains.sense import Misfit
from qclog.statistics.samples import checked_vectors

Vectors = npt.NDArray[np.complex128]
Ints = npt.NDArray[np.intp]

_NEGLIGIBLE = 1e-9
STAYS = 0
"""The place of what was never turned among the parts of a chain."""


@dataclass(frozen=True, slots=True)
class Forecast:
    """The eccentricity of a chain clocked in one way.

    ``vector``: the systematic part. ``error_um``: its standard error per axis, with ``error_df``; ``scatter_um``: of
    single clampings about the true one; ``next_um``: of the next clamping about ``vector``, with ``df``. In one sitting
    all of them speak of that sitting. NaN, with df 0, where no repeat is known.
    """

    vector: complex
    error_um: float
    error_df: float
    scatter_um: float
    next_um: float
    df: float

    @property
    def tir_um(self) -> float:
        """The systematic full swing, as found."""
        return 2.0 * abs(self.vector)

    @property
    def expected_um(self) -> float:
        """The systematic swing to expect of a clocking *chosen because* it looked best: 2 sqrt(|e|² + 2u²).

        The least of many forecasts is too good by its own luck; this is not, on average a little high.
        """
        return 2.0 * math.hypot(abs(self.vector), math.sqrt(2.0) * self.error_um)

    @property
    def bound_um(self) -> float:
        """What the next clamping stays under with 95 %, for a clocking chosen beforehand."""
        length = math.sqrt(max(abs(self.vector) ** 2 - 2.0 * self.error_um**2, 0.0))
        return self._bound(length)

    @property
    def bound_selected_um(self) -> float:
        """The same for a clocking chosen because its forecast was the least."""
        return self._bound(self.expected_um / 2.0)

    def _bound(self, length: float) -> float:
        if not self.df > 0.0:
            return math.nan
        return 2.0 * (math.hypot(length, self.scatter_um) + _t_upper(self.df, SHOWN_RISK) * self.next_um)


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Parts of a chain as vectors, arrays (g,); the first is what stays (``STAYS``), the others were turned.

    ``bodies``: for each part the numbers of its bodies; in the first those never turned, in another more than one where
    they were always turned together. ``vectors`` in µm, each with the mark of its first body at 0; NaN where the
    clockings do not tell it. ``unscaled`` (g, g): covariance of the vectors from within sittings, over sd². ``sd_um``,
    ``df``: scatter within a sitting (or of single runs); NaN and 0 where none is known. ``between_um2``,
    ``df_between``: mean square of the S of sittings about their mean, 0 and 0 in one sitting; ``share``: how much of it
    is scatter within. ``extra_um2``, ``df_extra``: scatter within a sitting where each was one run.
    ``residuals`` (n,): what the fit leaves of each run.
    """

    angles_deg: Floats
    bodies: tuple[tuple[int, ...], ...]
    vectors: Vectors
    unscaled: Vectors
    sd_um: float
    df: int
    from_shop: bool
    sittings: int
    between_um2: float
    df_between: int
    share: float
    extra_um2: float
    df_extra: int
    one_clocking_each: bool
    residuals: Vectors

    def __post_init__(self) -> None:
        for array in (self.angles_deg, self.vectors, self.unscaled, self.residuals):
            array.flags.writeable = False

    def part(self, number: int) -> Forecast:
        """One part by itself."""
        row = np.zeros(len(self.bodies), dtype=np.complex128)
        row[number] = 1.0
        return self.forecast_row(row)

    def row(self, angles_deg: npt.ArrayLike, left_out: frozenset[int] = frozenset()) -> Vectors:
        """The row (g,) of the design for bodies (k,) at these absolute angles.

        ``left_out``: bodies that are not there (the test pin), where their part is theirs alone. Raises
        NotAnswerableError where it would turn what was never turned, or part what was always turned together.
        """
        angles = np.asarray(angles_deg, dtype=np.float64)
        row = np.ones(len(self.bodies), dtype=np.complex128)
        for number, bodies in enumerate(self.bodies):
            turned = np.exp(1j * np.radians(angles[list(bodies)]))
            measured = np.exp(1j * np.radians(self.angles_deg[:, list(bodies)]))
            if number != STAYS:
                row[number] = 0.0 if left_out.issuperset(bodies) else turned[0]
                turned, measured = turned * np.conj(turned[0]), measured * np.conj(measured[:, :1])
            if not np.allclose(measured, turned, atol=1e-6):
                raise NotAnswerableError(
                    "This clocking turns what was never turned by itself.", "Clamp it so once, and read."
                )
        return row

    def forecast(self, angles_deg: npt.ArrayLike, left_out: frozenset[int] = frozenset()) -> Forecast:
        """The chain at these absolute angles (k,). Raises as ``row``."""
        return self.forecast_row(self.row(angles_deg, left_out))

    def forecast_row(self, row: Vectors) -> Forecast:
        """Any sum of parts. Parts not told make it NaN, unless their place in the row is 0."""
        used = np.abs(row) > 0.0
        vector = complex(row[used] @ self.vectors[used])
        h = float(np.real(row[used] @ self.unscaled[np.ix_(used, used)] @ row[used].conj()))
        with_s = abs(row[STAYS]) ** 2
        if not self.df:
            return Forecast(vector, math.nan, 0.0, math.nan, math.nan, 0.0)
        within = self.sd_um**2
        if not (self.df_between and with_s):
            one, extra = within, self.extra_um2
            return Forecast(
                vector,
                math.sqrt(one * h),
                self.df,
                math.sqrt(one + extra),
                math.sqrt(one * (1.0 + h) + extra),
                _satterthwaite((one * (1.0 + h), self.df), (extra, self.df_extra)),
            )
        m = self.sittings
        error = max(with_s * self.between_um2 / m + within * (h - with_s * self.share / m), within * h)
        error_df = _satterthwaite(
            (with_s * self.between_um2 / m, self.df_between),
            (within * max(h - with_s * self.share / m, 0.0), self.df),
        )
        scatter = max(self.between_um2 + (1.0 - self.share) * within, within)
        shared = max(1.0 + h - self.share * (1.0 + with_s / m), 0.0) * within
        days = (1.0 + with_s / m) * self.between_um2
        following = max(days + shared, within * (1.0 + h))
        df = _satterthwaite((days, self.df_between), (max(following - days, 0.0), self.df))
        return Forecast(vector, math.sqrt(error), error_df, math.sqrt(scatter), math.sqrt(following), df)

    def circle_um(self, number: int) -> float:
        """Radius of the 95 % circle of a part, u sqrt(2 F), F on 2 and its degrees of freedom; inf where unknown."""
        return circle(self.part(number))

    def largest(self) -> int | None:
        """The part that is longer than every other one, at 95 %; None where that is not shown.

        Lengths are compared by t, with the errors of both vectors along their own directions, at 5 % over all
        rivals (Bonferroni).
        """
        told = [number for number in range(len(self.bodies)) if np.isfinite(self.vectors[number])]
        if len(told) < 2 or len(told) < len(self.bodies) or not self.df:
            return None
        first, *others = sorted(told, key=lambda number: -abs(self.vectors[number]))
        for other in others:
            row = np.zeros(len(self.bodies), dtype=np.complex128)
            for number, sign in ((first, 1.0), (other, -1.0)):
                length = abs(self.vectors[number])
                row[number] = sign * (self.vectors[number].conjugate() / length if length else 1.0)
            found = self.forecast_row(row)
            gap = abs(self.vectors[first]) - abs(self.vectors[other])
            if gap <= _t_upper(found.error_df, SHOWN_RISK / len(others)) * found.error_um:
                return None
        return first


def fit_chain(
    vectors: npt.ArrayLike,
    angles_deg: npt.ArrayLike,
    sitting: npt.ArrayLike | None = None,
    *,
    floor_um: float,
    repeat: tuple[float, int] | None = None,
) -> Chain:
    """Tell bodies apart from eccentricities (n,), complex, with k bodies at angles (n, k).

    sitting (n,): whole numbers, equal ones are one sitting; without it all are one. ``floor_um``: what rounding to the
    step leaves per axis, below which no scatter is taken to be. ``repeat``: standard deviation per axis and degrees of
    freedom of re-clamping, as known from elsewhere, which serves where the runs leave no degree of freedom.

    Raises NotAnswerableError for fewer than two clampings, what is not finite, or angles that do not go with them.
    """
    e, angles = checked_vectors(vectors, 2), np.asarray(angles_deg, dtype=np.float64)
    if angles.ndim != 2 or len(angles) != e.size or not np.isfinite(angles).all():
        raise NotAnswerableError(f"{e.size} vectors do not go with these clockings.", "Give every body its angle.")
    days = (
        np.zeros(e.size, dtype=np.intp) if sitting is None else np.unique(np.asarray(sitting), return_inverse=True)[1]
    )
    count = int(days.max()) + 1
    one_each = count > 1 and all(len(np.unique(angles[days == day], axis=0)) == 1 for day in range(count))
    extra, df_extra = 0.0, 0
    if one_each:
        sizes = np.bincount(days)
        means = np.array([e[days == day].mean() for day in range(count)])
        df_extra = 2 * (e.size - count)
        within = float(np.sum(np.abs(e - means[days]) ** 2)) / df_extra if df_extra else 0.0
        extra = (1.0 - float(np.mean(1.0 / sizes))) * max(within, floor_um**2 * (df_extra > 0))
        angles = np.array([angles[days == day][0] for day in range(count)])
        e, days, count = means, np.zeros(count, dtype=np.intp), 1
    bodies = _together(angles, days)
    offsets = (days[:, None] == np.arange(count)).astype(np.complex128)
    turned = np.exp(1j * np.radians(angles[:, [part[0] for part in bodies[1:]]]))
    design = np.hstack([offsets, turned])
    solution, inverse, told, rank = _least_squares(design, e)
    residuals = e - design @ solution
    gather = np.zeros((len(bodies), design.shape[1]))
    gather[STAYS, :count], gather[1:, count:] = 1.0 / count, np.eye(len(bodies) - 1)
    parts = gather @ solution
    parts[[STAYS] if not told[:count].all() else []] = np.nan
    parts[1:][~told[count:]] = np.nan
    df = 2 * (e.size - rank)
    sd = max(math.sqrt(float(np.sum(np.abs(residuals) ** 2)) / df), floor_um) if df else math.nan
    from_shop = not df and repeat is not None and not one_each
    if from_shop and repeat is not None:
        sd, df = max(repeat[0], floor_um), repeat[1]
    centred = np.eye(count) - 1.0 / count
    spread = centred @ solution[:count]
    return Chain(
        angles_deg=angles,
        bodies=bodies,
        vectors=parts,
        unscaled=gather @ inverse @ gather.T,
        sd_um=sd,
        df=df,
        from_shop=from_shop,
        sittings=count,
        between_um2=float(np.sum(np.abs(spread) ** 2)) / (2 * (count - 1)) if count > 1 else 0.0,
        df_between=2 * (count - 1),
        share=float(np.real(np.trace(centred @ inverse[:count, :count]))) / max(count - 1, 1),
        extra_um2=extra,
        df_extra=df_extra,
        one_clocking_each=one_each,
        residuals=residuals,
    )


def chain_misfit(
    vectors: npt.ArrayLike, angles_deg: npt.ArrayLike, sitting: npt.ArrayLike, *, floor_um: float
) -> Misfit | None:
    """What the whole chain leaves with its angles as said and the other way round; None where it leaves nothing.

    For ``sense.judge_sense``. A plan in which both ways fit alike (half turns alone, or bodies that make up for each
    other) gives a ratio of 1, which tells nothing.
    """
    said = fit_chain(vectors, angles_deg, sitting, floor_um=floor_um)
    other = fit_chain(vectors, -np.asarray(angles_deg, dtype=np.float64), sitting, floor_um=floor_um)
    if not said.df or said.df != other.df:
        return None
    return Misfit(said.df * said.sd_um**2, other.df * other.sd_um**2, said.df)


def two_sizes(swings_um: npt.ArrayLike) -> tuple[float, float]:
    """Larger and smaller swing of what stays and of a body turned to k even positions, k >= 3, from swings (k,) alone.

    r_j² = f² + m² + 2 f m cos(phase + 2 pi j/k), r = T/2: its mean is q = f² + m², its first Fourier component f m;
    the two are sqrt((q +- sqrt(q² - 4 (f m)²))/2). Which belongs to the body stays open. (Trigonometry; own work.)
    Raises NotAnswerableError below three swings.
    """
    swings = np.asarray(swings_um, dtype=np.float64)
    if swings.size < 3:
        raise NotAnswerableError(f"{swings.size} swings at even positions given, 3 needed.", "Turn it by quarters.")
    squares = swings**2 / 4.0
    q = float(np.mean(squares))
    w = abs(complex(np.mean(squares * np.exp(-2j * np.pi * np.arange(swings.size) / swings.size))))
    root = math.sqrt(max(q**2 - 4.0 * w**2, 0.0))
    return 2.0 * math.sqrt((q + root) / 2.0), 2.0 * math.sqrt(max(q - root, 0.0) / 2.0)


def circle(found: Forecast) -> float:
    """Radius of the 95 % circle of a forecast's systematic part; inf where its error is not known."""
    if not found.error_df > 0.0:
        return math.inf
    f = found.error_df
    return found.error_um * math.sqrt(f * (SHOWN_RISK ** (-2.0 / f) - 1.0))


def _together(angles: Floats, days: Ints) -> tuple[tuple[int, ...], ...]:
    """Bodies by part: first those never turned within a sitting, then each with those always turned with it."""
    turned = np.exp(1j * np.radians(angles))
    parts: list[list[int]] = [[]]
    for body in range(angles.shape[1]):
        first_of_day = turned[[int(np.argmax(days == day)) for day in range(int(days.max()) + 1)], body]
        if np.abs(turned[:, body] - first_of_day[days]).max() < _NEGLIGIBLE:
            parts[STAYS].append(body)
            continue
        for part in parts[1:]:
            if abs(np.vdot(turned[:, part[0]], turned[:, body])) > (1.0 - _NEGLIGIBLE) * len(angles):
                part.append(body)
                break
        else:
            parts.append([body])
    return tuple(tuple(part) for part in parts)


def _least_squares(design: Vectors, e: Vectors) -> tuple[Vectors, Vectors, npt.NDArray[np.bool_], int]:
    """Solution, (M^H M)^+, which unknowns are told (no part of the null space touches them), and the rank."""
    u, size, vh = np.linalg.svd(design, full_matrices=False)
    rank = int(np.sum(size > _NEGLIGIBLE * size[0]))
    u, size, vh = u[:, :rank], size[:rank], vh[:rank]
    solution = vh.conj().T @ ((u.conj().T @ e) / size)
    inverse = (vh.conj().T / size**2) @ vh
    told = np.sum(np.abs(vh) ** 2, axis=0) > 1.0 - _NEGLIGIBLE
    return solution, inverse, told, rank


def _satterthwaite(*parts: tuple[float, int]) -> float:
    """Degrees of freedom of a sum of mean squares with their own (Satterthwaite 1946, from memory)."""
    total = sum(value for value, _ in parts)
    below = sum(value**2 / df for value, df in parts if value > 0.0)
    return total**2 / below if below > 0.0 else float(max(df for _, df in parts))


def _t_upper(df: float, tail: float) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(df, 1.0 - tail))
