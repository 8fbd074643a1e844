"""What does each turn of an item tell: swing, once-per-turn part, lobes, and the noise of the indicator?"""

import dataclasses
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from qclog.logbook.deriving import by_angles, fit_together
from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.logbook.owned import GaugeCard, read_gauges
from qclog.logbook.turn_readings import TurnReadings, read_residuals, read_turn_readings
from qclog.statistics.samples import rounding_sd
from qclog.statistics.turn.lobes import Lobes, aliases, find_lobes
from qclog.statistics.turn.turns import TurnFit, pool_residual_sd

QUESTION: Final = "turns"
_OWN_NOISE_FROM: Final = 3
"""Degrees of freedom from which on a turn speaks for its own noise; below, its indicator does."""

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Lobe:
    """A form of so many lobes: the swing it causes by itself, and where the first of them is highest."""

    count: int
    swing_um: float
    high_spot_deg: float


@dataclass(frozen=True, slots=True)
class ReadTurn:
    """One turn. Lengths in µm, the lever's angle allowed for; angles clockwise from the spindle's mark facing the nose.

    ``turn``: its place in the clamping, from 1. ``full_swing_um`` lobes included; ``once_per_turn_um`` the TIR of the
    eccentricity alone. ``u_`` are standard uncertainties from the noise of the readings, None where nothing is known
    of it. ``lobes``: those present. ``lobes_as_runout``: counts of lobes that these angles cannot tell from run-out.
    ``residual_um``: what the curve leaves of the readings, with ``residual_df`` degrees of freedom (None with 0).
    ``noise_um``: the noise of one reading that was counted with, and its degrees of freedom: the residual of the turn
    from 3 degrees of freedom on, else that of all turns of its indicator, never below what the step read gives.
    """

    clamping: int
    turn: int
    taken_at: str
    setup: str
    setup_revision: int
    sense: str
    position: str
    clocking: str
    distance_mm: float
    characteristic: str
    instrument: str
    readings: int
    angles_deg: tuple[float, ...]
    readings_um: tuple[float, ...]
    full_swing_um: float
    u_full_swing_um: float | None
    once_per_turn_um: float
    u_once_per_turn_um: float | None
    high_spot_deg: float
    u_high_spot_deg: float | None
    lobes: tuple[Lobe, ...]
    lobes_as_runout: tuple[int, ...]
    closure_um: float | None
    residual_um: float | None
    residual_df: int
    noise_um: float | None
    noise_df: int


@dataclass(frozen=True, slots=True)
class Noise:
    """The indicator's own noise: of one reading, pooled over ``turns``, with its degrees of freedom.

    ``instrument`` '' stands for turns of this item for which none was named.
    """

    instrument: str
    noise_um: float
    df: int
    turns: int


@dataclass(frozen=True, slots=True)
class Answer:
    """The turns of an item as it is now, in the order of time."""

    item: str
    modification: int
    what: str
    turns: tuple[ReadTurn, ...]
    noise: tuple[Noise, ...]


def turns(store: Store, code: str, told: dict[int, Noise] | None = None) -> Answer:
    """Every turn of readings at known angles that counts: not struck out, not recalled, no lever beyond 30 degrees.

    ``told``: the noise of indicators as it was told of other items, which is pooled over all their turns; what is
    learnt of one is kept there. Raises NotFoundError.
    """
    of_indicators = {} if told is None else told
    with store.reading() as connection:
        register = Register(connection)
        item = register.need(code, "item")
        modification = register.newest_modification(item)
        found = read_turn_readings(connection, item.id, modification.id)
        instruments = {one.facts.instrument_id for one in found}
        residuals = read_residuals(connection, instruments - of_indicators.keys(), item.id)
        cards = read_gauges(connection)
    codes = {instrument: card.code for instrument, card in cards.items()}
    noise = {
        instrument: Noise(codes.get(instrument, ""), *_pooled(pairs), len(pairs))
        for instrument, pairs in residuals.items()
    }
    of_indicators |= {instrument: one for instrument, one in noise.items() if instrument}
    noise |= {instrument: one for instrument, one in of_indicators.items() if instrument in instruments}
    by_id = {one.facts.turn_id: one for one in found}
    read: dict[int, ReadTurn] = {}
    for facts in by_angles(one.facts for one in found):
        together = [by_id[fact.turn_id] for fact in facts]
        read |= zip([fact.turn_id for fact in facts], _told(together, noise, cards), strict=True)
    return Answer(
        item=item.text,
        modification=modification.number,
        what=modification.what,
        turns=tuple(read[one.facts.turn_id] for one in found if one.facts.turn_id in read),
        noise=tuple(sorted(noise.values(), key=lambda one: one.instrument)),
    )


