"""The only place where numbers become text.

A measured figure is shown to the decimal place of the first digit of its step and never finer: a step of
1 um gives whole micrometres, 0.5 um gives tenths, 2.54 um (0.0001 in) gives whole micrometres. The inch
figure beside it follows the same rule. Halves are rounded away from zero (ISO 80000-1, Annex B, rule B; from
memory), so that rounding never flatters a run-out. Bounds are rounded outward; less than half a picometre
beyond a place counts as on it, since that is noise of binary fractions. No exponents, no "-0".
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Context, Decimal

from qclog.characteristics import SIZE_FROM_PM
from qclog.errors import NotAnswerableError

UM_PER_INCH = 25_400
UM_PER_MM = 1_000
PICOMETRE_PLACE = -6  # in micrometres
MILLIMETRE_PLACE = 3
LARGEST_UM = 10**12


@dataclass(frozen=True, slots=True)
class NumberStyle:
    """How the reader wants lengths: with ``inch``, the inch figure stands beside the metric one."""

    inch: bool = False


METRIC = NumberStyle()


def micrometres(
    value_um: float,
    *,
    step_um: float,
    style: NumberStyle = METRIC,
    round_up: bool = False,
    round_down: bool = False,
) -> str:
    """``value_um`` no finer than ``step_um``: "5 µm", "5 µm (0.00020 in)".

    ``round_up`` is for upper bounds, ``round_down`` for lower ones. Raises NotAnswerableError for figures
    that are not finite or beyond a kilometre, and for a step that is not above zero.
    """
    value, rounding = _decimal(value_um), ROUND_HALF_UP
    if round_up or round_down:
        rounding = ROUND_CEILING if round_up else ROUND_FLOOR
        value = value.quantize(_unit_of(PICOMETRE_PLACE), ROUND_HALF_UP)
    return _micrometres(value, step_um, style, rounding, "f")


def size(
    value_um: float,
    *,
    step_um: float,
    style: NumberStyle = METRIC,
    round_up: bool = False,
    round_down: bool = False,
) -> str:
    """A size in mm, no finer than ``step_um``: "12.031 mm", "12.031 mm (0.47366 in)". As ``micrometres``."""
    rounding = ROUND_CEILING if round_up else ROUND_FLOOR if round_down else ROUND_HALF_UP
    value = _decimal(value_um).quantize(_unit_of(PICOMETRE_PLACE), ROUND_HALF_UP)
    step = max(_decimal(step_um), _unit_of(PICOMETRE_PLACE))
    text = f"{_number(value / 1000, step.adjusted() - MILLIMETRE_PLACE, rounding)} mm"
    if not style.inch:
        return text
    return f"{text} ({_number(value / UM_PER_INCH, (step / UM_PER_INCH).adjusted(), rounding)} in)"


def signed_micrometres(value_um: float, *, step_um: float, style: NumberStyle = METRIC) -> str:
    """A change or a difference with its sign: "+3 µm", "-2 µm"; "0 µm" has none. As ``micrometres``."""
    return _micrometres(_decimal(value_um), step_um, style, ROUND_HALF_UP, "+f")


def uncertainty(expanded_um: float, *, style: NumberStyle = METRIC) -> str:
    """An expanded uncertainty to two significant digits (JCGM 100, 7.2.6): "± 1.2 µm".

    Rounded to the nearest: with two digits that takes off less than 5 %. Raises NotAnswerableError for
    figures that are not finite, beyond a kilometre or negative.
    """
    value = _decimal(expanded_um).quantize(_unit_of(PICOMETRE_PLACE), ROUND_HALF_UP)
    if value < 0:
        raise NotAnswerableError(f"An uncertainty of {expanded_um} um is below zero.", "It has no sign.")
    text = f"± {_two_digits(value)} µm"
    return f"{text} ({_two_digits(value / UM_PER_INCH)} in)" if style.inch else text


def limit(picometres: int, *, style: NumberStyle = METRIC) -> str:
    """A limit exactly as it was set, "8 µm", "5.08 µm (0.0002 in)"."""
    value = Decimal(picometres).scaleb(-6)
    return f"{_exactly(value)} µm" + (_inch_beside(value, 0) if style.inch else "")


def exact(value_um: float, *, style: NumberStyle = METRIC) -> str:
    """As ``limit``, of a limit in µm."""
    return limit(round(value_um * 1e6), style=style)


def limits(lower_pm: int | None, upper_pm: int | None, *, swing: bool = False, style: NumberStyle = METRIC) -> str:
    """Limits exactly as they were set: "8 µm" of a swing; else "12.00 to 12.05 mm", "at most 10 µm", "± 3 µm"."""
    if swing:
        return "" if upper_pm is None else limit(upper_pm, style=style)
    largest = max(abs(end) for end in (lower_pm, upper_pm, 0) if end is not None)
    say = length if largest >= SIZE_FROM_PM else limit
    if lower_pm is not None and upper_pm is not None and say is length and not style.inch:
        ends = [Decimal(end).scaleb(-9).normalize() for end in (lower_pm, upper_pm)]
        places = max(0, *(-int(end.as_tuple().exponent) for end in ends))
        if lower_pm != -upper_pm:
            return f"{ends[0]:.{places}f} to {ends[1]:.{places}f} mm"
    if lower_pm is None:
        return "" if upper_pm is None else f"at most {say(upper_pm, style=style)}"
    if upper_pm is None:
        return f"at least {say(lower_pm, style=style)}"
    if lower_pm == -upper_pm:
        return f"± {say(upper_pm, style=style)}"
    low, high = say(lower_pm, style=style), say(upper_pm, style=style)
    return f"{low if style.inch else low.rpartition(' ')[0]} to {high}"


def length(picometres: int, *, style: NumberStyle = METRIC) -> str:
    """A size or a distance exactly as it was given, "6.48 mm", "16 mm (0.63 in)"."""
    text = f"{_exactly(Decimal(picometres).scaleb(-9))} mm"
    return text + (_inch_beside(Decimal(picometres).scaleb(-6), MILLIMETRE_PLACE) if style.inch else "")


def share(probability: float) -> str:
    """A probability as a share of whole cases, "19 in 20", "8 in 10"; halves go towards even odds.

    Never said as certain: "more than 999 in 1000". Raises NotAnswerableError outside 0 to 1.
    """
    likely = _probability(probability)
    rare = min(likely, 1 - likely)
    for least, cases in (("0.1", 10), ("0.05", 20), ("0.01", 100), ("0.001", 1000)):
        if rare >= Decimal(least):
            count = int((rare * cases).to_integral_value(ROUND_HALF_UP))
            return f"{count if likely < Decimal('0.5') else cases - count} in {cases}"
    return "fewer than 1 in 1000" if likely < Decimal("0.5") else "more than 999 in 1000"


def one_in(probability: float) -> str:
    """A rare case among how many: "1 in 44", "fewer than 1 in 1000"; above one half as ``share``.

    Raises NotAnswerableError outside 0 to 1.
    """
    likely = _probability(probability)
    if likely > Decimal("0.5") or likely < Decimal("0.001"):
        return share(probability)
    return f"1 in {(1 / likely).to_integral_value(ROUND_HALF_UP):f}"


def percent(fraction: float) -> str:
    """A fraction of 0 to 1 in whole percent, "95 %"; "< 1 %" and "> 99 %" where 0 or 100 would be untrue.

    Raises NotAnswerableError outside 0 to 1.
    """
    part = 100 * _probability(fraction)
    whole = part.to_integral_value(ROUND_HALF_UP)
    if whole == 0 and part:
        return "< 1 %"
    if whole == 100 and part < 100:
        return "> 99 %"
    return f"{whole:f} %"


def about(number: float) -> str:
    """How many of something chance alone would show, in whole ones: "fewer than one", "about 3".

    Raises NotAnswerableError if it is not finite.
    """
    value = _decimal(number)
    return "fewer than one" if value < 1 else f"about {value.to_integral_value(ROUND_HALF_UP):f}"


def about_tenths(number: float) -> str:
    """A mean of something counted, to a tenth: "about 1.2". Raises NotAnswerableError if it is not finite."""
    return f"about {_decimal(number).quantize(_unit_of(-1), ROUND_HALF_UP):f}"


def times(ratio: float) -> str:
    """How many times as much, to two significant digits: "2.4 times", "21 times". Raises as ``uncertainty``."""
    value = _decimal(ratio)
    if value < 0:
        raise NotAnswerableError(f"{ratio} times as much is below zero.", "It has no sign.")
    return f"{_two_digits(value)} times"


def angle(degrees: float) -> str:
    """An angle in whole degrees from 0 to 359: "120°". Raises NotAnswerableError if it is not finite."""
    return f"{int(_decimal(degrees).to_integral_value(ROUND_HALF_UP)) % 360}°"


def date(taken_at: str) -> str:
    """The day of ``taken_at``, as it was written: "2024-03-05" of "2024-03-05T14:20+01:00"."""
    return taken_at.strip().replace("T", " ").split(" ")[0]


def moment(taken_at: str) -> str:
    """Day and time of ``taken_at`` to the minute, as far as they were written: "2024-03-05 14:20"."""
    return taken_at.strip().replace("T", " ")[:16]


def count(number: int, noun: str, plural: str = "") -> str:
    """A number with its noun, "1 clamping", "3 clampings"; ``plural`` where it takes more than an s."""
    return f"{number} {noun if number == 1 else plural or f'{noun}s'}"


def shown_unit(unit: str) -> str:
    """A unit as it is read."""
    return {"um": "µm", "tenths": "tenths of a thou"}.get(unit, unit)


def how_often(number: int) -> str:
    """How often: "once", "twice", "3 times"."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def _decimal(value: float) -> Decimal:
    """``value`` as the shortest decimal number that is the same binary one."""
    if not abs(value) <= LARGEST_UM:
        raise NotAnswerableError(
            f"{value} cannot be shown as a figure.", "It is not finite, or beyond any length here."
        )
    return Decimal(repr(float(value)))


