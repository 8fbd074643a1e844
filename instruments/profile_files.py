"""Profiles read from small TOML files, strictly: shipped ones by name, own ones by path."""

import importlib.resources
import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Final

from instruments.errors import ProfileError, ProfileNotFoundError
from instruments.keys import Table
from instruments.lines import TERMINATORS
from instruments.meaning import interpret
from instruments.patterns import PatternError, compiled
from instruments.profile import INDEX, STATUS, Frames, LineSettings, Mode, Profile, Registers, RegisterType
from instruments.records import Frame, Refused, shown
from instruments.units import UNITS

_FRAMES: Final[tuple[Frames, ...]] = ("lines", "bcd", "registers")
_MODES: Final[tuple[Mode, ...]] = ("stream", "request", "button")
_LONGEST: Final = 20_000
MOST_COUNTS: Final = 100_000_000
_FLOAT: Final = "A float carries noise in its last digits: say how many decimals count, as decimals = 4."
_TYPES: Final[tuple[RegisterType, ...]] = ("int16", "uint16", "int32", "uint32", "float32")


def shipped_profiles() -> list[str]:
    """The names of the profiles that ship, in order of the alphabet."""
    folder = importlib.resources.files("instruments") / "profiles"
    return sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml"))


def load_profile(name_or_path: str | Path) -> Profile:
    """A shipped profile by its name, or an own one by the path of its file (which ends in ``.toml``).

    Raises ProfileNotFoundError and ProfileError.
    """
    path = Path(name_or_path)
    if path.suffix == ".toml":
        try:
            with path.open(encoding="utf-8") as file:
                text = file.read(_LONGEST + 1)
        except UnicodeDecodeError:
            raise ProfileError(f"{path} is not UTF-8 text.", "Save it as UTF-8 in the editor.") from None
        except OSError as error:
            why = error.strerror or str(error)
            raise ProfileNotFoundError(f"{path} cannot be read: {why}.", "Check the path.") from None
        if len(text) > _LONGEST:
            raise ProfileError(f"{path} is longer than {_LONGEST} characters.", "Name a profile.")
        return read_profile(text, str(path))
    if str(name_or_path) not in shipped_profiles():
        names = ", ".join(shipped_profiles())
        raise ProfileNotFoundError(
            f'There is no profile "{name_or_path}".', f"Name a file that ends in .toml, or one of {names}."
        )
    text = (importlib.resources.files("instruments") / "profiles" / f"{name_or_path}.toml").read_text("utf-8")
    return read_profile(text, f"{name_or_path}.toml")


def read_profile(text: str, where: str) -> Profile:
    """The profile written as ``text``; ``where`` names it in errors. Raises ProfileError."""
    try:
        table = Table(tomllib.loads(text), where)
    except tomllib.TOMLDecodeError as error:
        raise ProfileError(f"{where} is not TOML: {error}.", "Correct that place.") from None
    except RecursionError:
        raise ProfileError(f"{where} is not a profile: it is nested too deep.", "Correct it.") from None
    frames = table.word("frames", _FRAMES, "lines")
    profile = Profile(
        name=Path(where).stem,
        about=table.text("about", needed="Say in one line for what it is."),
        frames=frames,
        mode=table.word("mode", _MODES, "request" if frames == "registers" else "stream"),
        port=table.text("port") if "port" in table else None,
        settings=_settings(table),
        terminator=table.word("terminator", TERMINATORS, "any") if frames == "lines" else "any",
        request=_to_send(table, "request") if frames != "registers" else b"",
        identify=_to_send(table, "identify") if frames == "lines" else b"",
        error_query=_to_send(table, "error_query") if frames == "lines" else b"",
        answer_seconds=table.exact("answer_seconds", "1"),
        pattern=_pattern(table) if frames != "registers" else None,
        example=_example(table) if frames != "registers" else "",
        decimal=table.word("decimal", ("point", "comma", "either"), "point"),
        decimals=_decimals(table),
        unit=table.word("unit", tuple(UNITS)) if "unit" in table else None,
        units=table.words("units", tuple(UNITS)),
        signs=table.words("signs", ("+", "-")) or {"": "+", "+": "+", "-": "-"},
        reversed=table.flag("reversed", False),
        scale=table.exact("scale", "1"),
        status=table.words("status", STATUS),
        counts_per_turn=table.whole("counts_per_turn", -MOST_COUNTS, MOST_COUNTS)
        if "counts_per_turn" in table
        else None,
        index=table.words("index", INDEX),
        range=_range(table),
        registers=_registers(table) if frames == "registers" else None,
    )
    table.done()
    _check_together(profile, table)
    return profile


def _settings(table: Table) -> LineSettings:
    return LineSettings(
        baud=table.whole("baud", 50, 4_000_000, 9600),
        bytesize=table.whole("bytesize", 5, 8, 8),
        parity=table.word("parity", ("none", "even", "odd"), "none"),
        stopbits=table.whole("stopbits", 1, 2, 1),
        dtr=table.flag("dtr") if "dtr" in table else None,
        rts=table.flag("rts") if "rts" in table else None,
    )


def _to_send(table: Table, key: str) -> bytes:
    if key not in table:
        return b""
    text = table.text(key)
    if not text or not text.isascii():
        table.refuse(key, "is empty or not ASCII", f'Write what is sent with its end, as {key} = "?\\r".')
    return text.encode("ascii")


