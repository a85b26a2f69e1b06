"""Pairs of what a forecast said for an hour and what came: what error tables are fitted on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import WeatherError
from planner.site.sun import morning_break_up
from planner.weather.miss.predictors import (
    Known,
    hours_between,
    lead_hours,
    on_hours,
    predictors,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from planner.weather.archive import Archive
    from planner.weather.table import Weather

    Floats = NDArray[np.float64]

#: The columns that truth is taken from, by the names of an error table's quantities.
TRUTH: Final = {
    "gust": "wind_gust",
    "wind": "wind_speed",
    "temp": "temp_air",
    "rain": "precipitation",
}
_OLDEST: Final = 54.0  # h, the oldest earlier run that is of use


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairs:
    """Forecast hours and what came.

    Attributes
    ----------
    predictors : dict of str to numpy.ndarray, shape (forecasts, hours)
        By name, as in ``weather/miss/predictors.py``.
    truth : dict of str to numpy.ndarray, shape (forecasts, hours)
        By quantity: gust and wind as square roots [(m/s)^0.5], air temperature [degC],
        rain [mm]; NaN where nothing was seen.
    lead : numpy.ndarray, shape (forecasts, hours)
        Hours after the issue [h].
    month, issued : numpy.ndarray, shape (forecasts, hours) and (forecasts,)
        Month of the hour and of the issue, in local time, counted as 12 * year + month
        less one [-].
    breaks : numpy.ndarray of bool, shape (forecasts, hours)
        Hours of the morning break-up.
    latitude, longitude : float
        Of the place [deg].
    """

    predictors: dict[str, Floats]
    truth: dict[str, Floats]
    lead: Floats
    month: NDArray[np.int_]
    issued: NDArray[np.int_]
    breaks: NDArray[np.bool_]
    latitude: float
    longitude: float


def gather(
    archive: Archive,
    observed: Weather,
    *,
    latitude: float,
    longitude: float,
    time_zone: str,
    progress: Callable[[int, int], None] | None = None,
) -> Pairs:
    """Put every hour of every forecast beside what came.

    Parameters
    ----------
    archive : Archive
        Past forecasts.
    observed : Weather
        What came, of the same place.
    latitude, longitude : float
        Of the place [deg].
    time_zone : str
        For the months.
    progress : callable, optional
        Called with forecasts done and forecasts in all.

    Returns
    -------
    Pairs
        One row a forecast.

    Raises
    ------
    WeatherError
        If no hour of the forecasts was observed, or the gusts seen are no hour's largest.
    """
    check_overlap(archive, observed)
    _refuse_short_gusts(observed)
    times = [archive.weather(i).times for i in range(len(archive))]
    hours = max(map(len, times))
    said: dict[str, list[Floats]] = {}
    truth: dict[str, list[Floats]] = {name: [] for name in TRUTH}
    rows = _Rows(hours=hours)
    for i in range(len(archive)):
        weather = archive.weather(i)
        known = Known(earlier=earlier_runs(archive, i), seen=observed)
        for name, found in predictors(weather, known, longitude=longitude).items():
            said.setdefault(name, []).append(rows.full(found))
        for name, column in TRUTH.items():
            truth[name].append(rows.full(_seen(observed, weather, name, column)))
        if progress is not None:
            progress(i + 1, len(archive))
    leads = [rows.full(lead_hours(archive.weather(i))) for i in range(len(archive))]
    every = archive.times.unique().sort_values()
    morning = morning_break_up(every, latitude, longitude).astype(float)
    breaks = [rows.full(morning[every.get_indexer(t)]) for t in times]
    return Pairs(
        predictors={name: np.stack(columns) for name, columns in said.items()},
        truth={name: np.stack(columns) for name, columns in truth.items()},
        lead=np.stack(leads),
        month=np.nan_to_num(
            np.stack([rows.full(months(t, time_zone).astype(float)) for t in times])
        ).astype(int),
        issued=months(archive.issues, time_zone),
        breaks=np.stack(breaks) == 1.0,
        latitude=latitude,
        longitude=longitude,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    hours: int

    def full(self, column: Floats) -> Floats:
        """Fill a column up to the longest forecast's hours with NaN."""
        end = np.full(self.hours - len(column), np.nan)
        return np.concatenate([column, end]) if len(end) else column


def months(times: pd.DatetimeIndex, time_zone: str) -> NDArray[np.int_]:
    """Give the local month of each time, counted as 12 * year + month - 1.

    Parameters
    ----------
    times : pandas.DatetimeIndex
        UTC.
    time_zone : str
        Of the place.

    Returns
    -------
    numpy.ndarray, shape (times,)
        Counts [-].
    """
    local = times.tz_convert(time_zone)
    return np.asarray(12 * local.year + local.month - 1, dtype=int)


def earlier_runs(archive: Archive, i: int) -> list[Weather]:
    """Give the forecasts issued up to two days before one of an archive, newest first.

    Parameters
    ----------
    archive : Archive
        Past forecasts.
    i : int
        Which one [-].

    Returns
    -------
    list of Weather
        None older than 54 h.
    """
    ages = -hours_between(archive.issues[i], archive.issues[:i])
    return [archive.weather(int(j)) for j in np.flatnonzero(ages <= _OLDEST)[::-1]]


def check_overlap(archive: Archive, observed: Weather) -> None:
    """Refuse observations that do not overlap the forecasts.

    Parameters
    ----------
    archive : Archive
        Past forecasts.
    observed : Weather
        What came.

    Raises
    ------
    WeatherError
        If they have no hour in common; the two spans are said.
    """
    first = archive.times[archive.begins].min()
    last = archive.times[archive.ends - 1].max()
    if observed.times[-1] >= first and observed.times[0] <= last:
        return
    raise WeatherError(
        f"The observations do not overlap the forecasts: forecasts from {first:%Y-%m-%d} to "
        f"{last:%Y-%m-%d}, observations from {observed.times[0]:%Y-%m-%d} to "
        f"{observed.times[-1]:%Y-%m-%d}.",
        fix="Give observations of the days that were forecast.",
    )


def _refuse_short_gusts(observed: Weather) -> None:
    """Refuse gusts of ten minutes that are told only when gusty: no hour's largest."""
    if observed.gust_meaning == "10-minute maximum" and observed.has("wind_gust"):
        raise WeatherError(
            "The observed gusts are the largest of ten minutes, and told only when it was "
            "gusty: how far gust forecasts miss cannot be learned from them.",
            fix="Give a record with the largest gust of every hour.",
            key="wind_gust",
        )


def _seen(observed: Weather, weather: Weather, name: str, column: str) -> Floats:
    """Give what came in the hours of a forecast, NaN where nothing was seen."""
    found = on_hours(observed, column, first=weather.times[0], hours=weather.hours)
    return np.sqrt(np.maximum(found, 0.0)) if name in {"gust", "wind"} else found


def chosen(pairs: Pairs, without: Sequence[int] = ()) -> NDArray[np.bool_]:
    """Say which pairs are to be learned from.

    Parameters
    ----------
    pairs : Pairs
        All of them.
    without : sequence of int
        Months to leave out, by the hour and by the issue [-].

    Returns
    -------
    numpy.ndarray of bool, shape (forecasts, hours)
        True for those left.
    """
    left_out = np.isin(pairs.month, without) | np.isin(pairs.issued, without)[:, None]
    return ~left_out & np.isfinite(pairs.lead)
