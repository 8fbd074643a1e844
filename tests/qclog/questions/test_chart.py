"""What chart answers: steady or not, since when, and what the process does with its limit. Constructed cases."""

import dataclasses
import datetime
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from qclog.cli.main import main
from qclog.errors import NotFoundError
from qclog.logbook.items import add_item
from qclog.questions.chart import Answer, chart, document, gate
from qclog.questions.codes import Caveat, ChartSign
from qclog.questions.wear import wear
from qclog.records import FACE_RUNOUT, Card, Clamping, Limit, Reading, Turn
from reports.chart import chart as text
from reports.chart import useful_limit
from reports.pictures.chart import chart_picture

UM = 1_000_000
MM = 1_000_000_000
STEADY = (4.1, 4.6, 4.3, 3.9, 4.4, 4.2, 4.5, 4.0, 4.7, 4.2, 4.3, 4.4, 4.1, 4.6, 3.9, 4.3, 4.5, 4.2, 4.0, 4.4, 4.3, 4.1)


def days(count: int) -> list[str]:
    first = datetime.date(2026, 1, 5)
    return [(first + datetime.timedelta(7 * i)).isoformat() for i in range(count)]


def log_each(shop: Any, swings: Any, **more: Any) -> None:
    for day, swing in zip(days(len(swings)), swings, strict=True):
        shop.log(swing if isinstance(swing, tuple) else (swing,), days=(day,), **more)


