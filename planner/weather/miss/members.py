"""Possible weathers: what may come, drawn around a forecast as far as forecasts have missed.

Each possible weather is the forecast plus one whole history of errors, so that hours hang
together: a dawn that turns out gustier than said stays so for some hours. Gust and mean
wind are drawn together in square roots of speed, in which errors are near normal.
"""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import WeatherError
from planner.reference.tables import value
from planner.weather.miss.predictors import Known, calm_night, lead_hours, predictors

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from planner.weather.miss.forecast_error import ForecastError, Quantity
    from planner.weather.table import Weather

    Floats = NDArray[np.float64]
    Booleans = NDArray[np.bool_]

#: How many possible weathers are drawn, and the seed they are drawn with.
COUNT: Final = 500
SEED: Final = 1
_WET: Final = 0.1  # mm in the hour, the amount whose chance the table holds
_SURE: Final = 1e-6  # no chance is nearer to 0 or 1


def make_members(
    weather: Weather,
    error: ForecastError,
    *,
    count: int = COUNT,
    seed: int = SEED,
    known: Known | None = None,
    breaks: Booleans | None = None,
) -> Weather:
    """Draw possible weathers around a forecast.

    A crew needs to know how often the hours that look calm stay calm; one forecast does
    not say, the errors of past forecasts do.

    Parameters
    ----------
    weather : Weather
        A forecast, or an ensemble, whose own spread is widened to an honest one. What was
        observed is certain and comes back as it is.
    error : ForecastError
        How far forecasts have been from what came, as used at this place (``at``).
    count : int
        How many to draw [-].
    seed : int
        Of the random numbers: the same seed, the same weathers [-].
    known : Known, optional
        Earlier forecasts and what was seen up to the issue: both sharpen.
    breaks : numpy.ndarray of bool, shape (hours,), optional
        The hours of the morning break-up: there errors of a calm night lose some of
        their hold on those of the day.

    Returns
    -------
    Weather
        Of kind "ensemble", equal weights. Gust, mean wind, air temperature, dew point and
        rain have shape (count, hours); rain falls or does not, so its chance is left out.
        What the forecast does not say stays NaN.

    Raises
    ------
    WeatherError
        If a member of an ensemble lacks hours that others have.

    Notes
    -----
    Errors are normal with correlation ``share * exp(-k / hours)``: a first-order
    autoregression plus noise of its own for each hour. Mean wind takes part of the
    gust's history and air temperature part of the rain's, so theirs is a mix of two. Rain
    falls where a normal number of the same kind passes the one whose tail is the chance of
    rain. At a place other than
    the table's, one more error is drawn once for each possible weather and kept over all
    hours: the place's own average (``error_place_*`` of the planning table).
    """
    if weather.kind == "observed":
        return weather
    _check_members(weather)
    random = np.random.default_rng(seed)
    lead = lead_hours(weather)
    found = predictors(weather, known or Known(), longitude=error.longitude)
    cut = _cut(found, error, breaks)
    own = _own_spread(weather, count)
    noise = {
        name: _histories(random, getattr(error, name), error.lead_weights(lead), cut, count)
        for name in ("gust", "wind", "temp", "rain")
    }
    link = error.gust_with_wind
    noise["wind"] = link * noise["gust"] + math.sqrt(1.0 - link**2) * noise["wind"]
    link = error.air_with_rain
    noise["temp"] = link * noise["rain"] + math.sqrt(1.0 - link**2) * noise["temp"]
    drawn = {
        name: _draw(name, error, found, lead, noise=noise[name], own=own.get(name))
        for name in ("gust", "wind", "temp")
    }
    if error.away:
        _other_place(random, drawn, count)
    values = dict(weather.values)
    values["wind_speed"] = np.maximum(drawn["wind"], 0.0) ** 2
    if weather.has("wind_gust"):
        gust = np.maximum(drawn["gust"], 0.0) ** 2
        values["wind_gust"] = np.where(
            np.isnan(gust), np.nan, np.fmax(gust, values["wind_speed"])
        )
    values["temp_air"] = drawn["temp"]
    if weather.has("temp_dew"):
        dew, air = (_members(weather.values[x], count) for x in ("temp_dew", "temp_air"))
        values["temp_dew"] = dew + np.minimum(drawn["temp"] - air, 0.0)
    if rain := weather.has("precipitation") or weather.has("precipitation_probability"):
        values["precipitation"] = _rain(random, error, found, lead, noise=noise["rain"])
    values.pop("precipitation_probability", None)
    return replace(
        weather,
        values={name: _members(array, count) for name, array in values.items()},
        weights=np.full(count, 1.0 / count),
        kind="ensemble",
        origin={
            **weather.origin,
            "precipitation": "given" if rain else "missing",
            "precipitation_probability": "missing",
        },
        gust_resolution=0.0,
    )


def _check_members(weather: Weather) -> None:
    """Refuse an ensemble in which some members lack hours that others have."""
    for name, array in weather.values.items():
        if len(array) < 2:
            continue
        known = np.isfinite(array)
        uneven = known.any(axis=0) & ~known.all(axis=0)
        if uneven.any():
            hour = int(uneven.argmax())
            raise WeatherError(
                f"{name}: {int((~known[:, hour]).sum())} of {len(array)} members lack the hour "
                f"{weather.times[hour]:%Y-%m-%d %H:%M} UTC ({int(uneven.sum())} hours in all).",
                fix="Get the ensemble again, or cut it to the hours that all members have.",
                key=name,
            )


