"""The columns of a sheet as numbers in the planner's units."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import WeatherError
from planner.reference.tables import value
from planner.weather.hourly.rows import Taken
from planner.weather.table import COLUMNS, Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.file.sheet import Sheet
    from planner.weather.formats.maps import Field, Source
    from planner.weather.table import Floats

#: What a word for a trace of rain becomes until the trace's value takes its place.
_TRACE_WORD: Final = -1e9
#: Points of the compass, clockwise from north.
_POINTS: Final = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)
_USUAL_HEIGHT: Final = 10.0  # of a wind mast, WMO-No. 8 [m]


class Numbers:
    """The columns of one sheet in our units.

    Parameters
    ----------
    sheet : Sheet
        The table.
    notes : list of Note
        What was marked as suspect, or raised to 10 m, is added here.
    """

    def __init__(self, sheet: Sheet, notes: list[Note]) -> None:
        self.sheet, self.notes = sheet, notes
        self._suspect: dict[str, int] = {}
        self._joined: dict[int, tuple[str, NDArray[np.int64]]] = {}

    def columns(self) -> tuple[dict[str, Floats], dict[str, Taken], int]:
        """Give every known column in the table's unit, where it came from, and the members.

        Returns
        -------
        tuple
            Values by column name, shape (members or 1, rows); where each came from; how
            many members there are.

        Raises
        ------
        WeatherError
            If a value is no number, a unit is not known, or the members differ.
        """
        values: dict[str, Floats] = {}
        taken: dict[str, Taken] = {}
        members: dict[str, tuple[str, ...]] = {}
        for column in COLUMNS:
            for sources in self._choices(column.name):
                if column.name in values and not np.isnan(values[column.name]).all():
                    break
                values[column.name] = self._together(sources)
                taken[column.name] = self._taken(sources[0])
                members |= {
                    s.name: tuple(f.member for f in self.sheet.named(s.name)) for s in sources
                }
        several = {names for names in members.values() if names != ("",)}
        if len(several) > 1 or any(len(names) == 1 for names in several):
            raise self.sheet.error(
                "The columns of the ensemble do not all have the same members.",
                fix="Ask for one model at a time, with all columns.",
            )
        self._tell(taken)
        return values, taken, len(next(iter(several), ("",)))

    def _choices(self, name: str) -> list[list[Source]]:
        """Give what a column can be taken from, best first; several belong together."""
        there = [
            s for s in self.sheet.format.columns if s.to == name and self.sheet.named(s.name)
        ]
        needed = set(self.sheet.format.layout.get("sum_needs", ()))
        larger, parts = ([s for s in there if s.combine == how] for how in ("larger", "sum"))
        if not needed <= {source.name for source in parts}:
            parts = []
        alone = [[source] for source in there if not source.combine]
        return [together for together in (larger, *alone, parts) if together]

    def _together(self, sources: list[Source]) -> Floats:
        got = [self._values(source) for source in sources]
        if len(got) == 1:
            return got[0]
        larger = sources[0].combine == "larger"
        return np.asarray(np.fmax.reduce(got) if larger else np.sum(got, axis=0), np.float64)

    def _taken(self, source: Source) -> Taken:
        unit = self.sheet.named(source.name)[0].unit
        if source.between is not None or source.words:
            return Taken(source=source, unit=unit, factor=1.0, offset=0.0)
        try:
            factor, offset = source.factors(unit)
        except WeatherError as err:
            err.file = self.sheet.file
            raise
        factor *= _to_ten_metres(source)
        return Taken(source=source, unit=unit or source.unit, factor=factor, offset=offset)

    def _values(self, source: Source) -> Floats:
        fields = self.sheet.named(source.name)
        if source.words:
            yes = np.array([self._with_words(field, source) for field in fields])
            yes[:, self._not_counted(source)] = np.nan
            return np.where(source.silent & (yes == 0.0), np.nan, yes * source.scale)
        taken = self._taken(source)
        numbers = np.array([self.number(field, source) for field in fields])
        out = self._not_counted(source)
        numbers[:, out] = np.nan
        for missing in source.missing:
            numbers[numbers == missing] = np.nan
        if source.between is not None:
            low, high = source.between
            within = ((numbers >= low) & (numbers <= high)).astype(np.float64)
            return np.where(np.isnan(numbers), np.nan, within)
        beside = self._beside(source.trace_where) & ~out
        codes = [_TRACE_WORD if isinstance(code, str) else code for code in source.trace]
        trace = np.isin(numbers, codes) | (beside & ~(numbers > 0.0))
        with np.errstate(over="ignore"):  # such a number is impossible, and told so later
            own = numbers * taken.factor + taken.offset
        return np.where(trace, source.trace_value, own)

    def _with_words(self, field: Field, source: Source) -> Floats:
        has = self._has_words(field, source.words)
        missing = self.sheet.frame[field.at].isna().to_numpy(bool)
        return np.where(missing, np.nan, has.astype(np.float64))

    def _not_counted(self, source: Source) -> NDArray[np.bool_]:
        """Mark rows whose number does not count, by its mark or by what stands beside it."""
        out = np.zeros(self.sheet.lines.size, bool)
        for field in self.sheet.named(source.quality) if source.quality else ():
            marks = source.bad or tuple(self.sheet.format.layout.get("bad", ()))
            bad = self.sheet.text(field).isin(marks).to_numpy(bool)
            self._suspect[source.name] = self._suspect.get(source.name, 0) + int(bad.sum())
            out |= bad
        for name, words in source.only.items():
            out |= ~self._beside({name: words})
        for name, words in source.unless.items():
            for field in self.sheet.named(name):
                out |= self._has_words(field, words)
        return out

    def _beside(self, rule: dict[str, tuple[str, ...]]) -> NDArray[np.bool_]:
        """Mark rows where one of some columns has one of its words."""
        out = np.zeros(self.sheet.lines.size, bool)
        for name, words in rule.items():
            for field in self.sheet.named(name):
                out |= self.sheet.text(field).isin(words).to_numpy(bool)
        return out

    def _has_words(self, field: Field, words: tuple[str, ...]) -> NDArray[np.bool_]:
        """Mark rows whose text has one of some words ("regex"), in capitals or not."""
        if field.at not in self._joined:
            texts = self.sheet.texts(field)
            begins = np.cumsum([0, *(len(text) + 1 for text in texts[:-1])])
            self._joined[field.at] = "\n".join(texts).lower(), begins
        joined, begins = self._joined[field.at]
        has = np.zeros(len(begins), bool)
        for word in words:  # one by one: far faster than all at once
            found = [match.start() for match in re.finditer(word, joined)]
            has[np.searchsorted(begins, found, "right") - 1] = True
        return has

    def number(self, field: Field, source: Source | None) -> Floats:
        """Give one column as printed numbers; refuse the first word that is none.

        Parameters
        ----------
        field : Field
            The column.
        source : Source or None
            What the map says of it.

        Returns
        -------
        numpy.ndarray, shape (rows,)
            The numbers, NaN where there is none [unit of the file].

        Raises
        ------
        WeatherError
            If a cell is no number.
        """
        column = self.sheet.frame[field.at]
        if column.dtype.kind in "fiu":
            return np.array(column, np.float64)
        text = self.sheet.text(field)
        words = [code for code in source.trace if isinstance(code, str)] if source else []
        if words:
            text = text.where(~text.isin(words), str(_TRACE_WORD))
        if source is not None and source.compass:
            text = text.replace({point: f"{22.5 * at:g}" for at, point in enumerate(_POINTS)})
        empty = text.isin([*self.sheet.format.missing, ""])
        mark = self.sheet.format.layout.get("suspect")
        if mark is not None:
            suspect = text.str.endswith(mark) & ~empty
            self._suspect[field.name] = self._suspect.get(field.name, 0) + int(suspect.sum())
            empty |= suspect
        if self.sheet.decimal != ".":
            text = text.str.replace(self.sheet.decimal, ".")
        numbers = pd.to_numeric(text.where(~empty), errors="coerce").astype(np.float64)
        wrong = np.flatnonzero(numbers.isna() & ~empty)
        if wrong.size:
            raise self.sheet.error(
                f'"{text.iloc[int(wrong[0])]}" is not a number.',
                fix="Mend it, or leave the field empty where there is no value.",
                row=int(wrong[0]),
                key=field.name,
            )
        return np.array(numbers, np.float64)

    def _tell(self, taken: dict[str, Taken]) -> None:
        for name, count in self._suspect.items():
            if count:
                text = f"{count:,} values of {name} are marked as suspect; taken as missing."
                self.notes.append(Note(code="suspect", text=text))
        heights = {one.source.height for one in taken.values() if one.source.height}
        for height in heights:
            text = (
                f"Wind was measured at {height:g} m, not at 10 m; it was raised to 10 m as "
                "over open ground."
            )
            self.notes.append(Note(code="wind_height", text=text, doubt=True))


def _to_ten_metres(source: Source) -> float:
    """Give the ratio of the wind at 10 m to that at the height it was measured at [-]."""
    if not source.height:
        return 1.0
    open_ground = value("terrain", "roughness_open")
    return math.log(_USUAL_HEIGHT / open_ground) / math.log(source.height / open_ground)
