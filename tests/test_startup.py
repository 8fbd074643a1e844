"""A command loads only what it needs: asserted by the modules loaded in a fresh process, not by a clock."""

import importlib
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from typer.core import TyperGroup

from qclog.cli.commands import PARTS, Listed
from qclog.cli.main import commands, main

HEAVY = (
    "scipy",
    "pandas",
    "matplotlib",
    "alembic",
    "serial",
    "jinja2",
    "rich",
    "psycopg",
    "segno",
    "xlsxwriter",
    "fpdf",
    "pypdf",
    "demo_readings",
    "pydantic",
)
PROBE = """
import sys
from qclog.cli.main import main
code = main(sys.argv[2:])
print("\\nLOADED", *sorted(set(sys.modules) & set(sys.argv[1].split(","))), file=sys.stderr)
sys.exit(code)
"""


OF_SCIPY = ("scipy.stats", "scipy.optimize", "scipy.integrate", "scipy.interpolate")
"""What answers need once in a while only: ``scipy.special`` alone gives them their distributions."""

OF_NUMPY = ("numpy.ma", "numpy.polynomial", "numpy.random")
"""What numpy loads only when it is asked for, each a twentieth of the time of a short command or so."""


def _loaded(watched: tuple[str, ...], *arguments: str, logbook: Path) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", PROBE, ",".join(watched), *arguments],
        env={**os.environ, "QCLOG_LOGBOOK": str(logbook)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return set(done.stderr.rsplit("LOADED", 1)[1].split())


def test_help_loads_neither_database_nor_numbers(tmp_path: Path) -> None:
    watched = (*HEAVY, "sqlalchemy", "numpy")
    assert _loaded(watched, "--help", logbook=tmp_path / "book.sqlite") == set()
    assert _loaded(watched, "log", "--help", logbook=tmp_path / "book.sqlite") == set()


def test_help_prints_the_list_of_commands_without_loading_one() -> None:
    probe = (
        "import sys; from qclog.cli.commands import PARTS; from qclog.cli.main import main; main(['--help']);"
        "print([part for part in PARTS if f'qclog.cli.{part}' in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    assert all(f"  {name} " in done.stdout for part in PARTS.values() for name in part)


DAYS = (["4.2", "5.0", "4.5"], ["4.4", "4.7"], ["4.8"], ["5.1"], ["4.3"], ["4.6"])


def _log(day: int, swings: list[str]) -> tuple[str, ...]:
    return ("log", "C-735", *swings, "--position", "A", "--on", f"2026-03-0{day}T10:00")


ENTERED = (
    ("setup", "add", "L2", "--positions", "A,B"),
    ("item", "add", "C-735", "--kind", "collet", "--made-to", "9um@25mm"),
)


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook of one item that was clamped often enough for every test of a change."""
    logbook = tmp_path_factory.mktemp("measured") / "book.sqlite"
    commands = [*ENTERED, *(_log(day, swings) for day, swings in enumerate((*DAYS, ["4.5", "4.9", "4.4"]), start=1))]
    for command in commands:
        assert main(["--logbook", str(logbook), *command]) == 0
    return logbook


def test_logging_a_swing_with_its_verdict_loads_nothing_heavy(tmp_path: Path) -> None:
    logbook = tmp_path / "book.sqlite"
    for command in ENTERED:
        assert main(["--logbook", str(logbook), *command]) == 0
    for day, swings in enumerate(DAYS, start=1):
        assert _loaded((*HEAVY, *OF_NUMPY), *_log(day, swings), logbook=logbook) == set()


@pytest.mark.parametrize(
    "command",
    [
        ("assess", "C-735"),
        ("assess",),
        ("wear",),
        ("drawer",),
        ("due",),
        ("history", "C-735"),
        ("item", "show", "C-735"),
        ("uncertainty", "C-735"),
    ],
)
def test_an_answer_about_swings_loads_distributions_and_nothing_else_that_is_heavy(
    command: tuple[str, ...], measured: Path
) -> None:
    loaded = _loaded((*HEAVY, *OF_SCIPY), *command, logbook=measured)
    assert loaded <= {"scipy"}


def test_an_export_of_readings_loads_nothing_heavy(measured: Path, tmp_path: Path) -> None:
    assert _loaded((*HEAVY, *OF_NUMPY), "export", "--to", str(tmp_path / "readings.csv"), logbook=measured) == set()


def test_measuring_asks_first_and_loads_what_judges_when_there_is_something_to_judge(
    measured: Path,
) -> None:
    later = ("qclog.questions.assess", "qclog.questions.compare", "qclog.questions.chain", "qclog.questions.study")
    occasion = ("measure", "C-735", "--setup", "L2", "--positions", "A,B")
    assert _loaded((*HEAVY, *OF_NUMPY, *later), *occasion, logbook=measured) == set()


def test_the_page_of_an_item_loads_pictures_and_templates_and_nothing_else_that_is_heavy(
    measured: Path, tmp_path: Path
) -> None:
    loaded = _loaded((*HEAVY, *OF_SCIPY), "report", "C-735", "--to", str(tmp_path / "page.html"), logbook=measured)
    assert loaded == {"matplotlib", "jinja2", "scipy"}


def test_the_package_itself_loads_nothing_of_its_own() -> None:
    probe = "import sys, qclog; print([name for name in sys.modules if name.startswith('qclog.')])"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_command_loads_the_commands_of_no_other_part() -> None:
    probe = (
        "import sys; from qclog.cli.commands import PARTS; from qclog.cli.main import main;"
        "main(['--logbook', 'log', 'item', '--help']);"
        "print([part for part in PARTS if f'qclog.cli.{part}' in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "['items']"


@pytest.mark.parametrize("part", PARTS)
def test_every_part_adds_the_commands_it_is_listed_with_and_they_say_so_themselves(part: str) -> None:
    app = typer.Typer(rich_markup_mode=None)
    app.callback()(lambda: None)
    importlib.import_module(f"qclog.cli.{part}").add_to(app)
    group = typer.main.get_command(app)
    assert isinstance(group, TyperGroup)
    said = {name: command.get_short_help_str(100) for name, command in group.commands.items()}
    assert list(said.items()) == list(PARTS[part].items())


def test_help_says_what_every_command_is_for_without_cutting_it_short(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    everything = typer.main.get_command(commands())
    assert isinstance(everything, Listed)
    for part in PARTS.values():
        everything.load(next(iter(part)))
    groups = [name for name, command in everything.commands.items() if isinstance(command, TyperGroup)]
    assert len(groups) >= 4
    for asked in ([], *([group] for group in groups)):
        assert main([*asked, "--help"]) == 0
        listed = capsys.readouterr().out.partition("Commands:\n")[2].splitlines()
        assert len(listed) >= 2
        assert not [line for line in listed if line.endswith("...")]


def test_an_unknown_command_is_held_against_all_of_them(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["wera"]) == 2
    assert "wear" in capsys.readouterr().err


@pytest.mark.parametrize("command", [["log"], ["chart"], ["item", "add"], ["compare"], ["export"], ["simulate"]])
def test_help_of_a_command_names_no_types(command: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*command, "--help"]) == 0
    told = capsys.readouterr().out
    assert not re.search(r"<\w+(\[\w+\])?>|\]\.\.\.\]", told)
    assert "Options:" in told


@pytest.mark.parametrize("typed", [[], ["item"]])
def test_without_a_command_help_is_printed_as_it_is(typed: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*typed, "--help"]) == 0
    helped = capsys.readouterr().out
    assert main(typed) == 2
    assert capsys.readouterr().err == helped


def test_numbers_paths_and_choices_are_checked_all_the_same(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    assert main(["item", "add", "C-735", "--kind", "collet"]) == 0
    capsys.readouterr()
    assert main(["strike", "C-735", "last", "--reason", "misread", "--turn", "two"]) == 2
    assert "'--turn'" in capsys.readouterr().err
    assert main(["strike", "C-735", "last", "--reason"]) == 2
    assert "--reason" in capsys.readouterr().err
    assert main(["strike", "C-735"]) == 2
    assert "CLAMPING" in capsys.readouterr().err
    assert main(["log"]) == 2
    assert "'item'" in capsys.readouterr().err
