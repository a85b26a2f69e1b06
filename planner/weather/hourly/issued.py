"""When a forecast was made, for which times its rows are, and when it was fetched."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import SeveralIssues, WeatherError
from planner.weather.hourly.about import check_word
from planner.weather.hourly.clock import read_labels
from planner.weather.table import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.file.sheet import Sheet
    from planner.weather.hourly.clock import Clock
    from planner.weather.hourly.rows import Rows

_WRITE_TIME: Final = "Write it as 2026-04-20T06:00-04:00."


def read_times(
    sheet: Sheet, clock: Clock, *, groups: NDArray[np.object_] | None, notes: list[Note]
) -> tuple[NDArray[np.datetime64], NDArray[np.datetime64] | None, str]:
    """Read what each row is labelled with, and when its forecast was issued.

    Parameters
    ----------
    sheet : Sheet
        The table.
    clock : Clock
        The clock of bare times.
    groups : numpy.ndarray or None, shape (rows,)
        The place of each row [-].
    notes : list of Note
        What the clock change needed is added here.

    Returns
    -------
    tuple of numpy.ndarray of datetime64[ns], shape (rows,), and str
        Labels and issue times, UTC, None for these if no column says so; and the clock in
        which labels stood, "" if each carried its offset.

    Raises
    ------
    WeatherError
        If one of them is blank or cannot be read.
    """
    fields, issue = sheet.clock, sheet.issue
    if issue is None:
        labels, zone = read_labels(sheet, clock, fields=fields, groups=groups, notes=notes)
        return labels, None, str(zone or "")
    each, of = sheet.once(issue)
    told: list[Note] = []
    issues = read_labels(each, clock, fields=[issue], groups=None, notes=told)[0][of]
    if clock.zone is None or clock.zone.utcoffset(None) is not None:
        each, which = sheet.once(fields[0])  # many forecasts of the same hours
        labels, zone = read_labels(each, clock, fields=fields, groups=None, notes=notes)
        labels = labels[which]
    else:
        kinds = of.astype(object)
        labels, zone = read_labels(sheet, clock, fields=fields, groups=kinds, notes=notes)
    notes += [note for note in told if note not in notes]
    return labels, issues, str(zone or "")


def choose_issue(
    rows: Rows, asked: str | dt.datetime | None, *, clock: dt.tzinfo | None
) -> tuple[Rows, pd.Timestamp | None]:
    """Keep the rows of one forecast where a column says when each was issued.

    Parameters
    ----------
    rows : Rows
        The rows of one place.
    asked : str or datetime or None
        The option.
    clock : datetime.tzinfo or None
        Clock of a time without offset.

    Returns
    -------
    tuple of Rows and pandas.Timestamp or None
        The rows of that forecast and its issue time, UTC; None where no column says
        so, or an option overrules the one forecast there is.

    Raises
    ------
    SeveralIssues
        If there are several forecasts and none is asked for.
    WeatherError
        If one is asked for that is not there.
    """
    if rows.issues is None:
        return rows, None
    issues = pd.DatetimeIndex(np.unique(rows.issues), tz="UTC")
    if len(issues) == 1:
        return rows, issues[0] if asked is None else None
    file, last = rows.files[0], issues[-1]
    if asked is None:
        raise SeveralIssues(
            f"It holds {len(issues):,} forecasts, issued from {issues[0]:%Y-%m-%d %H:%M} to "
            f"{last:%Y-%m-%d %H:%M} UTC; one is wanted here.",
            fix="Use it with replay or learn, or choose one with "
            f"--issued {last:%Y-%m-%dT%H:%MZ}.",
            file=file,
            key="issued",
        )
    made = _moment(asked, clock, file)
    if made not in issues:
        near = issues[int(np.argmin(np.abs(issues - made)))]
        raise WeatherError(
            f"None of its {len(issues):,} forecasts was issued {made:%Y-%m-%d %H:%M} UTC.",
            fix=f"The nearest is --issued {near:%Y-%m-%dT%H:%MZ}.",
            file=file,
            key="issued",
        )
    return rows.take(rows.issues == made.to_datetime64()), made


def _moment(word: str | dt.datetime, clock: dt.tzinfo | None, file: str) -> pd.Timestamp:
    """Read a time that was typed, or stands above the table, as UTC."""
    try:
        made = pd.Timestamp(word).as_unit("ns")
    except (ValueError, TypeError) as err:
        text = f'"{word}" is not a time.'
        raise WeatherError(text, fix=_WRITE_TIME, file=file, key="issued") from err
    if bool(pd.isna(made)) or (made.tzinfo is None and clock is None):
        text = f'"{word}" has no offset from UTC.'
        raise WeatherError(text, fix=_WRITE_TIME, file=file, key="issued")
    if made.tzinfo is None:
        made = made.tz_localize(clock, ambiguous=True, nonexistent="shift_forward")
    return made.tz_convert("UTC")


def issue_time(
    asked: str | dt.datetime | None,
    meta: dict[str, str],
    *,
    column: pd.Timestamp | None,
    times: pd.DatetimeIndex,
    clock: dt.tzinfo | None,
    file: str,
    notes: list[Note],
) -> tuple[pd.Timestamp, str]:
    """Tell when a forecast was made: its column, the option, the file, else its first hour.

    Parameters
    ----------
    asked : str or datetime or None
        The option.
    meta : dict of str to str
        What stands above the table.
    column : pandas.Timestamp or None
        What the column of issue times says of these rows.
    times : pandas.DatetimeIndex
        Starts of the hours from the first with a wind on, UTC.
    clock : datetime.tzinfo or None
        Clock of a time without offset.
    file : str
        For the error message.
    notes : list of Note
        That the first hour was taken is added here.

    Returns
    -------
    tuple of pandas.Timestamp and str
        The time, UTC, and "column", "option", "file" or "first hour".

    Raises
    ------
    WeatherError
        If it cannot be read or lies after the last hour.
    """
    said = meta.get("issued_from", "file")
    check_word("issued_from", said, ("file", "fetched"), file=file)
    word, whence = (asked, "option") if asked is not None else (meta.get("issued"), said)
    if column is not None:
        word, whence = column, "column"
    if word is None:
        text = "The file does not say when it was issued; its first hour was taken."
        notes.append(Note(code="issued_assumed", text=text))
        return times[0] - pd.Timedelta(days=int(meta.get("days_before", 0))), "first hour"
    made = _moment(word, clock, file)
    if made > times[-1]:
        raise WeatherError(
            f"It says it was issued {made:%Y-%m-%d %H:%M} UTC, after its last hour.",
            fix="Give the right time with --issued, or --kind observed for a record.",
            file=file,
            key="issued",
        )
    return made, whence


def fetched_time(
    meta: dict[str, str], *, clock: dt.tzinfo | None, file: str
) -> pd.Timestamp | None:
    """Tell when a service gave what is in a file.

    Parameters
    ----------
    meta : dict of str to str
        What stands above the table.
    clock : datetime.tzinfo or None
        Clock of a time without offset.
    file : str
        For the error message.

    Returns
    -------
    pandas.Timestamp or None
        The time, UTC; None where the file does not say.

    Raises
    ------
    WeatherError
        If it cannot be read.
    """
    return _moment(meta["fetched"], clock, file) if "fetched" in meta else None


def age_of(span: dt.timedelta) -> str:
    """Write how old something is.

    Parameters
    ----------
    span : datetime.timedelta
        How old.

    Returns
    -------
    str
        Two units at most.

    Examples
    --------
    >>> [age_of(dt.timedelta(minutes=x)) for x in (35, 320, 4560)]
    ['35 min', '5 h 20 min', '3 d 4 h']
    """
    minutes = round(span.total_seconds() / 60)
    days, hours, left = minutes // 1440, minutes % 1440 // 60, minutes % 60
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {left} min" if left else f"{hours} h"
    return f"{left} min"
