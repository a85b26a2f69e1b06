"""What ``inspect`` says in words about a weather file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.report.availability import blank_hours, gaps, longest_gap, years
from planner.report.screen.first import item, items
from planner.report.words import Words, of_100
from planner.report.yard.fine_print import COUNTED
from planner.units import show
from planner.weather.formats.maps import formats
from planner.weather.table import COLUMN

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from planner.report.availability import Gap, Year
    from planner.weather.table import Weather, WeatherPlace

_ABOUT: Final = ("Format", "Place", "Hours", "Times", "Issued", "Fetched")
#: How the rows of a file became one an hour; what a time labels.
_STEP: Final = {
    "reports": "reports at any minute brought to the hour",
    "parts": "parts of an hour put together",
}
_LABEL: Final = {
    "start": "A time labels the start of its hour.",
    "end": "A time labels the end of its hour.",
    "closes": "A report belongs to the hour that it closes.",
}
#: Notes of the reader that say what was mended or left out; of gaps this report says more.
_MENDED: Final = frozenset(
    {"sorted", "doubled", "temperature_filled", "clock_change", "trace"}
    | {"suspect", "other_rows", "encoding"}
)
_GAPS: Final = "gaps"
_FROM: Final = {
    "option": "as given on the command line",
    "column": "as its column says",
    "file": "as the file says",
    "first hour": "taken as its first hour",
    "fetched": "when it was fetched; the model run is some hours older",
}


def weather_report(
    weather: Weather, *, units: str, time_zone: str = "UTC", files: Sequence[str] = ()
) -> str:
    """Say what was found in a weather file, what was repaired, and what is doubted.

    Parameters
    ----------
    weather : Weather
        As read.
    units : {"us", "si"}
        Which units to write.
    time_zone : str
        In which times are written.
    files : sequence of str
        The file it was read from, or several read as one.

    Returns
    -------
    str
        Lines of at most 80 columns of ASCII.
    """
    facts = weather_facts(weather, Words(units=units, time_zone=time_zone))
    about = [
        *file_lines(files),
        *(line for label in _ABOUT for line in items(label, facts[label])),
    ]
    rest = [items(label, texts) for label, texts in facts.items() if label not in _ABOUT]
    sections = [about, _columns(weather, units), *rest]
    return "\n\n".join("\n".join(lines) for lines in sections if lines)


def weather_facts(weather: Weather, words: Words) -> dict[str, list[str]]:
    """Say what was found in a weather file but for its columns, by label.

    Parameters
    ----------
    weather : Weather
        As read.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    dict of str to list of str
        Format, place, hours, what times label, time of issue, gusts, gaps, years of a
        record, doubts, what was repaired, notes, credit; a list may be empty.
    """
    found = gaps(weather)
    said = COUNTED | {_GAPS} if found else COUNTED
    notes = [x for x in weather.notes if x.code not in said]
    sure = [x for x in notes if not x.doubt]
    return {
        **_about(weather, words),
        "Gusts": _gusts(weather, words.units),
        "Gaps": _gaps(found, words),
        "Years": [_year(x) for x in years(weather) if x.blank_gusts or x.missing],
        "Doubts": [x.text for x in notes if x.doubt],
        "Repaired": [x.text for x in sure if x.code in _MENDED],
        "Notes": [x.text for x in sure if x.code not in _MENDED],
        "Credit": [weather.credit] if weather.credit else [],
    }


def weather_columns(weather: Weather, *, units: str) -> list[tuple[str, str, int, str]]:
    """Say what is in each column that is there.

    Parameters
    ----------
    weather : Weather
        As read.
    units : {"us", "si"}
        Which units to write.

    Returns
    -------
    list of tuple
        Name, origin, blank hours [h], lowest to highest.
    """
    return [
        (name, origin, blank_hours(weather, name), _range(weather.values[name], name, units))
        for name, origin in weather.origin.items()
        if origin != "missing" and name in weather.values
    ]


def file_lines(files: Sequence[str]) -> list[str]:
    """Name the file of a report, or those that were read as one."""
    if len(files) < 2:
        return items("File", files)
    return item("Files", f"{len(files)} read as one: {', '.join(files)}")


def where_it_is(place: WeatherPlace, words: Words) -> str:
    """Name a place with its position and height, as far as the file says them."""
    where = [place.name] if place.name else []
    if place.latitude is not None and place.longitude is not None:
        where.append(position(place.latitude, place.longitude))
    if place.elevation is not None:
        where.append(show(place.elevation, "length", words.units, decimals=0) + " up")
    return ", ".join(where) or "the file does not say"


def _about(weather: Weather, words: Words) -> dict[str, list[str]]:
    kind = {"observed": "a station record"}.get(weather.kind, f"a {weather.kind}")
    if weather.kind == "ensemble":
        kind = f"an ensemble of {weather.members} possible weathers"
    span = "no hours"
    if weather.hours:
        span = (
            f"{weather.hours} hours, {dated(weather.times[0], words)} to "
            f"{dated(weather.times[-1], words)} {words.time_zone}, {_step(weather)}"
        )
    issued = "not known"
    if weather.issued is not None:
        how = _FROM.get(weather.issued_from, weather.issued_from)
        issued = dated(weather.issued, words) + (f", {how}" if how else "")
    return {
        "Format": [f"{_named(weather.format)}, {kind}"],
        "Place": [where_it_is(weather.place, words)],
        "Hours": [span],
        "Times": _times(weather),
        "Issued": [issued] if weather.kind != "observed" else [],
        "Fetched": _fetched(weather, words),
    }


def _fetched(weather: Weather, words: Words) -> list[str]:
    """Say when a service gave it, and whether it is an old copy."""
    when = [] if weather.fetched is None else [dated(weather.fetched, words)]
    return [*when, *([f"An old copy: {weather.stale}."] if weather.stale else [])]


def _named(name: str) -> str:
    """Name a format as an option takes it and as people do."""
    known = formats().get(name)
    return name if known is None else f"{name} ({known.title})"


def _step(weather: Weather) -> str:
    known = formats().get(weather.format)
    rows = "hours" if known is None else known.layout.get("rows", "hours")
    return _STEP.get(rows, "one row an hour")


def _times(weather: Weather) -> list[str]:
    """Say what a time of the file labels, and on which clock bare ones were read."""
    labelled = [_LABEL[weather.label]] if weather.label in _LABEL else []
    if not weather.zone:
        return [*labelled, "Each time in the file has its offset from UTC."]
    return [*labelled, f"Times without an offset were read in {weather.zone}."]


def _gaps(found: tuple[Gap, ...], words: Words) -> list[str]:
    longest = longest_gap(found)
    if longest is None:
        return ["Not one: no hour from first to last is without a row."]
    begins = f"{dated(longest.first, words)} {words.time_zone}"
    if len(found) == 1:
        return [f"One, of {longest.hours} h, from {begins}."]
    hours = sum(x.hours for x in found)
    return [
        f"{len(found)} of {hours} h together; the longest, {longest.hours} h, from {begins}."
    ]


def _year(year: Year) -> str:
    blank = year.blank_gusts - year.missing
    parts = [
        f"{year.year}: {year.hours} hours",
        f"{year.missing} not there" if year.missing else "",
        f"{blank} more without a gust" if blank and year.missing else "",
        f"{blank} without a gust" if blank and not year.missing else "",
    ]
    return ", ".join(x for x in parts if x) + "."


def position(latitude: float, longitude: float) -> str:
    """Write degrees north and east: ``44.02 N 91.40 W`` [deg]."""
    north, east = "NS"[latitude < 0], "EW"[longitude < 0]
    return f"{abs(latitude):.2f} {north} {abs(longitude):.2f} {east}"


def dated(time: pd.Timestamp, words: Words) -> str:
    """Write a time with its year, for files that may span many."""
    return f"{words.day(time)} {words.date(time).year} {words.clock(time)}"


def _columns(weather: Weather, units: str) -> list[str]:
    lines = [f"{'Columns':<12}{'':<28}{'origin':<11}{'blank':>6}   lowest to highest"]
    there = weather_columns(weather, units=units)
    for name, origin, blank, span in there:
        label = f"{'':<12}{name:<28}{origin:<11}{blank:>6}   "
        lines += item(label, span, width=len(label))
    missing = [x for x in weather.origin if x not in {name for name, *_ in there}]
    return [*lines, *items("Not there", [", ".join(missing)] if missing else [])]


def _range(values: np.ndarray, name: str, units: str) -> str:
    finite = values[np.isfinite(values)]
    if not finite.size:
        return "no data"
    column = COLUMN.get(name)
    low, high = float(finite.min()), float(finite.max())
    if column is None or not column.dimension:
        return f"{low:.3g} to {high:.3g} {column.unit if column else ''}".removesuffix(" -")
    if column.name == "pressure":
        return f"{low / 100:.0f} to {high / 100:.0f} hPa"
    return f"{show(low, column.dimension, units, unit=False)} to " + show(
        high, column.dimension, units
    )


def _gusts(weather: Weather, units: str) -> list[str]:
    meaning = {"not said": "the file does not say over what time", "none": "the file has none"}
    parts = [meaning.get(weather.gust_meaning, weather.gust_meaning)]
    if weather.gust_resolution:
        step = show(weather.gust_resolution, "speed", units)
        parts.append(f"rounded to steps of {step}")
    lines = [", ".join(parts) + "."]
    blank = blank_hours(weather, "wind_gust")
    if blank == weather.hours:
        lines = ["The file has none: every gust is estimated from the mean wind, and counted."]
    elif blank:
        share = of_100(blank / weather.hours)
        lines.append(
            f"{blank} of {weather.hours} gusts are blank ({share}). A blank gust is not a "
            "calm: it is estimated from the mean wind, and counted."
        )
    else:
        lines.append("No gust is blank.")
    return lines
