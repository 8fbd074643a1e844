"""The kinds of columns that tables are made of, the same on SQLite and PostgreSQL."""

from typing import Final

from sqlalchemy import REAL, BigInteger, CheckConstraint, Column, Double, ForeignKey, Integer, Text
from sqlalchemy.types import TypeEngine

Int: Final[TypeEngine[int]] = BigInteger().with_variant(Integer(), "sqlite")
_Real: Final[TypeEngine[float]] = Double().with_variant(REAL(), "sqlite")


def integer(name: str, *args: ForeignKey, null: bool = False, primary: bool = False) -> Column[int]:
    return Column(name, Int, *args, nullable=null, primary_key=primary, autoincrement=primary and not args)


def text(name: str, null: bool = False, default: str | None = "") -> Column[str]:
    return Column(name, Text, nullable=null, server_default=None if null else default)


def real(name: str, null: bool = False) -> Column[float]:
    return Column(name, _Real, nullable=null)


def one_of(column: str, values: tuple[str, ...], name: str) -> CheckConstraint:
    listed = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f"{column} IN ({listed})", name=name)
