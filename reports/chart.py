"""Whether processes are steady, as text: the answer first, then the points, then how sure such a chart is."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.chart import LEARNING, STEADY, TOO_FEW, Answer, Performance
from qclog.questions.charted import FEWEST, PAST_AFTER, Point, Signal
from qclog.questions.codes import Caveat
from qclog.records import FACE_RUNOUT, SWINGS
from reports import due, values
from reports.numbers import METRIC, UM_PER_MM, NumberStyle, count, length, limit, limits, micrometres, one_in, size
from reports.tables import TERMINAL, WIDTH, fitted
from reports.wording.caveats import CAVEATS
from reports.wording.chart import CHART_SIGNS, CHART_SIGNS_OF_SWINGS
from reports.wording.places import place

_STEP_UM: Final = 0.1
_FIRST_LEFT_OUT: Final = ("n", "usual", "centre", "lower limit", "sum", "upper limit")
_MOST_POINTS: Final = 30
_WORTH_SAYING: Final = 0.25
"""So many false alarms to be expected are worth a word."""
_MOST: Final = 0.5
"""More of what is read beyond a limit than this is beyond it all along."""
_NO_USE: Final = 3.0
"""A limit so many times the largest point says nothing a toolmaker could use."""
_NO_LIMIT_YET: Final = "Upper limit -: too few points before it yet."


def chart(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One place after the other, and at the end once what is to be said of all of them."""
    parts = ["\n".join(_one(answer, style)) for answer in answers]
    charted = [answer for answer in answers if answer.state != TOO_FEW]
    together = [_figures(charted), *run_lengths(charted), *limits_of(charted)] if charted else []
    notes = [line for note in together if note for line in _wrapped(note, "  - ")]
    return "\n\n".join([*parts, *(["\n".join(notes)] if notes else [])])


def _one(answer: Answer, style: NumberStyle) -> list[str]:
    lines = _wrapped(f"{where(answer)}: {sentence(answer, style)}", "")
    if answer.state == TOO_FEW:
        return lines
    shown = answer.points[-_MOST_POINTS:]
    earlier = len(answer.points) - len(shown)
    header = ("day", "n", "mean" if answer.points_are == "sittings" else "read", *_limits_header(answer), "sum", "")
    rows = [_row(answer, point) for point in shown]
    table = fitted(dict(zip(header, zip(*rows, strict=True), strict=True)), TERMINAL - 2, _FIRST_LEFT_OUT)
    lines += ["", *([f"  ({count(earlier, 'point')} before these)"] if earlier else [])]
    lines += [f"  {line}" for line in table]
    notes = [*hints(answer), *performance(answer, style)]
    return [*lines, *([""] if notes else []), *(line for note in notes for line in _wrapped(note, "  - "))]


def where(answer: Answer) -> str:
    """ "B-860 in LATHE-A, position N, 16 mm out"; "N-8, diametral gap" of what is no swing."""
    if answer.characteristic in SWINGS:
        return f"{answer.item} in {place(answer)}"
    return f"{answer.item}, {values.place(answer)}"


def in_mm(answer: Answer) -> bool:
    """Whether its figures are shown in mm, as those of sizes are."""
    ends = (answer.limit_um, answer.lower_limit_um, *(point.value_um for point in answer.points))
    return answer.characteristic not in SWINGS and any(abs(end) >= UM_PER_MM for end in ends if end is not None)


def sentence(answer: Answer, style: NumberStyle = METRIC) -> str:
    """Whether the process is steady, in a sentence or two."""
    read = f"{count(answer.clampings, noun(answer))} in {count(answer.sittings, 'sitting')}"
    if Caveat.BY_PINS in answer.caveats:
        return f"not charted ({read}). Pins tell only between what it lies: nothing in between was read."
    if answer.state == TOO_FEW:
        return _missing(answer, read)
    if answer.state == STEADY:
        return f"steady ({read}): no change shows.{_history(answer)}{_beyond_all_along(answer, style)}"
    if answer.state == LEARNING:
        one_day = " within that day" if answer.points_are == "clampings" else ""
        so_far = f"steady{one_day} as far as can be told ({read}): no change shows yet."
        return f"{so_far}{_beyond_all_along(answer, style)}"
    alarms = "; ".join(_signal(signal, answer) for signal in _alarms(answer))
    return f"NOT STEADY ({read}): {alarms}. {_what_to_do(answer)}{_history(answer)}"


