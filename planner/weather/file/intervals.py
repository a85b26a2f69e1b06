"""Values that hold over intervals, "2026-04-20T10:00:00+00:00/PT6H", as whole hours."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from planner.errors import WeatherError
from planner.weather.formats.maps import unit_code
from planner.weather.table import LONGEST_FORECAST, Note

if TYPE_CHECKING:
    from planner.weather.formats.maps import Format, Source

_LENGTH: Final = re.compile(r"^P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?)?$")
_LONGEST: Final = 24 * LONGEST_FORECAST  # h


def read_intervals(
    properties: dict[str, Any], chosen: Format, file: str, notes: list[Note]
) -> tuple[dict[str, list[Any]], dict[str, str]]:
    """Give every variable of a map hour by hour.

    Parameters
    ----------
    properties : dict
        The answer's variables: each a unit and a list of intervals with a value.
    chosen : Format
        The map.
    file : str
        For the error message.
    notes : list of Note
        That a chance stands for several hours at once is added here.

    Returns
    -------
    tuple of dict
        Columns by the service's names, the clock's among them, and their units. An hour
        that no interval covers is None; a sum is shared evenly by its hours; a chance,
        or a largest value, holds for each of them.

    Raises
    ------
    WeatherError
        If an interval cannot be read.
    """
    sources = [s for s in chosen.columns if properties.get(s.name, {}).get("values")]
    runs = {s.name: _intervals(properties[s.name]["values"], s.name, file) for s in sources}
    if not runs:
        return {}, {}
    first = min(begin for each in runs.values() for begin, _, _ in each)
    last = max(begin + hours for each in runs.values() for begin, hours, _ in each)
    if last - first > _LONGEST:
        raise WeatherError(
            f"Its intervals span {(last - first) / 24:.0f} days, more than a forecast can.",
            fix="Download it again.",
            file=file,
        )
    values: dict[str, list[Any]] = {}
    for source in sources:
        column: list[Any] = [None] * (last - first)
        for begin, hours, value in runs[source.name]:
            column[begin - first : begin - first + hours] = [
                _each(value, hours, source)
            ] * hours
        values[source.name] = column
    _note_long_chances(sources, runs, notes)
    stamps = np.datetime64(0, "h") + np.arange(first, last)
    values[chosen.time["columns"][0]] = [f"{stamp}:00Z" for stamp in stamps]
    units = {s.name: unit_code(properties[s.name].get("uom")) for s in sources}
    return values, units


def _intervals(listed: list[Any], name: str, file: str) -> list[tuple[int, int, Any]]:
    """Give begin [h since 1970], length [h] and value of each interval."""
    found = []
    for at, each in enumerate(listed, 1):
        begin, _, length = str(each["validTime"]).partition("/")
        time = _time(begin)
        parts = _LENGTH.match(length)
        days, hours, minutes = (int(x or 0) for x in parts.groups()) if parts else (0, 0, 0)
        if time is None or time.minute or minutes or days + hours == 0:
            raise WeatherError(
                f'"{each["validTime"]}" is not an interval of whole hours.',
                fix="Download it again.",
                file=file,
                key=f"{name}, entry {at}",
            )
        found.append((int(time.timestamp()) // 3600, 24 * days + hours, each["value"]))
    return found


def _time(word: str) -> dt.datetime | None:
    try:
        time = dt.datetime.fromisoformat(word)
    except ValueError:
        return None
    return time if time.tzinfo is not None else None


def _each(value: Any, hours: int, source: Source) -> Any:
    """Give what one hour of an interval holds."""
    if isinstance(value, list):  # weather in words, one or several at once
        return " ".join(str(each.get("weather") or "") for each in value)
    if source.shared and isinstance(value, (int, float)):
        return value / hours
    return value


def _note_long_chances(
    sources: list[Source], runs: dict[str, list[tuple[int, int, Any]]], notes: list[Note]
) -> None:
    chances = [s for s in sources if s.to == "precipitation_probability"]
    longest = max((hours for s in chances for _, hours, _ in runs[s.name]), default=1)
    if longest > 1:
        text = (
            f"A chance of rain stands for up to {longest} hours at once; each of them was "
            "given all of it, which errs on the wet side."
        )
        notes.append(Note(code="chance_of_hours", text=text))
