"""Several rows of one hour as one: files that fill each other, reports, parts of the hour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import WeatherError
from planner.weather.hourly.clean import plural
from planner.weather.table import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.hourly.rows import Rows
    from planner.weather.table import Floats

    Times = NDArray[np.datetime64]

# When files are taken for different stations': assumed, no source.
_SHARED_HOURS: Final = 24  # or more [-]
_STRANGE: Final = 0.5  # of these differ [-]
# Which reports are the routine ones of an hour, and speak of a quantity: assumed, no source.
_NEAR_MINUTES: Final = 2  # from the usual minute [min]
_USUALLY: Final = 0.5  # of them at least [-]
_MINUTE: Final = np.timedelta64(60_000_000_000, "ns")

#: Of several rows for one hour the largest of these counts; of the rest the last there is.
_LARGER: Final = (
    "wind_speed",
    "wind_gust",
    "wind_speed_aloft",
    "precipitation",
    "precipitation_probability",
    "thunder",
)
#: Of the parts of an hour the largest of these counts.
_LARGEST: Final = ("wind_gust", "precipitation_probability", "thunder")


def one_row_an_hour(
    rows: Rows, starts: Times, notes: list[Note], *, hourly: bool = True
) -> tuple[Rows, Times]:
    """Put the rows of one hour together.

    Parameters
    ----------
    rows : Rows
        In order of their hours.
    starts : numpy.ndarray of datetime64[ns], shape (rows,)
        Start of the hour each belongs to [UTC].
    notes : list of Note
        Which hours stood twice, and whether they differed, is added here.
    hourly : bool
        Whether a file should have one row an hour; reports may be several.

    Returns
    -------
    tuple of Rows and numpy.ndarray
        One row an hour: the larger wind, gust and rain, of the rest the last there is.

    Raises
    ------
    WeatherError
        If hourly files differ in most of the hours they share.
    """
    first, last = _stretches(starts)
    if first.size == starts.size:
        return rows, starts
    larger = {name: np.fmax.reduceat(v, first, axis=1) for name, v in rows.values.items()}
    if hourly:
        _look_at_doubles(rows, larger, (first, last), notes)
    merged = {
        name: larger[name] if name in _LARGER else _last_there(value, first, last)
        for name, value in rows.values.items()
    }
    if not hourly:
        merged |= _as_routine(rows, merged, first)
    return rows.take(last).with_values(**merged), starts[first]


def _as_routine(
    rows: Rows, merged: dict[str, Floats], first: NDArray[np.int64]
) -> dict[str, Floats]:
    """Take wind and rain as missing where the hour's routine report lacks them.

    A special report speaks of a part of the hour; it may raise what the routine report
    says, but does not stand for it.
    """
    minutes = (rows.labels - rows.labels.astype("datetime64[h]")) // _MINUTE
    usual = np.bincount(minutes.astype(np.int64), minlength=60).argmax()
    apart = (minutes.astype(np.int64) - usual) % 60
    routine = (apart <= _NEAR_MINUTES) | (apart >= 60 - _NEAR_MINUTES)
    out = {}
    for name in {"wind_speed", "precipitation"} & merged.keys():
        told = ~np.isnan(rows.values[name])
        if told[:, routine].mean() < _USUALLY:
            continue  # the routine reports of this station do not speak of it
        has = np.logical_or.reduceat(routine, first)
        says = np.logical_or.reduceat(told & routine, first, axis=1)
        out[name] = np.where(has & ~says, np.nan, merged[name])
    return out


def _look_at_doubles(
    rows: Rows,
    larger: dict[str, Floats],
    ends: tuple[NDArray[np.int64], NDArray[np.int64]],
    notes: list[Note],
) -> None:
    """Note hours that stand twice, and refuse files that do not belong together."""
    first, last = ends
    differs = np.zeros(first.size, bool)
    for name, value in rows.values.items():
        differs |= (larger[name] > np.fmin.reduceat(value, first, axis=1)).any(axis=0)
    across = rows.file_at[first] != rows.file_at[last]
    _refuse_strangers(rows, across=across, differs=differs)
    _note_doubles(rows, ends, across=across, differs=differs, notes=notes)


def _refuse_strangers(
    rows: Rows, *, across: NDArray[np.bool_], differs: NDArray[np.bool_]
) -> None:
    """Refuse files that differ in most of the hours they share: not one station's."""
    shared = int(across.sum())
    if shared >= _SHARED_HOURS and differs[across].mean() > _STRANGE:
        raise WeatherError(
            f"The files share {shared:,} hours and differ in {int(differs[across].sum()):,} "
            "of them.",
            fix="Read files of one station together.",
            file=rows.files[-1],
        )


