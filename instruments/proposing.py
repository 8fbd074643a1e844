"""A profile proposed from a few seconds of bytes, or what is not understood about them.

A pure function: the bytes decide. What they cannot tell (a unit that is not sent, a sign that was not seen) is named,
so that the person can say it, or move the plunger and try again.
"""

import itertools
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final

from instruments.errors import ProfileError
from instruments.line_form import LineForm, form_of
from instruments.lines import LONGEST, LineFramer, Terminator
from instruments.meaning import interpret
from instruments.profile import Mode, Profile
from instruments.profile_files import read_profile
from instruments.records import Frame, Reading, shown

_DIGITS: Final = "FFFF(?P<sign>[08])(?P<number>[0-9]{6})(?P<places>[0-5])(?P<unit>[0-9])"
_DIGIT_TABLES: Final = {"signs": {"0": "+", "8": "-"}, "units": {"0": "mm", "1": "in"}}
_ENOUGH_LINES: Final = 3
_ONE_PRESS: Final = 0.2  # bytes closer than this, in seconds, are of one line or one press
_QUICK_HAND: Final = 0.3
_IRREGULAR: Final = 1.3  # no hand keeps time like a clock


class Puzzle(StrEnum):
    """What is not understood about the bytes, or has to be said by the person."""

    NOTHING_CAME = "nothing_came"
    NO_LINES = "no_lines"  # text without any end of line
    NOT_TEXT = "not_text"  # a wrong speed, or frames of another kind
    PARITY_SHOWS = "parity_shows"  # text of 7 bits with parity, read as 8 bits
    FEW_LINES = "few_lines"  # fewer than three whole lines
    NO_NUMBER = "no_number"
    SEVERAL_NUMBERS = "several_numbers"  # more than one number in a line changes, and none or several have a unit
    OTHER_NUMBER = "other_number"  # another number changes too: an encoder's count, a running number
    UNIT_NOT_SENT = "unit_not_sent"
    UNIT_UNKNOWN = "unit_unknown"  # a word stands in the place of the unit that is none
    SIGN_NOT_SEEN = "sign_not_seen"  # all of one sign: move the plunger both ways
    DECIMALS_DIFFER = "decimals_differ"
    OTHER_LINES = "other_lines"  # some lines are of another form


@dataclass(frozen=True, slots=True)
class Proposal:
    """``toml``: a profile for the bytes, or empty if none is seen; ``profile``: the same ready to use, or None while
    the unit has to be said. ``lines`` were whole, ``understood`` of them become readings; ``not_understood``: up to
    five others. ``puzzles``: what to look at; ``detail``: the part in question."""

    toml: str = ""
    profile: Profile | None = None
    lines: int = 0
    understood: int = 0
    not_understood: tuple[str, ...] = ()
    puzzles: tuple[Puzzle, ...] = ()
    detail: dict[Puzzle, str] = field(default_factory=dict)


def mode_of(times: Sequence[float]) -> Mode:
    """How bytes that came unasked at ``times`` (seconds) are sent: "button" where they come seldom and irregularly, as
    by a hand; else "stream"."""
    gaps = [later - earlier for earlier, later in itertools.pairwise(times) if later - earlier > _ONE_PRESS]
    if len(gaps) < _ENOUGH_LINES - 1 or min(gaps) < _QUICK_HAND:
        return "stream"
    return "button" if max(gaps) > _IRREGULAR * min(gaps) else "stream"


def propose(data: bytes, *, mode: Mode = "stream", request: str = "", unit: str | None = None) -> Proposal:
    """A profile for ``data``, received in ``mode`` (with ``request`` sent for each reading).

    ``unit``: what the display shows, for indicators that do not send it.
    """
    talk: list[tuple[str, object]] = [("mode", mode), *([("request", request)] if mode == "request" else [])]
    if not data:
        return _puzzled(Puzzle.NOTHING_CAME)
    if re.search(rb"(?:\x0f{4}[\x00-\x09]{9}){2,}", data):
        found = [digits.hex().upper()[1::2] for digits in re.findall(rb"\x0f{4}[\x00-\x09]{9}", data)]
        return _of_digits(found, [*talk, ("frames", "bcd")])
    if sum(byte >= 0x80 or (byte < 0x20 and byte not in b"\t\r\n\x02\x03") for byte in data) > len(data) / 20:
        parity = _parity(data)
        if parity is None:
            return _puzzled(Puzzle.NOT_TEXT, shown(data[:20]))
        found_in_7 = propose(bytes(byte & 0x7F for byte in data), mode=mode, request=request, unit=unit)
        settings = f'bytesize = 7\nparity = "{parity}"\n'
        profile = read_profile(settings + found_in_7.toml, "proposed.toml") if found_in_7.profile else None
        return replace(
            found_in_7,
            toml=settings + found_in_7.toml if found_in_7.toml else "",
            profile=profile,
            puzzles=(Puzzle.PARITY_SHOWS, *found_in_7.puzzles),
        )
    terminator = _terminator(data)
    if terminator is None:
        return _puzzled(Puzzle.NO_LINES, shown(data[:60]))
    framer = LineFramer(terminator)
    framer.interrupted(0.0)  # the first line may have begun before
    lines = [frame.text for frame in framer.feed(data, 0.0) if isinstance(frame, Frame)]
    if len(lines) < _ENOUGH_LINES:
        return replace(_puzzled(Puzzle.FEW_LINES, shown(data[:60])), lines=len(lines))
    talk.append(("terminator", terminator))
    if sum(re.fullmatch(_DIGITS, line) is not None for line in lines) > len(lines) / 2:
        return _of_digits(lines, talk)
    form = form_of(lines)
    if isinstance(form, int):
        why = Puzzle.SEVERAL_NUMBERS if form else Puzzle.NO_NUMBER
        return replace(_puzzled(why, lines[-1]), lines=len(lines), not_understood=tuple(lines[:5]))
    return _of_form(form, lines, talk, unit)


