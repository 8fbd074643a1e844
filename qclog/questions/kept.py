"""Sums of clampings kept from one question to the next, so that a large logbook is not read through each time.

They lie in the cache folder of whoever asks, not in the logbook, and answers never depend on them: an item is taken
from there only if the very same would come out again. That is so while

- the program that computed them is the same, to the byte, and so are numpy, scipy and the kind of machine;
- the figures they were made of add up to the same: a clamping struck out or derived anew changes that;
- the item's series are the same and have as many clampings, none of them in doubt; as much use of it was noted;
- what it was read with reads to the same steps, and failed no check.

Everything else (limits, calibrations, setups, who lends to whom) comes after the sums and is read anew. A file that is
missing, damaged or cannot be written costs time and nothing else.
"""

import contextlib
import hashlib
import io
import json
import os
import platform
import tempfile
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import config
from qclog.logbook.adding_up import add_up, newest_turn
from qclog.logbook.figures import NewestRows, Series, items_of
from qclog.logbook.recalls import all_in_doubt
from qclog.questions.changing.changes import Changes
from qclog.questions.changing.histories import clampings_in_work, in_setup_as_now
from qclog.questions.changing.plain import from_plain, plain
from qclog.questions.judging.gauging import ReadWith
from qclog.questions.judging.sums import OfSeries, Sums
from qclog.questions.known import Known
from qclog.statistics import many

Ints = npt.NDArray[np.int64]
Columns = dict[str, npt.NDArray[Any]]

_FORM: Final = 1
_CODE: Final = (".py", ".npz")


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """Of some items: their ids, the series that ``sums`` are of, changes by the id of the series, the newest rows."""

    items: frozenset[int]
    series: list[Series]
    sums: Sums
    changes: dict[int, Changes]
    newest: NewestRows


def read_kept(known: Known, wanted: Sequence[Series], *, changes: bool) -> Kept | None:
    """What is kept of items of a whole logbook and would come out the same again; None where that is nothing.

    ``wanted``: the series whose sums are asked for. ``changes``: whether those are too.
    """
    path = _path(known.connection)
    if path is None or not path.exists():
        return None
    try:
        with path.open("rb") as opened, np.load(opened, allow_pickle=False) as file:
            columns: Columns = dict(file)
        head = json.loads(columns["head"].tobytes())
        same = head["program"] == _program() and head["adds up to"] == add_up(known.connection, head["newest"])
        return _still_so(known, wanted, columns, changes=changes) if same else None
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile):
        return None


def keep(
    known: Known, series: Sequence[Series], sums: Sums, changes: Mapping[int, Changes], newest: NewestRows
) -> None:
    """Keep what items of a whole logbook came to, but for those that may not come to the same next time."""
    path, program = _path(known.connection), _program()
    if path is None or not program:
        return
    read_with, sizes, used = sums.read_with, known.sizes, clampings_in_work(known)
    unsure = _unsure(known, series, read_with)
    some = np.array([i for i, one in enumerate(series) if one.item_id not in unsure], dtype=np.int64)
    items = dict.fromkeys(one.item_id for one in known.series if one.item_id not in unsure)
    theirs = [one for one in known.series if one.item_id in items]
    chosen, ids = sums.chosen(some), {one.id for one in theirs}
    rows = np.isin(newest.series, list(ids))
    newest_one = newest_turn(known.connection)
    head = {"program": program, "newest": newest_one, "adds up to": add_up(known.connection, newest_one)}
    columns: Columns = {
        "head": _as_bytes(json.dumps(head)),
        "items": np.array([[item, _number(used.get(item))] for item in items], dtype=np.int64).reshape(-1, 2),
        "series": np.array([[one.id, _number(one), sizes.get(one.id, 0)] for one in theirs], dtype=np.int64),
        "newest": np.stack(newest.rows())[:, rows],
        "summed": np.array([series[i].id for i in some.tolist()], dtype=np.int64),
        "read with": np.stack([chosen.read_with.series, chosen.read_with.gauging, chosen.read_with.order]),
        "steps": known.gauges.least_steps_um(chosen.read_with.gauging),
        "changes": _as_bytes("\n".join(json.dumps([key, plain(one)]) for key, one in changes.items() if key in ids)),
        **{f"of {name}": column for name, column in many.columns(chosen.of).items()},
    }
    save: Callable[..., None] = np.savez
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                save(file, **columns)
            Path(name).replace(path)
        except OSError:
            Path(name).unlink(missing_ok=True)


