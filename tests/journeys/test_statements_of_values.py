"""Statements of sizes, gaps and differences, issued on the command line, and an inspector's recomputation of them: from
the two attached files alone, with numpy and scipy, nothing of qclog.

The formulas are those the statement names: two-sided tolerance limits by their exact integral (ISO 16269-6; Odeh and
Owen 1980, from memory), one-sided ones from the noncentral t, the upper limit of a sum of two mean squares (Graybill
and Wang 1980, JASA 75, from memory), a likelihood ratio for what pins tell (Wilks 1938, from memory), the guard band
after ISO 14253-1:2017 (from memory).
"""

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from scipy import integrate, optimize, stats

from qclog.cli.main import main

Run = Callable[..., str]
DAYS = [f"2026-03-{day:02d}T10:00" for day in range(2, 10)]
UM_PER_UNIT = {"um": 1.0, "mm": 1000.0}
Z95, Z_MIDDLE = stats.norm.ppf(0.95), stats.norm.ppf(0.975)
GAUGE_ROOM = ("--for", "Gauge room, Fellmoor", "--by", "Anna Kivi")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """``run(...)`` a command of a fresh logbook; ``code``: its exit code; gives what it said and told."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    monkeypatch.chdir(tmp_path)

    def command(*arguments: str, code: int = 0) -> str:
        capsys.readouterr()
        assert main(list(arguments)) == code, capsys.readouterr()
        said = capsys.readouterr()
        return said.err + said.out

    command("instrument", "add", "E-1", "--division", "0.2um", "--kind", "electronic", "--range", "200mm")
    command("instrument", "calibrate", "E-1", "--on", "2026-01-12", "--due", "2027-01-12", "--uncertainty", "0.6um")
    command("settings", "--workshop", "Northbank Toolroom, Hall 3")
    return command


def handed_over(run: Run, item: str, *more: str) -> tuple[dict[str, Any], dict[str, Any], str]:
    """What is claimed, what an inspector finds, and the text of the pages."""
    run("statement", item, *GAUGE_ROOM, "--to", "out.pdf", *more)
    reader = pypdf.PdfReader("out.pdf")
    (statement,), (readings,) = reader.attachments["statement.json"], reader.attachments["readings.csv"]
    pages = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    said = json.loads(statement)
    return said, inspected(said, readings), pages


def inspected(said: dict[str, Any], readings: bytes) -> dict[str, Any]:
    """Everything that is claimed, computed again."""
    result, limit = said["result"], said["limit"]
    low, high = _ends(said, readings)
    lower, upper = (np.nan if end is None else end for end in (limit["lower_um"], limit["upper_um"]))
    both = limit["lower_um"] is not None and limit["upper_um"] is not None
    sittings = [one["sitting"] for one in said["clampings"]]
    risk, step = 1 - result["decision"]["confidence"], result["resolution_um"]
    u = 0.6 / 2 * (np.sqrt(2) if said["method"][0]["readings"] == 2 else 1)
    if (low < high).any():
        ways = {name: _pins(low, high, sittings, r, both) for name, r in (("shown", 0.05), ("decided", risk))}
        centre = float((low.mean() + high.mean()) / 2)
    else:
        days = [low[np.array(sittings) == one] for one in dict.fromkeys(sittings)]
        way = _one_each if len(days) == len(low) else _sittings
        ways = {name: way(days, step, r, both) for name, r in (("shown", 0.05), ("decided", risk))}
        groups = [day.mean() for day in days]
        centre = float(np.mean(groups))
    guard = Z95 * u
    decides = [
        end + sign * (np.hypot(end - centre, guard) - abs(end - centre))
        for sign, end in zip((-1, 1), ways["decided"], strict=True)
    ]
    inside = (np.isnan(lower) or decides[0] >= lower) and (np.isnan(upper) or decides[1] <= upper)
    return {"low": low.min(), "high": high.max(), "guard": guard, "decides": decides, "inside": inside} | ways


def _ends(said: dict[str, Any], readings: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Between what each reading lies, in the order stated: of a pair the first less the second."""
    rows: dict[int, list[list[float]]] = {}
    for row in csv.DictReader(io.StringIO(readings.decode(), newline="")):
        ends = [float(end) * UM_PER_UNIT[row["unit"]] for end in row["value"].lstrip("'").split("..")]
        rows.setdefault(int(row["clamping"]), []).append([ends[0], ends[-1]])
    values = [np.array(rows[one["number"]]) for one in said["clampings"]]
    found = np.array([together[0] - (together[1:].sum(axis=0) if len(together) > 1 else 0) for together in values])
    return found[:, 0], found[:, 1]


