"""Patterns of a profile: regular expressions that cannot hang.

A search that goes wrong must not stop the hand at the spindle, so the time a pattern takes is bounded by its form and
not by a clock. Lines are at most 256 bytes, and

- a repeat takes all it can and gives nothing back (each ``*``, ``+``, ``?`` and ``{m,n}`` is made possessive),
- a repeat follows one character or one class; a group may be optional, not repeated,
- at most ten choices (``|`` or an optional group) stand in a pattern,
- no lazy repeats, look-arounds, back references or flags.

What is left passes over the line at most once for each of at most 2^10 ways through the choices.
"""

import re
import warnings
from typing import Final

GROUPS: Final = ("number", "sign", "unit", "status", "places", "count", "index")
"""The names a group may have, and what it holds; see the profile writer's page."""

MOST_CHOICES: Final = 10
LONGEST_PATTERN: Final = 300

_TOKEN: Final = re.compile(
    r"(?P<escape>\\.)"
    r"|(?P<character_class>\[\^?\]?(?:\\.|[^\]\\])*\])"
    r"|(?P<repeat>(?:[*+?]|\{[0-9]*(?:,[0-9]*)?\})(?P<suffix>[?+]?))"
    r"|(?P<open>\((?:\?:|\?P<(?P<name>[A-Za-z_][A-Za-z0-9_]*)>)?(?!\?))"
    r"|(?P<close>\))"
    r"|(?P<choice>\|)"
    r"|(?P<plain>[^\\\[\](){}*+?|])",
    re.DOTALL,
)


class PatternError(ValueError):
    """A pattern that cannot be used; ``remedy``: what to write instead."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.remedy = remedy


def compiled(pattern: str) -> re.Pattern[str]:
    """``pattern`` ready for ``fullmatch``. Raises PatternError for what is no pattern, or one that could hang."""
    if len(pattern) > LONGEST_PATTERN:
        raise PatternError(f"is longer than {LONGEST_PATTERN} characters", "Write a simpler one.")
    safe, before, at, choices = [], "", 0, 0
    while at < len(pattern):
        token = _TOKEN.match(pattern, at)
        if token is None or (token["escape"] and token["escape"][1].isdigit()):
            raise PatternError(
                f'has "{pattern[at : at + 4]}" at character {at + 1}, which is not taken here',
                "Groups are (?P<number>...), (?:...) and (...); a backslash stands before a sign that is meant itself.",
            )
        at = token.end()
        kind = str(token.lastgroup)
        choices += kind == "choice" or (token[0] == "?" and before == "close")
        if token["name"] and token["name"] not in GROUPS:
            raise PatternError(f'has a group "{token["name"]}"', f"Groups are named {', '.join(GROUPS)}.")
        safe.append(_possessive(token, before) if token["repeat"] else token[0])
        before = "repeat" if token["repeat"] else kind
    if choices > MOST_CHOICES:
        raise PatternError(f"has more than {MOST_CHOICES} choices", "Write one profile for each kind of line.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", FutureWarning)
            return re.compile("".join(safe), re.ASCII)
    except (re.error, OverflowError, FutureWarning) as error:
        raise PatternError(f"is no regular expression: {error}", "Correct it there.") from None


def _possessive(repeat: re.Match[str], before: str) -> str:
    if repeat["suffix"] == "?":
        raise PatternError(f'has the lazy repeat "{repeat[0]}"', "Name what is skipped, as in [^0-9]*.")
    if before == "close":
        if repeat[0] != "?":
            raise PatternError(
                f'repeats a group with "{repeat[0]}"', "Repeat one character or one class, as in [0-9]+."
            )
        return "?"
    return repeat[0] if repeat["suffix"] else repeat[0] + "+"
