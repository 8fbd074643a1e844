"""An inspector's recomputation: from the two attached files alone, with numpy and scipy, nothing of qclog.

The formulas are those the statement names: one-sided tolerance limits from the noncentral t (ISO 16269-6, Annex; here
from scipy), the upper limit of a sum of two mean squares (Graybill and Wang 1980, JASA 75, from memory), rounding and
root sums of squares after JCGM 100, guard band after ISO 14253-1:2017 (from memory).
"""

import csv
import io
import json
from typing import Any

import numpy as np
import pypdf
import pytest
from scipy import stats

from qclog.questions.stating.gathering import Wanted, prepare
from qclog.questions.stating.signing import signed
from qclog.questions.stating.statement import Signed
from qclog.records import Limit
from reports.statement.pdf import pdf

FIVE_DAYS = tuple(f"2026-03-0{day}" for day in range(1, 6))
SIGNED = Signed(7, 1, 0, "2026-04-01", "A workshop", "AK", "An inspector")
UM_PER_UNIT = {"um": 1.0, "mm": 1000.0}
Z95 = stats.norm.ppf(0.95)


def inspected(statement: bytes, readings: bytes) -> dict[str, Any]:
    """Everything that is claimed, computed again."""
    said = json.loads(statement)
    swings, vectors = _swings(said, readings)
    sittings = [one["sitting"] for one in said["clampings"]]
    step, n = said["result"]["resolution_um"], len(swings)
    mean = float(np.mean(swings))
    u = max(_u(said, one, mean) for one in said["clampings"])
    guard = Z95 * u
    if vectors is not None:
        bound, verdict_bound, centre = (_of_vectors(vectors, swings, risk) for risk in (0.05, 0.007, None))
    elif len(set(sittings)) == n:
        bound, verdict_bound, centre = (_one_each(swings, step, risk) for risk in (0.05, 0.007, None))
    else:
        bound, verdict_bound, centre = (_sittings(swings, sittings, step, risk) for risk in (0.05, 0.007, None))
    decides = centre + np.hypot(verdict_bound - centre, guard)
    eccentricity = None if vectors is None else np.mean(vectors)
    return {
        "clampings": n,
        "sittings": len(set(sittings)),
        "mean": mean,
        "sd": float(np.std(swings, ddof=1)),
        "min": float(np.min(swings)),
        "max": float(np.max(swings)),
        "last": float(swings[-1]),
        "bound": bound,
        "uncertainty": 2 * u,
        "guard": guard,
        "verdict bound": verdict_bound,
        "decides": decides,
        "holds": bool(decides <= said["limit"]["upper_um"]),
        "once per turn": None if eccentricity is None else 2 * abs(eccentricity),
        "high spot": None if eccentricity is None else np.degrees(np.angle(eccentricity)) % 360,
    }


def _swings(said: dict[str, Any], readings: bytes) -> tuple[np.ndarray, np.ndarray | None]:
    """The full swing of every clamping and, where read around, its once-per-turn vector; in the order stated."""
    rows: dict[int, list[dict[str, str]]] = {}
    for row in csv.DictReader(io.StringIO(readings.decode(), newline="")):
        rows.setdefault(int(row["clamping"]), []).append(row)
    swings, vectors = [], []
    for one in said["clampings"]:
        turn = rows[one["number"]]
        values = np.array([float(row["value"]) * UM_PER_UNIT[row["unit"]] for row in turn])
        if turn[0]["kind"] == "tir":
            gauge = said["indicators"][one["indicator"]]
            lever = gauge["kind"] == "lever" and one["lever_deg"] is not None
            angles = np.radians([one["lever_deg"], gauge["reads_right_at_deg"]]) if lever else np.zeros(2)
            swings.append(values[0] * np.cos(angles[0]) / np.cos(angles[1]))
            continue
        around = np.radians([float(row["angle_deg"]) for row in turn])
        vector = 2 / len(turn) * np.sum(values * np.exp(1j * around))
        vectors.append(vector)
        swings.append(2 * abs(vector))  # nothing but once per turn was read
    return np.array(swings), np.array(vectors) if vectors else None


