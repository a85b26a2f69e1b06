"""What a weather file, or an option, says of the whole: kind, label, issue time, place."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final, cast, get_args

import numpy as np
import pandas as pd

from planner.errors import SeveralIssues, WeatherError, nearest
from planner.weather.clock import read_labels
from planner.weather.formats import LABELS, Label
from planner.weather.table import Note, WeatherKind, WeatherPlace

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.clock import Clock
    from planner.weather.rows import Rows
    from planner.weather.sheet import Sheet

KINDS: Final[tuple[str, ...]] = get_args(WeatherKind)
_WRITE_TIME: Final = "Write it as 2026-04-20T06:00-04:00."
EXAMPLE: Final = "example"  # a kind that only a file may claim: a forecast out of time
_LONGEST_FORECAST: Final = 35.0  # days; longer is a record


def check_word(key: str, word: str | None, known: tuple[str, ...], *, file: str | None) -> None:
    """Refuse a word that is not one of a few.

    Parameters
    ----------
    key : str
        What the word is for.
    word : str or None
        The word; None passes.
    known : tuple of str
        What it may be.
    file : str or None
        Where it stands, None for an option.

    Raises
    ------
    WeatherError
        If it is another word; the nearest is named.
    """
    if word is not None and word not in known:
        near = nearest(word, known)
        raise WeatherError(
            f'"{word}" is not one of {", ".join(known)}.',
            fix=f"Did you mean {near[0]}?" if near else f"Write {known[0]}.",
            file=file,
            key=key,
        )


def choose_label(
    asked: str | None, meta: dict[str, str], file: str, *, default: Label
) -> Label:
    """Tell what a row's time says: the option, the file, the format.

    Parameters
    ----------
    asked : str or None
        The option.
    meta : dict of str to str
        What stands above the table.
    file : str
        For the error message.
    default : str
        The format's rule.

    Returns
    -------
    {"start", "end", "closes"}
        The rule.

    Raises
    ------
    WeatherError
        If the file says another word.
    """
    word = asked or meta.get("label") or default
    check_word("label", word, LABELS, file=file)
    return cast("Label", word)


def choose_kind(
    asked: str | None,
    meta: dict[str, str],
    rows: Rows,
    *,
    default: WeatherKind,
    notes: list[Note],
) -> WeatherKind:
    """Tell what the numbers are: the option, the file, the format.

    Parameters
    ----------
    asked : str or None
        The option.
    meta : dict of str to str
        What stands above the table.
    rows : Rows
        Several members make it an ensemble; over 35 days make a forecast doubtful.
    default : str
        The format's rule.
    notes : list of Note
        A doubt is added here.

    Returns
    -------
    {"forecast", "ensemble", "observed"}
        The kind.

    Raises
    ------
    WeatherError
        If the file says another word.
    """
    word = asked or meta.get("kind") or default
    if word == EXAMPLE:
        word = "forecast"
        text = "An example file with invented weather, planned as of its own time."
        notes.append(Note(code=EXAMPLE, text=text))
    check_word("kind", word, KINDS, file=rows.files[0])
    if rows.members > 1:
        return "ensemble"
    days = (rows.labels.max() - rows.labels.min()) / np.timedelta64(1, "D")
    if word != "observed" and days > _LONGEST_FORECAST:
        text = f"{days:.0f} days are too long for a forecast; for a record add --kind observed."
        notes.append(Note(code="long_forecast", text=text, doubt=True))
    return cast("WeatherKind", word)


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
    word, whence = (asked, "option") if asked is not None else (meta.get("issued"), "file")
    if column is not None:
        word, whence = column, "column"
    if word is None:
        text = "The file does not say when it was issued; its first hour was taken."
        notes.append(Note(code="issued_assumed", text=text))
        return times[0], "first hour"
    made = _moment(word, clock, file)
    if made > times[-1]:
        raise WeatherError(
            f"It says it was issued {made:%Y-%m-%d %H:%M} UTC, after its last hour.",
            fix="Give the right time with --issued, or --kind observed for a record.",
            file=file,
            key="issued",
        )
    return made, whence


def number_above(meta: dict[str, str], key: str, file: str) -> float | None:
    """Read a number that stands above the table.

    Parameters
    ----------
    meta : dict of str to str
        What stands above the table.
    key : str
        "latitude", "longitude", "elevation" or "gust_resolution".
    file : str
        For the error message.

    Returns
    -------
    float or None
        The number, None where it is not there [deg, m or m/s].

    Raises
    ------
    WeatherError
        If it is no number or cannot be what it says.
    """
    if key not in meta:
        return None
    try:
        number = float(meta[key].split(" ")[0])
    except ValueError:
        number = float("nan")
    low, high = {
        "latitude": (-90.0, 90.0),
        "longitude": (-180.0, 360.0),
        "gust_resolution": (0.0, 10.0),
    }.get(key, (-500.0, 9000.0))
    if not low <= number <= high:
        text = f'"{meta[key]}" cannot be the {key.replace("_", " ")}.'
        raise WeatherError(text, fix="Mend that line.", file=file, key=key)
    return number


def place_of(meta: dict[str, str], name: str, file: str, *, notes: list[Note]) -> WeatherPlace:
    """Tell where the weather is for.

    Parameters
    ----------
    meta : dict of str to str
        What stands above the table.
    name : str
        The place chosen among several, or "".
    file : str
        For the error message.
    notes : list of Note
        That the file does not say is added here.

    Returns
    -------
    WeatherPlace
        The place; what the file does not say is None.

    Raises
    ------
    WeatherError
        If a number there cannot be a place.
    """
    latitude, longitude, elevation = (
        number_above(meta, key, file) for key in ("latitude", "longitude", "elevation")
    )
    if latitude is None or longitude is None:
        text = "The file does not say where it is for; check that it fits the job's place."
        notes.append(Note(code="place_unknown", text=text, doubt=True))
    return WeatherPlace(
        latitude=latitude,
        longitude=longitude,
        elevation=elevation,
        name=meta.get("name") or name,
    )