def _puzzled(puzzle: Puzzle, detail: str = "") -> Proposal:
    return Proposal(puzzles=(puzzle,), detail={puzzle: detail} if detail else {})


def _parity(data: bytes) -> str | None:
    """The parity of text of 7 bits whose parity bit shows as the highest bit; None if it is none."""
    printable = sum(0x20 <= byte & 0x7F < 0x7F or byte & 0x7F in b"\t\r\n" for byte in data)
    odd = sum(byte.bit_count() % 2 for byte in data)
    if printable < 0.98 * len(data) or 0.02 * len(data) < odd < 0.98 * len(data):
        return None
    return "odd" if odd > len(data) / 2 else "even"


def _terminator(data: bytes) -> Terminator | None:
    pairs, cr, lf = data.count(b"\r\n"), data.count(b"\r"), data.count(b"\n")
    if (not cr and not lf) or max(map(len, re.split(rb"[\r\n]", data))) > LONGEST:
        return None
    if pairs and pairs >= max(cr, lf) - 1:
        return "CRLF"
    return "CR" if not lf else "LF" if not cr else "any"


def _of_digits(frames: Sequence[str], talk: Sequence[tuple[str, object]]) -> Proposal:
    example = next(frame for frame in reversed(frames) if re.fullmatch(_DIGITS, frame))
    about = ("about", "13 digits, proposed from what was heard")
    return _tried([about, *talk, ("pattern", _DIGITS), ("example", example)], _DIGIT_TABLES, frames)


def _of_form(form: LineForm, lines: Sequence[str], talk: Sequence[tuple[str, object]], unit: str | None) -> Proposal:
    puzzles: dict[Puzzle, str] = {}
    if not form.units and unit is None:
        word = bool(re.search(r"[^\W\d_]", form.behind))
        puzzles[Puzzle.UNIT_UNKNOWN if word else Puzzle.UNIT_NOT_SENT] = form.behind or form.alike[-1]
    if len(form.places) > 1:
        puzzles[Puzzle.DECIMALS_DIFFER] = ", ".join(map(str, sorted(form.places)))
    if form.signs in ({"-"}, {"+"}, {""}):
        puzzles[Puzzle.SIGN_NOT_SEEN] = form.alike[-1]
    if form.others:
        puzzles[Puzzle.OTHER_NUMBER] = form.others
    if len(form.alike) < len(lines):
        puzzles[Puzzle.OTHER_LINES] = next(line for line in lines if line not in form.alike)
    settings = [
        ("about", "lines of text, proposed from what was heard"),
        *talk,
        ("pattern", form.pattern),
        ("example", form.alike[-1]),
        *([("decimal", "comma")] if form.comma else []),
        *([("decimals", min(form.places))] if len(form.places) == 1 and not form.power else []),
        *([("unit", unit)] if not form.units else []),
    ]
    proposal = _tried(settings, {"units": form.units} if form.units else {}, lines)
    return replace(proposal, puzzles=(*puzzles, *proposal.puzzles), detail=puzzles | proposal.detail)


def _tried(settings: Sequence[tuple[str, object]], tables: dict[str, dict[str, str]], texts: Sequence[str]) -> Proposal:
    """The settings as TOML, tried on what was heard. A unit of None is left for the person, and tried as mm."""
    toml = _toml(settings, tables)
    known = ("unit", None) not in settings
    try:
        trial = read_profile(toml if known else _toml([*settings, ("unit", "mm")], tables), "proposed.toml")
    except ProfileError as error:
        return replace(_puzzled(Puzzle.NO_NUMBER, str(error)), lines=len(texts), not_understood=tuple(texts[:5]))
    others = [text for text in texts if not isinstance(interpret(Frame(b"", text, 0.0), trial), Reading)]
    return Proposal(toml, trial if known else None, len(texts), len(texts) - len(others), tuple(others[:5]))


def _toml(settings: Sequence[tuple[str, object]], tables: dict[str, dict[str, str]]) -> str:
    rows = [_row(key, value) for key, value in settings]
    for name, content in tables.items():
        rows += ["", f"[{name}]", *(f"{_quoted(key)} = {_quoted(value)}" for key, value in content.items())]
    return "\n".join(rows) + "\n"


def _row(key: str, value: object) -> str:
    if value is None:
        return f'# {key} = "mm"  # not sent: write the {key} of the display'
    if key == "pattern" and "'" not in str(value) and str(value).isprintable():
        return f"{key} = '{value}'"
    return f"{key} = {_quoted(value)}"


def _quoted(value: object) -> str:
    """JSON writes texts and whole numbers as TOML does."""
    return json.dumps(value, ensure_ascii=False)
