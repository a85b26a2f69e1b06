"""The weather formats the planner knows: each is a map, not a program.

A map is one TOML file in ``planner/weather/formats/``. To add a format, write
one more; the reader needs no change unless its times are composed in a new way.

======================  =============================================================
key                     meaning
======================  =============================================================
name, title             for ``--format`` and for people
credit, license, kind   whom to name; forecast, ensemble or observed
label                   "start" or "end" of the hour, or "closes": a report at any
                        minute belongs to the hour it closes
gust_meaning            "hour maximum", "10-minute maximum" or "none"
gust_resolution         step to which gusts are rounded [m/s]
recognise.columns       header words that must all be there
recognise.some          header words of which one must be there, or all of
recognise.words         these words must stand at the head of the file
layout.all_known        true: any other column is noted, with the nearest name
layout.separator        between fields
layout.comment          first character of a line to leave out
layout.metadata         "comments" (lines "# key: value") or "block" (a header and a row
                        of its own above the data)
layout.blocks           further tables may follow behind a blank line
layout.header_units     units stand in the header, in parentheses
layout.issue            column that says when each row's forecast was issued, if a file can
                        hold several forecasts; with it the kind is forecast
layout.unjoined         the label under which states stay as they are (see ``joins``)
layout.member           ending that marks the columns of one possible weather
layout.group            column that names the place, if a file can hold several;
                        ``group_name`` is the word for it
layout.missing          what stands for "no value" in any column
time.kind               "iso", "iso or unix" or "day and hour" (20260420 and 1 to 24)
time.columns, .zone     where the time stands; its clock if the file does not say
metadata.*              the file's names for latitude, longitude, elevation, name, zone,
                        offset (seconds east), issued, credit, label, kind,
                        gust_resolution
columns.NAME            see ``Source``
======================  =============================================================
"""

from __future__ import annotations

import csv
import re
import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Any, Final, Literal

from planner.errors import UnitError, UnknownFormat, WeatherError, nearest
from planner.units import unit_factor
from planner.weather.table import COLUMN, GustMeaning, WeatherKind

Label = Literal["start", "end", "closes"]
LABELS: Final = ("start", "end", "closes")