def _cut(found: Mapping[str, Floats], error: ForecastError, breaks: Booleans | None) -> Floats:
    """Share of the errors' hold that passes into each hour [-]."""
    if breaks is None:
        return np.ones(len(found["one"]))
    speed = np.where(np.isnan(found["gust"]), found["wind"], found["gust"])
    return np.where(breaks & calm_night(speed), error.morning, 1.0)


def _histories(
    random: np.random.Generator, quantity: Quantity, weights: Floats, cut: Floats, count: int
) -> Floats:
    """Histories of normal errors of spread one, shape (count, hours) [-]."""
    hours = len(cut)
    keep = np.exp(-1.0 / (np.array(quantity.hours) @ weights)) * cut
    fresh = np.sqrt(1.0 - keep**2)
    steps = random.standard_normal((hours, count))
    chained = steps[0]
    for hour in range(1, hours):
        step = steps[hour]
        step *= fresh[hour]
        chained = chained * keep[hour]
        step += chained
        chained = step
    steps *= math.sqrt(quantity.share)
    steps += math.sqrt(1.0 - quantity.share) * random.standard_normal((hours, count))
    return np.ascontiguousarray(steps.T)


def _own_spread(weather: Weather, count: int) -> dict[str, Floats]:
    """Members of an ensemble less their mean, dealt out in turn, shape (count, hours)."""
    own = {}
    for name, column in (("gust", "wind_gust"), ("wind", "wind_speed"), ("temp", "temp_air")):
        array = weather.values.get(column)
        if array is not None and len(array) > 1:
            array = array if name == "temp" else np.sqrt(np.maximum(array, 0.0))
            own[name] = (array - array.mean(axis=0))[np.arange(count) % len(array)]
    return own


def _draw(
    name: str,
    error: ForecastError,
    found: Mapping[str, Floats],
    lead: Floats,
    *,
    noise: Floats,
    own: Floats | None,
) -> Floats:
    """Possible values of one quantity, shape (count, hours)."""
    quantity: Quantity = getattr(error, name)
    where = error.total(quantity.where, found, lead)
    if error.away and name != "temp":
        where = where + np.maximum(quantity.too_high, 0.0) @ error.lead_weights(lead)
    spread: Floats = np.exp(0.5 * error.total(quantity.spread, {**found, "where": where}, lead))
    if own is None:
        return where + spread * noise
    missing: Floats = np.sqrt(np.maximum(spread**2 - own.var(axis=0), 0.0))
    return where + own + missing * noise


def _other_place(random: np.random.Generator, drawn: dict[str, Floats], count: int) -> None:
    """Add what the average error of another place may be, one for each possible weather."""
    speed = value("planning", "error_place_speed") * random.standard_normal((count, 1))
    drawn["gust"] = drawn["gust"] + speed
    drawn["wind"] = drawn["wind"] + speed
    air = value("planning", "error_place_air") * random.standard_normal((count, 1))
    drawn["temp"] = drawn["temp"] + air


def _rain(
    random: np.random.Generator,
    error: ForecastError,
    found: Mapping[str, Floats],
    lead: Floats,
    *,
    noise: Floats,
) -> Floats:
    """Rain of each hour, 0 where it stays dry, shape (count, hours) [mm]."""
    chance = rain_chance(error, found, lead)
    normal = NormalDist()
    pass_mark = np.array(
        [normal.inv_cdf(1.0 - p) if np.isfinite(p) else np.nan for p in chance]
    )
    middle, slope, scatter = error.rain_amount
    said = np.log(np.maximum(np.nan_to_num(np.expm1(found["rain"]) / 10.0), _WET))
    wet = noise > pass_mark
    amount = np.zeros(noise.shape)
    hours = np.nonzero(wet)[1]
    drops = middle + slope * said[hours] + scatter * random.standard_normal(len(hours))
    amount[wet] = np.maximum(np.exp(drops), _WET)
    amount[:, np.isnan(chance)] = np.nan
    return amount


def rain_chance(error: ForecastError, found: Mapping[str, Floats], lead: Floats) -> Floats:
    """Give the chance of 0.1 mm or more in each hour.

    Parameters
    ----------
    error : ForecastError
        With the log odds.
    found : mapping of str to numpy.ndarray, shape (hours,)
        The predictors [units as they are named].
    lead : numpy.ndarray, shape (hours,)
        Hours after the issue [h].

    Returns
    -------
    numpy.ndarray, shape (hours,)
        NaN where the forecast says neither an amount nor a chance [-].

    Notes
    -----
    The odds were fitted on forecasts that give an amount. An hour without one is not taken
    for an hour forecast dry: it keeps at least the chance that the forecast gives it.
    """
    unknown = np.isnan(found["rain"]) & np.isnan(found["rain_chance"])
    known = dict(found)
    for name in ("rain", "rain_beside", "rain_7h", "rain_17h", "before_rain", "before_rain_5h"):
        known[name] = np.nan_to_num(found[name])
    known["rain_chance"] = np.where(
        np.isnan(found["rain_chance"]),
        np.where(
            known["rain"] > 0.0, error.neutral["rain_chance_wet"], error.neutral["rain_chance"]
        ),
        found["rain_chance"],
    )
    odds = error.total(error.rain.where, known, lead)
    chance = 1.0 / (1.0 + np.exp(-np.clip(odds, -20.0, 20.0)))
    told = np.nan_to_num(found["rain_chance"])
    chance = np.where(np.isnan(found["rain"]), np.maximum(chance, told), chance)
    return np.where(unknown, np.nan, np.clip(chance, _SURE, 1.0 - _SURE))


def _members(array: Floats, count: int) -> Floats:
    """One row, or one a possible weather: members of an ensemble are dealt out in turn."""
    if len(array) in {1, count}:
        return array
    dealt: Floats = array[np.arange(count) % len(array)]
    return dealt
