"""Records of figures whose fields are arrays: many of one kind, or one by one."""

import itertools
import operator
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, TypeAlias, TypeVar

import numpy as np
import numpy.typing as npt

OneOrMany: TypeAlias = Any
"""A number, or an array of them: a figure of one record, or of many."""
Record = TypeVar("Record")


def of(record: Record, which: npt.NDArray[Any]) -> Record:
    """Some of many, by a mask or their places; a field may be such a record."""
    return _made(
        record,
        (of(value, which) if is_dataclass(value) else np.asarray(value)[which] for value in _values(record)),
    )


def joined(records: Sequence[Record]) -> Record:
    """Many and many more, at least one, as many behind each other; a field may be such a record."""
    return _made(
        records[0],
        (
            joined(column) if is_dataclass(column[0]) else np.concatenate(column)
            for column in zip(*map(_values, records), strict=True)
        ),
    )


def values(record: Any) -> tuple[Any, ...]:
    """The fields in their order, as they are."""
    return tuple(_values(record))


def columns(record: Any, name: str = "") -> dict[str, npt.NDArray[Any]]:
    """The fields of many by their names, those of a field that is such a record by both names with a dot."""
    found: dict[str, npt.NDArray[Any]] = {}
    for field in fields(record):
        value = getattr(record, field.name)
        found |= columns(value, f"{name}{field.name}.") if is_dataclass(value) else {name + field.name: value}
    return found


def from_columns(kind: type[Record], found: Mapping[str, npt.NDArray[Any]], name: str = "") -> Record:
    """The record that ``columns`` were made of. Raises KeyError where one is missing."""
    if not is_dataclass(kind):
        raise TypeError(kind)
    return kind(
        *(
            from_columns(field.type, found, f"{name}{field.name}.")
            if isinstance(field.type, type) and is_dataclass(field.type)
            else found[name + field.name]
            for field in fields(kind)
        )
    )


def each(record: Record) -> list[Record]:
    """Many (K,), one by one, of plain numbers. What is no array is the same of all; a field may be such a record."""
    return [_made(record, one) for one in zip(*map(_column, _values(record)), strict=False)]


def together(records: Sequence[Record]) -> Record:
    """One by one as many (K,), at least one."""
    return _made(records[0], (np.array(column) for column in zip(*map(_values, records), strict=True)))


def _column(value: Any) -> Iterable[Any]:
    if isinstance(value, np.ndarray):
        return list(value.tolist())
    return each(value) if is_dataclass(value) else itertools.repeat(value)


def _values(record: Any) -> Any:
    return _getter(record.__class__)(record)


@lru_cache
def _getter(kind: Any) -> Callable[[Any], Any]:
    return operator.attrgetter(*(field.name for field in fields(kind)))


def _made(like: Record, values: Iterable[Any]) -> Record:
    return type(like)(*values)