def two_sided(n: int, df: int, risk: float) -> float:
    """The factor whose interval about the mean holds 95 % at confidence 1 - risk, by its integral."""

    def confidence(k: float) -> float:
        def at(z: float) -> float:
            r = optimize.brentq(lambda r: stats.norm.cdf(z + r) - stats.norm.cdf(z - r) - 0.95, 0, 30)
            return float(stats.chi2.sf(df * r**2 / k**2, df) * stats.norm.pdf(z * np.sqrt(n)) * np.sqrt(n))

        return 2 * float(integrate.quad(at, 0, 9 / np.sqrt(n), limit=200)[0])

    return float(optimize.brentq(lambda k: confidence(k) - (1 - risk), 0.5, 500))


def _one_each(groups: list[np.ndarray], step: float, risk: float, both: bool) -> tuple[float, float]:
    values = np.concatenate(groups)
    n, sd = len(values), max(values.std(ddof=1), step / np.sqrt(12))
    one_sided = stats.nct.ppf(1 - risk, n - 1, Z95 * np.sqrt(n)) / np.sqrt(n)
    k = two_sided(n, n - 1, risk) if both else one_sided
    return values.mean() - k * sd, values.mean() + k * sd


def _sittings(groups: list[np.ndarray], step: float, risk: float, both: bool) -> tuple[float, float]:
    m, sizes = len(groups), np.array([len(group) for group in groups])
    means, floor = np.array([group.mean() for group in groups]), step**2 / 12
    harmonic, df = m / np.sum(1 / sizes), int(sizes.sum() - m)
    between = max(means.var(ddof=1), floor / harmonic)
    within = max(sum(((group - group.mean()) ** 2).sum() for group in groups) / df, floor)
    rest = (1 - 1 / harmonic) * within
    excess = [d / stats.chi2.ppf(risk, d) - 1 for d in (m - 1, df)]
    z, sd = Z_MIDDLE if both else Z95, np.sqrt(between + rest)
    upper_sd = np.sqrt(between + rest + np.hypot(excess[0] * between, excess[1] * rest))
    from_centre = stats.t.ppf(1 - risk, m - 1) * np.sqrt(between / m)
    margin = z * sd + np.hypot(from_centre, z * (upper_sd - sd))
    return means.mean() - margin, means.mean() + margin


def _pins(low: np.ndarray, high: np.ndarray, sittings: list[str], risk: float, both: bool) -> tuple[float, float]:
    """The farthest that mean and scatter reach with at least ``risk`` of the largest likelihood; a sitting is one."""
    days = list(dict.fromkeys(sittings))
    low = np.array([low[np.array(sittings) == day].min() for day in days])
    high = np.array([high[np.array(sittings) == day].max() for day in days])
    unit, middle = (high - low).max(), (low.min() + high.max()) / 2
    mean, sd = np.meshgrid(np.linspace(-6, 6, 1201), np.geomspace(1e-3, 30, 800))
    likelihood = np.zeros(mean.shape)
    for a, b in zip((low - middle) / unit, (high - middle) / unit, strict=True):
        likelihood += np.log(np.maximum(stats.norm.cdf((b - mean) / sd) - stats.norm.cdf((a - mean) / sd), 1e-300))
    likely = likelihood >= likelihood.max() + np.log(risk)
    z = Z_MIDDLE if both else Z95
    return middle + unit * (mean - z * sd)[likely].min(), middle + unit * (mean + z * sd)[likely].max()


def _compare(said: dict[str, Any], found: dict[str, Any], rel: float = 1e-8) -> None:
    result, how = said["result"], said["result"]["decision"]
    assert found["inside"] is True or found["inside"] == np.True_
    assert result["next_clampings"] == "holds"
    assert (result["read_um"]["low"], result["read_um"]["high"]) == pytest.approx((found["low"], found["high"]))
    assert how["guard_um"] == pytest.approx(found["guard"], rel=1e-9)
    bounds, span = result["bounds_um"], result["read_um"]["high"] - result["read_um"]["low"]
    for claimed, (low, high) in (
        ((bounds["low"], bounds["high"]), found["shown"]),
        ((how["bounds_um"]["lower"], how["bounds_um"]["upper"]), found["decided"]),
        ((how["decides_um"]["lower"], how["decides_um"]["upper"]), found["decides"]),
    ):
        for one, other in zip(claimed, (low, high), strict=True):
            assert one is None or one == pytest.approx(other, abs=rel * 1e3 + (0.02 * span if rel > 1e-3 else 0))


