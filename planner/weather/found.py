"""The rows of one place out of a file or several, read as one."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, cast

import numpy as np

from planner.errors import MissingColumn, SeveralPlaces, WeatherError
from planner.weather.file.opened import read_sheet
from planner.weather.file.text import Raw
from planner.weather.formats.maps import Format, Label
from planner.weather.hourly.about import check_word, number_above
from planner.weather.hourly.clean import check_values, gust_step, refuse_false_gusts
from planner.weather.hourly.clock import choose_clock
from planner.weather.hourly.columns import Numbers
from planner.weather.hourly.grid import RowsAre
from planner.weather.hourly.issued import read_times
from planner.weather.hourly.rows import Rows, join_rows
from planner.weather.hourly.sift import preferred, sifted
from planner.weather.table import COLUMNS, GUST_MEANINGS, Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.weather.table import Floats, GustMeaning, Origin

    Source = str | Path | Raw

#: What files that are read as one must say alike.
_ONE_HEAD: Final = ("kind", "label", "issued", "gust_meaning", "gust_resolution", "name")
#: What forecasts must say alike besides; a record may be fetched piece by piece.
_ONE_FETCHING: Final = ("fetched", "stale")
_MOVES: Final = 0.1  # a station's mast, over the years; assumed [deg]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """One file: its map, what stands above its table, its rows and their places."""

    format: Format
    meta: dict[str, str]
    rows: Rows
    groups: NDArray[np.object_] | None
    clock: dt.tzinfo | None
    zone: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """The rows of one place in a file or several, and what the first of them says of all."""

    format: Format
    meta: dict[str, str]
    clock: dt.tzinfo | None
    zone: str
    rows: Rows
    place: str

    def labelled(self, rows: Rows, label: Label) -> Rows:
        """Give rows of this place, joined over the ends of an hour only if the label asks."""
        return rows.unjoined() if label == self.format.layout.get("unjoined") else rows

    @property
    def rows_are(self) -> RowsAre:
        """Say what a row is: an hour, a report at any minute, or a part of an hour."""
        return cast("RowsAre", self.format.layout.get("rows", "hours"))

    @property
    def gust_meaning(self) -> GustMeaning:
        """Give what a gust is the largest of, as the file or its format says."""
        said = self.meta.get("gust_meaning")
        check_word("gust_meaning", said, GUST_MEANINGS, file=self.rows.files[0])
        return cast("GustMeaning", said or self.format.gust_meaning)

    def gust_resolution(self, rows: Rows, notes: list[Note]) -> float:
        """Give the step to which gusts are rounded, as told or as seen [m/s]."""
        told = self.format.gust_resolution
        told = told or number_above(self.meta, "gust_resolution", rows.files[0]) or 0.0
        return told or gust_step(rows, notes)


def find_rows(
    source: Source | Sequence[Source],
    *,
    format: str | None,  # noqa: A002 - the word of the command line
    zone: str | None,
    location: str | None,
    model: str | None = None,
    notes: list[Note],
) -> Found:
    """Open files of one format, join them and keep one place; values are as printed.

    Parameters
    ----------
    source : path or Raw, or a sequence of them
        The file or files.
    format, zone, location, model : str or None
        As for ``read_weather``.
    notes : list of Note
        What was found or doubted is added here.

    Returns
    -------
    Found
        The rows in the table's units, not yet looked over by ``check_rows``.

    Raises
    ------
    WeatherError
        As ``read_weather``.
    """
    sources = [source] if isinstance(source, (str, Path, Raw)) else list(source)
    if not sources:
        raise WeatherError("No weather file was named.", fix="Name at least one file.")
    how = {"named": format, "zone": zone, "location": location, "model": model}
    parts = [_read_part(each, how, notes) for each in sources]
    rows = join_rows(_of_one_format(parts))
    refuse_false_gusts(rows)
    rows, place = _choose_place(rows, parts, location)
    first = parts[0]
    if len(parts) > 1 and not place and "latitude" not in first.meta:
        text = "Nothing in the files says that they are of one station."
        notes.append(Note(code="station_unconfirmed", text=text, doubt=True))
    return Found(
        format=first.format,
        meta=first.meta,
        clock=first.clock,
        zone=first.zone,
        rows=rows,
        place=place,
    )


def check_rows(rows: Rows, notes: list[Note], *, together: str = "") -> Rows:
    """Ask for the needed columns and look every value over.

    Parameters
    ----------
    rows : Rows
        The rows of one place.
    notes : list of Note
        What was mended or is doubted is added here.
    together : str
        The way out if a quantity lacks because it stands in another file.

    Returns
    -------
    Rows
        The rows, impossible values missing (NaN).

    Raises
    ------
    WeatherError
        As ``read_weather``.
    """
    _check_needed(rows, together=together)
    return check_values(rows, notes)


def _read_part(source: Source, how: dict[str, str | None], notes: list[Note]) -> _Part:
    sheet = read_sheet(source, named=how["named"], location=how["location"], notes=notes)
    sheet = sifted(sheet, model=how["model"], notes=notes)
    values, taken, members = Numbers(sheet, notes).columns()
    groups = sheet.groups()
    clock = choose_clock(sheet, how["zone"])
    labels, issues, spoken = read_times(sheet, clock, groups=groups, notes=notes)
    rows = Rows(
        labels=labels,
        values=values,
        taken=taken,
        members=members,
        files=(sheet.file,),
        file_at=np.zeros(sheet.lines.size, np.int64),
        lines=sheet.lines,
        issues=issues,
        row_word=sheet.row_word,
    )
    kept = preferred(sheet, labels, groups)
    return _Part(
        format=sheet.format,
        meta=sheet.meta,
        rows=rows if kept is None else _only_peaks(rows, ~kept),
        groups=groups,
        clock=clock.zone,
        zone=spoken,
    )


def _only_peaks(rows: Rows, which: NDArray[np.bool_]) -> Rows:
    """Take from some rows gust and rain alone: they double others, yet may have seen more."""
    names = rows.values.keys() - {"wind_gust", "precipitation"}
    changed = {name: np.where(which, np.nan, rows.values[name]) for name in names}
    return rows.with_values(**changed)


def _of_one_format(parts: list[_Part]) -> list[Rows]:
    for part in parts[1:]:
        if part.format.name != parts[0].format.name:
            raise WeatherError(
                f"Its format is {part.format.name}, the first file's {parts[0].format.name}.",
                fix="Read files of one station and one format together.",
                file=part.rows.files[0],
            )
        _refuse_other_head(part, parts[0])
        _refuse_other_place(part, parts[0])
    return [part.rows for part in parts]


def _refuse_other_place(part: _Part, first: _Part) -> None:
    """Refuse files of other places; a station's own may move a little over the years."""
    room = _MOVES if _is_record(first) else 0.0
    for key in ("latitude", "longitude"):
        theirs, ours = (number_above(p.meta, key, p.rows.files[0]) for p in (part, first))
        if (theirs is None) != (ours is None) or abs((theirs or 0.0) - (ours or 0.0)) > room:
            raise WeatherError(
                f"It is for {key} {theirs}, the first file for {ours}.",
                fix="Read files of one place together.",
                file=part.rows.files[0],
            )