def _pattern(table: Table) -> re.Pattern[str]:
    try:
        pattern = compiled(table.text("pattern", needed="Write a regular expression with a group (?P<number>...)."))
    except PatternError as error:
        table.refuse("pattern", str(error), error.remedy)
    if "number" not in pattern.groupindex:
        table.refuse("pattern", "has no group for the number", "Write (?P<number>...) around its digits.")
    return pattern


def _example(table: Table) -> str:
    return table.text("example", needed="Write one line as the indicator sends it.").strip()


def _decimals(table: Table) -> dict[str, int]:
    """Decimals by unit; one number counts for every unit."""
    if "decimals" not in table:
        return {}
    if table.is_table("decimals"):
        by_unit = table.table("decimals")
        return {unit: by_unit.whole(unit, 0, 12) for unit in UNITS if unit in by_unit}
    return dict.fromkeys(UNITS, table.whole("decimals", 0, 12))


def _range(table: Table) -> tuple[Decimal, Decimal, str] | None:
    if "range" not in table:
        return None
    inner = table.table("range")
    low = inner.exact("low", needed='Write the lowest value, as low = "-1".')
    high = inner.exact("high", needed='Write the highest value, as high = "1".')
    if low >= high:
        inner.refuse("high", "is not above low", "Write the larger one there.")
    return low, high, inner.word("unit", tuple(UNITS))


def _registers(table: Table) -> Registers:
    inner = table.table("registers")
    return Registers(
        device=inner.whole("device", 1, 247, 1),
        address=inner.whole("address", 0, 65_535),
        kind=inner.word("kind", ("holding", "input"), "holding"),
        type=inner.word("type", _TYPES),
        words=inner.word("words", ("high first", "low first"), "high first"),
    )


def _check_together(profile: Profile, table: Table) -> None:
    """What no key alone shows."""
    groups = profile.pattern.groupindex if profile.pattern else {}
    if profile.scale == 0:
        table.refuse("scale", "is 0", 'Write what one of the number is worth in the unit, as scale = "0.001".')
    if not 0 < profile.answer_seconds <= 30:
        table.refuse("answer_seconds", "is not above 0 and at most 30", 'Write the seconds, as answer_seconds = "1".')
    if profile.mode == "request" and not profile.request and profile.frames != "registers":
        table.refuse("request", "is missing", 'Write what asks for a reading, as request = "?\\r", or another mode.')
    if profile.mode != "request" and profile.request:
        table.refuse("request", f'is not used in mode "{profile.mode}"', 'Write mode = "request", or leave it out.')
    if profile.mode != "request" and profile.frames == "registers":
        table.refuse(
            "mode", "is not for registers", 'Registers are asked for: write mode = "request", or leave it out.'
        )
    if "unit" in groups and not profile.units:
        table.refuse("units", "is missing", 'Say what the unit texts mean, as [units] and below it MM = "mm".')
    if "unit" not in groups and not profile.unit:
        table.refuse("unit", "is missing", 'The line does not tell the unit: write it, as unit = "mm".')
    if (profile.identify or profile.error_query) and profile.mode != "request":
        key = "identify" if profile.identify else "error_query"
        table.refuse(key, f'is not used in mode "{profile.mode}"', 'Write mode = "request", or leave it out.')
    if profile.registers and (profile.registers.type == "float32") != bool(profile.decimals):
        what, remedy = ("is not for whole numbers", "Use scale.") if profile.decimals else ("is missing", _FLOAT)
        table.refuse("decimals", what, remedy)
    _check_spindle(profile, table, groups)
    if profile.pattern is not None:
        _check_example(profile, table)


def _check_spindle(profile: Profile, table: Table, groups: Mapping[str, int]) -> None:
    """Where the spindle stands: keys and groups belong together."""
    if profile.counts_per_turn == 0:
        table.refuse("counts_per_turn", "is 0", "Write how many counts make a turn, as counts_per_turn = 4096.")
    if "count" in groups and profile.counts_per_turn is None:
        table.refuse(
            "counts_per_turn", "is missing", "Write how many counts make a turn; 360 where the line tells degrees."
        )
    if "count" not in groups and profile.counts_per_turn is not None:
        table.refuse(
            "counts_per_turn",
            "is not used: the pattern has no group for the count",
            "Write (?P<count>...) around its digits, or leave it out.",
        )
    if "index" in groups and "mark" not in profile.index.values():
        table.refuse("index", "does not say what marks the turn", 'Write [index] and below it "*" = "mark".')
    if "index" not in groups and profile.index:
        table.refuse(
            "index",
            "is not used: the pattern has no group for it",
            "Write (?P<index>...) around its text, or leave it out.",
        )


def _check_example(profile: Profile, table: Table) -> None:
    meant = interpret(Frame(b"", profile.example, 0.0), profile)
    if isinstance(meant, Refused):
        why = f"{meant.why}" + (f', "{meant.detail}"' if meant.detail else "")
        table.refuse(
            "example",
            f'does not become a reading ("{shown(profile.example.encode())}": {why})',
            "Correct the pattern or the example; a repeat takes all it can and gives nothing back.",
        )