def log_bores(shop: Any, groups: Any, characteristic: str = "bore") -> None:
    """A group of values on each day, µm."""
    made = [
        Clamping(
            "C-046",
            "",
            f"{day}T10:{i:02d}",
            (Turn("value", (Reading(round(v * UM), f"{v:.1f}", UM // 10),), 10 * MM, characteristic),),
            label=f"b{i}",
        )
        for day, group in zip(days(len(groups)), groups, strict=True)
        for i, v in enumerate(group)
    ]
    shop._log(shop.store, *made)


def asked(shop: Any, code: str = "C-046") -> Answer:
    (found,) = chart(shop.store, [code])
    return found


def signs(answer: Answer) -> set[ChartSign]:
    return {signal.sign for signal in answer.signals if not signal.hint}


def test_a_process_that_goes_on_as_it_did_is_steady(shop: Any) -> None:
    log_each(shop, STEADY)
    answer = asked(shop)
    assert (answer.state, answer.points_are, answer.two_sided) == ("steady", "sittings", False)
    assert (answer.signals, gate([answer])) == ((), 0)
    assert [one.shift_sd for one in answer.run_lengths] == [0.0, 1.0, 2.0]
    assert answer.run_lengths[0].points == pytest.approx(370, abs=0.1)
    assert "steady" in text([answer])


def test_below_twenty_points_it_is_still_learning(shop: Any) -> None:
    log_each(shop, STEADY[:6])
    answer = asked(shop)
    assert (answer.state, gate([answer])) == ("learning", 8)
    assert Caveat.LEARNING in answer.caveats


def test_a_step_is_told_as_wear_tells_it(shop: Any) -> None:
    log_each(shop, (*STEADY[:14], 6.1, 6.4, 5.9, 6.3))
    answer = asked(shop)
    assert (answer.state, gate([answer])) == ("not steady", 1)
    (total,) = [signal for signal in answer.signals if signal.sign == ChartSign.SUM]
    (told,) = wear(shop.store, ["C-046"])
    assert told.step is not None
    assert total.since == told.signal == told.step.at == days(18)[14]
    assert ChartSign.BEYOND in signs(answer)
    assert answer.points[14].beyond
    assert len({point.upper_um for point in answer.points[14:]}) == 1  # what came after the change is no measure
    assert "NOT STEADY" in text([answer])


def test_what_twenty_points_followed_without_another_is_history(shop: Any) -> None:
    after = [one + 2.0 for one in (*STEADY, *STEADY)]
    log_each(shop, (*STEADY[:14], *after[:10]))
    assert asked(shop).state == "not steady"
    log_each(shop, (*STEADY[:14], *after), item="C-047")
    answer = asked(shop, "C-047")
    assert (answer.state, gate([answer])) == ("steady", 0)
    assert {(signal.sign, signal.past) for signal in answer.signals} == {
        (ChartSign.SUM, True),
        (ChartSign.BEYOND, True),
    }
    told = " ".join(text([answer]).split())
    assert "no change shows. History, with 20 points or more since without another sign: it runs worse" in told
    assert f"since about {days(15)[14]}" in told
    assert "NOT STEADY" not in told


def test_a_lone_point_long_past_is_history_and_a_new_one_is_not(shop: Any) -> None:
    log_each(shop, (*STEADY[:12], 9.0, *STEADY, 4.2))
    answer = asked(shop)
    assert ChartSign.BEYOND in signs(answer)
    assert all(signal.past for signal in answer.signals)
    assert answer.state == "steady"
    log_each(shop, (*STEADY[:12], 9.0, *STEADY, 14.0), item="C-047")
    again = asked(shop, "C-047")
    assert (again.state, again.signals[0].at, again.signals[0].past) == ("not steady", days(36)[35], False)


def test_an_improvement_is_no_alarm(shop: Any) -> None:
    log_each(shop, (*STEADY[:14], 2.1, 2.4, 1.9, 2.3))
    assert asked(shop).signals == ()


def test_points_are_the_means_of_sittings_and_on_one_day_the_clampings(shop: Any) -> None:
    log_each(shop, [(4.0, 5.0), (4.2, 4.4), (3.0, 5.0)])
    answer = asked(shop)
    assert [p.value_um for p in answer.points] == pytest.approx([4.5, 4.3, 4.0])
    assert [p.clampings for p in answer.points] == [2, 2, 2]
    shop.log((4.0, 5.0, 4.4, 4.1), item="C-047", days=days(1))
    one_day = asked(shop, "C-047")
    assert (one_day.points_are, len(one_day.points)) == ("clampings", 4)
    assert Caveat.ONE_SITTING in one_day.caveats


def test_two_points_are_too_few(shop: Any) -> None:
    log_each(shop, STEADY[:2])
    answer = asked(shop)
    assert (answer.state, answer.performance, gate([answer])) == ("too few", None, 8)
    told = " ".join(text([answer]).split())
    assert "too few to tell (2 clampings in 2 sittings)" in told
    assert "1 more day missing. On another day: qclog log C-046 SWING --setup LATHE" in told


def test_many_clampings_on_two_days_are_told_that_a_day_counts_once(shop: Any) -> None:
    log_each(shop, [(4.0, 5.0, 4.4, 4.1, 4.2, 4.3, 4.8), (4.2, 4.4, 4.1, 4.0, 4.3, 4.6)])
    told = " ".join(text([asked(shop)]).split())
    assert "(13 clampings in 2 sittings). Each day counts once here, however much was read on it: 1 more day" in told


def test_two_clampings_on_one_day_lack_one_more_or_other_days(shop: Any) -> None:
    shop.log((4.0, 5.0), days=days(1))
    told = " ".join(text([asked(shop)]).split())
    assert "1 clamping more today, or two other days with one each. Next: qclog log C-046" in told


def test_jaws_go_by_their_sitting_and_are_asked_for_no_other_day(shop: Any) -> None:
    shop.do(lambda entry, register: add_item(entry, register, "JW-1", Card(kind="jaws")))
    shop.log((4.0, 5.0), item="JW-1", days=days(1))
    told = " ".join(text([asked(shop, "JW-1")]).split())
    assert told.endswith("1 clamping more today. Next: qclog log JW-1 SWING --setup LATHE --position A --distance 16")
    shop.log((4.0,), item="JW-1", days=days(2)[1:])
    assert "jaws are bored for a job and go by their sitting" in text([asked(shop, "JW-1")]).replace("\n  ", " ")


def test_a_face_is_to_be_logged_again_as_one_on_its_circle(shop: Any) -> None:
    turn = dataclasses.replace(shop.swing(4.0, 0), characteristic=FACE_RUNOUT)
    clamping = Clamping("C-046", "LATHE", days(1)[0], (turn,), position="A", diameter_pm=40 * MM)
    shop._log(shop.store, clamping)
    told = " ".join(text([asked(shop)]).split())
    assert 'log C-046 SWING --characteristic "face runout" --setup LATHE --position A --diameter 40' in told


def test_what_is_steadily_beyond_its_limit_says_both(shop: Any) -> None:
    log_each(shop, [one + 9.0 for one in STEADY])
    told = " ".join(text([asked(shop)]).split())
    assert "no change shows" in told
    assert "But steadily beyond its limit: " in told
    assert "clampings go over 8 µm." in told


def test_what_changed_is_told_in_shop_words_with_its_days_and_each_footnote_once(shop: Any) -> None:
    log_each(shop, [*STEADY, *(one + 6.0 for one in STEADY[:6])])
    answer = asked(shop)
    told = " ".join(text([answer, answer]).split())
    (first, *_) = [signal for signal in answer.signals if signal.sign == ChartSign.SUM]
    assert f"it runs worse than before since about {first.since}" in told
    assert f"Look for what happened about {first.since}" in told
    for technical in ("standard deviation", "percentile", "adds up beyond"):
        assert technical not in told
    assert told.count("Sum: what the points lie off the usual") == 1
    assert told.count("each sign of a change comes about once in 370 points") == 1


def test_a_high_spot_that_moves_round_is_seen_though_the_swing_stays(shop: Any) -> None:
    rng = np.random.default_rng(2)
    at = days(20)
    for i, day in enumerate(at):
        vector = (2.0 if i < 14 else 2.0j) + 0.15 * complex(*rng.normal(size=2))
        shop.log_vectors([vector], days=(day,))
    answer = asked(shop)
    assert answer.from_vectors
    assert signs(answer) == {ChartSign.VECTOR}
    (moved,) = answer.signals
    assert moved.since is not None
    assert at[11] <= moved.since <= at[15]


def test_the_index_stands_against_the_limit_that_governs(shop: Any) -> None:
    log_each(shop, STEADY)
    found = asked(shop).performance
    assert found is not None
    y = np.array(STEADY) ** (2 / 3)
    median, high = y.mean() ** 1.5, (y.mean() + 2.999977 * y.std(ddof=1)) ** 1.5
    assert found.index == pytest.approx((8.0 - median) / (high - median), rel=1e-6)
    assert found.low < found.index < found.high
    assert "P_U" in text([asked(shop)])
    shop.log(STEADY[:3], item="C-047", days=days(3))
    assert asked(shop, "C-047").performance is None


def test_other_characteristics_are_charted_both_ways_in_groups(shop: Any) -> None:
    rng = np.random.default_rng(9)
    log_bores(shop, rng.normal(6500.0, 1.0, (24, 3)).round(1).tolist())
    answer = asked(shop)
    assert (answer.characteristic, answer.method, answer.two_sided) == ("bore", "means and ranges", True)
    assert answer.state == "steady"
    assert answer.spreads is not None
    assert (answer.spreads.by, answer.spreads.lower_um, len(answer.spreads.values_um)) == ("range", 0.0, 24)
    assert Caveat.WITHIN_ONLY in answer.caveats
    assert "bore" in text([answer])


def test_a_bore_that_went_down_is_not_steady(shop: Any) -> None:
    rng = np.random.default_rng(10)
    values = rng.normal(6500.0, 1.0, 24)
    values[12:] -= 3.0
    log_bores(shop, values.round(1)[:, None].tolist())
    answer = asked(shop)
    assert answer.method == "single values"
    assert (answer.state, ChartSign.SUM in signs(answer)) == ("not steady", True)
    upper, centre = answer.points[0].upper_um, answer.points[0].centre_um
    assert upper is not None
    assert centre is not None
    z = 3 * (values.round(1) - centre) / (upper - centre)
    mean, far = 0.0, []
    for day, score in zip(days(24), z.tolist(), strict=True):
        mean = 0.8 * mean + 0.2 * score
        far += [day] if abs(mean) > 2.86 / 3 else []
    assert [signal.at for signal in answer.signals if signal.sign == ChartSign.WEIGHTED] == far[:1]
    assert all(signal.hint for signal in answer.signals[len(signs(answer)) :])
    assert answer.hint_every == 109


def test_a_bore_that_goes_on_growing_is_said_to_have_changed_where_it_did_most_though_its_first_points_lie_off_too(
    shop: Any,
) -> None:
    log_bores(shop, [[6500.0 + day + step / 10 for step in (-1, 0, 1)] for day in (0, 0, 0, 2, 10, 12, 14, 15)])
    answer = asked(shop)
    assert all(point.beyond for point in answer.points[:4])
    (told,) = (signal for signal in answer.signals if signal.sign == ChartSign.SUM)
    assert (told.at, told.since) == (days(8)[0], days(8)[4])
    said = " ".join(text([answer]).split())
    assert f"Look for what happened about {days(8)[4]}, and measure again." in said
    assert "noticed on" not in said


def test_the_scatter_within_a_day_has_limits_of_its_own(shop: Any) -> None:
    rng = np.random.default_rng(11)
    values = rng.normal(6500.0, 1.0, (20, 4))
    values[10] = (6494.0, 6506.0, 6495.0, 6505.0)
    log_bores(shop, values.round(1).tolist())
    assert signs(asked(shop)) == {ChartSign.SPREAD}


def test_a_limit_counts_for_another_characteristic_too(shop: Any) -> None:
    log_bores(shop, np.random.default_rng(12).normal(6500.0, 1.0, (20, 1)).round(1).tolist())
    shop.limit("C-046", Limit(6506 * UM, characteristic="bore", distance_pm=-1))
    found = asked(shop).performance
    assert found is not None
    assert found.index == pytest.approx(2.0, rel=0.5)


def test_between_two_limits_the_index_is_left_to_the_verdict(shop: Any) -> None:
    log_bores(shop, np.random.default_rng(3).normal(6500.0, 1.0, (6, 1)).round(1).tolist())
    shop.limit("C-046", Limit(6520 * UM, characteristic="bore", lower_pm=6480 * UM))
    answer = asked(shop)
    assert (answer.lower_limit_um, answer.limit_um, answer.performance) == (6480.0, 6520.0, None)
    assert "Whether it holds 6.48 to 6.52 mm: qclog assess C-046" in text([answer])
    assert "Figures in mm" in text([answer])


def test_a_gap_is_held_against_a_limit_said_the_other_way(shop: Any) -> None:
    log_bores(shop, np.random.default_rng(3).normal(50.0, 1.0, (6, 1)).round(1).tolist(), "diametral gap")
    shop.limit("C-046", Limit(40 * UM, characteristic="radial gap"))
    assert asked(shop).limit_um == 80.0


def test_what_pins_told_is_not_charted(shop: Any) -> None:
    told = Reading(6485 * UM, "6.48..6.49", 10 * UM, low_pm=6480 * UM, high_pm=6490 * UM)
    for day in days(6):
        shop._log(shop.store, Clamping("C-046", "", day, (Turn("value", (told,), 0, "bore"),)))
    log_bores(shop, np.random.default_rng(3).normal(12.0, 1.0, (6, 1)).round(1).tolist(), "jaw lift")
    bore, lift = chart(shop.store, ["C-046"])
    assert (bore.state, bore.points, bore.performance) == ("too few", (), None)
    assert Caveat.BY_PINS in bore.caveats
    assert "6.485" not in text([bore])
    assert "6485" not in json.dumps(document([bore]))
    assert len(lift.points) == 6


def test_a_limit_learnt_from_two_points_is_not_shown(shop: Any) -> None:
    log_each(shop, STEADY[:8])
    answer = asked(shop)
    assert useful_limit(answer, answer.points[2]) is None
    assert useful_limit(answer, answer.points[7]) is not None


def test_the_text_and_the_document(shop: Any) -> None:
    log_each(shop, STEADY)
    log_bores(shop, np.random.default_rng(12).normal(6500.0, 1.0, (6, 2)).round(1).tolist())
    answers = chart(shop.store, ["C-046"])
    told = json.loads(json.dumps(document(answers)))
    assert [answer["characteristic"] for answer in told["answers"]] == ["runout", "bore"]
    assert max(map(len, text(answers).splitlines())) <= 100
    with pytest.raises(NotFoundError):
        chart(shop.store, ["C-999"])


def test_the_picture_shows_every_point_and_is_drawn_for_every_state(shop: Any) -> None:
    log_each(shop, (*STEADY[:14], 6.1, 6.4, 5.9, 6.3))
    answer = asked(shop)
    picture = chart_picture(answer, "chart 1")
    assert picture.says == "Chart of C-046, LATHE, position A, 16 mm out: 18 sittings."
    for words in ("since 2026-04-13", "alarm", "sittings, in order"):
        assert words in picture.svg
    few = dataclasses.replace(
        answer,
        state="too few",
        signals=(),
        points=tuple(
            dataclasses.replace(p, centre_um=None, upper_um=None, sum=None, beyond=False) for p in answer.points[:1]
        ),
    )
    assert "<svg" in chart_picture(few, "chart 2").svg


def test_the_command_writes_pictures_and_passes_its_gate(
    shop: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from qclog.cli.main import main

    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    log_each(shop, (*STEADY[:14], 6.1, 6.4, 5.9, 6.3))
    assert main(["chart", "C-046", "--gate", "--pictures", str(tmp_path / "pictures")]) == 1
    assert "NOT STEADY" in capsys.readouterr().out
    assert sorted(path.name for path in (tmp_path / "pictures").iterdir()) == ["C-046-chart-1.png", "C-046-chart-1.svg"]


@pytest.mark.parametrize(("moved_um", "so"), [(0.0, False), (12.0, True)])
def test_where_a_size_is_assessed_it_is_said_that_it_moves(
    shop: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, moved_um: float, so: bool
) -> None:
    bores = 6500.0 + np.array(STEADY)[:, None] + np.where(np.arange(len(STEADY)) > 14, moved_um, 0.0)[:, None]
    log_bores(shop, bores.round(1).tolist())
    monkeypatch.setenv("QCLOG_LOGBOOK", shop.store.target)
    assert main(["assess", "C-046"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert ("It is not steady: what is read has moved over these days" in told) == so
    assert main(["assess", "C-046", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)["answers"]
    assert ("not_steady" in answer["values"][0]["caveats"]) == so
