"""Times of a weather file, whatever clock it keeps, as UTC.

A text without an offset needs a zone. In the night the clocks go back an hour
comes twice, and the order of the lines says which is which; a time that the
clocks skipped is refused.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

from planner.errors import WeatherError, nearest
from planner.weather.hourly.reports import east_by_reports
from planner.weather.hourly.stamps import times_of_parts
from planner.weather.table import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.file.sheet import Sheet
    from planner.weather.formats.maps import Field

    Times = NDArray[np.datetime64]

STANDARD: Final = "standard"  # the place's standard time the year round
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
    asked : bool
        Whether an option names it.
    """

    zone: dt.tzinfo | None
    overruled: dt.tzinfo | None = None
    asked: bool = False


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


def choose_clock(sheet: Sheet, zone: str | None) -> Clock:
    """Tell which clock the file's bare times are in: the option, the file, the format.

    Parameters
    ----------
    sheet : Sheet
        The table.
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
    meta, file = sheet.meta, sheet.file
    stated = meta.get("zone") or sheet.format.time.get("zone")
    if stated == STANDARD:
        return _standard_clock(sheet, zone)
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
    overruled = None if str(own) == str(asked) else own
    return Clock(zone=asked, overruled=overruled, asked=True)


def _standard_clock(sheet: Sheet, zone: str | None) -> Clock:
    """Give the standard time of a zone, or of the place the file is for."""
    if zone is None:
        try:
            north, east = float(sheet.meta["latitude"]), float(sheet.meta["longitude"])
        except (KeyError, ValueError):
            return Clock(zone=None)
        from tzfpy import get_tz

        zone = get_tz(east, north)
    return Clock(zone=_standard_time(read_zone(zone)))


def _standard_time(zone: dt.tzinfo) -> dt.timezone:
    """Give the offset that a zone keeps when its clocks are not put forward."""
    days = (dt.datetime(2025, month, 1, tzinfo=zone) for month in (1, 7))
    standard = min(x.utcoffset() or dt.timedelta() for x in days)
    return dt.timezone(standard)


def read_labels(
    sheet: Sheet,
    clock: Clock,
    *,
    fields: list[Field],
    groups: NDArray[np.object_] | None,
    notes: list[Note],
) -> tuple[Times, dt.tzinfo | None]:
    """Turn the file's times into UTC.

    Parameters
    ----------
    sheet : Sheet
        The table.
    clock : Clock
        The clock of bare times.
    fields : list of Field
        Where the time stands.
    groups : numpy.ndarray or None, shape (rows,)
        The place of each row [-].
    notes : list of Note
        What the clock change needed is added here.

    Returns
    -------
    tuple of numpy.ndarray of datetime64[ns], shape (rows,), and datetime.tzinfo or None
        The label of each row, UTC, in the file's order; the clock in which they stood,
        None if each carried its offset.

    Raises
    ------
    WeatherError
        If a time cannot be read, does not exist, or nobody says its zone.
    """
    read = _Read(sheet=sheet, key=fields[0].name)
    if sheet.format.time["kind"] == "parts" and fields == sheet.clock:
        stamps = times_of_parts(sheet, fields)
        return _in_utc(read, stamps, clock, groups=groups, notes=notes)
    text = _time_texts(read, fields[0])
    if sheet.format.time["kind"] == "iso or unix" and text.iloc[0].lstrip("-").isdigit():
        unix = text.str.fullmatch(r"-?\d{9,11}")
        read.refuse(~unix, "This is no time in seconds, though others are.")
        seconds = text.astype("int64").to_numpy().astype("datetime64[s]")
        return seconds.astype("datetime64[ns]"), None
    aware = _all_aware(text, read)
    times = read.read_words(text, utc=aware)
    if aware:
        times = times.dt.tz_localize(None)
    stamps = times.to_numpy().astype("datetime64[s]")
    read.refuse(pd.Series((stamps < _FIRST) | (stamps > _LAST)), "This year is no year.")
    stamps = stamps.astype("datetime64[ns]")
    if aware:
        return stamps, None
    return _in_utc(read, stamps, clock, groups=groups, notes=notes)


def _time_texts(read: _Read, field: Field) -> pd.Series:
    """Give the texts of a column of times without the space around them; none may be empty."""
    column = read.sheet.frame[field.at]
    cells = column.tolist()
    with contextlib.suppress(TypeError):  # a cell that is no text: looked at one by one
        joined = "".join(cells)
        if "" not in cells and not any(space in joined for space in " \t\r"):
            return column
    text = read.sheet.text(field)
    read.refuse(text == "", f"This {read.sheet.row_word} has no time.")
    return text


def _in_utc(
    read: _Read,
    stamps: Times,
    clock: Clock,
    *,
    groups: NDArray[np.object_] | None,
    notes: list[Note],
) -> tuple[Times, dt.tzinfo | None]:
    """Turn bare times into UTC: by the reports beside them, else by the clock."""
    east = None if clock.overruled is not None else east_by_reports(read.sheet, stamps)
    if east is None and _unconfirmed(read.sheet, clock):
        text = f"Nothing in the file says which clock its times are; read as {clock.zone}."
        notes.append(Note(code="clock_unconfirmed", text=text, doubt=True))
    if east is None:
        return _localize(read, stamps, clock, groups=groups, notes=notes), clock.zone
    if str(clock.zone) == "UTC" and east.any():
        text = "By the reports in it its times are not UTC; each was read as its report says."
        notes.append(Note(code="report_clock", text=text, doubt=True))
    usual = dt.timedelta(minutes=int(np.median(east.astype(np.int64))))
    zone = clock.zone if clock.zone and str(clock.zone) != "UTC" else dt.timezone(usual)
    return stamps - east, zone


def _unconfirmed(sheet: Sheet, clock: Clock) -> bool:
    """Say whether a download may be in any clock, and neither it nor anybody says which."""
    free = "reports" in sheet.format.time and sheet.format.time["zone"] != STANDARD
    return free and clock.overruled is None and "zone" not in sheet.meta and not clock.asked


def _all_aware(text: pd.Series, read: _Read) -> bool:
    """Say whether every time carries its offset from UTC; refuse a mixture."""
    joined, rows = "".join(text.tolist()), len(text)
    ends = joined.count("Z"), joined.count("+"), joined.count("z")
    if ends in ((rows, 0, 0), (0, rows, 0)):
        return True
    if ends == (0, 0, 0) and joined.count("-") == 2 * rows:  # those of the dates
        return False
    aware = text.str.contains(_WITH_OFFSET)
    if aware.any():
        read.read_words(text[~aware])
        read.refuse(~aware, "This time has no offset from UTC, though others have.")
    return bool(aware.all())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """The table whose times are read, and their column, for messages."""

    sheet: Sheet
    key: str

    def refuse(self, rows: pd.Series, message: str) -> None:
        """Refuse the first of some rows, if there is any."""
        places = np.flatnonzero(rows.to_numpy(bool))
        if places.size:
            raise self.sheet.error(
                message,
                fix="Write times as 2026-04-20T06:00-04:00, or as 2026-04-20T06:00 "
                "with --zone.",
                row=int(places[0]),
                key=self.key,
            )

    def read_words(self, text: pd.Series, *, utc: bool = True) -> pd.Series:
        """Read texts as times; refuse the first that is none."""
        times = pd.to_datetime(text, format="ISO8601", errors="coerce", utc=utc)
        bad = times.isna()
        if bad.any():
            rows = bad.reindex(self.sheet.frame.index, fill_value=False)
            self.refuse(rows, f'"{text[bad].iloc[0]}" is not a time the planner reads.')
        return times


def _localize(
    read: _Read,
    stamps: Times,
    clock: Clock,
    *,
    groups: NDArray[np.object_] | None,
    notes: list[Note],
) -> Times:
    if clock.zone is None:
        raise read.sheet.error(
            "The times have no offset from UTC and the file names no time zone.",
            fix='Add --zone, for example --zone America/New_York (or a line "# zone: ...").',
            row=0,
            key=read.key,
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
        read.refuse(skipped, f"{when} does not exist in {clock.zone}: the clocks skip it.")
    twice = index.tz_localize(clock.zone, ambiguous="NaT", nonexistent="NaT").isna()
    if twice.any():
        summer = _first_pass(
            read.sheet, index, np.flatnonzero(twice), groups=groups, notes=notes
        )
        sure = index.tz_localize(clock.zone, ambiguous=summer, nonexistent="NaT")
    return sure.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[ns]")


def _first_pass(
    sheet: Sheet,
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
            f"On {alone[0]} the clocks went back but the hour stands only once "
            f"({sheet.row_word} {sheet.lines[rows[0]]}); it was read as the first of the two."
        )
        notes.append(Note(code="clock_once", text=text, doubt=True))
    return first
