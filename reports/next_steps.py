"""What to do next about an item: one short list, each with what to type for it, the most urgent first."""

from collections.abc import Iterable
from dataclasses import dataclass

from qclog import times
from qclog.questions.changing.histories import DATE
from qclog.questions.codes import PUT_AWAY, Caveat, Sign, Worth
from qclog.questions.codes import Due as Why
from qclog.questions.dossier import Dossier
from qclog.questions.judging.groups import to_work_again
from qclog.questions.wear import KEEP, RETIRE, WATCH
from qclog.questions.wear import Answer as Worn
from qclog.records import RUNOUT, SWINGS
from reports import due, values
from reports.advice import OUT_FOR_GOOD, cure, where_of
from reports.numbers import METRIC, NumberStyle, micrometres
from reports.wording.commands import typed
from reports.wording.due import DUE
from reports.wording.flags import locked
from reports.wording.wear import BEFORE_EVERY_JOB, CURES, MEASURED_SINCE_CRASH, ON_A_HINT

_WHY = {Sign.CRACK: "cracked", Sign.BLUE: "heat-blued"}


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, and the command that does or notes it; '' where there is none."""

    says: str
    command: str = ""


def next_steps(dossier: Dossier, style: NumberStyle = METRIC) -> list[Step]:
    """Nothing for what was put away, and for a part of a setup that what sits in it measures."""
    life = dossier.life
    if life.state in PUT_AWAY:
        return []
    lost = {sign for worn in dossier.worn for sign in OUT_FOR_GOOD.intersection(worn.because)}
    if lost or locked(dossier.assessed):
        why = " and ".join(_WHY[sign] for sign in sorted(lost)) or "out of service"
        return [Step("Mark it and take it out of use.", f'qclog state {typed(life.code)} scrap --reason "{why}"')]
    found = list(dict.fromkeys([*_retiring(dossier, style), *_watching(dossier), *_beyond(dossier, style)]))
    measured = {step.command.removesuffix(" --clampings 1") for step in found}
    for one in dossier.due:
        if one.why == Why.BEYOND and one.characteristic not in SWINGS:
            continue  # said already, with what to type to put it away
        step = Step(f"{DUE[one.why]}: {_named(dossier, one.code)}{due.told(one, style)}.", due.command(one))
        if step.command.removesuffix(" --clampings 1") not in measured:
            found.append(step)
    return found or _when_again(dossier)


def _named(dossier: Dossier, code: str) -> str:
    return "" if code == dossier.life.code else f"{code}, "


def _retiring(dossier: Dossier, style: NumberStyle) -> Iterable[Step]:
    """The way down for what is to be retired; first to clean it and look again, where that may be all. Jaws are bored
    again instead."""
    if any(one.why == Why.BEYOND and one.characteristic in SWINGS for one in dossier.due):
        return
    retired = [worn for worn in dossier.worn if worn.decision == RETIRE]
    if not retired:
        return
    code, life = typed(dossier.life.code), dossier.life
    for worn in retired:
        yield from _cures(dossier, worn)
    if any(worn.decision == KEEP for worn in dossier.worn):
        yield Step(f"Do not use it {'; '.join(_place(worn) for worn in retired)}; elsewhere keep it.")
        return
    good = [worn.good_for_um for worn in retired]
    if life.state == "in service" and all(good):
        most = max(limit for limit in good if limit is not None)
        limit = micrometres(most, step_um=1.0, style=style)
        yield Step(f"Keep it for {limit} work only.", f"qclog state {code} restricted --to {most:g}um --reason worn")
    told = "Or scrap it, or bore it out." if all(good) else "Scrap it, or bore it out."
    yield Step(told, f"qclog state {code} scrap --reason worn")


def _beyond(dossier: Dossier, style: NumberStyle) -> Iterable[Step]:
    """What is left for a size, a gap or a difference that does not hold; of a gap only until it is bonded."""
    for value in dossier.assessed.values:
        if to_work_again(value):
            what = values.place(value)
            says = f"{what[:1].upper()}{what[1:]}: work it to {values.limits(value, style)} again, or put it away."
            reason = f"{value.characteristic} does not hold"
            yield Step(says, f'qclog state {typed(value.item)} out --reason "{reason}"')


def _watching(dossier: Dossier) -> Iterable[Step]:
    for worn in dossier.worn:
        if worn.single_hint:
            yield Step(f"{_where(dossier, worn)}{ON_A_HINT}", _measuring(dossier, worn))
        elif worn.decision == WATCH:
            yield from _cures(dossier, worn)
            if Sign.CANNOT_TELL in worn.because and Caveat.MORE_WILL_NOT_TELL in worn.caveats:
                yield Step(f"{_where(dossier, worn)}{BEFORE_EVERY_JOB}", _measuring(dossier, worn))


def _cures(dossier: Dossier, worn: Worn) -> Iterable[Step]:
    """What to do about each sign that is more than a single hint; of a crash what is left once it was measured."""
    hints = {test.sign for test in worn.tests if test.mark == Worth.SINGLE_HINT}
    signs = [sign for sign in worn.because if sign in CURES and sign not in hints]
    code = dossier.life.code
    if Sign.CRASHED in signs and not any((one.code, one.why) == (code, Why.CRASHED) for one in dossier.due):
        signs.remove(Sign.CRASHED)
        yield Step(MEASURED_SINCE_CRASH, f'qclog inspect {typed(code)} sound --note "how you know"')
    for told in dict.fromkeys(cure(worn, sign) for sign in signs):
        yield Step(f"{_where(dossier, worn)}{told}", _measuring(dossier, worn))


def _when_again(dossier: Dossier) -> list[Step]:
    """The next check of what nothing is due of, where the record says when it usually is checked."""
    dated = [worn for worn in dossier.worn if worn.next_check is not None]
    if not dated:
        return []
    first = min(dated, key=lambda worn: worn.next_check or "")
    if first.axis == DATE and (first.next_check or "") <= times.day(times.now()):
        says = f"Checked as often as so far, it would have been checked again about {first.next_check}: check it now."
        return [Step(says, _measuring(dossier, first))]
    when = first.next_check if first.axis == DATE else f"clamping {first.next_check} in work"
    says = f"Nothing is due. Checked as often as so far, the next check falls on about {when}."
    return [Step(says, _measuring(dossier, first))]


def _measuring(dossier: Dossier, worn: Worn) -> str:
    """What to type to measure it there again, with what it was measured with last."""
    last = next(
        (
            clamping
            for clamping in reversed(dossier.life.clampings)
            if (clamping.setup, clamping.position, clamping.clocking) == (worn.setup, worn.position, worn.clocking)
            and not clamping.in_doubt
        ),
        None,
    )
    gauges = ("", "") if last is None else (last.pin, last.instrument)
    if worn.characteristic != RUNOUT:
        where = worn.setup, worn.position, worn.clocking, worn.distance_mm, gauges[1]
        return due.logging(dossier.life.code, worn.characteristic, *where, diameter_mm=worn.diameter_mm)
    positions = [worn.position] if worn.position else []
    return due.measuring(dossier.life.code, worn.setup, positions, worn.clocking, worn.distance_mm, *gauges)


def _where(dossier: Dossier, worn: Worn) -> str:
    return f"{where_of(worn)}: " if len(dossier.worn) > 1 else ""


def _place(worn: Worn) -> str:
    return f"in {where_of(worn)}"