def _u(said: dict[str, Any], clamping: dict[str, Any], mean: float) -> float:
    """Indicator, lever angle within 5 degrees, roundness of the pin: root sum of squares (JCGM 100, 4.3 and 5.1)."""
    gauge = said["indicators"][clamping["indicator"]]
    known = gauge["calibration"]
    u = known["error_limit_um"] / np.sqrt(3) if known["uncertainty_um"] is None else None
    if u is None:
        u = known["uncertainty_um"] / known["coverage_factor"]
    lever = 0.0
    if gauge["kind"] == "lever":
        angle, within = np.radians(clamping["lever_deg"]), np.radians(5.0)
        u *= np.cos(angle)
        lever = within * mean * max(np.sin(angle), within / 2) / np.sqrt(3)
    (pin,) = (pin for pin in said["pins"] if pin["code"] == clamping["pin"])
    return float(np.sqrt(u**2 + lever**2 + (pin["roundness_um"] or 0.0) ** 2 / 3))


def _one_each(swings: np.ndarray, step: float, risk: float | None) -> float:
    y, n = swings ** (2 / 3), len(swings)
    if risk is None:
        return float(y.mean() ** 1.5)
    sd = max(y.std(ddof=1), step / np.sqrt(12) * 2 / 3 * swings.mean() ** (-1 / 3))
    k = stats.nct.ppf(1 - risk, n - 1, Z95 * np.sqrt(n)) / np.sqrt(n)
    return float((y.mean() + k * sd) ** 1.5)


def _sittings(swings: np.ndarray, sittings: list[str], step: float, risk: float | None) -> float:
    y = swings ** (2 / 3)
    groups = [y[np.array(sittings) == one] for one in dict.fromkeys(sittings)]
    m, sizes = len(groups), np.array([len(group) for group in groups])
    means = np.array([group.mean() for group in groups])
    if risk is None:
        return float(means.mean() ** 1.5)
    floor = (step / np.sqrt(12) * 2 / 3 * swings.mean() ** (-1 / 3)) ** 2
    harmonic = m / np.sum(1 / sizes)
    between = max(means.var(ddof=1), floor / harmonic)
    df = int(sizes.sum() - m)
    within = max(sum(((group - group.mean()) ** 2).sum() for group in groups) / df, floor)
    rest = (1 - 1 / harmonic) * within
    excess = [d / stats.chi2.ppf(risk, d) - 1 for d in (m - 1, df)]
    sd = np.sqrt(between + rest)
    upper_sd = np.sqrt(between + rest + np.hypot(excess[0] * between, excess[1] * rest))
    from_centre = stats.t.ppf(1 - risk, m - 1) * np.sqrt(between / m)
    margin = Z95 * sd + np.hypot(from_centre, Z95 * (upper_sd - sd))
    return float((means.mean() + margin) ** 1.5)


def _of_vectors(vectors: np.ndarray, swings: np.ndarray, risk: float | None) -> float:
    """One clamping in each sitting: the centre with the scatter across it, and k along it at 2(n - 1)."""
    n, mean = len(vectors), vectors.mean()
    if risk is None:
        return float(np.mean(swings ** (2 / 3)) ** 1.5)
    variance = np.sum(np.abs(vectors - mean) ** 2) / (2 * (n - 1))
    centre = np.sqrt(max(abs(mean) ** 2 - 2 * variance / n, 0) + variance)
    k = stats.nct.ppf(1 - risk, 2 * (n - 1), Z95 * np.sqrt(n)) / np.sqrt(n)
    return float(2 * (centre + k * np.sqrt(variance)))


def _attached(shop: Any, limit_um: float) -> tuple[dict[str, Any], bytes, bytes, str]:
    """What is claimed, the attachments as a reader of PDFs gives them, and the text of the pages."""
    shop.limit("C-046", Limit(round(limit_um * 1e6), distance_pm=16_000_000_000))
    with shop.store.reading() as connection:
        prepared = prepare(connection, Wanted("C-046"))
    assert not prepared.against
    reader = pypdf.PdfReader(io.BytesIO(pdf(signed(prepared, SIGNED), prepared.readings)))
    (statement,), (readings,) = reader.attachments["statement.json"], reader.attachments["readings.csv"]
    pages = "\n".join(page.extract_text() for page in reader.pages)
    return json.loads(statement)["result"], statement, readings, pages


