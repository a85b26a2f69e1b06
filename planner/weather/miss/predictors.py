"""What a forecast says about its own error: the predictors of an error table.

The forecast itself first; then the hours around, the other columns of the same run, the
hour of the day, the runs before it, and the last known error. The same few lines serve
``members``, which uses a table, and ``learn``, which fits one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from planner.weather.table import Weather

    Floats = NDArray[np.float64]

#: Predictors whose numbers belong to the place where they were learned.
PLACE_TERMS: Final = frozenset(
    {"from_east", "from_north", "wind_from_east", "wind_from_north", "season_cos", "season_sin"}
)
#: Ages between which another run counts as the one before, and as the second before [h].
_BEFORE: Final = (5.0, 30.0)
_SECOND: Final = (18.0, 54.0)
_NIGHT: Final = 6  # hours before a morning that are its night
_ERROR_HOURS: Final = 6  # over which the last error is taken
_YEAR: Final = 365.25  # days
_DAY: Final = 24.0  # h


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """What is known when a forecast comes out, besides the forecast.

    ``earlier`` are forecasts of the same place issued before, in any order; ``seen`` is
    what was observed up to the issue.
    """

    earlier: Sequence[Weather] = ()
    seen: Weather | None = None


def lead_hours(weather: Weather) -> Floats:
    """Give how far ahead each hour of a forecast is, 0 before the issue.

    Parameters
    ----------
    weather : Weather
        With its issue time, else the first hour counts as one.

    Returns
    -------
    numpy.ndarray, shape (hours,)
        Hours after the issue [h].
    """
    issued = weather.times[0] if weather.issued is None else weather.issued
    return np.maximum(hours_between(issued, weather.times), 0.0)


def predictors(weather: Weather, known: Known, *, longitude: float) -> dict[str, Floats]:
    """Work out every predictor for each hour of a forecast.

    Parameters
    ----------
    weather : Weather
        One forecast; of an ensemble the mean of its members counts.
    known : Known
        Earlier forecasts and what was seen.
    longitude : float
        Of the place, for the hour by the sun [deg].

    Returns
    -------
    dict of str to numpy.ndarray, shape (hours,)
        By name. Wind and gust are square roots [(m/s)^0.5], rain is
        log(1 + 10 mm) [-], shares are from 0 to 1 [-]. NaN where the forecast does not
        say; an earlier run that is not known counts as this one.
    """
    gust, wind, air, dew = (
        _column(weather, x) for x in ("wind_gust", "wind_speed", "temp_air", "temp_dew")
    )
    gust, wind = _root(gust), _root(wind)
    rain = _log_rain(_column(weather, "precipitation"))
    cloud = _column(weather, "cloud_cover") / 100.0
    east, north = _compass(weather)
    lead = lead_hours(weather)
    before, second = _earlier(weather, known.earlier)
    run = {
        name: _where_known(_on_hours(before, weather, name), now)
        for name, now in (("gust", gust), ("wind", wind), ("air", air), ("rain", rain))
    }
    found = {
        "one": np.ones(weather.hours),
        "gust": gust,
        "gust_squared": gust**2,
        "wind": wind,
        "wind_squared": wind**2,
        "from_east": east,
        "from_north": north,
        "wind_from_east": wind**2 * east,
        "wind_from_north": wind**2 * north,
        "cloud": cloud,
        "cloud_5h": around(cloud, 2),
        "dew_gap": (air - dew) / 10.0,
        "dew": dew / 10.0,
        "air": air / 10.0,
        "air_squared": (air / 10.0) ** 2,
        "air_25h": around(air, 12) / 10.0,
        "rain": rain,
        "rain_beside": np.fmax(_shifted(rain, 1), _shifted(rain, -1)),
        "rain_7h": _log_rain(around(_mm(rain), 3)),
        "rain_17h": _log_rain(around(_mm(rain), 8)),
        "rain_chance": _column(weather, "precipitation_probability") / 100.0,
        "before_gust": run["gust"],
        "before_wind": run["wind"],
        "before_air": run["air"] / 10.0,
        "before_rain": run["rain"],
        "before_rain_5h": _log_rain(around(_mm(run["rain"]), 2)),
        "before_gust_5h": around(run["gust"], 2),
        "second_gust": _where_known(_on_hours(second, weather, "gust"), run["gust"]),
        "second_wind": _where_known(_on_hours(second, weather, "wind"), run["wind"]),
        "gust_change": np.abs(gust - run["gust"]),
        "air_change": np.abs(air - run["air"]) / 10.0,
    }
    for name, column in (("gust", gust), ("wind", wind)):
        found |= {
            f"{name}_hour_before": _shifted(column, 1),
            f"{name}_hour_after": _shifted(column, -1),
            f"{name}_5h": around(column, 2),
            f"{name}_13h": around(column, 6),
            f"{name}_steep": np.abs(_shifted(column, 1) - _shifted(column, -1)),
        }
        last = _last_error(before, known.seen, weather, name)
        found[f"last_{name}_error"] = last.mean() * np.exp(-lead / 12.0)
        found[f"newest_{name}_error"] = last[-2:].mean() * np.exp(-lead / 3.0)
    found["last_air_error"] = _last_error(before, known.seen, weather, "air").mean() * np.exp(
        -lead / _DAY
    )
    found |= _clock(weather.times, longitude)
    for name, column in (("gust", gust), ("wind", wind)):
        found |= {f"{name}_day_{x}": column * found[f"day_{x}"] for x in ("cos", "sin")}
    return found


def hours_between(first: pd.Timestamp, times: pd.DatetimeIndex) -> Floats:
    """Give the hours from a moment to each of some times.

    Parameters
    ----------
    first : pandas.Timestamp
        The moment.
    times : pandas.DatetimeIndex
        The times.

    Returns
    -------
    numpy.ndarray, shape (times,)
        Negative for earlier ones [h].
    """
    return np.asarray((times - first) / np.timedelta64(1, "h"), dtype=float)


def around(column: Floats, hours: int) -> Floats:
    """Give the mean of an hour and those on either side.

    Parameters
    ----------
    column : numpy.ndarray, shape (hours,)
        Any column [its unit].
    hours : int
        How many on each side; at the ends the first and the last count again [h].

    Returns
    -------
    numpy.ndarray, shape (hours,)
        NaN hours are left out of the mean; NaN where all are [the column's unit].
    """
    wide = np.pad(column, hours, mode="edge")
    known = np.isfinite(wide)
    sums, counts = (
        np.concatenate(([0.0], np.cumsum(x))) for x in (np.where(known, wide, 0.0), known)
    )
    width = 2 * hours + 1
    many = counts[width:] - counts[:-width]
    return np.where(many > 0, (sums[width:] - sums[:-width]) / np.maximum(many, 1.0), np.nan)


def calm_night(gust: Floats) -> NDArray[np.bool_]:
    """Say in which hours the six hours before were calm, as before a morning break-up.

    Parameters
    ----------
    gust : numpy.ndarray, shape (..., hours)
        Square root of the gust at 10 m [(m/s)^0.5].

    Returns
    -------
    numpy.ndarray of bool, shape (..., hours)
        True below ``calm_night_gust`` of the planning table; False where an hour of the
        six is not known.
    """
    unknown = np.full((*gust.shape[:-1], _NIGHT), np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(
        np.concatenate([unknown, gust], axis=-1), _NIGHT, axis=-1
    )[..., : gust.shape[-1], :]
    return np.asarray(windows.mean(axis=-1) < np.sqrt(value("planning", "calm_night_gust")))


def _compass(weather: Weather) -> tuple[Floats, Floats]:
    """Give how far from the east and the north the wind comes, members averaged [-]."""
    direction = weather.values.get("wind_direction")
    if direction is None:
        unknown = np.full(weather.hours, np.nan)
        return unknown, unknown
    angle = np.radians(direction)
    return _over_members(np.sin(angle)), _over_members(np.cos(angle))


def _clock(times: pd.DatetimeIndex, longitude: float) -> dict[str, Floats]:
    """Hour of the day by the sun and day of the year, as circles [-]."""
    hour = np.asarray(times.hour + 0.5, dtype=float) + longitude * _DAY / 360.0
    day, season = 2.0 * np.pi * hour / _DAY, 2.0 * np.pi * np.asarray(times.day_of_year) / _YEAR
    return {
        "day_cos": np.cos(day),
        "day_sin": np.sin(day),
        "half_day_cos": np.cos(2.0 * day),
        "half_day_sin": np.sin(2.0 * day),
        "season_cos": np.cos(season),
        "season_sin": np.sin(season),
    }


def _column(weather: Weather, name: str) -> Floats:
    """Give a column, the mean of an ensemble's members, NaN where it is not there."""
    values = weather.values.get(name)
    return np.full(weather.hours, np.nan) if values is None else _over_members(values)


def _over_members(values: Floats) -> Floats:
    """Give the mean of the members that say anything, shape (hours,)."""
    if len(values) == 1:
        return np.asarray(values[0])
    known = np.isfinite(values)
    count = known.sum(axis=0)
    total = np.where(known, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _root(speed: Floats) -> Floats:
    return np.sqrt(np.maximum(speed, 0.0))


def _log_rain(amount: Floats) -> Floats:
    return np.log1p(10.0 * np.maximum(amount, 0.0))


def _mm(log_rain: Floats) -> Floats:
    return np.expm1(log_rain) / 10.0


def _shifted(column: Floats, hours: int) -> Floats:
    """Give the value some hours before; its own where that is not known."""
    moved = np.roll(column, hours)
    if hours > 0:
        moved[:hours] = column[:1]
    else:
        moved[hours:] = column[-1:]
    return _where_known(moved, column)


def _where_known(column: Floats | None, instead: Floats) -> Floats:
    return instead if column is None else np.where(np.isnan(column), instead, column)


def _earlier(
    weather: Weather, earlier: Sequence[Weather]
) -> tuple[Weather | None, Weather | None]:
    """Give the newest run of each age."""
    issued = weather.issued
    if issued is None:
        return None, None
    aged = sorted(
        (
            ((issued - run.issued).total_seconds() / 3600.0, run)
            for run in earlier
            if run.issued
        ),
        key=lambda pair: pair[0],
    )

    def newest(ages: tuple[float, float], older_than: float) -> tuple[float, Weather | None]:
        found = [p for p in aged if ages[0] <= p[0] <= ages[1] and p[0] > older_than]
        return found[0] if found else (older_than, None)

    age, before = newest(_BEFORE, 0.0)
    return before, newest(_SECOND, age)[1]


_COLUMNS: Final[dict[str, tuple[str, Callable[[Floats], Floats]]]] = {
    "gust": ("wind_gust", _root),
    "wind": ("wind_speed", _root),
    "air": ("temp_air", np.asarray),
    "rain": ("precipitation", _log_rain),
}


def _on_hours(run: Weather | None, weather: Weather, name: str) -> Floats | None:
    """Give a column of another weather on the hours of this one, NaN outside it."""
    if run is None:
        return None
    return _stretch(run, weather.times[0], weather.hours, name)


def _stretch(weather: Weather, first: pd.Timestamp, hours: int, name: str) -> Floats:
    column, turn = _COLUMNS[name]
    return turn(on_hours(weather, column, first=first, hours=hours))


def on_hours(weather: Weather, column: str, *, first: pd.Timestamp, hours: int) -> Floats:
    """Give a column of a weather on a stretch of hours.

    Parameters
    ----------
    weather : Weather
        A forecast or what was observed.
    column : str
        Its name.
    first : pandas.Timestamp
        The first hour of the stretch.
    hours : int
        How many [-].

    Returns
    -------
    numpy.ndarray, shape (hours,)
        NaN outside the weather and where it has no such column [unit of the column].
    """
    values = _column(weather, column)
    begin = round((first - weather.times[0]).total_seconds() / 3600.0)
    found = np.full(hours, np.nan)
    low, high = max(begin, 0), min(begin + hours, weather.hours)
    if high > low:
        found[low - begin : high - begin] = values[low:high]
    return found


def _last_error(
    before: Weather | None, seen: Weather | None, weather: Weather, name: str
) -> Floats:
    """Truth less the run before, in the hours up to the issue; none where not known."""
    if before is None or seen is None or weather.issued is None:
        return np.zeros(_ERROR_HOURS)
    first = weather.issued.floor("h") - np.timedelta64(_ERROR_HOURS, "h")
    truth, said = (_stretch(x, first, _ERROR_HOURS, name) for x in (seen, before))
    return np.nan_to_num(truth - said)
