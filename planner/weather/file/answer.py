"""A JSON answer of a weather service as a table: one reader for each way it is laid out.

Each way gives columns by the service's own names, their units and what is said of the
whole; the map of the format says what they are. To read an answer that is laid out in a
new way, add a function to ``_SHAPES``.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from planner.errors import WeatherError
from planner.weather.file.intervals import read_intervals
from planner.weather.file.sheet import Sheet
from planner.weather.formats.maps import unit_code
from planner.weather.formats.recognise import find_answer
from planner.weather.table import Note

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.weather.file.text import Text
    from planner.weather.formats.maps import Field, Format

_AGAIN: Final = "Download it again."
_SPEED_WORDS: Final = re.compile(
    r"^(?:\d+(?:\.\d+)?)(?:\s*(?:to|-)\s*\d+(?:\.\d+)?)?\s+([a-z/]+)$"
)


@dataclass(kw_only=True)
class Columns:
    """The columns of an answer by the service's names, and what it says of the whole."""

    values: dict[str, list[Any]] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    said: dict[str, Any] = field(default_factory=dict)
    notes: list[Note] = field(default_factory=list)

    def add(self, records: list[dict[str, tuple[Any, str]]], file: str) -> None:
        """Add records of names with value and unit, one a row.

        Raises
        ------
        WeatherError
            If a unit changes from record to record.
        """
        names = dict.fromkeys(name for record in records for name in record)
        for name in names:
            units = {record[name][1] for record in records if name in record} - {""}
            if len(units) > 1:
                raise WeatherError(
                    f"Its unit changes within the file: {', '.join(sorted(units))}.",
                    fix=_AGAIN,
                    file=file,
                    key=name,
                )
            self.values[name] = [record.get(name, (None, ""))[0] for record in records]
            self.units[name] = next(iter(units), "")


def read_answer(
    text: Text, *, named: str | None, location: str | None, notes: list[Note]
) -> Sheet:
    """Read a JSON answer as a table.

    Parameters
    ----------
    text : Text
        The answer.
    named : str or None
        Name of a format; None recognises it by its content.
    location : str or None
        Which of several places what is said of the whole should speak of.
    notes : list of Note
        What was found is added here.

    Returns
    -------
    Sheet
        The table; its rows are entries, counted from 1.

    Raises
    ------
    WeatherError
        If it is cut off, or not laid out as it should be.
    UnknownFormat
        If its format cannot be told, or it is the error of a service.
    """
    try:
        tree = json.loads(text.decoded())
    except (ValueError, RecursionError) as err:
        line = getattr(err, "lineno", None)
        raise WeatherError(
            "The JSON breaks off or is broken here.", fix=_AGAIN, file=text.file, line=line
        ) from err
    chosen = find_answer(tree, name=named, file=text.file)
    shape = _SHAPES[chosen.shape]
    try:
        columns = shape(tree, chosen, location, text.file)
    except (KeyError, ValueError, TypeError, IndexError, AttributeError) as err:
        raise WeatherError(
            f"It is not laid out as a {chosen.name} answer is ({type(err).__name__}: {err}).",
            fix=_AGAIN,
            file=text.file,
        ) from err
    notes += columns.notes
    return _sheet(columns, chosen, text.file)


def _sheet(columns: Columns, chosen: Format, file: str) -> Sheet:
    clock = chosen.time["columns"][0]
    times = columns.values.get(clock) or []
    if not times:
        raise WeatherError("It holds no hours.", fix=_AGAIN, file=file, key=clock)
    fields: list[Field] = []
    for name, values in columns.values.items():
        if len(values) != len(times):
            raise WeatherError(
                f"It has {len(values)} entries where there are {len(times)} times.",
                fix=_AGAIN,
                file=file,
                key=name,
            )
        fields.append(chosen.field(len(fields), name, columns.units.get(name, "")))
    frame = pd.DataFrame(
        {
            x.at: pd.Series(columns.values[name])
            for x, name in zip(fields, columns.values, strict=True)
        }
    )
    place = next(x.at for x in fields if x.name == clock)
    frame[place] = pd.Series([None if x is None else str(x) for x in times], dtype=object)
    said = columns.said
    meta = {
        ours: str(said[name])
        for ours, name in chosen.metadata.items()
        if said.get(name) is not None
    }
    return Sheet(
        file=file,
        format=chosen,
        fields=tuple(fields),
        meta=meta,
        frame=frame,
        lines=np.arange(1, len(times) + 1),
        row_word="entry",
    )


def _arrays(tree: Any, chosen: Format, location: str | None, file: str) -> Columns:
    """Read hourly arrays beside each other, for one place or a list of them."""
    places = tree if isinstance(tree, list) else [tree]
    named = {str(each.get("location_id", at)): each for at, each in enumerate(places)}
    columns = Columns()
    group = chosen.layout["group"]
    names = dict.fromkeys(name for each in named.values() for name in each["hourly"])
    clock = chosen.time["columns"][0]
    for key, each in named.items():
        hours = len(each["hourly"][clock])
        for name in names:
            column = each["hourly"].get(name, [None] * hours)
            columns.values.setdefault(name, []).extend(column)
            unit = str(each["hourly_units"].get(name, columns.units.get(name)) or "")
            if columns.units.setdefault(name, unit) != unit:
                raise WeatherError(
                    "Its unit differs by place.", fix=_AGAIN, file=file, key=name
                )
        if len(named) > 1:
            columns.values.setdefault(group, []).extend([key] * hours)
    columns.said = dict(named[location] if location in named else places[0])
    if any(block in places[0] for block in ("daily", "minutely_15", "current")):
        columns.notes.append(Note(code="other_blocks", text="Only the hourly table was read."))
    return columns


