"""Error tables, forecasts and archives made by hand, of a place that does not exist."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pandas as pd

from planner.weather.archive import Archive
from planner.weather.miss.forecast_error import ForecastError, Quantity
from planner.weather.table import COLUMNS, Weather, WeatherPlace

LATITUDE, LONGITUDE, ZONE = 44.02, -91.40, "America/Chicago"
FIRST = "2030-05-01T00:00Z"
#: Means of what may be missing; those of the chance of rain are always asked for.
NEUTRAL = {"rain_chance": 0.1, "rain_chance_wet": 0.5, "cloud": 0.5, "from_east": 0.25}
_CHANGING = {field.name for field in dataclasses.fields(ForecastError)}


def quantity(where, spread=None, *, share=0.8, hours=4.0, leads=2, **more) -> Quantity:
    """Terms of one quantity; one number of a term stands for all its lead times."""

    def row(numbers):
        return (float(numbers),) * leads if np.isscalar(numbers) else tuple(map(float, numbers))

    return Quantity(
        where={name: row(numbers) for name, numbers in where.items()},
        spread={name: row(numbers) for name, numbers in (spread or {}).items()},
        share=share,
        hours=row(hours),
        too_high=row(more.get("too_high", 0.0)),
        typical=row(more.get("typical", 0.5)),
    )


def log_variance(spread: float) -> float:
    """What the terms of a spread must add up to."""
    return 2.0 * math.log(spread)


def made_error(**changes) -> ForecastError:
    """A table in which the forecast is the middle, unless changed."""
    leads = changes.get("leads", (0.0, 8.0))
    many = len(leads)
    plain = {
        "name": "made",
        "source": "Invented",
        "truth": "station",
        "months": ("2030-05",),
        "cases": 1000,
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "leads": leads,
        "gust": quantity({"gust": 1}, {"one": log_variance(0.3)}, leads=many),
        "wind": quantity({"wind": 1}, {"one": log_variance(0.2)}, leads=many),
        "temp": quantity({"air": 10}, {"one": log_variance(1.5)}, leads=many),
        "rain": quantity({"one": -2, "rain_chance": 4}, leads=many),
        "neutral": NEUTRAL,
        "gust_with_wind": 0.6,
        "morning": 0.5,
        "rain_amount": (0.5, 0.3, 0.4),
    }
    plain |= {name: 0.0 for name in _CHANGING if name.endswith("with_rain")}
    return ForecastError(**(plain | changes))


def certain_error(**changes) -> ForecastError:
    """A table of forecasts that do not err: spreads of nothing, rain as it is said."""
    nothing = {"one": log_variance(1e-6)}
    plain = {
        "gust": quantity({"gust": 1}, nothing, typical=1e-6),
        "wind": quantity({"wind": 1}, nothing, typical=1e-6),
        "temp": quantity({"air": 10}, nothing, typical=1e-6),
        "rain": quantity({"one": -20, "rain": 100}),
        "name": "certain",
    }
    return made_error(**(plain | changes))


def made_weather(hours=48, *, first=FIRST, kind="forecast", issued=None, **columns) -> Weather:
    """Weather with columns as given: a number, one an hour, or (members, hours)."""
    values = {
        name: np.broadcast_to(value, (np.shape(value)[0] if np.ndim(value) > 1 else 1, hours))
        .astype(float)
        .copy()
        for name, value in columns.items()
    }
    times = pd.date_range(first, periods=hours, freq="h", tz="UTC").as_unit("ns")
    many = max((len(value) for value in values.values()), default=1)
    if kind != "observed":
        issued = times[0] if issued is None else pd.Timestamp(issued)
    return Weather(
        times=times,
        values=values,
        weights=np.full(many, 1.0 / many),
        kind=kind,
        origin={c.name: "given" if c.name in values else "missing" for c in COLUMNS},
        issued=issued,
        place=WeatherPlace(latitude=LATITUDE, longitude=LONGITUDE),
        credit="Invented",
    )


def made_archive(runs: list[Weather]) -> Archive:
    """Forecasts in one archive, in order of issue."""
    ends = np.cumsum([run.hours for run in runs])
    times = pd.DatetimeIndex(np.concatenate([run.times.tz_localize(None) for run in runs]))
    return Archive(
        issues=pd.DatetimeIndex([run.issued for run in runs]),
        times=times.tz_localize("UTC"),
        values={
            name: np.concatenate([run.values[name] for run in runs], axis=1)
            for name in runs[0].values
        },
        begins=ends - [run.hours for run in runs],
        ends=ends,
        place=runs[0].place,
        format="planner",
        credit="Invented",
        file="made.csv",
        gust_meaning="hour maximum",
        gust_resolution=0.0,
    )
