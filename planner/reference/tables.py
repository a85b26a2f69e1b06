"""The reference tables: every constant with its source, its place and its kind.

A row is looked up by its exact name. A name that is not there raises and
suggests near ones; it never picks one. Formulas live elsewhere: here are
numbers only.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Final, Literal

from planner.errors import ReferenceTableError, nearest

Kind = Literal["published", "measured", "practice", "assumed"]
KINDS: Final = ("published", "measured", "practice", "assumed")
TABLES: Final = ("film", "frame", "terrain", "work_rules", "labour", "planning")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One constant.

    Attributes
    ----------
    key : str
        Its name in the table.
    value, low, high : float
        The value used and the range it may lie in [``unit``].
    unit : str
        Its unit, ``"-"`` for a pure number.
    kind : {"published", "measured", "practice", "assumed"}
        How far it can be trusted.
    source : str
        A key of ``sources.toml``.
    where : str
        The table, equation or page in that source.
    note : str
        What a reader must know before using it.
    """

    key: str
    value: float
    low: float
    high: float
    unit: str
    kind: Kind
    source: str
    where: str = ""
    note: str = ""


@cache
def table(name: str) -> dict[str, Row]:
    """Give a whole reference table.

    Parameters
    ----------
    name : str
        One of ``TABLES``.

    Returns
    -------
    dict of str to Row
        The rows by key.

    Raises
    ------
    ReferenceTableError
        If there is no such table.
    """
    if name not in TABLES:
        raise ReferenceTableError("tables", name, nearest(name, TABLES))
    rows = _read(f"{name}.toml")
    return {key: Row(key=key, **row) for key, row in rows.items()}


@cache
def sources() -> dict[str, dict[str, str]]:
    """Give every source by its key: ``title``, ``author``, ``year``, ``place``."""
    return _read("sources.toml")


def row(name: str, key: str) -> Row:
    """Look up one row by its exact key.

    Parameters
    ----------
    name : str
        One of ``TABLES``.
    key : str
        The row's key.

    Returns
    -------
    Row
        The row.

    Raises
    ------
    ReferenceTableError
        If the key is not there; near keys are named in the message.
    """
    rows = table(name)
    if key not in rows:
        raise ReferenceTableError(name, key, nearest(key, rows))
    return rows[key]


def value(name: str, key: str) -> float:
    """Look up one value by its exact key [unit as in the row].

    Parameters
    ----------
    name : str
        One of ``TABLES``.
    key : str
        The row's key.

    Returns
    -------
    float
        The value.

    Raises
    ------
    ReferenceTableError
        If the key is not there.
    """
    return row(name, key).value


def _read(file: str) -> dict[str, dict[str, Any]]:
    text = resources.files("planner.reference").joinpath(file).read_text(encoding="utf-8")
    return tomllib.loads(text)
