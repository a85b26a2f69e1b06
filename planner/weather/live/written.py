"""A fetched table as text: the planner's own CSV, and a small file saying where it is from."""

from __future__ import annotations

from dataclasses import replace
from importlib import metadata
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd
import tomlkit

from planner.weather.table import COLUMNS

if TYPE_CHECKING:
    import datetime as dt

    from planner.weather.live.line import Answer
    from planner.weather.live.service import Service
    from planner.weather.table import Weather

_DECIMALS: Final = 4  # of every number in the file; no instrument knows the fifth
FETCHED: Final = "fetched"  # the issue time is that of fetching
STALE: Final = "stale"  # the doubt that it is an old copy, which has a line of its own
_TIME: Final = "%Y-%m-%dT%H:%MZ"


def rounded_weather(weather: Weather) -> Weather:
    """Give the table with every number as the file will have it.

    Parameters
    ----------
    weather : Weather
        As read.

    Returns
    -------
    Weather
        Rounded to four decimals.
    """
    values = {name: np.round(array, _DECIMALS) for name, array in weather.values.items()}
    return replace(weather, values=values)


def csv_text(weather: Weather, *, fetched: dt.datetime | None = None, stale: str = "") -> str:
    """Write a table as the planner's own CSV.

    Parameters
    ----------
    weather : Weather
        The table; columns without any number are left out.
    fetched : datetime, optional
        When it was fetched, UTC.
    stale : str
        Why it is an old copy, "" if it is none.

    Returns
    -------
    str
        Lines ``# key: value``, one for every doubt among them, a header, and a row for every
        hour, labelled by its start in UTC. Possible weathers are columns
        ``wind_gust_member01`` and so on.
    """
    place = weather.place
    head = {
        "latitude": place.latitude,
        "longitude": place.longitude,
        "elevation": place.elevation,
        "name": place.name,
        "kind": weather.kind,
        "issued": None if weather.issued is None else weather.issued.strftime(_TIME),
        "issued_from": weather.issued_from if weather.issued_from == FETCHED else "",
        "label": "start",
        "gust_meaning": weather.gust_meaning,
        "gust_resolution": weather.gust_resolution or None,
        "credit": weather.credit,
        "fetched": None if fetched is None else fetched.strftime(_TIME),
        "stale": stale,
    }
    doubts = [note.text for note in weather.notes if note.doubt and note.code != STALE]
    said = [*head.items(), *(("doubt", text) for text in doubts)]
    lines = [f"# {k}: {_one_line(str(v))}\n" for k, v in said if v not in {None, ""}]
    columns: dict[str, object] = {"time": weather.times.strftime(_TIME)}
    for column in COLUMNS:
        if weather.has(column.name):
            columns |= _named(column.name, weather)
    return "".join(lines) + pd.DataFrame(columns).to_csv(index=False, lineterminator="\n")


def _named(name: str, weather: Weather) -> dict[str, object]:
    """Give one column of the table, or one for every possible weather."""
    array = weather.values[name]
    if len(array) == 1:
        return {name: array[0]}
    return {f"{name}_member{number:02}": row for number, row in enumerate(array, 1)}


def _one_line(text: str) -> str:
    return " ".join(text.split())


def source_text(
    service: Service, answer: Answer, *, asked: tuple[str, ...], weather: Weather
) -> str:
    """Write where a table is from.

    Parameters
    ----------
    service : Service
        Who gave it.
    answer : Answer
        When, and whether it is an old copy.
    asked : tuple of str
        Every address that was asked.
    weather : Weather
        The table, for its issue time and credit.

    Returns
    -------
    str
        TOML.
    """
    told = tomlkit.document()
    told.add(tomlkit.comment("Where the weather beside this file is from."))
    told["service"] = service.name
    told["title"] = service.title
    told["asked"] = list(asked)
    told["fetched"] = answer.fetched
    told["stale"] = answer.stale
    if answer.stale:
        told["why"] = _one_line(answer.why)
        told["age_minutes"] = round(answer.age.total_seconds() / 60)
    if weather.issued is not None:
        told["issued"] = weather.issued.to_pydatetime()
        told["issued_from"] = service.issued
    told["kind"] = weather.kind
    told["credit"] = weather.credit or service.credit
    told["license"] = service.license
    told["planner"] = metadata.version("planner")
    return tomlkit.dumps(told)