def _probability(value: float) -> Decimal:
    if not 0 <= value <= 1:
        raise NotAnswerableError(f"{value} is no share.", "A share lies between 0 and 1.")
    return _decimal(value)


def _unit_of(place: int) -> Decimal:
    """10 to the power ``place``."""
    return Decimal(1).scaleb(place)


def _micrometres(value: Decimal, step_um: float, style: NumberStyle, rounding: str, form: str) -> str:
    step = max(_decimal(step_um), _unit_of(PICOMETRE_PLACE))
    if step_um <= 0:
        raise NotAnswerableError(f"A step of {step_um} um cannot be shown.", "Give the finest place of the reading.")
    text = f"{_number(value, step.adjusted(), rounding, form)} µm"
    if not style.inch:
        return text
    inch_place = (step / UM_PER_INCH).adjusted()
    return f"{text} ({_number(value / UM_PER_INCH, inch_place, rounding, form)} in)"


def _number(value: Decimal, place: int, rounding: str, form: str = "f") -> str:
    """``value`` rounded to 10 to the power ``place``; nought has no sign."""
    rounded = value.quantize(_unit_of(place), rounding)
    return format(rounded, form) if rounded else format(abs(rounded), "f")


def _two_digits(value: Decimal) -> str:
    """``value`` rounded to two significant digits, both of them shown."""
    rounded = Context(prec=2, rounding=ROUND_HALF_UP).plus(value)
    return _number(rounded, rounded.adjusted() - 1, ROUND_HALF_UP) if rounded else "0"


def _exactly(value: Decimal) -> str:
    """``value`` with all its places and no trailing zeros."""
    return format(value.normalize(), "f")


def _inch_beside(value_um: Decimal, coarsest: int) -> str:
    """The inch figure for a length given exactly, to match its last place, at the most ``coarsest``."""
    exponent = value_um.normalize().as_tuple().exponent
    place = min(exponent if isinstance(exponent, int) else coarsest, coarsest)
    text = _number(value_um / UM_PER_INCH, (_unit_of(place) / UM_PER_INCH).adjusted(), ROUND_HALF_UP)
    return f" ({_exactly(Decimal(text)) if Decimal(text) * UM_PER_INCH == value_um else text} in)"
