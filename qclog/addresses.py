"""Where a logbook lives: the path of a file, or the URL of a server, which may hold a password that nobody may see."""

import re
from typing import Final

_URL: Final = re.compile(r"[^/\\]*://|postgres[a-z0-9+]*:", re.IGNORECASE)
_PARTS: Final = re.compile(
    r"(?P<scheme>[\w+.-]+)://"
    r"(?:(?P<user>[^:/@?#]*)(?::[^@/?#]*)?@)?"
    r"(?P<host>\[[0-9a-fA-F:.]*\]|[^:/@?#\[\]]*)(?::(?P<port>[0-9]*))?"
    r"(?:/(?P<database>[^/@?#]*))?(?:\?(?P<query>[^@?#]*))?",
    re.ASCII,
)
_PLACES: Final = ("host", "hostaddr", "port", "service")
"""What a query may say of where the server is; nothing else of it is shown."""
_SECRET: Final = re.compile(
    r"(?P<before>(?:://|postgres\w*:|\b[a-z]\w{0,40}:(?=[^\s'\":@]{1,200}:[^\s'\"]{0,200}@))[^\s'\":@]*):"
    r"(?![0-9]{1,5}(?:[/?\s]|$))(?:[^\s'\"]*(?=@)|[^\s'\"]+)"
    r"|(?P<rest>(?<!:)//[^\s'\":@]*):[^\s'\"]+"
    r"|(?P<name>password=)[^\s'\"&]+",
    re.IGNORECASE,
)
"""Also in a URL whose scheme was mistyped: user, password and host are told by their colons and the @; and in what is
left of one that was cut after its scheme."""


def is_url(target: str) -> bool:
    """Whether ``target`` names a database server rather than a file."""
    return _URL.match(target) is not None


def shown(target: str) -> str:
    """``target`` as it may be printed: a path as it is, a URL without its password; of one that cannot be taken apart
    beyond doubt, the scheme only."""
    if not is_url(target):
        return target
    parts = _PARTS.fullmatch(target)
    if parts is None:
        return f"{target.partition(':')[0]}://..."
    user = f"{parts['user']}@" if parts["user"] else ""
    port = f":{parts['port']}" if parts["port"] else ""
    places = [pair for pair in (parts["query"] or "").split("&") if pair.partition("=")[0] in _PLACES]
    query = f"?{'&'.join(places)}" if places else ""
    return f"{parts['scheme']}://{user}{parts['host']}{port}/{parts['database'] or ''}{query}"


def is_plain(target: str) -> bool:
    """Whether a URL can be taken apart beyond doubt."""
    return _PARTS.fullmatch(target) is not None


def without_passwords(text: str) -> str:
    """``text``, such as a traceback, with the passwords of URLs in it taken out."""
    return _SECRET.sub(_covered, text)


def _covered(found: re.Match[str]) -> str:
    where = found["before"] or found["rest"]
    return f"{where}:***" if where else f"{found['name']}***"