def _still_so(known: Known, wanted: Sequence[Series], columns: Columns, *, changes: bool) -> Kept | None:
    """Of what was kept the items that would come out the same again."""
    sizes, used = known.sizes, clampings_in_work(known)
    found = {row[0]: row[1:] for row in columns["series"].tolist()}
    noted = dict(columns["items"].tolist())
    summed = {one: i for i, one in enumerate(columns["summed"].tolist())}
    read_with = ReadWith(*columns["read with"])
    same = {item for item, number in noted.items() if number == _number(used.get(item))}
    other = {one.item_id for one in known.series if found.get(one.id) != [_number(one), sizes.get(one.id, 0)]}
    other |= {one.item_id for one in wanted if one.id not in summed}
    by_id = {one.id: one for one in known.series}
    kept_series = [by_id.get(one) for one in summed]
    stepped = known.gauges.least_steps_um(read_with.gauging) != columns["steps"]
    other |= {one.item_id for i in np.unique(read_with.series[stepped]) if (one := kept_series[i]) is not None}
    other |= _unsure(known, kept_series, read_with)
    items = frozenset(same - other)
    series = [one for one in wanted if one.item_id in items]
    if not series:
        return None
    whole = Sums(
        many.from_columns(OfSeries, {name[3:]: column for name, column in columns.items() if name[:3] == "of "}),
        read_with,
    )
    changing = {one.id: one for one in series if changes and in_setup_as_now(one, known.setups)}
    newest = NewestRows(*columns["newest"])
    theirs = np.isin(newest.series, [one.id for one in known.series if one.item_id in items])
    return Kept(
        items=items,
        series=series,
        sums=whole.chosen(np.array([summed[one.id] for one in series], dtype=np.int64)),
        changes=_changes(columns["changes"], changing) if changes else {},
        newest=NewestRows(*(column[theirs] for column in newest.rows())),
    )


def _changes(written: npt.NDArray[np.uint8], of: Mapping[int, Series]) -> dict[int, Changes]:
    """Those of some series, by their ids; read line by line, as all together take much room."""
    found = {}
    for line in io.BytesIO(written.tobytes()):
        key, values = json.loads(line)
        if key in of:
            found[key] = from_plain(of[key], values)
    return found


def _as_bytes(text: str) -> npt.NDArray[np.uint8]:
    return np.frombuffer(text.encode(), dtype=np.uint8)


def _unsure(known: Known, series: Sequence[Series | None], read_with: ReadWith) -> set[int]:
    """The items with a clamping in doubt, or read with an indicator that failed a check; read_with: of ``series``."""
    failed = np.unique(read_with.series[known.gauges.check_failed(read_with.gauging)]).tolist()
    found = {one.item_id for i in failed if (one := series[i]) is not None}
    return found | items_of(known.connection, all_in_doubt(known.connection).tolist())


def _number(of: object) -> int:
    """A number that stands for what something is written as."""
    return int.from_bytes(hashlib.blake2b(repr(of).encode(), digest_size=8).digest(), "little", signed=True)


def _path(connection: sa.Connection) -> Path | None:
    """Where the sums of this logbook are kept; None of one in memory."""
    url = connection.engine.url
    file = connection.dialect.name == "sqlite"
    if file and not url.database:
        return None
    target = str(url.database) if file else url.render_as_string(hide_password=True)
    return config.sums() / f"{config.logbook_key(target)}.npz"


@cache
def _program() -> str:
    """What stands for this very program and what it computes with; '' where that cannot be told."""
    root = Path(__file__).parents[1]
    libraries = " ".join(version(name) for name in ("numpy", "scipy"))
    found = hashlib.sha256(f"{_FORM} {libraries} {platform.system()} {platform.machine()}".encode())
    try:
        for path in sorted(path for path in root.rglob("*") if path.suffix in _CODE):
            found.update(path.name.encode() + path.read_bytes())
    except OSError:
        return ""
    return found.hexdigest()
