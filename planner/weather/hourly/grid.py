"""Rows on an even grid of hours: order, doubles, gaps, labels, the two ends of an hour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from planner.errors import GapTooLong, WeatherError
from planner.weather.hourly.clean import plural, raise_gusts, utc_text
from planner.weather.hourly.merge import one_row_an_hour, whole_hours
from planner.weather.table import Note

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.weather.formats.maps import Label
    from planner.weather.hourly.rows import Rows
    from planner.weather.table import Floats

    Times = NDArray[np.datetime64]

RowsAre = Literal["hours", "reports", "parts"]

_HOUR: Final = np.timedelta64(3_600_000_000_000, "ns")
_MINUTE: Final = np.timedelta64(60_000_000_000, "ns")
_NONE: Final = np.timedelta64(0, "ns")

_LONGEST_FILL: Final = 2  # hours over which temperature is filled [-]
_HOURLY_SHARE: Final = 0.5  # of the steps must be an hour [-]
_LEAST_SHARE: Final = 0.1  # of the hours between first and last must be there [-]


def to_hours(
    rows: Rows, label: Label, notes: list[Note], *, rows_are: RowsAre = "hours"
) -> tuple[Times, dict[str, Floats]]:
    """Put rows on an even grid of hours, each labelled by its start.

    Parameters
    ----------
    rows : Rows
        The rows of one place, in the file's order.
    label : {"start", "end", "closes"}
        What a row's time says: the start or the end of its hour, or any minute
        of the hour that the report closes.
    notes : list of Note
        What was sorted, dropped, filled or is missing is added here.
    rows_are : {"hours", "reports", "parts"}
        One row an hour; reports at any minute, several an hour; equal parts of the hour.

    Returns
    -------
    tuple of numpy.ndarray and dict of str to numpy.ndarray
        Starts of the hours, UTC, and the columns, shape (members or 1, hours).

    Raises
    ------
    WeatherError
        If the rows are not an hour apart.
    GapTooLong
        If nine tenths of the hours between first and last are not there.

    Notes
    -----
    A number that is the state at its label is carried to the hour between two
    labels: the mean, the larger or the first of its ends, missing if one of
    them is. So the first hour of an hour-ending forecast knows rain and gust
    only. Sums of rain and the largest gust are those of the file.
    """
    if rows_are == "hours":
        _check_steps(rows, label)
    if rows_are == "parts":
        label = "closes"
    starts = rows.labels if label == "start" else _ceil(rows.labels, label) - _HOUR
    back = np.diff(rows.labels) < _NONE
    if back.any():
        order = np.argsort(rows.labels, kind="stable")
        if (back & (np.diff(rows.file_at) == 0)).any():
            text = "The rows were not in order of time; sorted."
            notes.append(Note(code="sorted", text=text))
        rows, starts = rows.take(order), starts[order]
    if rows_are == "parts":
        rows, starts = whole_hours(rows, starts, notes)
    else:
        hourly = rows_are == "hours"
        rows, starts = one_row_an_hour(rows, starts, notes, hourly=hourly)
    times = np.arange(starts[0], starts[-1] + _HOUR, _HOUR)
    if starts.size < _LEAST_SHARE * times.size:
        raise GapTooLong(
            f"The times run from {utc_text(times[0])} to {utc_text(times[-1])}, but only "
            f"{starts.size:,} of these {times.size:,} hours are in the file.",
            fix="Take out rows with a wrong date, or read the years one at a time.",
            file=rows.files[0],
        )
    place = ((starts - times[0]) // _HOUR).astype(np.int64)
    values = {name: _spread(value, place, times.size) for name, value in rows.values.items()}
    _note_gaps(times, place, notes)
    _note_missing(rows, notes)
    _note_blank_gusts(rows, notes)
    for name in ("temp_air", "temp_dew"):
        if name in values:
            values[name] = _fill(name, values[name], notes)
    return times, _joined(rows, values, label)


def _check_steps(rows: Rows, label: Label) -> None:
    steps = np.diff(np.sort(rows.labels))
    steps = steps[steps > _NONE]
    if steps.size:
        minutes_apart = steps / _MINUTE
        low, high = (50, 70) if label == "closes" else (60, 60)
        if ((minutes_apart >= low) & (minutes_apart <= high)).mean() < _HOURLY_SHARE:
            step = float(np.median(minutes_apart))
            apart = f"{step:g} minutes" if step < 120 else f"{step / 60:g} hours"
            raise WeatherError(
                f"The rows are {apart} apart; the planner reads hourly data.",
                fix="Download the hourly table.",
                file=rows.files[0],
            )
    if label == "closes":
        return
    minutes = (rows.labels - rows.labels.astype("datetime64[h]")) // _MINUTE
    odd = np.flatnonzero((minutes != minutes[0]) | (minutes % 15 != 0))
    if odd.size:
        raise WeatherError(
            f"This row is labelled {int(minutes[odd[0]])} minutes past the hour.",
            fix="If rows are reports made shortly before the hour ends, add --label closes.",
            file=rows.file_of(int(odd[0])),
            line=int(rows.lines[odd[0]]),
        )


def _ceil(labels: Times, label: Label) -> Times:
    if label == "end":
        return labels
    hours = labels.astype("datetime64[h]").astype("datetime64[ns]")
    return np.where(labels > hours, hours + _HOUR, hours)


def _spread(value: Floats, place: NDArray[np.int64], hours: int) -> Floats:
    if value.shape[1] == hours:
        return np.array(value)
    out = np.full((len(value), hours), np.nan)
    out[:, place] = value
    return out


def _note_gaps(times: Times, place: NDArray[np.int64], notes: list[Note]) -> None:
    gaps = np.diff(place) - 1
    if not gaps.any():
        return
    longest = int(np.argmax(gaps))
    text = (
        f"{plural(int(gaps.sum()), 'hour')} not in the file, in "
        f"{plural(int((gaps > 0).sum()), 'gap')}; the longest, {int(gaps[longest])} h, begins "
        f"{utc_text(times[place[longest] + 1])}."
    )
    notes.append(Note(code="gaps", text=text))


def _note_missing(rows: Rows, notes: list[Note]) -> None:
    for name in ("temp_air", "wind_speed", "precipitation"):
        blank = np.isnan(rows.values.get(name, np.zeros((1, 1)))).any(axis=0)
        if blank.any():
            text = f"{name} is missing in {blank.sum():,} of the {blank.size:,} hours given."
            notes.append(Note(code="missing", text=text))


def _note_blank_gusts(rows: Rows, notes: list[Note]) -> None:
    gusts = rows.values.get("wind_gust")
    if gusts is None or np.isnan(gusts).all():
        notes.append(
            Note(
                code="no_gusts",
                text="The file has no gusts; they will be estimated.",
                doubt=True,
            )
        )
        return
    blank, rows_all = int(np.isnan(gusts).any(axis=0).sum()), gusts.shape[1]
    if blank:
        text = (
            f"{blank:,} of {rows_all:,} gusts are missing ({blank / rows_all:.1%}); "
            "a blank gust is not calm, they will be estimated."
        )
        notes.append(Note(code="gusts_missing", text=text, doubt=blank > 0.05 * rows_all))


def _fill(name: str, value: Floats, notes: list[Note]) -> Floats:
    """Fill gaps of at most two hours on a straight line between their ends."""
    missing = np.isnan(value)
    if not missing.any():
        return value
    filled = value.copy()
    hours = np.arange(value.shape[1])
    for row, gap in zip(filled, missing, strict=True):
        given = np.flatnonzero(~gap)
        if given.size < 2:
            continue
        after = np.searchsorted(given, hours[gap])
        inside = (after > 0) & (after < given.size)
        at, after = hours[gap][inside], after[inside]
        short = given[after] - given[after - 1] - 1 <= _LONGEST_FILL
        row[at[short]] = np.interp(at[short], given, row[given])
    count = int(missing.sum() - np.isnan(filled).sum())
    if count:
        text = f"{plural(count, 'hour')} of {name} filled from the hours beside."
        notes.append(Note(code="temperature_filled", text=text))
    return filled


def _joined(rows: Rows, values: dict[str, Floats], label: Label) -> dict[str, Floats]:
    """Carry states at labels to the hour between two labels."""
    out = {}
    for name, value in values.items():
        how = rows.taken[name].source.joins
        if not how or label == "closes":
            out[name] = value
            continue
        edge = np.full((len(value), 1), np.nan)
        if label == "end":
            begin, end = np.concatenate([edge, value[:, :-1]], axis=1), value
        else:
            begin, end = value, np.concatenate([value[:, 1:], edge], axis=1)
        out[name] = {
            "mean": (begin + end) / 2.0,
            "larger": np.maximum(begin, end),
            "first": np.where(np.isnan(end), np.nan, begin),
        }[how]
    if "wind_gust" in out and rows.taken["wind_speed"].source.joins:
        out["wind_gust"] = raise_gusts(
            *np.broadcast_arrays(out["wind_speed"], out["wind_gust"])
        )
    return out