def test_a_pair_of_parallels_read_twice_on_each_day(run: Run) -> None:
    run("item", "add", "PA-10", "--kind", "other", "--made-to", "pair difference 5um")
    rng = np.random.default_rng(3)
    for day in DAYS:
        shift = rng.normal(0, 0.2)
        pairs = [f"10.0020/{10.0028 + (shift + rng.normal(0, 0.2)) / 1000:.4f}" for _ in range(2)]
        run("log", "PA-10", *pairs, "--characteristic", "pair difference", "--instrument", "E-1", "--on", day)
    said, found, pages = handed_over(run, "PA-10")
    assert said["form"] == "qclog statement of values 1"
    assert said["result"]["bounds_um"]["method"] == "sittings"
    _compare(said, found)
    for printed in (
        "PA-10: pair difference",
        "HOLDS ± 5 µm",
        "two sizes read together, the first less the second",
        "16 readings in 8 sittings",
        "two-sided tolerance limits",
        "M - √((M - B)² + g²)",
        "is not under -5 µm",
        "M + √((B - M)² + g²)",
        "is not over 5 µm: HOLDS",
        "E-1, electronic, division 0.2 µm, calibrated 2026-01-12, due 2027-01-12: U = 0.6 µm (k = 2)",
        "Signature: Anna Kivi",
        "10.0020 / ",
    ):
        assert printed in pages, printed
    verified = " ".join(run("verify", "out.pdf").split())
    assert "PA-10, pair difference, HOLDS ± 5 µm." in verified
    assert "the logbook says the same today" in verified
    run("limit", "PA-10", "4um", "--characteristic", "pair difference")
    changed = run("verify", "out.pdf", code=6)
    assert "The limit is ± 4 µm now, it was ± 5 µm." in " ".join(changed.split())
    assert "HOLDS ± 5 µm" in " ".join(run("history", "PA-10").split())
    assert "HOLDS ± 5 µm, pair difference" in " ".join(run("item", "show", "PA-10").split())


def test_a_depth_read_once_a_day_with_a_limit_on_either_side(run: Run) -> None:
    run("item", "add", "ST-1", "--kind", "other", "--made-to", "depth 12.00..12.05mm")
    for day, value in zip(DAYS, (12.0252, 12.0256, 12.0248, 12.0250, 12.0258, 12.0254, 12.0250, 12.0252), strict=True):
        run("log", "ST-1", f"{value:.4f}", "--characteristic", "depth", "--instrument", "E-1", "--on", day)
    said, found, pages = handed_over(run, "ST-1")
    assert said["result"]["bounds_um"]["method"] == "one clamping a sitting"
    _compare(said, found, 1e-7)
    assert "the exact factor (ISO 16269-6)" in pages
    assert "HOLDS 12.00 to 12.05 mm" in pages


def test_a_lift_with_its_upper_limit_alone(run: Run) -> None:
    run("setup", "add", "VICE")
    run("item", "add", "JW-7", "--kind", "jaws", "--made-to", "jaw lift 30um")
    rng = np.random.default_rng(5)
    for day in DAYS:
        values = [f"{11 + rng.normal(0, 0.8):.1f}" for _ in range(2)]
        run("log", "JW-7", *values, "--characteristic", "lift", "--setup", "VICE", "--instrument", "E-1", "--on", day)
    said, found, pages = handed_over(run, "JW-7")
    assert said["result"]["decision"]["bounds_um"]["lower"] is None
    _compare(said, found)
    assert "one-sided tolerance limit" in pages
    assert "HOLDS at most 30 µm" in pages
    assert "JW-7: jaw lift, VICE" in pages


def test_a_bore_told_by_pins_needs_their_set_named_as_a_gauge(run: Run) -> None:
    run("item", "add", "C-65", "--kind", "collet", "--size", "6.5", "--made-to", "bore 6.44..6.53mm")
    for day in DAYS:
        run("log", "C-65", "--characteristic", "bore", "--go", "6.48", "--no-go", "6.49", "--on", day)
    refused = run("statement", "C-65", *GAUGE_ROOM, code=4)
    assert "Enter their set with its certificate" in " ".join(refused.split())
    run("item", "add", "C-66", "--kind", "collet", "--size", "6.5", "--made-to", "bore 6.44..6.53mm")
    for day in DAYS:
        pins = ("--go", "6.48", "--no-go", "6.49", "--instrument", "E-1")
        run("log", "C-66", "--characteristic", "bore", *pins, "--on", day)
    said, found, pages = handed_over(run, "C-66")
    _compare(said, found, 2e-3)
    assert "by go and no-go pins" in pages
    assert "6.48 mm to 6.49 mm" in pages
    assert "Mean" not in pages