def _stretches(starts: Times) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give the first and the last row of every hour."""
    fresh = np.concatenate([[True], starts[1:] != starts[:-1]])
    first = np.flatnonzero(fresh)
    return first, np.append(first[1:], starts.size) - 1


def _last_there(value: Floats, first: NDArray[np.int64], last: NDArray[np.int64]) -> Floats:
    """Give the last number there is in each stretch of rows."""
    rows = np.arange(value.shape[1])
    known = np.maximum.accumulate(np.where(np.isnan(value), -1, rows), axis=1)[:, last]
    taken = np.take_along_axis(value, np.maximum(known, 0), axis=1)
    return np.where(known >= first, taken, np.nan)


def _note_doubles(
    rows: Rows,
    ends: tuple[NDArray[np.int64], NDArray[np.int64]],
    *,
    across: NDArray[np.bool_],
    differs: NDArray[np.bool_],
    notes: list[Note],
) -> None:
    first, last = ends
    several = last > first
    where = "in several of the files" if len(rows.files) > 1 else "twice in the file"
    for code, mask, text in (
        (
            "doubled",
            several & ~differs & ~across,
            "twice in the file, both the same; one was kept",
        ),
        (
            "overlap",
            several & ~differs & across,
            "in several of the files, with nothing different; they were put together",
        ),
        (
            "doubled_differ",
            differs,
            f"{where} with different numbers; the larger wind, gust and rain and the last of "
            "the rest were kept",
        ),
    ):
        places = np.flatnonzero(mask)
        if places.size:
            told = rows.where(int(first[places[0]]) + 1)
            said = f"{plural(places.size, 'hour')} {text} (first: {told})."
            notes.append(Note(code=code, text=said, doubt=code == "doubled_differ"))


def whole_hours(rows: Rows, starts: Times, notes: list[Note]) -> tuple[Rows, Times]:
    """Put equal parts of the hour together: means, sums of rain, the largest gust.

    Parameters
    ----------
    rows : Rows
        Parts in order of time, each of the step that is most common.
    starts : numpy.ndarray of datetime64[ns], shape (rows,)
        Start of the hour each part belongs to [UTC].
    notes : list of Note
        Of how many parts, and how many hours lack some, is added here.

    Returns
    -------
    tuple of Rows and numpy.ndarray
        One row an hour. A sum of rain with a part missing is missing, and so is a mean of
        less than half of the parts.
    """
    starts = starts[_stretches(rows.labels)[0]]
    rows, labels = one_row_an_hour(rows, rows.labels, notes)
    minutes = np.diff(labels) / _MINUTE
    parts = max(round(60.0 / float(np.median(minutes))), 1) if minutes.size else 1
    first, last = _stretches(starts)
    merged = {}
    for name, value in rows.values.items():
        count = np.add.reduceat((~np.isnan(value)).astype(np.int64), first, axis=1)
        if name in _LARGEST:
            merged[name] = np.fmax.reduceat(value, first, axis=1)
            continue
        if name == "wind_direction":
            merged[name] = _last_there(value, first, last)
            continue
        total = np.add.reduceat(np.nan_to_num(value), first, axis=1)
        if name == "precipitation":
            merged[name] = np.where(count >= parts, total, np.nan)
        else:
            enough = 2 * count >= parts
            merged[name] = np.where(enough, total / np.maximum(count, 1), np.nan)
    short = int((last - first + 1 < parts).sum())
    text = f"Hours were put together from {parts} parts of {60 // parts} minutes each"
    text += f"; {plural(short, 'hour')} lack some." if short else "."
    notes.append(Note(code="parts", text=text))
    return rows.take(first).with_values(**merged), starts[first]
