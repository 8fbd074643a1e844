"""Every code, verdict and figure a person is shown has a page, and every page explains something that is shown.

A new code fails here until it has a page: a section in one of the files of ``reports/explanations``, and for a new
class of codes a line in ``SUBJECTS_OF`` that says which.
"""

import dataclasses
import importlib
import pkgutil
import typing
from collections.abc import Iterable, Iterator
from enum import StrEnum
from types import ModuleType

import pytest

import instruments
import qclog
import reports
from qclog import characteristics
from qclog.logbook import schema
from qclog.questions import chart, compare, wear
from qclog.questions.judging import values
from qclog.records import RUNOUT
from reports import assessment, drawer, explanations, occasion
from reports import wear as wear_text
from reports.explanations import SUBJECTS, plain
from reports.wording import places

SUBJECTS_OF = {
    "Caveat": {"caveats", "due", "chart"},
    "Flag": {"verdicts", "findings", "due"},
    "Sign": {"wear", "verdicts", "findings", "due"},
    "Worth": {"verdicts"},
    "ByCost": {"wear", "verdicts"},
    "KeyStatement": {"chuck"},
    "SenseState": {"chuck"},
    "NextStep": {"due"},
    "Wanted": {"due", "verdicts"},
    "Due": {"due", "caveats", "findings"},
    "Differs": {"statements", "due", "caveats", "figures", "safekeeping"},
    "NotForIssue": {"statements", "verdicts", "due", "caveats"},
    "Clocking": {"clocking", "caveats", "choosing", "due"},
    "Ground": {"choosing"},
    "Unfit": {"choosing", "verdicts", "due", "caveats"},
    "Cause": {"study"},
    "NotTold": {"study"},
    "Source": {"study", "caveats"},
    "ChartSign": {"chart"},
    "Doubt": {"slips"},
    "Why": {"indicators"},
    "Puzzle": {"indicators"},
    "Check": {"safekeeping"},
    "Fault": {"safekeeping"},
}
"""Where the pages on a class of codes stand."""

NEVER_SHOWN = {
    "Happened": "what happened is told in history as a whole sentence, and nothing has to be done about it",
}
"""Classes of codes without pages, and why."""

NO_FIGURES = {
    "where it was measured, which size it has": {
        *("where", "item", "size", "kept_at", "measured_in", "distance_mm", "diameter_mm", "size_mm", "work_to_mm"),
        *("step_mm", "present_mm", "smallest", "largest", "pin_mm", "pins_mm"),
    },
    "as it stands on a card or a certificate": {
        "bore_mm",
        "nominal_mm",
        "worked_to_mm",
        "division_um",
        "error_limit_um",
        "roundness_um",
        "coverage_factor",
        "lever_deg",
        "reads_right_at_deg",
    },
    "JSON of a statement, explained in the statement itself": {
        "guard_um",
        "decides_um",
        "clocking_deg",
    },
    "angles, from and to which a body is turned": {"at_mm", "from_deg", "to_deg", "then_deg"},
    "at which distances it was read": {"distances_mm", "grip_mm"},
    "the figure that the key around it names": {"value"},
}
"""Heads and keys without pages, and why."""

TERMS = {
    *(
        "as_read",
        "this_sitting",
        "next_clampings",
        "settled",
        "not measured",
        "part of",
        "chance",
        "better at",
        "lobes",
        "married",
    ),
    *("owner", "one_clamping", "reproducibility", "budget", "standard uncertainty"),
    *("19 in 20 from", "rectangular", "alone ±"),
    *("modification", "clocking", "revision", "kept at", "statement", "digest", "soft jaws"),
}
"""Words of answers that are neither codes nor keys or heads of figures."""


def _modules(*packages: ModuleType) -> Iterator[ModuleType]:
    for package in packages:
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if ".migrations." not in found.name:  # they run only within a migration
                yield importlib.import_module(found.name)


def _all_codes() -> dict[str, type[StrEnum]]:
    """Every class of codes in the project by its name."""
    found: dict[str, type[StrEnum]] = {}
    for module in _modules(instruments, qclog, reports):
        for name, thing in vars(module).items():
            if isinstance(thing, type) and issubclass(thing, StrEnum) and thing.__module__ == module.__name__:
                assert name not in found, f"two classes of codes are called {name}"
                found[name] = thing
    return found


