"""Read a weather file of any known format into the one hourly table."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import GapTooLong
from planner.weather.formats.maps import LABELS
from planner.weather.found import check_rows, find_rows, given, origins
from planner.weather.hourly.about import KINDS, check_word, choose_kind, choose_label, place_of
from planner.weather.hourly.grid import to_hours
from planner.weather.hourly.issued import choose_issue, fetched_time, issue_time
from planner.weather.table import COLUMNS, Note, Weather

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.weather.found import Source
    from planner.weather.hourly.rows import Rows
    from planner.weather.table import Floats

_FROM_SERVICE: Final = "from_service"


def read_weather(
    source: Source | Sequence[Source],
    *,
    format: str | None = None,  # noqa: A002 - the word of the command line
    zone: str | None = None,
    label: str | None = None,
    kind: str | None = None,
    issued: str | dt.datetime | None = None,
    location: str | None = None,
    model: str | None = None,
) -> Weather:
    """Read a weather file into the hourly table that every model reads.

    The format is recognised by its content. Whatever is wrong with the file is
    refused in plain words, or mended with a note saying which rows and why.

    Parameters
    ----------
    source : path or Raw, or a sequence of them
        A file (a table as text or a service's JSON, also .gz, or .zip with one of them
        inside), or several of one station: its years, or a file a quantity.
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
    model : str, optional
        Which model, where a file holds the columns of several.

    Returns
    -------
    Weather
        The table: UTC hour starts, units as in ``COLUMNS``.

    Raises
    ------
    WeatherError
        If the file cannot be read or trusted; the message names file, line or
        column, and the way out. If it holds several forecasts and ``issued`` is
        not the issue time of one of them.
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
    notes: list[Note] = []
    found = find_rows(
        source, format=format, zone=zone, location=location, model=model, notes=notes
    )
    first, meta, file = found.format, found.meta, found.rows.files[0]
    told = meta.get("doubt", "").splitlines()
    notes += [Note(code=_FROM_SERVICE, text=text, doubt=True) for text in told]
    rows, column = choose_issue(found.rows, issued, clock=found.clock)
    rows = check_rows(rows, notes, together=first.layout.get("together", ""))
    step = found.gust_resolution(rows, notes)
    rule = choose_label(label, meta, file, default=first.label)
    times, values = to_hours(found.labelled(rows, rule), rule, notes, rows_are=found.rows_are)
    _check_hours(values, rows)
    index = pd.DatetimeIndex(times, tz="UTC", name="time")
    usual = first.kind if rows.issues is None else "forecast"
    what = choose_kind(kind, meta, rows, default=usual, notes=notes)
    made, made_from = None, ""
    if what != "observed":
        known = index[int(np.argmax(~np.isnan(values["wind_speed"][0]))) :]
        made, made_from = issue_time(
            issued,
            meta,
            column=column,
            times=known,
            clock=found.clock,
            file=file,
            notes=notes,
        )
    return Weather(
        times=index,
        values=values,
        weights=np.full(rows.members, 1.0 / rows.members),
        kind=what,
        origin=origins(values),
        issued=made,
        issued_from=made_from,
        place=place_of(meta, found.place, file, notes=notes),
        format=first.name,
        credit=meta.get("credit") or first.credit,
        gust_meaning=found.gust_meaning if given(values, "wind_gust") else "none",
        gust_resolution=step,
        label=rule,
        fetched=fetched_time(meta, clock=found.clock, file=file),
        stale=meta.get("stale", ""),
        zone=found.zone,
        notes=_once(notes),
    )


def _once(notes: list[Note]) -> tuple[Note, ...]:
    """Leave out what a service's own words say again of what was found here."""
    found = {note.text for note in notes if note.code != _FROM_SERVICE}
    return tuple(x for x in notes if x.code != _FROM_SERVICE or x.text not in found)


def _check_hours(values: dict[str, Floats], rows: Rows) -> None:
    """Refuse rows of which no whole hour could be made."""
    empty = [c.meaning for c in COLUMNS if c.needed and not given(values, c.name)]
    if empty:
        raise GapTooLong(
            f"Its rows make no whole hour with {' and '.join(empty)}.",
            fix="Get a longer stretch of it: some hours in a row.",
            file=rows.files[0],
        )