def test_a_verdict_of_does_not_hold_names_the_limit_that_is_passed(run: Run) -> None:
    run("item", "add", "N-8", "--kind", "insert", "--made-to", "flushness 0..-0.05mm")
    rng = np.random.default_rng(7)
    for day in DAYS:
        values = [f"{-62 + rng.normal(0, 1):.1f}um" for _ in range(2)]
        run("log", "N-8", *values, "--characteristic", "flushness", "--instrument", "E-1", "--on", day)
    said, _, pages = handed_over(run, "N-8")
    how = said["result"]["decision"]
    assert said["result"]["next_clampings"] == "does not hold"
    assert how["decides_um"]["lower"] == pytest.approx(how["bounds_um"]["lower"] + how["guard_um"])
    assert how["decides_um"]["lower"] < -50
    assert "DOES NOT HOLD -50 to 0 µm" in pages
    assert "More than 1 in 20 of further readings fall below the limit of -50 µm" in pages
    assert "B + g = " in pages
    assert "exceed" not in pages.partition("How it was decided")[0]
    assert "proud is plus" in pages


def test_what_would_not_stand_is_refused_with_the_reasons(run: Run) -> None:
    run("item", "add", "D-12", "--kind", "other")
    run("log", "D-12", "12.031", "12.029", "12.030", "--characteristic", "depth", "--on", DAYS[0])
    refused = " ".join(run("statement", "D-12", *GAUGE_ROOM, code=4).split())
    for why in (
        "No limit is set",
        "No gauge is named for some of the readings",
        "All readings are of one sitting. Read it on another day too.",
    ):
        assert why in refused
    assert "NOT FOR ISSUE" in run("statement", "D-12", "--draft", "--to", "draft.pdf")
    run("limit", "D-12", "12.0292..12.0308mm", "--characteristic", "depth")
    for day in DAYS:
        run("log", "D-12", "12.0300", "12.0300", "--characteristic", "depth", "--instrument", "E-1", "--on", day)
    assert "The limits are too close for this gauge" in " ".join(run("statement", "D-12", *GAUGE_ROOM, code=4).split())
    asked = run("statement", "D-12", *GAUGE_ROOM, "--characteristic", "runout", code=3)
    assert "not measured there" in asked


def test_a_gap_is_stated_of_its_one_sitting_and_stays_so_once_it_is_bonded(run: Run) -> None:
    """Decision by the exact two-sided factor of the three readings, and the guard band, as an inspector computes it."""
    run("item", "add", "N-8", "--kind", "insert", "--made-to", "diametral gap 0.02..0.10mm")
    gap = ("--characteristic", "diametral gap", "--instrument", "E-1", "--on", DAYS[0])
    run("log", "N-8", "8.0520/7.9980", "8.0524/7.9980", "8.0518/7.9980", *gap)
    run("statement", "N-8", *GAUGE_ROOM, "--to", "before.pdf")
    reader = pypdf.PdfReader("before.pdf")
    said = json.loads(reader.attachments["statement.json"][0])
    values = np.array([54.0, 54.4, 53.8])
    reach = two_sided(3, 2, 1 - said["result"]["decision"]["confidence"]) * values.std(ddof=1)
    moved = np.hypot(reach, Z95 * 0.6 / 2 * np.sqrt(2))
    decides = said["result"]["decision"]["decides_um"]
    assert [decides["lower"], decides["upper"]] == pytest.approx(
        [values.mean() - moved, values.mean() + moved], rel=1e-4
    )
    pages = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    assert "further readings in the one sitting of 2026-03-02, before it was bonded" in pages
    for told in (("history", "N-8"), ("item", "show", "N-8"), ("drawer",)):
        assert "HOLDS 20 to 100 µm in its sitting" in " ".join(run(*told).split())
    run("modify", "N-8", "bonded", "--on", DAYS[1])
    run("verify", "before.pdf")
    assert "revision 1" in run("statement", "N-8", *GAUGE_ROOM, "--to", "after.pdf")
    assert Path("before.pdf").read_bytes() == Path("after.pdf").read_bytes()