#: Spellings of the units that have no dimension in ``planner.units``.
_PLAIN_UNITS: Final = {
    "%": ("%", "percent"),
    "W/m2": ("W/m2", "W/m²", "W m-2"),
    "-": ("-", "", "wmo code"),
}
_FIELD: Final = re.compile(r"^(.*?)\s*(?:\((.*)\))?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One column of a file and what it is in the planner's table.

    Attributes
    ----------
    name, to : str
        Its name there and here.
    unit : str
        Its unit, where the header does not say.
    scale : float
        By which the printed number is multiplied before its unit is read [-].
    missing : tuple of float
        Numbers that stand for "no value".
    trace : float or str or None
        The number or word that stands for a trace of rain.
    trace_value : float
        What a trace counts as [unit of the table].
    joins : {"", "mean", "larger", "first"}
        "": the number is of the labelled hour. Else it is the state at the label, and
        the hour takes the mean, the larger or the first of its two ends.
    adds : bool
        One of several parts of a sum, used only where the sum itself is not given.
    between : tuple of float or None
        Codes that mean yes (1); all others mean no (0).
    """

    name: str
    to: str
    unit: str = ""
    scale: float = 1.0
    missing: tuple[float, ...] = ()
    trace: float | str | None = None
    trace_value: float = 0.0
    joins: Literal["", "mean", "larger", "first"] = ""
    adds: bool = False
    between: tuple[float, float] | None = None

    def factors(self, unit: str) -> tuple[float, float]:
        """Give the factor and offset from the printed number to the table's unit.

        Parameters
        ----------
        unit : str
            The unit in the header, or ``""``.

        Returns
        -------
        tuple of float
            ``own = printed * factor + offset``.

        Raises
        ------
        WeatherError
            If the unit cannot belong to this column.
        """
        unit = unit or self.unit
        column = COLUMN[self.to]
        if not column.dimension:
            if unit not in _PLAIN_UNITS[column.unit]:
                raise WeatherError(
                    f'"{unit}" is not a unit the planner knows for this column.',
                    fix=f"Give it in {column.unit}.",
                    key=self.name,
                )
            return self.scale, 0.0
        try:
            factor, offset = unit_factor(unit, column.dimension)
        except UnitError as err:
            raise WeatherError(
                f'"{unit}" is not a unit the planner knows for this column.',
                fix=f"Give it in {column.unit}, or name its unit in the header.",
                key=self.name,
            ) from err
        return self.scale * factor, offset


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """A map: how one kind of weather file is recognised and read (see the module)."""

    name: str
    title: str
    credit: str
    license: str
    kind: WeatherKind
    label: Label
    gust_meaning: GustMeaning
    precipitation_meaning: str
    gust_resolution: float = 0.0
    recognise: dict[str, list[str]]
    layout: dict[str, Any]
    time: dict[str, Any]
    metadata: dict[str, str] = field(default_factory=dict)
    columns: tuple[Source, ...]

    @property
    def separator(self) -> str:
        """What stands between fields."""
        return str(self.layout["separator"])

    def fields(self, line: str) -> tuple[Field, ...]:
        """Split a header line into its fields."""
        cells = next(csv.reader([line.lstrip("#").strip()], delimiter=self.separator), [])
        return tuple(self._field(at, cell.strip()) for at, cell in enumerate(cells))

    def _field(self, at: int, cell: str) -> Field:
        unit, member = "", ""
        name = cell
        if self.layout.get("header_units"):
            found = _FIELD.match(cell)
            name, unit = (found.group(1), found.group(2) or "") if found else (cell, "")
        ending = self.layout.get("member")
        if ending and (split := re.match(rf"^(.+){ending}(\d+)$", name)):
            name, member = split.groups()
        return Field(at=at, name=name, unit=unit, member=member)

    def fits(self, line: str, head: str) -> bool:
        """Say whether a line is this format's header, under the file's first lines."""
        if not all(name in line for name in self.recognise["columns"]):
            return False
        names = {one.name for one in self.fields(line)}
        if not names.issuperset(self.recognise["columns"]):
            return False
        words = self.recognise.get("words", [])
        some = self.recognise.get("some", [])
        if not some and not words:
            return True
        told = bool(words) and all(word in head for word in words)
        return told or any(name in names for name in some)


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of a header: where it stands, its name, unit and member number."""

    at: int
    name: str
    unit: str = ""
    member: str = ""


@cache
def formats() -> dict[str, Format]:
    """Give every known format by its name."""
    folder = resources.files("planner.weather").joinpath("formats")
    files = sorted(folder.iterdir(), key=lambda file: file.name)
    maps = [read_map(f.read_text(encoding="utf-8")) for f in files if f.name.endswith(".toml")]
    return {each.name: each for each in maps}


def read_map(text: str) -> Format:
    """Read one map.

    Parameters
    ----------
    text : str
        TOML, with the keys the module names.

    Returns
    -------
    Format
        The format.
    """
    each = tomllib.loads(text)
    sources = []
    for name, row in each.pop("columns").items():
        lists = {key: tuple(row[key]) for key in ("missing", "between") if key in row}
        sources.append(Source(**{"name": name, **row, **lists}))
    return Format(**each, columns=tuple(sources))


def find_format(
    head: list[str], *, name: str | None = None, file: str | None = None
) -> tuple[Format, int]:
    """Tell the format of a file from its first lines.

    Parameters
    ----------
    head : list of str
        The first lines of the file.
    name : str, optional
        The format the user asked for.
    file : str, optional
        For the error message.

    Returns
    -------
    tuple of Format and int
        The format, and the place of its header in ``head``, from 0.

    Raises
    ------
    UnknownFormat
        If none fits, or more than one, or the one asked for does not.
    """
    known = formats()
    listed = ", ".join(f"{each.name} ({each.title})" for each in known.values())
    if name is not None and name not in known:
        near = nearest(name, known)
        raise UnknownFormat(
            f'There is no format "{name}".',
            fix=f"Use {near[0]}." if near else f"Known: {listed}.",
            key="format",
        )
    tried = known.values() if name is None else [known[name]]
    text = "\n".join(head)
    found = [(each, at) for each in tried if (at := _header_line(each, head, text)) is not None]
    if len(found) == 1:
        return found[0]
    if found:
        names = " and ".join(each.name for each, _ in found)
        raise UnknownFormat(
            f"This file fits more than one format: {names}.",
            fix=f"Say which with --format {found[0][0].name}.",
            file=file,
        )
    first = next((line.strip() for line in head if line.strip()), "")[:60]
    if name is not None:
        needs = ", ".join(known[name].recognise["columns"])
        raise UnknownFormat(
            f"No line of this file is the header of {name}; it needs {needs} and more.",
            fix=f'It starts "{first}". Leave --format out, or give another. Known: {listed}.',
            file=file,
        )
    raise UnknownFormat(
        f'No known weather format fits this file; it starts "{first}".',
        fix=f"Known: {listed}. Save the hourly data as one of these, for example "
        "with a header line time,temp_air,wind_speed,wind_gust,precipitation.",
        file=file,
    )


def _header_line(each: Format, head: list[str], text: str) -> int | None:
    for at, line in enumerate(head):
        if each.fits(line, text):
            return at
    return None
