"""Times of a weather file, whatever clock it keeps, as UTC.

A text without an offset needs a zone. In the night the clocks go back an hour
comes twice, and the order of the lines says which is which; a time that the
clocks skipped is refused.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

from planner.errors import WeatherError, nearest
from planner.weather.table import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.rows import Numbers

    Times = NDArray[np.datetime64]

_FIRST, _LAST = np.datetime64("1850-01-01"), np.datetime64("2200-01-01")
_WITH_OFFSET: Final = re.compile(r"(?:[zZ]|[+-]\d\d:?\d\d)$")
_OFFSET: Final = re.compile(r"^(?:UTC|GMT)?\s*([+-])(\d\d?):?(\d\d)?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Which clock texts without an offset are in.

    Attributes
    ----------
    zone : datetime.tzinfo or None
        The clock, None where nobody said.
    overruled : datetime.tzinfo or None
        The file's own clock, where an option names another.
    """

    zone: dt.tzinfo | None
    overruled: dt.tzinfo | None = None


def read_zone(name: str, *, file: str | None = None) -> dt.tzinfo:
    """Read a time zone: ``America/New_York``, ``UTC``, ``-04:00``.

    Parameters
    ----------
    name : str
        As written.
    file : str, optional
        For the error message.

    Returns
    -------
    datetime.tzinfo
        The zone.

    Raises
    ------
    WeatherError
        If there is no such zone.

    Examples
    --------
    >>> read_zone("-04:00").utcoffset(None)
    datetime.timedelta(days=-1, seconds=72000)
    """
    fixed = _OFFSET.match(name.strip())
    if fixed:
        sign, hours, minutes = fixed.groups()
        east = dt.timedelta(hours=int(hours), minutes=int(minutes or 0))
        if east < dt.timedelta(hours=16):
            return dt.timezone(-east if sign == "-" else east)
    try:
        return ZoneInfo(name.strip())
    except (ZoneInfoNotFoundError, ValueError, OSError) as err:
        known = ("UTC", "America/New_York", "America/Chicago", "America/Denver")
        near = nearest(name, (*known, "America/Los_Angeles", "Europe/London"))
        raise WeatherError(
            f'"{name}" is not a time zone.',
            fix=f"Write it as {near[0] if near else 'America/New_York'}, UTC or -04:00.",
            file=file,
            key="zone",
        ) from err


def choose_clock(numbers: Numbers, zone: str | None) -> Clock:
    """Tell which clock the file's bare times are in: the option, the file, the format.

    Parameters
    ----------
    numbers : Numbers
        The file.
    zone : str or None
        The option.

    Returns
    -------
    Clock
        The clock, and the file's own if the option overrules it.

    Raises
    ------
    WeatherError
        If the zone or the file's offset cannot be read.
    """
    meta, file = numbers.sheet.meta, numbers.sheet.file
    stated = meta.get("zone") or numbers.sheet.format.time.get("zone")
    own: dt.tzinfo | None = None
    if "offset" in meta:
        if not re.fullmatch(r"-?\d{1,5}", meta["offset"]) or abs(int(meta["offset"])) >= 57600:
            text = f'"{meta["offset"]}" is not an offset in seconds.'
            raise WeatherError(text, fix="Download the file again.", file=file)
        own = dt.timezone(dt.timedelta(seconds=int(meta["offset"])))
    elif stated:
        own = read_zone(stated, file=file)
    if zone is None:
        return Clock(zone=own)
    asked = read_zone(zone)
    return Clock(zone=asked, overruled=None if str(own) == str(asked) else own)


def read_labels(
    numbers: Numbers, clock: Clock, *, groups: NDArray[np.object_] | None, notes: list[Note]
) -> Times:
    """Turn the file's times into UTC.

    Parameters
    ----------
    numbers : Numbers
        The file.
    clock : Clock
        The clock of bare times.
    groups : numpy.ndarray or None, shape (rows,)
        The place of each row [-].
    notes : list of Note
        What the clock change needed is added here.

    Returns
    -------
    numpy.ndarray of datetime64[ns], shape (rows,)
        The label of each row, UTC, in the file's order.

    Raises
    ------
    WeatherError
        If a time cannot be read, does not exist, or nobody says its zone.
    """
    if numbers.sheet.format.time["kind"] == "day and hour":
        return _localize(numbers, _day_and_hour(numbers), clock, groups=groups, notes=notes)
    text = numbers.frame[numbers.clock[0].at].str.strip()
    _refuse(numbers, text.isna(), "This line has no time.")
    unix = text.str.fullmatch(r"-?\d{9,11}")
    if numbers.sheet.format.time["kind"] == "iso or unix" and unix.all():
        return text.astype("int64").to_numpy().astype("datetime64[s]").astype("datetime64[ns]")
    aware = text.str.contains(_WITH_OFFSET)
    if aware.any():
        _refuse(numbers, ~aware, "This time has no offset from UTC, though others have.")
    times = pd.to_datetime(text, format="ISO8601", errors="coerce", utc=bool(aware.all()))
    bad = times.isna()
    if bad.any():
        word = text[bad].iloc[0]
        _refuse(numbers, bad, f'"{word}" is not a time the planner reads.')
    if aware.all():
        times = times.dt.tz_localize(None)
    stamps = times.to_numpy().astype("datetime64[s]")
    _refuse(numbers, pd.Series((stamps < _FIRST) | (stamps > _LAST)), "This year is no year.")
    stamps = stamps.astype("datetime64[ns]")
    if aware.all():
        return stamps
    return _localize(numbers, stamps, clock, groups=groups, notes=notes)


