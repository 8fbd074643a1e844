"""Every way a machinist writes a swing, in a metric and in an inch shop: taken right, or refused with both meanings.

What the words mean is common practice; 1 in = 25.4 mm exactly (ISO 80000-3). Micrometres beside each were worked out by
hand from that.
"""

from fractions import Fraction
from typing import Final

import pytest

from qclog.characteristics import meant, split_name
from qclog.errors import LengthError, RefusedError
from qclog.lengths import Unit
from qclog.notation import parse_limit, parse_swing

METRIC_DIAL: Final = 2_000_000
INCH_DIAL: Final = 2_540_000
REFUSED: Final = "refused"
TABLE: Final = [
    # typed, µm in a metric shop (bare: µm, a division 2 µm), µm in an inch shop (bare: tenths, a division .0001 in)
    ("5 um", "5", "5"),
    ("5 \u00b5m", "5", "5"),
    ("5 \u03bcm", "5", "5"),
    ("5 micron", "5", "5"),
    ("5 microns", "5", "5"),
    ("5 mic", "5", "5"),
    ("5 my", "5", REFUSED),
    ("5 mu", "5", REFUSED),
    ("0.005mm", "5", "5"),
    (".005mm", "5", "5"),
    ("0,005mm", "5", "5"),
    (".005in", "127", "127"),
    ("0,005in", "127", "127"),
    ("5 hundredths", "50", REFUSED),
    ("5 hundredth", "50", REFUSED),
    ("2 tenths", REFUSED, "5.08"),
    ("2/10 thou", "5.08", "5.08"),
    ("2 tenth", REFUSED, "5.08"),
    ("two-tenths", REFUSED, "5.08"),
    (".0002in", "5.08", "5.08"),
    ('0.0002"', "5.08", "5.08"),
    ("2e-4 in", "5.08", "5.08"),
    ("half a thou", "12.7", "12.7"),
    ("1/2 thou", "12.7", "12.7"),
    ("0.5 thou", "12.7", "12.7"),
    ("5 tenths", REFUSED, "12.7"),
    (".0005in", "12.7", "12.7"),
    ("1 thou", "25.4", "25.4"),
    (".001in", "25.4", "25.4"),
    ("1 mil", REFUSED, REFUSED),
    ("20 millionths", "0.508", "0.508"),
    ('20 u"', "0.508", "0.508"),
    ("20 uin", "0.508", "0.508"),
    ("2 mike", REFUSED, REFUSED),
    ("+3/-2", "5", "12.7"),
    ("-2..+3", "5", "12.7"),
    ("3 to -2", "5", "12.7"),
    ("+3 -2", "5", "12.7"),
    ("from -2 to 3", "5", "12.7"),
    ("12 div", "24", "30.48"),
    ("5 div", "10", "12.7"),
    ("5um TIR", "5", "5"),
    ("5um FIM", "5", "5"),
    ("FIR 5um", "5", "5"),
    ("run-out 5um", "5", "5"),
    ("clock 5um", "5", "5"),
    ("concentricity 5um", "5", "5"),
    ("5um eccentricity", REFUSED, REFUSED),
    ("eccentricity 2.5um", REFUSED, REFUSED),
    ("from 95 to 5", REFUSED, REFUSED),
    ("95 over 100 to 5", "10", "25.4"),
    ("from 48 to 2", REFUSED, REFUSED),
    ("48 over 50 to 2 div", "8", "10.16"),
]


@pytest.mark.parametrize("shop", ["metric", "inch"])
@pytest.mark.parametrize(("typed", "metric", "inch"), TABLE, ids=[row[0] for row in TABLE])
def test_what_is_typed_is_taken_right_or_refused(typed: str, metric: str, inch: str, shop: str) -> None:
    bare: Unit = "um" if shop == "metric" else "tenths"
    expected, division = (metric, METRIC_DIAL) if shop == "metric" else (inch, INCH_DIAL)
    if expected == REFUSED:
        with pytest.raises(LengthError):
            parse_swing(typed, bare=bare, graduation_pm=division)
        return
    assert parse_swing(typed, bare=bare, graduation_pm=division).picometres == Fraction(expected) * 10**6


@pytest.mark.parametrize(
    ("typed", "bare", "first", "second"),
    [
        ("2 tenths", "um", '"0.2thou"', '"0.2mm"'),
        ("1 mil", "um", '"1thou"', '"1mm"'),
        ("2 mike", "um", '"2um"', '"2uin"'),
        ("5 hundredths", "tenths", '"0.05mm"', '"0.05in"'),
        ("from 95 to 5", "um", '"from 5 to 95"', '"95 over 100 to 5"'),
        ("from 48 to 2", "um", '"from 2 to 48"', '"48 over 50 to 2"'),
    ],
)
def test_what_has_two_meanings_is_refused_with_what_to_type_for_each(
    typed: str, bare: Unit, first: str, second: str
) -> None:
    with pytest.raises(LengthError, match="two meanings") as refused:
        parse_swing(typed, bare=bare, graduation_pm=None)
    assert first in str(refused.value)
    assert second in str(refused.value)


@pytest.mark.parametrize("typed", ["from 18 to 2", "from 60 to 12", "from 100 to 20", "from +95 to 5"])
def test_a_pointer_that_can_only_have_gone_back_is_taken_as_it_is(typed: str) -> None:
    first, second = (int(word) for word in typed.removeprefix("from ").split(" to "))
    assert parse_swing(typed, bare="um", graduation_pm=None).picometres == (first - second) * 10**6


@pytest.mark.parametrize("typed", ["95 over 90 to 5", "5 over 100 to 95", "95 over 100 to -5"])
def test_what_does_not_go_over_the_top_is_refused(typed: str) -> None:
    with pytest.raises(LengthError, match="over the top"):
        parse_swing(typed, bare="um", graduation_pm=None)


@pytest.mark.parametrize("typed", ["8um TIR", "TIR 8um", "FIM 8um"])
def test_a_limit_may_say_that_it_is_the_full_swing(typed: str) -> None:
    assert parse_limit(f"{typed}@16mm", bare="um")[0].picometres == 8_000_000


def test_an_eccentricity_on_a_drawing_is_half_of_the_limit() -> None:
    """An offset e swings the indicator by 2 e (ISO 1101: run-out is the full swing)."""
    with pytest.raises(LengthError, match="half of the swing"):
        parse_limit("ecc 5um", bare="um")
    for ask in (meant, split_name):
        with pytest.raises(RefusedError, match="Type twice the figure"):
            ask("eccentricity 5um" if ask is split_name else "eccentricity")


@pytest.mark.parametrize("word", ["TIR", "FIM", "FIR", "run-out", "clock", "concentricity"])
def test_words_for_the_full_swing_are_the_run_out(word: str) -> None:
    assert meant(word) == "runout"