def document(answer: Answer) -> dict[str, Any]:
    """The answer as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer)]}


def _pooled(pairs: list[tuple[float, int]]) -> tuple[float, int]:
    sd, df = zip(*pairs, strict=True)
    return pool_residual_sd(sd, df)


def _told(together: list[TurnReadings], noise: dict[int, Noise], cards: dict[int, GaugeCard]) -> list[ReadTurn]:
    """What turns read at the same angles tell, in their order."""
    readings, fit = fit_together([one.facts for one in together])
    sd, df = _noise(together, fit, noise, cards)
    whole = np.zeros(len(fit.residual_sd_um))
    whole[: len(sd)] = sd
    known = fit.with_residual_sd(whole, 1)
    lobes = find_lobes(readings, fit.angles_deg, fit.harmonics, noise_um=sd, noise_df=df)
    as_runout = aliases(fit.angles_deg, min(fit.harmonics, 2))

    def u(figures: Floats, i: int) -> float | None:
        return float(figures[i]) if df[i] else None

    return [
        ReadTurn(
            clamping=one.facts.clamping_id,
            turn=one.number,
            taken_at=one.facts.taken_at,
            setup=one.setup,
            setup_revision=one.setup_revision,
            sense=one.sense,
            position=one.facts.position,
            clocking=one.facts.clocking,
            distance_mm=one.facts.distance_pm / 1e9,
            characteristic=one.facts.characteristic,
            instrument=cards[one.facts.instrument_id].code if one.facts.instrument_id else "",
            readings=fit.n,
            angles_deg=tuple(fit.angles_deg.tolist()),
            readings_um=tuple(readings[i].tolist()),
            full_swing_um=float(fit.full_swing_um[i]),
            u_full_swing_um=u(known.u_full_swing_um, i),
            once_per_turn_um=float(fit.eccentricity_tir_um[i]),
            u_once_per_turn_um=u(known.u_eccentricity_tir_um, i),
            high_spot_deg=float(fit.high_spot_deg[i]),
            u_high_spot_deg=u(known.u_high_spot_deg, i),
            lobes=_present(lobes, i),
            lobes_as_runout=as_runout,
            closure_um=one.closure_um,
            residual_um=float(fit.residual_sd_um[i]) if fit.residual_df else None,
            residual_df=fit.residual_df,
            noise_um=u(sd, i),
            noise_df=int(df[i]),
        )
        for i, one in enumerate(together)
    ]


def _noise(
    together: list[TurnReadings], fit: TurnFit, noise: dict[int, Noise], cards: dict[int, GaugeCard]
) -> tuple[Floats, Ints]:
    """The noise of one reading of each turn (M,) and its degrees of freedom; 0 of both where nothing is known."""
    sd, df = np.zeros(len(together)), np.zeros(len(together), dtype=np.int64)
    for i, one in enumerate(together):
        pooled = noise.get(one.facts.instrument_id)
        if fit.residual_df >= _OWN_NOISE_FROM:
            sd[i], df[i] = fit.residual_sd_um[i], fit.residual_df
        elif pooled is not None:
            sd[i], df[i] = pooled.noise_um, pooled.df
        card = cards.get(one.facts.instrument_id)
        digit = card.division_um if card and card.kind == "electronic" else 0.0
        if df[i]:
            sd[i] = max(sd[i], rounding_sd(max(one.facts.step_pm / 1e6, digit)))
    return sd, df


def _present(lobes: Lobes, i: int) -> tuple[Lobe, ...]:
    return tuple(
        Lobe(count, float(lobes.swing_um[row, i]), float(lobes.high_spot_deg[row, i]))
        for row, count in enumerate(lobes.counts)
        if lobes.present[row, i]
    )