def _alarms(answer: Answer, *, past: bool = False) -> list[Signal]:
    """What speaks against its being steady, or did in the past."""
    return [signal for signal in answer.signals if not signal.hint and signal.past == past]


def _history(answer: Answer) -> str:
    """What spoke against it so long ago that it is judged from then on."""
    told = "; ".join(_signal(signal, answer) for signal in _alarms(answer, past=True))
    return f" History, with {PAST_AFTER} points or more since without another sign: {told}." if told else ""


def _missing(answer: Answer, read: str) -> str:
    """What is missing before there is a chart, and what to type next."""
    where = (answer.setup, answer.position, answer.clocking, answer.distance_mm)
    face_on = answer.diameter_mm if answer.characteristic == FACE_RUNOUT else None
    again = due.logging(answer.item, answer.characteristic, *where, diameter_mm=face_on)
    if Caveat.IN_DOUBT in answer.caveats:
        return f"not charted ({read}): what it was read with was found wrong. Measure it again: {again}"
    if answer.for_its_job and answer.sittings > 1:
        return f"not charted ({read}): jaws are bored for a job and go by their sitting, not from day to day."
    if answer.sittings == 1:
        missing = count(FEWEST - answer.clampings, noun(answer))
        days = "" if answer.for_its_job else ", or two other days with one each"
        return f"too few to tell ({read}): {missing} more today{days}. Next: {again}"
    missing = count(FEWEST - answer.sittings, "more day")
    return (
        f"too few to tell ({read}). Each day counts once here, however much was read on it: {missing} missing. On "
        f"another day: {again}"
    )


def _beyond_all_along(answer: Answer, style: NumberStyle) -> str:
    """That what is steady is steadily over its limit, where most of it is."""
    found = answer.performance
    if found is None or found.beyond <= _MOST:
        return ""
    return f" But steadily beyond its limit: {one_in(found.beyond)} {noun(answer)}s go over {_limit(answer, style)}."


def _signal(signal: Signal, answer: Answer) -> str:
    words = CHART_SIGNS_OF_SWINGS if answer.characteristic in SWINGS else {}
    seen = words.get(signal.sign, CHART_SIGNS[signal.sign])
    if signal.since is None:
        return f"{seen} (first on {signal.at})"
    return f"{seen} since about {signal.since}{f' (noticed on {signal.at})' if signal.at > signal.since else ''}"


def _what_to_do(answer: Answer) -> str:
    alarms = _alarms(answer)
    began = [signal.since for signal in alarms if signal.since is not None]
    since = min(began or [signal.at for signal in alarms], default="then")
    look = f"Look for what happened about {since}"
    if answer.characteristic in SWINGS:
        return f"{look}; what it runs now and how it goes on: qclog wear {answer.item}"
    return f"{look}, and measure again."


def useful_limit(answer: Answer, point: Point) -> float | None:
    """The upper limit of a point, None where it was learnt from so few that it says nothing yet."""
    if answer.two_sided:
        return point.upper_um
    largest = max(abs(one.value_um) for one in answer.points)
    return None if point.upper_um is None or point.upper_um > _NO_USE * largest else point.upper_um


def _limits_header(answer: Answer) -> tuple[str, ...]:
    return ("lower limit", "centre", "upper limit") if answer.two_sided else ("usual", "upper limit")


def _row(answer: Answer, point: Point) -> tuple[str, ...]:
    edges = [*([point.lower_um] if answer.two_sided else []), point.centre_um, useful_limit(answer, point)]
    mark = " ".join(
        word
        for word, is_so in (
            ("beyond", point.beyond),
            ("alarm", point.sum is not None and point.sum > answer.sum_limit),
        )
        if is_so
    )
    total = "-" if point.sum is None else f"{point.sum:.1f}"
    figures = (_bare(answer, figure) for figure in (point.value_um, *edges))
    return (point.at, str(point.clampings), *figures, total, mark)


def _figures(answers: Sequence[Answer]) -> str:
    """What the columns of the tables are, for all of them together."""
    swings = [answer for answer in answers if not answer.two_sided]
    others = [answer for answer in answers if answer.two_sided]
    units = [*(["µm TIR"] if swings else []), *(["µm"] if any(not in_mm(answer) for answer in others) else [])]
    units += ["mm"] if any(in_mm(answer) for answer in others) else []
    told = [f"Figures in {' or '.join(units)}; mean: of all that was read on a day."]
    if swings:
        told.append("Run-out is held against the days before it, and only worsening is looked for.")
    if others:
        told.append("Sizes and the like are looked at both ways, plus and minus.")
    told.append("Sum: what the points lie off the usual, added up; over its limit it alarms.")
    return " ".join([*told, *([_NO_LIMIT_YET] if any(map(no_limit_yet, swings)) else [])])


