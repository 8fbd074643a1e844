"""Imports point only down: a gauge speaks, the logbook keeps, a question is answered, a report tells."""

import ast
import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = ("instruments", "qclog", "reports", "demo_readings")
LAYERS = (
    ("instruments",),
    ("qclog",),  # the leaves: plain modules right below
    ("qclog.statistics",),
    ("qclog.logbook",),
    ("qclog.questions",),
    ("qclog.typed_values",),
    ("qclog.capture", "qclog.frames"),
    ("qclog.occasion",),
    ("reports",),
    ("demo_readings",),
    ("qclog.bench",),
    ("qclog.cli",),
    ("qclog.__init__",),
)
LEAVES = {
    *("errors", "texts", "addresses", "lengths", "notation", "records", "config", "times"),
    *("characteristics", "value_notation", "particulars"),
}
PLACE = {name: place for place, layer in enumerate(LAYERS) for name in layer}


def modules() -> dict[str, Path]:
    """All modules of the project by their dotted name; a package by its own."""
    found = {}
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


MODULES = modules()


def part_of(module: str) -> str:
    """The part of the house a module belongs to, as LAYERS names it."""
    parts = module.split(".")
    if parts[0] != "qclog":
        return parts[0]
    if len(parts) == 1:
        return "qclog.__init__"
    second = f"qclog.{parts[1]}"
    return second if second in PLACE else "qclog"


def imported(source: str) -> Iterator[str]:
    """Every module a source imports, wherever in it, also inside functions and by name at run time."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports are not used"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                yield whole if whole in MODULES else str(node.module)
        elif isinstance(node, ast.Call) and "import_module" in ast.unparse(node.func) and node.args:
            name = node.args[0]
            if isinstance(name, ast.Constant):
                yield str(name.value)


def own(source: str) -> set[str]:
    return {name for name in imported(source) if name.split(".")[0] in PACKAGES}


IMPORTS = {module: own(path.read_text(encoding="utf-8")) for module, path in MODULES.items()}


def upward(module: str, targets: set[str]) -> list[str]:
    """The imports of a module that do not point down (within one part any way is allowed)."""
    here = part_of(module)
    return [target for target in sorted(targets) if part_of(target) != here and PLACE[part_of(target)] >= PLACE[here]]


def test_every_import_points_down() -> None:
    assert {module: up for module, targets in IMPORTS.items() if (up := upward(module, targets))} == {}


def test_every_plain_module_below_qclog_has_its_place() -> None:
    """A new module right below qclog is a leaf, or is given a layer of its own here."""
    plain = {name.split(".")[1] for name, path in MODULES.items() if name.count(".") == 1 and path.stem != "__init__"}
    of_qclog = {name for name in plain if f"qclog.{name}" in MODULES}
    assert {name for name in of_qclog if f"qclog.{name}" not in PLACE} <= LEAVES


def test_instruments_know_nothing_of_the_rest() -> None:
    outward = {
        module: sorted(name for name in targets if part_of(name) != "instruments")
        for module, targets in IMPORTS.items()
        if module.split(".")[0] == "instruments"
    }
    assert {module: names for module, names in outward.items() if names} == {}


def test_errors_import_nothing_of_the_project() -> None:
    assert IMPORTS["qclog.errors"] == set()


def test_the_parts_of_the_statistics_know_no_database() -> None:
    for module, path in MODULES.items():
        if part_of(module) == "qclog.statistics":
            assert not {"sqlalchemy", "sqlite3"} & {name.split(".")[0] for name in imported(path.read_text("utf-8"))}


def test_no_module_imports_itself_in_a_circle() -> None:
    left = {module: targets - {module} for module, targets in IMPORTS.items()}
    while ends := {module for module, targets in left.items() if not targets & left.keys()}:
        left = {module: targets for module, targets in left.items() if module not in ends}
    assert sorted(left) == []


@pytest.mark.parametrize(
    ("module", "source", "bad"),
    [
        ("qclog.statistics.turn.turns", "def f():\n    from qclog.logbook import schema", ["qclog.logbook.schema"]),
        ("qclog.logbook.engine", "import qclog.questions.assess", ["qclog.questions.assess"]),
        ("qclog.logbook.engine", "from qclog import open", ["qclog"]),
        ("qclog.questions.assess", "import qclog.capture", ["qclog.capture"]),
        ("instruments.lines", "from qclog.errors import UsageError", ["qclog.errors"]),
        ("qclog.times", "import importlib\nimportlib.import_module('reports.numbers')", ["reports.numbers"]),
        ("qclog.questions.assess", "from qclog.logbook.engine import Store\nimport numpy", []),
        ("qclog.cli.main", "from reports import numbers\nfrom qclog.bench import app", []),
    ],
)
def test_this_test_sees_an_import_that_points_up(module: str, source: str, bad: list[str]) -> None:
    assert upward(module, own(source)) == bad


def test_every_part_is_named_in_the_order() -> None:
    assert {part_of(module) for module in MODULES} <= set(PLACE)
    assert len(set(itertools.chain(*LAYERS))) == len(PLACE)