def _figures() -> set[str]:
    """The keys of every question's document that hold a number with a fraction."""
    found: set[str] = set()
    for module in _modules(importlib.import_module("qclog.questions")):
        document = getattr(module, "document", None)
        if document is not None and document.__module__ == module.__name__:
            for hint in typing.get_type_hints(document).values():
                found |= _floats_in(hint, set())
    return found


def _floats_in(hint: object, seen: set[type]) -> set[str]:
    found: set[str] = set()
    for kind in _kinds(hint):
        if dataclasses.is_dataclass(kind) and kind not in seen:
            seen.add(kind)
            for name, inner in typing.get_type_hints(kind).items():
                found |= {name} if float in _kinds(inner) else _floats_in(inner, seen)
    return found


def _kinds(hint: object) -> set[type]:
    """The plain types a hint is made of."""
    inside = typing.get_args(hint)
    if inside:
        return {kind for one in inside for kind in _kinds(one)}
    return {hint} if isinstance(hint, type) else set()


def _heads() -> set[str]:
    """What stands above the columns of the tables."""
    return {*assessment._COLUMNS, *wear_text._COLUMNS, *drawer._COLUMNS}


def _words(names: Iterable[str]) -> set[str]:
    return {plain(name) for name in names}


CODES = _all_codes()
FIGURES = _words(_figures() | _heads()) - _words(name for names in NO_FIGURES.values() for name in names)
VERDICTS = _words(
    [
        *(values.HOLDS, values.DOES_NOT_HOLD, values.CANNOT_TELL, values.NO_LIMIT),
        *(chart.STEADY, chart.NOT_STEADY, chart.LEARNING, chart.TOO_FEW),
        *(wear.KEEP, wear.WATCH, wear.RETIRE, compare.BETTER, compare.NO_DIFFERENCE, compare.UNDECIDED),
        *(*schema.STATES, *schema.FINDINGS, *occasion.CAUTION_OF),
    ]
)


def test_every_class_of_codes_has_a_subject_or_a_reason_for_having_none() -> None:
    assert set(SUBJECTS_OF) | set(NEVER_SHOWN) == set(CODES)
    assert not set(SUBJECTS_OF) & set(NEVER_SHOWN)
    assert set().union(*SUBJECTS_OF.values()) <= set(SUBJECTS)


@pytest.mark.parametrize("name", sorted(set(CODES) - set(NEVER_SHOWN)))
def test_every_code_that_is_shown_has_a_page_in_its_subject(name: str) -> None:
    subjects = SUBJECTS_OF.get(name, set())
    missing = [str(code) for code in CODES[name] if not any(explanations.pages(code, where) for where in subjects)]
    where = " or ".join(sorted(subjects)) or "SUBJECTS_OF (a line is missing)"
    assert not missing, f"no page in {where} of reports/explanations on: {', '.join(missing)}"


def test_every_verdict_and_figure_has_a_page() -> None:
    assert len(FIGURES) > 40
    assert not [word for word in sorted(FIGURES | VERDICTS) if not explanations.pages(word)]


@pytest.mark.parametrize("name", characteristics.NAMES)
def test_every_characteristic_has_a_page_by_the_name_it_is_typed_and_shown_by(name: str) -> None:
    shown = {name, places.named(name)}
    assert all(explanations.pages(word, "figures" if name == RUNOUT else "characteristics") for word in shown)


def test_no_page_explains_what_is_not_shown() -> None:
    shown = FIGURES | VERDICTS | _words(TERMS)
    shown |= _words(characteristics.NAMES)
    shown |= _words(code for name, codes in CODES.items() if name not in NEVER_SHOWN for code in codes)
    orphans = [
        page.title
        for subject in explanations.subjects()
        for page in subject.pages
        if not shown.intersection(map(plain, page.words))
    ]
    assert not orphans


def test_no_exception_has_outlived_its_use() -> None:
    keys = _words(_figures() | _heads())
    assert not [name for names in NO_FIGURES.values() for name in names if plain(name) not in keys]
    assert not [word for word in TERMS if not explanations.pages(word)]