def no_limit_yet(answer: Answer) -> bool:
    """Whether points have no upper limit though something is usual there."""
    points = answer.points[-_MOST_POINTS:]
    return any(point.centre_um is not None and useful_limit(answer, point) is None for point in points)


def hints(answer: Answer) -> list[str]:
    """What keeps to one side of the centre, in a sentence; nothing where nothing does."""
    found = [signal for signal in answer.signals if signal.hint]
    if not found:
        return []
    days: dict[str, list[str]] = {}
    for signal in found:
        days.setdefault(CHART_SIGNS[signal.sign], []).append(signal.at)
    told = "; ".join(f"{seen} (first on {', '.join(at)})" for seen, at in days.items())
    return [f"A hint, no alarm: {told}. Watch the next ones; chance alone does so once in {answer.hint_every} points."]


def run_lengths(answers: Sequence[Answer]) -> list[str]:
    """How often such charts alarm with nothing wrong, and how soon they find a change."""
    known = [answer for answer in answers if answer.run_lengths]
    if not known:
        return []
    sums = [{one.shift_sd: one.points for one in answer.run_lengths} for answer in known]
    every = min(one[0.0] for one in sums)
    found = max(one[1.0] for one in sums)
    most = max(len(answer.points) for answer in known)
    over = f", so that over {most} there are about {most / every:.1g} of each" if most > _WORTH_SAYING * every else ""
    return [
        f"With nothing wrong each sign of a change comes about once in {every:.0f} points{over}. A change as large as "
        f"points usually scatter shows after about {found:.0f} more; a larger one sooner."
    ]


def limits_of(answers: Sequence[Answer]) -> list[str]:
    """What limits the answers, a sentence each, said once; of several answers, whose it is where not of all."""
    told: dict[str, list[str]] = {}
    for answer in answers:
        for code in answer.caveats:
            note = values.caveat(code) if answer.two_sided else CAVEATS[code]
            told.setdefault(note, []).append(where(answer))
    everywhere = len(answers)
    return [note if len(whose) == everywhere else f"{note} ({'; '.join(whose)})" for note, whose in told.items()]


def performance(answer: Answer, style: NumberStyle = METRIC) -> list[str]:
    """What it does with its limit, in a sentence; between two limits who tells it; nothing where there is none."""
    if answer.performance is not None and answer.limit_um is not None:
        return [_performance(answer.performance, answer, style)]
    if answer.lower_limit_um is None:
        return []
    ends = (None if end is None else round(end * 1e6) for end in (answer.lower_limit_um, answer.limit_um))
    return [f"Whether it holds {limits(*ends, style=style)}: qclog assess {answer.item}"]


def _performance(found: Performance, answer: Answer, style: NumberStyle) -> str:
    steady = answer.state in (STEADY, LEARNING)
    most = one_in(found.beyond_at_most)
    worst = f", at the worst {most}" if most != one_in(found.beyond) else ""
    return (
        f"{'If it goes on like this' if steady else 'Over all these days together'}, {one_in(found.beyond)} "
        f"{noun(answer)}s go over {_limit(answer, style)}{worst} (P_U {found.index:.2f}, from {found.low:.2f} to "
        f"{found.high:.2f}).{'' if steady else ' It is not steady, so that this says little of what comes.'}"
    )


def _limit(answer: Answer, style: NumberStyle) -> str:
    """The upper limit, exactly as it was set: "9 µm", "12.05 mm"."""
    return (length if in_mm(answer) else limit)(round((answer.limit_um or 0.0) * 1e6), style=style)


def noun(answer: Answer) -> str:
    """What one of those that were read is called."""
    return "clamping" if answer.characteristic in SWINGS else "reading"


def _bare(answer: Answer, value_um: float | None) -> str:
    return "-" if value_um is None else _figure(answer, value_um).rpartition(" ")[0]


def _figure(answer: Answer, value_um: float) -> str:
    return (size if in_mm(answer) else micrometres)(value_um, step_um=_STEP_UM)


def _wrapped(text: str, first: str) -> list[str]:
    lines = textwrap.wrap(
        text.replace(" µm", "\u00a0µm"),
        WIDTH,
        initial_indent=first,
        subsequent_indent=" " * (len(first) or 2),
        break_on_hyphens=False,
    )
    return [line.replace("\u00a0", " ") for line in lines]
