"""The columns of a weather file in the planner's units, rows still in the file's order."""

from __future__ import annotations

import copy
import io
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import WeatherError, nearest
from planner.weather.formats import Field, Source
from planner.weather.table import COLUMNS, Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.table import Floats
    from planner.weather.text import Sheet

#: What a word for a trace of rain becomes until the trace's value takes its place.
_TRACE_WORD: Final = -1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """From which column of the file one of ours was taken, and how."""

    source: Source
    unit: str
    factor: float
    offset: float

    def printed(self, value: float) -> str:
        """Write a value of the table as the file has it: ``wind_speed 1048.4 mph``."""
        number = f"{(value - self.offset) / self.factor:.5g}"
        return " ".join(part for part in (self.source.name, number, self.unit) if part)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Rows of one or more files, in the table's units.

    Attributes
    ----------
    labels : numpy.ndarray of datetime64[ns], shape (rows,)
        The time each row is labelled with, UTC.
    values : dict of str to numpy.ndarray, shape (members or 1, rows)
        By column name.
    taken : dict of str to Taken
        Where each column came from.
    members : int
        How many possible weathers there are.
    files : tuple of str
        The files.
    file_at : numpy.ndarray, shape (rows,)
        Which of the files each row is from.
    lines : numpy.ndarray, shape (rows,)
        Line of that file, from 1.
    issues : numpy.ndarray of datetime64[ns] or None, shape (rows,)
        When the forecast of each row was issued, UTC; None where no column says so.
    """

    labels: NDArray[np.datetime64]
    values: dict[str, Floats]
    taken: dict[str, Taken]
    members: int
    files: tuple[str, ...]
    file_at: NDArray[np.int64]
    lines: NDArray[np.int64]
    issues: NDArray[np.datetime64] | None = None

    def take(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> Rows:
        """Give some of the rows, by place or by mask."""
        return replace(
            self,
            labels=self.labels[which],
            values={name: value[:, which] for name, value in self.values.items()},
            file_at=self.file_at[which],
            lines=self.lines[which],
            issues=None if self.issues is None else self.issues[which],
        )

    def with_values(self, **changed: Floats) -> Rows:
        """Give the same rows with some columns changed."""
        return replace(self, values={**self.values, **changed})

    def unjoined(self) -> Rows:
        """Give the same rows, each number taken for the hour of its label as it stands."""
        taken = {
            name: replace(one, source=replace(one.source, joins=""))
            for name, one in self.taken.items()
        }
        return replace(self, taken=taken)

    def where(self, row: int) -> str:
        """Name the place of a row: "line 5204", with its file if there are several."""
        line = f"line {self.lines[row]}"
        return line if len(self.files) == 1 else f"{Path(self.file_of(row)).name}, {line}"

    def file_of(self, row: int) -> str:
        """Name the file of a row."""
        return self.files[int(self.file_at[row])]


def join_rows(parts: list[Rows]) -> Rows:
    """Put the rows of several files one after another.

    Parameters
    ----------
    parts : list of Rows
        Of the same format.

    Returns
    -------
    Rows
        All of them; a column that a file lacks is missing (NaN) in its rows.

    Raises
    ------
    WeatherError
        If the files do not have the same members, or only some say when each
        forecast was issued.
    """
    if len(parts) == 1:
        return parts[0]
    names = [column.name for column in COLUMNS if any(column.name in p.values for p in parts)]
    counts = {part.members for part in parts}
    if len(counts) > 1:
        raise WeatherError(
            "The files do not have the same number of members.",
            fix="Read them one at a time.",
            file=parts[-1].files[0],
        )
    values = {}
    for name in names:
        high = max(len(part.values[name]) for part in parts if name in part.values)
        blocks = [
            np.broadcast_to(part.values.get(name, np.full((1, 1), np.nan)), (high, size))
            for part, size in ((part, part.labels.size) for part in parts)
        ]
        values[name] = np.concatenate(blocks, axis=1)
    return Rows(
        labels=np.concatenate([part.labels for part in parts]),
        values=values,
        taken={name: taken for part in parts[::-1] for name, taken in part.taken.items()},
        members=counts.pop(),
        files=tuple(part.files[0] for part in parts),
        file_at=np.repeat(np.arange(len(parts)), [part.labels.size for part in parts]),
        lines=np.concatenate([part.lines for part in parts]),
        issues=_join_issues(parts),
    )


def _join_issues(parts: list[Rows]) -> NDArray[np.datetime64] | None:
    told = [part.issues for part in parts if part.issues is not None]
    if told and len(told) < len(parts):
        lacks = next(part for part in parts if part.issues is None)
        raise WeatherError(
            "It does not say when each forecast was issued, as other files do.",
            fix="Read archives of forecasts and other files apart.",
            file=lacks.files[0],
        )
    return np.concatenate(told) if told else None


class Numbers:
    """The table of one sheet, read by pandas, and its columns in our units.

    Parameters
    ----------
    sheet : Sheet
        The table as text.

    Raises
    ------
    WeatherError
        If it cannot be read as a table.
    """

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        columns = sheet.format.time["columns"]
        self.clock = [next(f for f in sheet.fields if f.name == name) for name in columns]
        self.issue = self._field(sheet.format.layout.get("issue"))
        known = {source.name for source in sheet.format.columns}
        known.add(sheet.format.layout.get("group", ""))
        wanted = {field.at for field in sheet.fields if field.name in known}
        wanted |= {field.at for field in (*self.clock, self.issue) if field is not None}
        self.frame = self._read(wanted)
        if len(self.frame) != sheet.lines.size:
            raise WeatherError(
                "The lines of this table run into each other.",
                fix='Look for a quotation mark (") that is not closed.',
                file=sheet.file,
            )

    def _field(self, name: str | None) -> Field | None:
        return next((field for field in self.sheet.fields if field.name == name), None)

    def _read(self, wanted: set[int]) -> pd.DataFrame:
        as_text = [] if self.sheet.format.time["kind"] == "day and hour" else [*self.clock]
        as_text += [self.issue] if self.issue is not None else []
        try:
            return pd.read_csv(
                io.BytesIO(self.sheet.block),
                sep=self.sheet.format.separator,
                header=None,
                names=list(range(len(self.sheet.fields))),
                usecols=sorted(wanted),
                dtype={field.at: str for field in as_text},
                na_values=self.sheet.format.layout["missing"],
                keep_default_na=False,
                skipinitialspace=True,
                low_memory=False,
                encoding=self.sheet.encoding,
            )
        except (ValueError, pd.errors.ParserError) as err:
            raise WeatherError(
                f"The table cannot be read ({err}).",
                fix="Save it again as CSV.",
                file=self.sheet.file,
            ) from err

    def groups(self) -> NDArray[np.object_] | None:
        """Give the name of the place of each row, or None if the file has no such column."""
        field = self._field(self.sheet.format.layout.get("group"))
        if field is None:
            return None
        column = self.frame[field.at]
        blank = np.flatnonzero(column.isna())
        if blank.size:
            raise WeatherError(
                "This line does not say which place it is for.",
                fix="Mend the line or take it out.",
                file=self.sheet.file,
                line=int(self.sheet.lines[blank[0]]),
                key=field.name,
            )
        kinds = column.unique()
        if len(kinds) == 1:
            return np.full(len(column), str(kinds[0]).strip(), object)
        return column.astype(str).str.strip().to_numpy(object)

    def once(self, times: Field) -> tuple[Numbers, NDArray[np.int64]]:
        """Give the first row of each time in a column, and which of them each row has."""
        which, _ = pd.factorize(self.frame[times.at], use_na_sentinel=False)
        first = np.unique(which, return_index=True)[1]
        each = copy.copy(self)
        each.clock = [times]
        each.frame = self.frame.iloc[first].reset_index(drop=True)
        each.sheet = replace(self.sheet, lines=self.sheet.lines[first])
        return each, which

    def columns(self) -> tuple[dict[str, Floats], dict[str, Taken], int]:
        """Give every known column in the table's unit, where it came from, and the members."""
        values: dict[str, Floats] = {}
        taken: dict[str, Taken] = {}
        members: dict[str, tuple[str, ...]] = {}
        for column in COLUMNS:
            for sources in self._choices(column.name):
                if column.name in values and not np.isnan(values[column.name]).all():
                    break
                got = [self._values(source) for source in sources]
                values[column.name] = np.sum(got, axis=0) if len(got) > 1 else got[0]
                taken[column.name] = self._taken(sources[0])
                members |= {s.name: tuple(f.member for f in self._of(s)) for s in sources}
        several = {names for names in members.values() if names != ("",)}
        if len(several) > 1 or any(len(names) == 1 for names in several):
            raise WeatherError(
                "The columns of the ensemble do not all have the same members.",
                fix="Ask for one model at a time, with all columns.",
                file=self.sheet.file,
            )
        return values, taken, len(next(iter(several), ("",)))

    def _choices(self, name: str) -> list[list[Source]]:
        """Give what a column can be taken from, best first; several are to be added up."""
        there = [s for s in self.sheet.format.columns if s.to == name and self._of(s)]
        parts = [source for source in there if source.adds]
        return [[s] for s in there if not s.adds] + ([parts] if parts else [])

    def _of(self, source: Source) -> list[Field]:
        fields = [field for field in self.sheet.fields if field.name == source.name]
        return sorted(fields, key=lambda field: int(field.member or -1))

    def _taken(self, source: Source) -> Taken:
        unit = self._of(source)[0].unit
        try:
            factor, offset = source.factors(unit)
        except WeatherError as err:
            err.file = self.sheet.file
            raise
        return Taken(source=source, unit=unit or source.unit, factor=factor, offset=offset)

    def _values(self, source: Source) -> Floats:
        taken = self._taken(source)
        numbers = np.array([self.number(field, source) for field in self._of(source)])
        if source.between is not None:
            low, high = source.between
            yes = ((numbers >= low) & (numbers <= high)).astype(np.float64)
            return np.where(np.isnan(numbers), np.nan, yes)
        code = _TRACE_WORD if isinstance(source.trace, str) else source.trace
        trace = numbers == code if code is not None else None
        for missing in source.missing:
            numbers[numbers == missing] = np.nan
        numbers = numbers * taken.factor + taken.offset
        if trace is not None:
            numbers[trace] = source.trace_value
        return numbers

    def number(self, field: Field, source: Source | None) -> Floats:
        """Give one column as printed numbers; name the first word that is none."""
        column = self.frame[field.at]
        if column.dtype.kind in "fiu":
            return column.to_numpy(np.float64)
        text = column.astype(str).where(column.notna(), "").str.strip()
        if source is not None and isinstance(source.trace, str):
            text = text.where(text != source.trace, str(_TRACE_WORD))
        empty = text.isin([*self.sheet.format.layout["missing"], ""])
        numbers = pd.to_numeric(text.where(~empty), errors="coerce").astype(np.float64)
        wrong = np.flatnonzero(numbers.isna() & ~empty)
        if wrong.size:
            raise WeatherError(
                f'"{text.iloc[int(wrong[0])]}" is not a number.',
                fix="Mend it, or leave the field empty where there is no value.",
                file=self.sheet.file,
                line=int(self.sheet.lines[wrong[0]]),
                key=field.name,
            )
        return np.asarray(numbers, np.float64)


def note_unknown(sheet: Sheet, notes: list[Note]) -> None:
    """Note columns that a format without other columns cannot have, with the nearest name."""
    known = {source.name for source in sheet.format.columns} | set(sheet.format.time["columns"])
    known.add(sheet.format.layout.get("issue", ""))
    if not sheet.format.layout.get("all_known"):
        return
    for field in sheet.fields:
        if field.name not in known:
            near = nearest(field.name, known)
            hint = f' Did you mean "{near[0]}"?' if near else ""
            text = f'The column "{field.name}" is not known and was not read.{hint}'
            notes.append(Note(code="unknown_column", text=text, doubt=bool(near)))