def _refuse(numbers: Numbers, rows: pd.Series, message: str) -> None:
    places = np.flatnonzero(rows.to_numpy(bool))
    if places.size:
        raise WeatherError(
            message,
            fix="Write times as 2026-04-20T06:00-04:00, or as 2026-04-20T06:00 with --zone.",
            file=numbers.sheet.file,
            line=int(numbers.sheet.lines[places[0]]),
            key=numbers.clock[0].name,
        )


def _day_and_hour(numbers: Numbers) -> Times:
    """Put days like 20260420 and hours 0 to 24 together."""
    day, hour = (numbers.number(field, None) for field in numbers.clock)
    _refuse(numbers, pd.Series(~((day >= 18500101) & (day < 22000101))), "This is no date.")
    whole = day.astype(np.int64)
    year, month, date = whole // 10000, whole // 100 % 100, whole % 100
    months = (year - 1970).astype("datetime64[Y]").astype("datetime64[M]") + (month - 1)
    days = months.astype("datetime64[D]") + (date - 1)
    inside = (month >= 1) & (month <= 12) & (date >= 1)
    wrong = ~inside | (days.astype("datetime64[M]") != months) | (whole != day)
    _refuse(numbers, pd.Series(wrong), "This is no date.")
    odd = ~((hour >= 0) & (hour <= 24) & (hour % 1 == 0))
    _refuse(numbers, pd.Series(odd), "This is no hour from 1 to 24.")
    times: Times = days.astype("datetime64[ns]") + hour.astype("timedelta64[h]")
    return times


def _localize(
    numbers: Numbers,
    stamps: Times,
    clock: Clock,
    *,
    groups: NDArray[np.object_] | None,
    notes: list[Note],
) -> Times:
    if clock.zone is None:
        raise WeatherError(
            "The times have no offset from UTC and the file names no time zone.",
            fix='Add --zone, for example --zone America/New_York (or a line "# zone: ...").',
            file=numbers.sheet.file,
            line=int(numbers.sheet.lines[0]),
            key=numbers.clock[0].name,
        )
    if clock.overruled is not None:
        text = (
            f"Bare times were read in {clock.zone} as asked; the file says {clock.overruled}."
        )
        notes.append(Note(code="zone", text=text, doubt=True))
    fixed = clock.zone.utcoffset(None)
    if str(clock.zone) == "UTC" or fixed is not None:
        return stamps - np.timedelta64(int((fixed or dt.timedelta()).total_seconds()), "s")
    index = pd.DatetimeIndex(stamps)
    summer = np.ones(len(index), bool)
    sure = index.tz_localize(clock.zone, ambiguous=summer, nonexistent="NaT")
    skipped = pd.Series(sure.isna())
    if skipped.any():
        when = index[int(np.argmax(skipped))].strftime("%Y-%m-%d %H:%M")
        _refuse(numbers, skipped, f"{when} does not exist in {clock.zone}: the clocks skip it.")
    twice = index.tz_localize(clock.zone, ambiguous="NaT", nonexistent="NaT").isna()
    if twice.any():
        summer = _first_pass(numbers, index, np.flatnonzero(twice), groups=groups, notes=notes)
        sure = index.tz_localize(clock.zone, ambiguous=summer, nonexistent="NaT")
    return sure.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[ns]")


def _first_pass(
    numbers: Numbers,
    index: pd.DatetimeIndex,
    rows: NDArray[np.int64],
    *,
    groups: NDArray[np.object_] | None,
    notes: list[Note],
) -> NDArray[np.bool_]:
    """Tell by the order of the lines which of two equal hours came first.

    The second pass begins where the clock does not move forward.
    """
    first = np.ones(len(index), bool)
    falling = index[0] > index[-1]
    passes: dict[tuple[object, ...], set[bool]] = {}
    before, second = -2, False
    night: tuple[object, ...] = ()
    for row in rows[::-1].tolist() if falling else rows.tolist():
        here: tuple[object, ...] = (index[row].date(), None if groups is None else groups[row])
        if here != night or abs(row - before) > 1:
            second = False
        elif index[row] <= index[before]:
            second = True
        first[row] = not second
        passes.setdefault(here, set()).add(second)
        before, night = row, here
    alone = [date for (date, *_), seen in passes.items() if len(seen) == 1]
    if len(alone) < len(passes):
        text = (
            f"{len(passes) - len(alone)} nights in which the clocks went back were told apart "
            "by the order of their lines."
        )
        notes.append(Note(code="clock_change", text=text))
    if alone:
        text = (
            f"On {alone[0]} the clocks went back but the hour stands only once (line "
            f"{numbers.sheet.lines[rows[0]]}); it was read as the first of the two."
        )
        notes.append(Note(code="clock_once", text=text, doubt=True))
    return first
