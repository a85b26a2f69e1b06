"""Months that an error table was learned from, and months that a replay scores.

A table knows the months it was learned from: scored on these, it looks better than it is.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from planner.errors import WeatherError
from planner.history.learn import learn
from planner.history.mornings import DAYS
from planner.history.pairs import check_overlap, chosen, months
from planner.history.replay import morning_runs

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from planner.history.pairs import Pairs
    from planner.weather.archive import Archive
    from planner.weather.miss.forecast_error import ForecastError
    from planner.weather.table import Weather


def months_scored(archive: Archive, observed: Weather, time_zone: str) -> tuple[int, ...]:
    """Give the months of the hours that a replay scores.

    Parameters
    ----------
    archive : Archive
        Past forecasts; the morning runs are played, each for some days.
    observed : Weather
        What came: beyond it nothing is scored.
    time_zone : str
        Of the place.

    Returns
    -------
    tuple of int
        Counted as 12 * year + month - 1, in order [-].
    """
    found: set[int] = set()
    for i in morning_runs(archive, time_zone):
        issued, times = archive.issues[i], archive.weather(i).times
        midnight = issued.tz_convert(time_zone).normalize()
        end = min((midnight + pd.DateOffset(days=DAYS)).tz_convert("UTC"), times[-1])
        begin, end = max(issued, observed.times[0]), min(end, observed.times[-1])
        if begin <= end:
            found.update(months(times[(times >= begin) & (times <= end)], time_zone).tolist())
    return tuple(sorted(found))


def overlap(
    error: ForecastError, scored: Iterable[int], *, latitude: float, longitude: float
) -> tuple[str, ...]:
    """Give the months that a table was learned from and that are to be scored.

    Parameters
    ----------
    error : ForecastError
        The table.
    scored : iterable of int
        From ``months_scored`` [-].
    latitude, longitude : float
        The place that is scored [deg].

    Returns
    -------
    tuple of str
        As "2024-05", in order; none where the table was learned at another place.
    """
    if not error.near(latitude, longitude):
        return ()
    return tuple(sorted({_written(month) for month in scored} & set(error.months)))


def in_words(names: Sequence[str]) -> str:
    """Write months, those in a row as one stretch.

    Parameters
    ----------
    names : sequence of str
        As "2024-05", in order.

    Returns
    -------
    str
        For example "2023-12 to 2024-02, 2024-05".

    Examples
    --------
    >>> in_words(["2023-12", "2024-01", "2024-02", "2024-05"])
    '2023-12 to 2024-02, 2024-05'
    """
    stretches: list[list[str]] = []
    for name in names:
        if stretches and _counted(name) == _counted(stretches[-1][-1]) + 1:
            stretches[-1].append(name)
        else:
            stretches.append([name])
    return ", ".join(x[0] if len(x) == 1 else f"{x[0]} to {x[-1]}" for x in stretches)


def paired(archive: Archive, observed: Weather) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Give the first hour and the last that were both forecast and observed.

    Parameters
    ----------
    archive : Archive
        Past forecasts.
    observed : Weather
        What came.

    Returns
    -------
    tuple of pandas.Timestamp
        UTC.

    Raises
    ------
    WeatherError
        If there is none.
    """
    check_overlap(archive, observed)
    said = archive.times[archive.begins[0] : archive.ends[-1]]
    wind = np.isfinite(observed.values["wind_speed"][0])
    both = observed.times[wind & observed.times.isin(said)]
    if not len(both):
        raise WeatherError(
            "No hour of these forecasts was observed.",
            fix="Give observations of the days that were forecast.",
        )
    return both[0], both[-1]


def unseen(pairs: Pairs) -> tuple[int, ...]:
    """Give the months that forecasts reach into and of which nothing was observed.

    Parameters
    ----------
    pairs : Pairs
        What was said and what came.

    Returns
    -------
    tuple of int
        Counted as in ``Pairs``: nothing can be learned from them [-].
    """
    said = np.isfinite(pairs.lead)
    seen = np.any([np.isfinite(truth) for truth in pairs.truth.values()], axis=0)
    return tuple(
        sorted(set(pairs.month[said].tolist()) - set(pairs.month[said & seen].tolist()))
    )


def blocked(pairs: Pairs, source: str) -> Callable[[int], ForecastError]:
    """Give the way to score an archive with what its other months teach.

    Parameters
    ----------
    pairs : Pairs
        Of the whole archive.
    source : str
        Where forecasts and truth came from, in words.

    Returns
    -------
    callable
        For a month, counted as in ``Pairs``: a table that leans on no other one, fitted on
        all the other months when it is first asked for.

    Raises
    ------
    WeatherError
        If there is one month only.
    """
    none = unseen(pairs)
    there = sorted(set(pairs.month[np.isfinite(pairs.lead)].tolist()) - set(none))
    if len(there) < 2:
        raise WeatherError(
            f"All its hours with a known outcome are of {_written(there[0])}; no other month "
            "is there to learn from."
            if there
            else "No hour of the forecasts was observed.",
            fix="Give forecasts of two months or more, or a table learned elsewhere.",
        )

    @cache
    def error_for(month: int) -> ForecastError:
        without = sorted({month, *none})
        left = chosen(pairs, without)
        truth = {name: np.where(left, came, np.nan) for name, came in pairs.truth.items()}
        return learn(
            replace(pairs, truth=truth),
            name="a table refitted for each month",
            source=source,
            without=without,
        )

    return error_for


def _written(month: int) -> str:
    return f"{month // 12}-{month % 12 + 1:02d}"


def _counted(name: str) -> int:
    year, month = name.split("-")
    return 12 * int(year) + int(month) - 1
