"""The weather formats the planner knows: each is a map, not a program.

A map is one TOML file in ``planner/weather/formats/``. To add a format, write
one more; the reader needs no change unless its data is laid out in a new way.

======================  =============================================================
key                     meaning
======================  =============================================================
name, title             for ``--format`` and for people
credit, license, kind   whom to name; forecast, ensemble or observed
label                   "start" or "end" of the hour, or "closes": a report at any
                        minute belongs to the hour it closes
gust_meaning            "hour maximum", "10-minute maximum" or "none"
gust_resolution         step to which gusts are rounded [m/s]
recognise.*             see ``recognise``
layout.shape            left out for a text table; else how a JSON answer is laid out
                        (see ``shapes``), or "epw" or "tmy3" (see ``typical``)
layout.together         the way out where each quantity has a file of its own
layout.all_known        true: any other column is noted, with the nearest name
layout.separator        between fields, if not ","; " " is any run of blanks
layout.names            the fields of a table without a header
layout.inner            splits one field further: "WND.3" is the fourth part of WND
layout.comment          first character of a line to leave out
layout.metadata         "comments" (lines "# key: value" or "# key -> value"), "block" (a
                        header and a row of its own above the data) or "columns" (the
                        first row's cells, and comments)
layout.blocks           further tables may follow behind a blank line
layout.header_units     units stand in the header, in parentheses
layout.issue            column that says when each row's forecast was issued, if a file can
                        hold several forecasts; with it the kind is forecast
layout.unjoined         the label under which states stay as they are (see ``joins``)
layout.member           ending that marks the columns of one possible weather
layout.models           "regex" of what may stand behind a name: a model, or an earlier run
layout.sum_needs        parts without which a sum is not made (see ``combine``)
layout.earlier          "regex" of the endings that mean an earlier run, by days
layout.group            column that names the place, if a file can hold several;
                        ``group_name`` is the word for it, if not "station"
layout.missing          what stands for "no value" in any column, if not an empty field
layout.suspect          letter behind a number that the source doubts: taken as missing
layout.filled           ending of the columns that say where a number is from;
                        ``by_model`` are the words in them that mean a model
layout.bad              marks of quality with which no number is taken (see ``quality``)
layout.rows             left out: one row an hour. "reports": any minute, several an hour.
                        "parts": equal parts of the hour
layout.keep             { COLUMN = [words] }: rows with other words are left out
layout.prefer           { COLUMN = [words] }: in an hour with such rows only these
                        count; of the others only gust and rain
time.kind               "iso", "iso or unix" or "parts"
time.columns, .zone     where the time stands; its clock if the file does not say, with
                        "standard" for the place's standard time the year round
time.parts              kind "parts": what each column holds (see ``clock``)
time.reports            column with airport reports, by whose time the clock is checked
metadata.*              the file's names for latitude, longitude, elevation, name, zone,
                        offset (seconds east), issued, issued_from, credit, label, kind,
                        gust_resolution, gust_meaning, fetched, stale, doubt
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

from planner.errors import UnitError, WeatherError
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
_RULES: Final = ("only", "unless", "trace_where")
_LISTS: Final = ("missing", "between", "words", "bad")
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
    trace : tuple of float or str
        Numbers and words that stand for a trace of rain.
    trace_value : float
        What a trace counts as [unit of the table].
    trace_where : dict of str to tuple of str
        Columns and what stands in them beside a trace.
    joins : {"", "mean", "larger", "first"}
        "": the number is of the labelled hour. Else it is the state at the label, and
        the hour takes the mean, the larger or the first of its two ends.
    between : tuple of float or None
        Codes that mean yes (1); all others mean no (0).
    words : tuple of str
        Words ("regex", in small letters) that mean yes (1) where a text has one of them;
        any other text means no, or nothing if the source is ``silent``.
    compass : bool
        The direction is a word: N, NNE, ...
    combine : {"", "larger", "sum"}
        Of several columns for one of ours: "" takes the first that holds anything,
        "larger" in each row the largest there is; "sum" adds parts up, where the whole
        is not given.
    quality, bad : str and tuple of str
        Column with a mark of quality, and the marks with which a number is not taken, if
        other than those of the layout.
    only : dict of str to tuple of str
        Columns and what must stand in them for the number to count.
    unless : dict of str to tuple of str
        Columns and words ("regex", in small letters) that may not be in them for the
        number to count.
    shared : bool
        The number is the sum over an interval, shared evenly by its hours.
    height : float
        The height at which wind is measured, if it is not 10 m [m].
    """

    name: str
    to: str
    unit: str = ""
    scale: float = 1.0
    missing: tuple[float, ...] = ()
    trace: tuple[float | str, ...] = ()
    trace_value: float = 0.0
    trace_where: dict[str, tuple[str, ...]] = field(default_factory=dict)
    joins: Literal["", "mean", "larger", "first"] = ""
    between: tuple[float, float] | None = None
    words: tuple[str, ...] = ()
    silent: bool = False
    compass: bool = False
    combine: Literal["", "larger", "sum"] = ""
    quality: str = ""
    bad: tuple[str, ...] = ()
    only: dict[str, tuple[str, ...]] = field(default_factory=dict)
    unless: dict[str, tuple[str, ...]] = field(default_factory=dict)
    shared: bool = False
    height: float = 0.0

    @property
    def needs(self) -> tuple[str, ...]:
        """The columns of the file it is taken from: its own and those that judge it."""
        judges = (self.quality, *self.only, *self.unless, *self.trace_where)
        return (self.name, *(name for name in judges if name))

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
    """A map: how one kind of weather file is recognised and read (see the module).

    ``known`` are the columns of a file that the map speaks of.
    """

    name: str
    title: str
    credit: str
    license: str
    kind: WeatherKind
    label: Label
    gust_meaning: GustMeaning
    precipitation_meaning: str
    gust_resolution: float = 0.0
    recognise: dict[str, Any]
    layout: dict[str, Any]
    time: dict[str, Any]
    metadata: dict[str, str] = field(default_factory=dict)
    columns: tuple[Source, ...]
    known: frozenset[str] = field(init=False)

    @property
    def shape(self) -> str:
        """How an answer that is no text table is laid out, "" for a text table."""
        return str(self.layout.get("shape", ""))

    @property
    def separator(self) -> str:
        """What stands between fields of a text table."""
        return str(self.layout.get("separator", ","))

    @property
    def missing(self) -> tuple[str, ...]:
        """What stands for "no value" in any column."""
        return tuple(self.layout.get("missing", ("",)))

    def __post_init__(self) -> None:
        object.__setattr__(self, "known", self._spoken_of())

    def _spoken_of(self) -> frozenset[str]:
        names = {name for source in self.columns for name in source.needs}
        names |= {*self.time.get("columns", ()), self.time.get("reports", "")}
        names |= {self.layout.get("issue", ""), self.layout.get("group", "")}
        names |= {*self.layout.get("keep", ()), *self.layout.get("prefer", ())}
        if "filled" in self.layout:
            names |= {f"{source.name}{self.layout['filled']}" for source in self.columns}
        if self.layout.get("metadata") == "columns":
            names |= set(self.metadata.values())
        return frozenset(names - {""})

    def fields(self, line: str, separator: str | None = None) -> tuple[Field, ...]:
        """Split a header line into its fields."""
        if "names" in self.layout:
            cells = [str(name) for name in self.layout["names"]]
        else:
            cells = split_line(line.lstrip("#").strip(), separator or self.separator)
        return tuple(self.field(at, cell) for at, cell in enumerate(cells))

    def field(self, at: int, cell: str, unit: str = "") -> Field:
        """Tell a field by what its header says.

        Parameters
        ----------
        at : int
            Where it stands, from 0 [-].
        cell : str
            The header.
        unit : str
            Its unit, where that stands elsewhere.

        Returns
        -------
        Field
            Name, unit, model and member.
        """
        name, member, model = cell.strip(), "", ""
        if self.layout.get("header_units") and not unit and (found := _FIELD.match(name)):
            name, unit = found.group(1), found.group(2) or ""
        ending = self.layout.get("member")
        if ending and (split := re.match(rf"^(.+?){ending}(\d+)(_.+)?$", name)):
            name, member = split.group(1) + (split.group(3) or ""), split.group(2)
        if "models" in self.layout and name not in self.known:
            bases = [base for base in self.known if name.startswith(f"{base}_")]
            base = max(bases, key=len, default="")
            if base and re.match(self.layout["models"], name[len(base) + 1 :]):
                name, model = base, name[len(base) + 1 :]
        return Field(at=at, name=name, unit=unit, member=member, model=model)


def unit_code(code: Any) -> str:
    """Give the unit in a code of a register: "wmoUnit:km_h-1" is "km_h-1"."""
    return str(code or "").rpartition(":")[2]


def split_line(line: str, separator: str) -> list[str]:
    """Split one line into its fields, those in quotation marks kept whole."""
    if separator == " ":
        return line.split()
    return next(csv.reader([line], delimiter=separator), [])


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of a header: where it stands, its name, unit, member and model."""

    at: int
    name: str
    unit: str = ""
    member: str = ""
    model: str = ""


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
        lists: dict[str, Any] = {key: tuple(row[key]) for key in _LISTS if key in row}
        if "trace" in row:
            said = row["trace"]
            lists["trace"] = tuple(said) if isinstance(said, list) else (said,)
        for rule in _RULES:
            if rule in row:
                lists[rule] = {key: tuple(words) for key, words in row[rule].items()}
        sources.append(Source(**{"name": name, **row, **lists}))
    return Format(**each, columns=tuple(sources))
