"""Which sizes are there: of each kind and size system the set it makes, its gaps, odd sizes beside it, doubles."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from qclog.logbook.owned import Owned
from qclog.questions.owned.size_sets import SizeSet, size_set

_PM_PER_MM: Final = 1e9
_IN_NO_SETS: Final = ("other", "jaws")
"""Kinds whose sizes make no sets: soft jaws have that of their last job."""


@dataclass(frozen=True, slots=True)
class Missing:
    """A size of the set that is not there. ``bored_out``: what was bought as it and worked to another size since;
    ``gone``: what has it but is put away or out of service."""

    size_mm: float
    bored_out: tuple[str, ...]
    gone: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Beside:
    """A size beside the set; ``worked``: it was worked to that size."""

    size_mm: float
    item: str
    worked: bool


@dataclass(frozen=True, slots=True)
class Double:
    size_mm: float
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sizes:
    """The sizes of one kind and size system, each as written on a card. ``step_mm``: None where they make no set, and
    then nothing is present or missing."""

    kind: str
    system: str
    step_mm: float | None
    present_mm: tuple[float, ...]
    missing: tuple[Missing, ...]
    beside: tuple[Beside, ...]
    doubles: tuple[Double, ...]


def sizes(owned: Sequence[Owned], usable: Collection[int]) -> tuple[Sizes, ...]:
    """The sizes of all that is owned; ``usable``: the ids of what is not put away and not out of service.

    What a set is, is told from what was ever bought; it is one only while at least half of it is there. Only groups
    with something to tell are given.
    """
    groups: dict[tuple[str, str], list[Owned]] = {}
    for item in owned:
        if item.kind not in _IN_NO_SETS and size_of(item) is not None:
            groups.setdefault(family_of(item), []).append(item)
    found = [_sizes_of(alike, [item for item in alike if item.id in usable]) for _, alike in sorted(groups.items())]
    return tuple(one for one in found if one.step_mm is not None or one.beside or one.doubles)


def family_of(item: Owned) -> tuple[str, str]:
    """Kind and size system, what items share that may stand in for each other."""
    return item.kind, " ".join(item.system.casefold().split())


def size_of(item: Owned) -> int | None:
    """The size that counts, in picometres: the one it was worked to, or as it was bought."""
    return item.worked_to_pm or bought_as(item)


def bought_as(item: Owned) -> int | None:
    """The size it was bought as: the nominal one or, where that is not known, its bore as it came."""
    return item.nominal_pm or (item.size_pm if item.worked_to_pm is None else None)


def is_odd(item: Owned) -> bool:
    """Whether it was worked to another size than it was bought as."""
    return item.worked_to_pm is not None and item.worked_to_pm != bought_as(item)


def _sizes_of(alike: Sequence[Owned], usable: Sequence[Owned]) -> Sizes:
    whole = size_set(size for item in alike if (size := bought_as(item)) is not None)
    at = {item.id: _place(whole, item) for item in alike}
    present = {place for item in usable if (place := at[item.id]) is not None}
    if whole is not None and 2 * len(present) < len(whole.sizes_pm):
        whole, present = None, set()
    beside = [
        Beside(_mm(size_of(item) or 0), item.code, is_odd(item))
        for item in usable
        if (is_odd(item) if whole is None else at[item.id] is None)
    ]
    return Sizes(
        kind=alike[0].kind,
        system=alike[0].system,
        step_mm=None if whole is None else _mm(whole.step_pm),
        present_mm=tuple(_mm(size) for size in sorted(present)),
        missing=() if whole is None else tuple(_missing(whole, present, alike, at)),
        beside=tuple(sorted(beside, key=lambda one: one.size_mm)),
        doubles=tuple(_doubles(usable)),
    )


def _place(whole: SizeSet | None, item: Owned) -> int | None:
    """The size of the set that an item is now: bought as it and not worked on, or worked to exactly that size."""
    size = size_of(item)
    place = None if whole is None or size is None else whole.place_of(size)
    return None if is_odd(item) and place != size else place


def _missing(whole: SizeSet, present: set[int], alike: Sequence[Owned], at: dict[int, int | None]) -> Iterable[Missing]:
    for size in whole.sizes_pm:
        if size not in present:
            bored_out = [i for i in alike if at[i.id] != size and whole.place_of(bought_as(i) or 0) == size]
            gone = [item.code for item in alike if at[item.id] == size]
            yield Missing(_mm(size), tuple(item.code for item in bored_out), tuple(gone))


def _doubles(usable: Sequence[Owned]) -> Iterable[Double]:
    by_size: dict[int, list[str]] = {}
    for item in usable:
        by_size.setdefault(size_of(item) or 0, []).append(item.code)
    for size, codes in sorted(by_size.items()):
        if len(codes) > 1:
            yield Double(_mm(size), tuple(codes))


def _mm(size_pm: int) -> float:
    return size_pm / _PM_PER_MM
