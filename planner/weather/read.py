"""Read a weather file of any known format into the one hourly table."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from planner.errors import MissingColumn, SeveralPlaces, WeatherError
from planner.weather.about import (
    KINDS,
    check_word,
    choose_kind,
    choose_label,
    issue_time,
    number_above,
    place_of,
)
from planner.weather.clean import check_values, gust_step, refuse_false_gusts
from planner.weather.clock import choose_clock, read_labels
from planner.weather.formats import LABELS, Format
from planner.weather.grid import to_hours
from planner.weather.rows import Numbers, Rows, join_rows, note_unknown
from planner.weather.table import COLUMNS, Note, Weather
from planner.weather.text import read_sheet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.weather.table import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """One file: its map, what stands above its table, its rows and their places."""

    format: Format
    meta: dict[str, str]
    rows: Rows
    groups: NDArray[np.object_] | None
    clock: dt.tzinfo | None


def read_weather(
    source: str | Path | Sequence[str | Path],
    *,
    format: str | None = None,  # noqa: A002 - the word of the command line
    zone: str | None = None,
    label: str | None = None,
    kind: str | None = None,
    issued: str | dt.datetime | None = None,
    location: str | None = None,
) -> Weather:
    """Read a weather file into the hourly table that every model reads.

    The format is recognised by its content. Whatever is wrong with the file is
    refused in plain words, or mended with a note saying which rows and why.

    Parameters
    ----------
    source : path or sequence of paths
        A file (.csv or .txt, also .gz, or .zip with one of them inside), or
        several of one station, such as its years.
    format : str, optional
        Name of a format, where the content does not tell.
    zone : str, optional
        Clock of times that have no offset: ``America/New_York``, ``-04:00``.
    label : {"start", "end", "closes"}, optional
        What a row's time says, if other than the format's rule.
    kind : {"forecast", "ensemble", "observed"}, optional
        What the numbers are, if other than the format's rule.
    issued : str or datetime, optional
        When the forecast was made; without an offset it is in ``zone``.
    location : str, optional
        Which place, where a file holds several.

    Returns
    -------
    Weather
        The table: UTC hour starts, units as in ``COLUMNS``.

    Raises
    ------
    WeatherError
        If the file cannot be read or trusted; the message names file, line or
        column, and the way out.
    UnknownFormat
        If no format fits, or more than one.
    MissingColumn
        If temperature, wind, or rain and its chance are not there.
    GapTooLong
        If nine tenths of the hours are not there.

    Notes
    -----
    Wind, gust and rain are never filled. A blank gust stays missing here and is
    estimated where roughness is known. Humidity and dew point are not derived
    from each other here.
    """
    check_word("label", label, LABELS, file=None)
    check_word("kind", kind, KINDS, file=None)
    sources = [source] if isinstance(source, (str, Path)) else list(source)
    if not sources:
        raise WeatherError("No weather file was named.", fix="Name at least one file.")
    notes: list[Note] = []
    parts = [
        _read_part(Path(each), named=format, zone=zone, location=location, notes=notes)
        for each in sources
    ]
    rows, place = _one_place(parts, location, notes)
    first, meta, file = parts[0].format, parts[0].meta, rows.files[0]
    step = first.gust_resolution or number_above(meta, "gust_resolution", file)
    step = step or gust_step(rows, notes)
    rule = choose_label(label, meta, file, default=first.label)
    times, values = to_hours(rows, rule, notes)
    index = pd.DatetimeIndex(times, tz="UTC", name="time")
    what = choose_kind(kind, meta, rows, default=first.kind, notes=notes)
    made, made_from = None, ""
    if what != "observed":
        known = index[int(np.argmax(~np.isnan(values["wind_speed"][0]))) :]
        made, made_from = issue_time(
            issued, meta, times=known, clock=parts[0].clock, file=file, notes=notes
        )
    return Weather(
        times=index,
        values=values,
        weights=np.full(rows.members, 1.0 / rows.members),
        kind=what,
        origin={c.name: "given" if _given(values, c.name) else "missing" for c in COLUMNS},
        issued=made,
        issued_from=made_from,
        place=place_of(meta, place, file, notes=notes),
        format=first.name,
        credit=meta.get("credit") or first.credit,
        gust_meaning=first.gust_meaning if _given(values, "wind_gust") else "none",
        gust_resolution=step,
        notes=tuple(notes),
    )


def _one_place(parts: list[_Part], location: str | None, notes: list[Note]) -> tuple[Rows, str]:
    """Join the files, keep one place and look its values over."""
    rows = join_rows(_of_one_format(parts))
    refuse_false_gusts(rows)
    rows, place = _choose_place(rows, parts, location)
    _check_needed(rows)
    rows = check_values(rows, notes)
    _note_blank_gusts(rows, notes)
    return rows, place


def _read_part(
    path: Path, *, named: str | None, zone: str | None, location: str | None, notes: list[Note]
) -> _Part:
    sheet = read_sheet(path, named=named, location=location, notes=notes)
    note_unknown(sheet, notes)
    numbers = Numbers(sheet)
    values, taken, members = numbers.columns()
    groups = numbers.groups()
    clock = choose_clock(numbers, zone)
    rows = Rows(
        labels=read_labels(numbers, clock, groups=groups, notes=notes),
        values=values,
        taken=taken,
        members=members,
        files=(sheet.file,),
        file_at=np.zeros(sheet.lines.size, np.int64),
        lines=sheet.lines,
    )
    return _Part(
        format=sheet.format, meta=sheet.meta, rows=rows, groups=groups, clock=clock.zone
    )


def _of_one_format(parts: list[_Part]) -> list[Rows]:
    for part in parts[1:]:
        if part.format.name != parts[0].format.name:
            raise WeatherError(
                f"It is a {part.format.name} file, the first is {parts[0].format.name}.",
                fix="Read files of one station and one format together.",
                file=part.rows.files[0],
            )
        theirs, ours = (
            (p.meta.get("latitude"), p.meta.get("longitude")) for p in (part, parts[0])
        )
        if theirs != ours:
            raise WeatherError(
                f"It is for latitude and longitude {theirs}, the first file for {ours}.",
                fix="Read files of one place together.",
                file=part.rows.files[0],
            )
    return [part.rows for part in parts]


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
    word = parts[0].format.layout.get("group_name", "location")
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


def _given(values: dict[str, Floats], name: str) -> bool:
    return name in values and not bool(np.isnan(values[name]).all())


def _check_needed(rows: Rows) -> None:
    lacking = [c for c in COLUMNS if c.needed and not _given(rows.values, c.name)]
    meanings = [column.meaning for column in lacking]
    names = [column.name for column in lacking]
    if not any(_given(rows.values, f"precipitation{end}") for end in ("", "_probability")):
        meanings.append("rain or its chance")
        names.append("precipitation")
    if names:
        found = [t.source.name for name, t in rows.taken.items() if _given(rows.values, name)]
        blank = [name for name in names if name in rows.values]
        empty = f" ({', '.join(blank)} is there, but blank in every row.)" if blank else ""
        raise MissingColumn(
            f"There is no column of {', nor of '.join(meanings)}.{empty} "
            f"Found: {', '.join(found) or 'no column the planner knows'}.",
            fix="Download the hourly table with temperature, wind speed, gust and rain.",
            file=rows.files[0],
            key=names[0],
        )


def _note_blank_gusts(rows: Rows, notes: list[Note]) -> None:
    gusts = rows.values.get("wind_gust")
    if gusts is None or np.isnan(gusts).all():
        notes.append(
            Note(
                code="no_gusts",
                text="The file has no gusts; they will be estimated.",
                doubt=True,
            )
        )
        return
    blank, rows_all = int(np.isnan(gusts).any(axis=0).sum()), gusts.shape[1]
    if blank:
        text = (
            f"{blank:,} of {rows_all:,} gusts are missing ({blank / rows_all:.1%}); "
            "a blank gust is not calm, they will be estimated."
        )
        notes.append(Note(code="gusts_missing", text=text, doubt=blank > 0.05 * rows_all))
