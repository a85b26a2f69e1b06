"""Which hours of a weather file hold a number: gaps, years, shares by month and clock hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from planner.weather.table import Floats, Weather

    Mask = NDArray[np.bool_]
    Counts = NDArray[np.int64]

CLOCK: Final = 24  # hours of a clock [-]
_DAYS: Final = 60  # a file that spans fewer is shown day by day
_MONTHS: Final = 36  # a longer record is shown by the months of the year
_YEAR: Final = 366 * 24  # hours; a record that spans more is counted year by year
#: Columns that a reader fills over short gaps, and so say nothing about them.
_FILLED: Final = frozenset({"temp_air", "temp_dew"})

#: What the rows of an availability picture are.
By = Literal["day", "month", "month of the year"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Hours one after the other in which a file gives nothing.

    Attributes
    ----------
    first : pandas.Timestamp
        Start of the first of them, UTC.
    hours : int
        How many [h].
    """

    first: pd.Timestamp
    hours: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Year:
    """What a record holds of one calendar year, UTC.

    Attributes
    ----------
    year : int
        Which one.
    hours : int
        Of the record's span that lie in it [h].
    missing : int
        Those in which the file gives nothing [h].
    blank_gusts : int
        Those without a gust, the missing ones among them [h].
    """

    year: int
    hours: int
    missing: int
    blank_gusts: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shares:
    """The share of hours that hold a number, by day or month and by clock hour.

    Attributes
    ----------
    time_zone : str
        Of days, months and clock hours.
    by : {"day", "month", "month of the year"}
        What a row is.
    rows : tuple of str
        ``"2026-04-28"``, ``"2026-04"`` or ``"04"``.
    hours : numpy.ndarray, shape (rows, 24)
        Hours of the file's span in each cell [h].
    there : dict of str to numpy.ndarray, shape (rows, 24)
        By column, those of them that hold a number [h].
    """

    time_zone: str
    by: By
    rows: tuple[str, ...]
    hours: Counts
    there: dict[str, Counts]

    def share(self, name: str) -> Floats:
        """Give the share of a column's hours in each cell, NaN where the file has no hour."""
        with np.errstate(invalid="ignore"):
            return self.there[name] / self.hours

    def whole(self, name: str) -> float:
        """Give the share of all hours of a column."""
        return float(self.there[name].sum() / max(int(self.hours.sum()), 1))


def holds(weather: Weather, name: str) -> Mask:
    """Say of every hour whether a column holds a number in it.

    Parameters
    ----------
    weather : Weather
        As read.
    name : str
        A column's name; one that is not there holds none.

    Returns
    -------
    numpy.ndarray of bool, shape (hours,)
        True where no possible weather lacks the number.
    """
    if name not in weather.values:
        return np.zeros(weather.hours, bool)
    return np.asarray(~np.isnan(weather.values[name]).any(axis=0))


def blank_hours(weather: Weather, name: str) -> int:
    """Count the hours of a column without a number.

    Parameters
    ----------
    weather : Weather
        As read.
    name : str
        A column's name.

    Returns
    -------
    int
        Hours in which any possible weather has no number [h].
    """
    return int((~holds(weather, name)).sum())


def gaps(weather: Weather) -> tuple[Gap, ...]:
    """Find the stretches of hours in which a file gives nothing.

    Parameters
    ----------
    weather : Weather
        As read.

    Returns
    -------
    tuple of Gap
        In order of time.

    Notes
    -----
    Temperatures do not count where anything else was read: over short gaps they
    are filled from the hours beside.
    """
    edges = np.diff(np.concatenate([[False], _nothing(weather), [False]]).astype(np.int8))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return tuple(
        Gap(first=weather.times[begin], hours=end - begin)
        for begin, end in zip(begins.tolist(), ends.tolist(), strict=True)
    )


def longest_gap(found: tuple[Gap, ...]) -> Gap | None:
    """Give the longest of the gaps, the first of equally long ones; None if there is none."""
    return max(found, key=lambda gap: gap.hours, default=None)


def years(weather: Weather) -> tuple[Year, ...]:
    """Count year by year what a record lacks.

    Parameters
    ----------
    weather : Weather
        As read.

    Returns
    -------
    tuple of Year
        In order; none if the file spans no more than a year.
    """
    if weather.hours <= _YEAR:
        return ()
    first, of = int(weather.times[0].year), weather.times.year.to_numpy()
    rows = zip(
        np.bincount(of - first).tolist(),
        np.bincount(of - first, weights=_nothing(weather)).tolist(),
        np.bincount(of - first, weights=~holds(weather, "wind_gust")).tolist(),
        strict=True,
    )
    return tuple(
        Year(year=first + at, hours=hours, missing=int(missing), blank_gusts=int(blank))
        for at, (hours, missing, blank) in enumerate(rows)
    )


def shares(weather: Weather, names: tuple[str, ...], *, time_zone: str) -> Shares:
    """Count the hours that hold a number by day or month and by clock hour.

    Parameters
    ----------
    weather : Weather
        As read.
    names : tuple of str
        The columns to count.
    time_zone : str
        Of days, months and clock hours.

    Returns
    -------
    Shares
        By day if the file spans less than two months, by month up to three years,
        else by the months of the year.
    """
    local = weather.times.tz_convert(time_zone)
    by, row, labels = _rows(local)
    cell = row * CLOCK + local.hour.to_numpy()

    def count(mask: Mask) -> Counts:
        found = np.bincount(cell[mask], minlength=len(labels) * CLOCK)
        return found.reshape(len(labels), CLOCK)

    return Shares(
        time_zone=time_zone,
        by=by,
        rows=labels,
        hours=count(np.ones(weather.hours, bool)),
        there={name: count(holds(weather, name)) for name in names},
    )


def _nothing(weather: Weather) -> Mask:
    """Say of every hour whether no possible weather has any number in it."""
    names = [x for x in weather.values if x not in _FILLED] or list(weather.values)
    nothing = np.ones(weather.hours, bool)
    for name in names:
        nothing &= np.isnan(weather.values[name]).all(axis=0)
    return nothing


def _rows(local: pd.DatetimeIndex) -> tuple[By, Counts, tuple[str, ...]]:
    """Give what a row is, the row of every hour, and the rows' labels."""
    if len(local) < _DAYS * CLOCK:
        return ("day", *_in_sequence(local.tz_localize(None).to_numpy(), "D"))
    row, labels = _in_sequence(local.tz_localize(None).to_numpy(), "M")
    if len(labels) <= _MONTHS:
        return "month", row, labels
    return (
        "month of the year",
        local.month.to_numpy().astype(np.int64) - 1,
        tuple(f"{x:02d}" for x in range(1, 13)),
    )


def _in_sequence(local: NDArray[np.datetime64], unit: str) -> tuple[Counts, tuple[str, ...]]:
    """Give the row of every hour, and every day or month from the first to the last."""
    each = local.astype(f"datetime64[{unit}]")
    if not each.size:
        return np.zeros(0, np.int64), ()
    first = each.min()
    row = (each - first).astype(np.int64)
    return row, tuple(str(first + at) for at in range(int(row.max()) + 1))