def _is_record(part: _Part) -> bool:
    return (part.meta.get("kind") or part.format.kind) == "observed"


def _refuse_other_head(part: _Part, first: _Part) -> None:
    """Refuse files that say different things of the whole: one table cannot be both."""
    for key in _ONE_HEAD if _is_record(first) else (*_ONE_HEAD, *_ONE_FETCHING):
        theirs, ours = part.meta.get(key), first.meta.get(key)
        if theirs != ours:
            raise WeatherError(
                f"Its {key.replace('_', ' ')} is {theirs or 'not said'}, the first file's "
                f"{ours or 'not said'}.",
                fix="Read forecasts one at a time; read records of one kind together.",
                file=part.rows.files[0],
                key=key,
            )


def _choose_place(rows: Rows, parts: list[_Part], location: str | None) -> tuple[Rows, str]:
    """Keep the rows of one place; give its name, "" where the files name none."""
    if any(part.groups is None for part in parts):
        if location is not None:
            raise WeatherError(
                "The file holds one place and does not name it.",
                fix="Leave --location out.",
                file=rows.files[0],
                key="location",
            )
        return rows, ""
    groups = np.concatenate([part.groups for part in parts if part.groups is not None])
    names = sorted(set(groups))
    word = parts[0].format.layout.get("group_name", "station")
    if (len(names) > 1) if location is None else (location not in names):
        listed = f"{', '.join(names[:12])}{' and more' if len(names) > 12 else ''}"
        raise SeveralPlaces(
            f'There is no {word} "{location}" in the file; it has {listed}.'
            if location
            else f"The file holds {len(names)} {word}s: {listed}.",
            fix=f"Choose one with --location {names[0]}.",
            file=rows.files[0],
            places=tuple(names),
        )
    name = location or names[0]
    return (rows if len(names) == 1 else rows.take(groups == name)), f"{word} {name}"


def given(values: dict[str, Floats], name: str) -> bool:
    """Say whether a column is there and holds any number."""
    return name in values and not bool(np.isnan(values[name]).all())


def origins(values: dict[str, Floats]) -> dict[str, Origin]:
    """Say of every column of the glossary whether it is given or missing."""
    return {c.name: "given" if given(values, c.name) else "missing" for c in COLUMNS}


def _check_needed(rows: Rows, *, together: str) -> None:
    lacking = [c for c in COLUMNS if c.needed and not given(rows.values, c.name)]
    meanings = [column.meaning for column in lacking]
    names = [column.name for column in lacking]
    if not any(given(rows.values, f"precipitation{end}") for end in ("", "_probability")):
        meanings.append("rain or its chance")
        names.append("precipitation")
    if names:
        found = [t.source.name for name, t in rows.taken.items() if given(rows.values, name)]
        blank = [name for name in names if name in rows.values]
        empty = f" ({', '.join(blank)} is there, but blank in every row.)" if blank else ""
        raise MissingColumn(
            f"There is no column of {', nor of '.join(meanings)}.{empty} "
            f"Found: {', '.join(found) or 'no column the planner knows'}.",
            fix=together
            or "Download the hourly table with temperature, wind speed, gust and rain.",
            file=rows.files[0],
            key=names[0],
        )
