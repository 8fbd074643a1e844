"""The setup sheet of a job: one page for the wall beside the machine."""

from dataclasses import dataclass
from typing import Final

from qclog.errors import NotAnswerableError
from qclog.particulars import TORQUE
from qclog.questions.codes import Ground
from qclog.questions.judging.values import HOLDS
from qclog.questions.pick import Picked
from qclog.questions.picking.choices import Choice
from reports import pick
from reports.numbers import METRIC, NumberStyle, count, length, micrometres
from reports.pages.render import rendered
from reports.pictures.canvas import Picture
from reports.pictures.expected import expected
from reports.wording.cautions import CAUTIONS
from reports.wording.choosing import GROUNDS
from reports.wording.commands import typed

_CAPTION: Final = "Tall stroke: half of the grips stay under. Dashed: 19 in 20. Heavy line, hatched beyond: the limit."


@dataclass(frozen=True, slots=True)
class Page:
    """``place``: setup, key position, clocking; ``facts``: what else to know, each under its name; ``checks``: what to
    do at the first grip, in order."""

    job: str
    part: str
    code: str
    place: str
    stamp: str
    look: str
    facts: tuple[tuple[str, str], ...]
    picture: Picture | None
    caption: str
    expect: tuple[str, ...]
    words: tuple[str, ...]
    checks: tuple[str, ...]
    second: str
    notes: tuple[str, ...]
    note_words: tuple[str, ...]
    cautions: tuple[str, ...]


def sheet_page(found: Picked, job: str = "", style: NumberStyle = METRIC) -> str:
    """The sheet of the first choice as HTML. Raises NotAnswerableError where there is none."""
    if not found.choices:
        raise NotAnswerableError(
            f"{pick.asked(found, style)}: there is no choice to make a sheet of.",
            "Measure one of those left out, or make one.",
        )
    first, second = found.choices[0], pick.second_best(found)
    limit = pick.of_limit(found, style)
    page = Page(
        job=job.strip() or "Setup sheet",
        part=f"Part: {pick.asked(found, style)}",
        code=first.item,
        place=pick.where(first),
        stamp=f"HOLDS {limit}" if first.told == HOLDS else f"NOT PROVEN: {limit}",
        look="yes" if first.told == HOLDS else "open",
        facts=tuple(_facts(found, first, style)),
        picture=expected(first.median_um, pick.most_um(first), found.runout_um, "expected"),
        caption=_CAPTION,
        expect=tuple(_expect(first, limit, style)),
        words=(first.told, *((first.ground,) if first.ground != Ground.MEASURED else ()), *_words(first)),
        checks=tuple(_checks(found, first, style)),
        second=""
        if second is None
        else f"{second.item} in {pick.where(second)}: {pick.in_short(second, found, style)}."
        + (f" It lies in {second.kept_at}." if second.kept_at and not second.mounted else ""),
        notes=tuple(pick.limits([first])),
        note_words=first.caveats,
        cautions=(CAUTIONS[0], *(CAUTIONS[1:2] if first.worked else ()), CAUTIONS[2]),
    )
    return rendered("sheet.html", page=page)


def _words(first: Choice) -> list[str]:
    """What is said of the grips to come."""
    under = ["19 in 20 under"] if pick.most_um(first) is not None else []
    return [*under, *(["first grip"] if first.chance is not None else [])]


def _facts(found: Picked, first: Choice, style: NumberStyle) -> list[tuple[str, str]]:
    size = "" if first.size_mm is None else length(round(first.size_mm * 1e9), style=style)
    where = f"mounted in {first.setup}" if first.mounted else first.kept_at
    pin = first.pin
    if pin and first.pin_mm is not None:
        pin = f"{pin}, {first.pin_mm:g} mm"
    away = " and ".join(f"{mm:g}" for mm in first.distances_mm)
    away = "" if first.distances_mm == (found.distance_mm,) else f", {away} mm out"
    told = [
        ("what it is", f"{first.kind} {size}".strip()),
        ("where it lies", where),
        ("machine", ", ".join(first.holder[name] for name in ("machine", "nose") if name in first.holder)),
        ("torque, as logged", first.torque),
        ("torque, of the setup", "" if first.torque else first.holder.get(TORQUE, "")),
        ("picture", first.picture),
        ("part runs true", f"{length(round(found.distance_mm * 1e9), style=style)} out from the front face"),
        ("measured with", "; ".join(part for part in (pin and f"pin {pin}", first.instrument) if part)),
        ("last measured", f"{first.last_measured}{away} ({count(first.clampings, 'clamping')})"),
    ]
    return [(name, text) for name, text in told if text]


def _expect(first: Choice, limit: str, style: NumberStyle) -> list[str]:
    told = []
    if first.median_um is not None:
        step = 0.1 if first.ground == Ground.MEASURED else 1.0
        half = micrometres(first.median_um, step_um=step, style=style)
        told.append(f"Half of the grips read under {half}. {pick.stays_under(first, style)}".strip())
    if first.ground != Ground.MEASURED:
        told.append(f"A forecast: {GROUNDS[first.ground]}. It is not proven to hold {limit}.")
    return [line for line in (*told, pick.chances(first)) if line]


def _checks(found: Picked, first: Choice, style: NumberStyle) -> list[str]:
    limit = pick.of_limit(found, style)
    told = [
        "Clean taper, bore and part. Look for cracks, blue, burrs; a cracked or blued one goes to the scrap.",
        f"Grip, key out, indicate by hand at {length(round(found.distance_mm * 1e9), style=style)}.",
        f"Up to {limit}: go on. Over: out, wipe, grip again. Over three times: stop, and look for what is wrong.",
    ]
    most = pick.most_um(first)
    if most is not None and most < found.runout_um and first.ground == Ground.MEASURED:
        figure = micrometres(most, step_um=0.1, style=style, round_up=True)
        told.append(f"Over {figure} it reads higher than 19 grips in 20 did: dirt, a burr, or it has changed.")
    return [*told, f"Log what it read: qclog log {typed(first.item)} ..."]