def _compare(found: dict[str, Any], claimed: dict[str, Any], pages: str, rel: float) -> None:
    tir, how = claimed["tir_um"], claimed["decision"]
    assert (found["clampings"], found["sittings"]) == (claimed["clampings"], claimed["sittings"])
    assert found["holds"] is (claimed["next_clampings"] == "holds")
    for name in ("mean", "sd", "min", "max", "last"):
        assert found[name] == pytest.approx(tir[name], rel=rel), name
    for name, value in (
        ("bound", claimed["bound"]["value_um"]),
        ("uncertainty", claimed["uncertainty_um"]),
        ("guard", how["guard_um"]),
        ("verdict bound", how["bound_um"]),
        ("decides", how["decides_um"]),
    ):
        assert found[name] == pytest.approx(value, rel=max(rel, 1e-7)), name
    printed = f"{np.ceil(found['bound'] * 10 - 1e-6) / 10:.1f} µm"
    assert f"19 in 20 stay under {printed}" in " ".join(pages.split())
    assert f"± {found['uncertainty']:.2g} µm (k = 2)" in pages


def test_swings_of_several_sittings(shop: Any) -> None:
    rng = np.random.default_rng(11)
    for day in FIVE_DAYS:
        shop.log(np.round(4 + rng.normal(0, 0.3) + rng.normal(0, 0.4, 4), 1), days=[day], pin="P-65", lever_mdeg=15_000)
    claimed, statement, readings, pages = _attached(shop, 9)
    assert claimed["bound"]["method"] == "sittings"
    _compare(inspected(statement, readings), claimed, pages, 1e-12)


def test_one_swing_on_each_day(shop: Any) -> None:
    for day, swing in zip(FIVE_DAYS, (4.1, 4.6, 3.9, 4.4, 5.0), strict=True):
        shop.log([swing], days=[day], pin="P-65")
    claimed, statement, readings, pages = _attached(shop, 9)
    assert claimed["bound"]["method"] == "one clamping a sitting"
    _compare(inspected(statement, readings), claimed, pages, 1e-12)


def test_quarter_turns_with_the_once_per_turn_part(shop: Any) -> None:
    rng = np.random.default_rng(5)
    vectors = 1.8 * np.exp(0.7j) + (rng.normal(0, 0.2, 4) + 1j * rng.normal(0, 0.2, 4))
    shop.log_vectors(vectors, days=FIVE_DAYS[:4], pin="P-65")
    claimed, statement, readings, pages = _attached(shop, 9)
    assert claimed["bound"]["method"] == "one clamping a sitting, from vectors"
    found = inspected(statement, readings)
    _compare(found, claimed, pages, 2e-5)  # the curve is looked at every half degree
    assert found["once per turn"] == pytest.approx(claimed["eccentricity"]["tir_um"], rel=1e-9)
    assert found["high spot"] == pytest.approx(claimed["eccentricity"]["high_spot_deg"], rel=1e-9)


def test_a_verdict_of_does_not_hold_is_told_by_its_own_arithmetic(shop: Any) -> None:
    for day in FIVE_DAYS:
        shop.log([11.1, 11.9, 12.4], days=[day], pin="P-65")
    claimed, _, _, pages = _attached(shop, 9)
    how = claimed["decision"]
    assert claimed["next_clampings"] == "does not hold"
    assert how["bound_um"] > how["centre_um"]
    assert how["decides_um"] == pytest.approx(how["bound_um"] - how["guard_um"], rel=1e-12)
    assert how["decides_um"] > 9
    assert f"B - g = {np.floor(how['decides_um'] * 100) / 100:.2f} µm is above 9 µm: DOES NOT HOLD" in pages