def _intervals(tree: Any, chosen: Format, location: str | None, file: str) -> Columns:
    """Read variables, each in intervals of its own length."""
    del location
    properties = tree["properties"]
    columns = Columns(said=_said(tree, properties))
    columns.values, columns.units = read_intervals(properties, chosen, file, columns.notes)
    return columns


def _periods(tree: Any, chosen: Format, location: str | None, file: str) -> Columns:
    """Read a list of hours, each with its own values."""
    del location
    properties = tree["properties"]
    columns = Columns(said=_said(tree, properties))
    columns.add([_quantities(each) for each in properties["periods"]], file)
    return columns


def _reports(tree: Any, chosen: Format, location: str | None, file: str) -> Columns:
    """Read observations, each a feature of its own."""
    del chosen, location
    features = tree.get("features", [tree])
    first = features[0] if features else {}
    columns = Columns(said=_said(first, first.get("properties", {})))
    columns.add([_quantities(each["properties"]) for each in features], file)
    return columns


def _steps(tree: Any, chosen: Format, location: str | None, file: str) -> Columns:
    """Read states at times, with sums of the hour that follows."""
    del location
    properties = tree["properties"]
    columns = Columns(said=_said(tree, properties["meta"]))
    steps, units = properties["timeseries"], properties["meta"]["units"]
    clock = chosen.time["columns"][0]
    said = [str(step["time"]) for step in steps]
    times = pd.to_datetime(said, format="ISO8601", errors="coerce", utc=True)
    stamps = times.to_numpy("datetime64[s]")
    wide = np.flatnonzero(np.diff(stamps) > np.timedelta64(1, "h"))
    if wide.size:
        hours = np.diff(stamps)[wide[0]] // np.timedelta64(1, "h")
        begin = str(stamps[wide[0]])[:16].replace("T", " ")
        text = (
            f"From {begin} UTC on the forecast has a step every {hours} hours only; wind "
            "between them is not known, so it was not read."
        )
        columns.notes.append(Note(code="wide_steps", text=text))
        steps = steps[: wide[0] + 1]
    records = []
    for step in steps:
        data = step["data"]
        following = data.get("next_1_hours", {})
        found = data["instant"]["details"] | following.get("details", {})
        found |= following.get("summary", {})
        record: dict[str, tuple[Any, str]] = {
            name: (value, str(units.get(name) or "")) for name, value in found.items()
        }
        records.append({clock: (step["time"], ""), **record})
    columns.add(records, file)
    return columns


_SHAPES: Final[dict[str, Callable[[Any, Format, str | None, str], Columns]]] = {
    "arrays": _arrays,
    "intervals": _intervals,
    "periods": _periods,
    "reports": _reports,
    "steps": _steps,
}


def _quantities(record: dict[str, Any]) -> dict[str, tuple[Any, str]]:
    """Give value and unit of all that a record says; marks of quality as "NAME.mark"."""
    found: dict[str, tuple[Any, str]] = {}
    for name, said in record.items():
        if isinstance(said, dict):
            value = said.get("maxValue", said.get("value"))
            found[name] = (value, unit_code(said.get("unitCode")))
            marks = {k: v for k, v in said.items() if k not in ("value", "unitCode")}
            found |= {f"{name}.{k}": (v, "") for k, v in marks.items() if isinstance(v, str)}
        elif isinstance(said, str) and (speed := _SPEED_WORDS.match(said)):
            numbers = re.findall(r"\d+(?:\.\d+)?", said)
            found[name] = (max(map(float, numbers)), speed.group(1))
        elif not isinstance(said, list):
            found[name] = (said, str(record.get(f"{name}Unit") or ""))
    return found


def _said(tree: Any, properties: dict[str, Any]) -> dict[str, Any]:
    """Give what is said of the whole, with the place where the geometry has one."""
    said = {
        key: value.get("value") if isinstance(value, dict) else value
        for key, value in properties.items()
        if not isinstance(value, list)
    }
    corners = _corners(tree.get("geometry"))
    if corners:
        west_east, south_north = zip(*(corner[:2] for corner in corners), strict=True)
        said["longitude"] = sum(west_east) / len(corners)
        said["latitude"] = sum(south_north) / len(corners)
        said.setdefault("elevation", corners[0][2] if len(corners[0]) > 2 else None)
    return said


def _corners(geometry: Any) -> list[list[float]]:
    """Give the point of a geometry, or the corners of its area, the first not twice."""
    if not isinstance(geometry, dict):
        return []
    if geometry.get("type") == "GeometryCollection":
        parts = [_corners(each) for each in geometry["geometries"]]
        return min((part for part in parts if part), key=len, default=[])
    if geometry.get("type") == "Point":
        return [geometry["coordinates"]]
    return list(geometry["coordinates"][0][:-1]) if geometry.get("type") == "Polygon" else []
