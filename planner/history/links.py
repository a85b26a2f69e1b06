"""How errors hang together: from hour to hour, gust with mean wind, through the morning."""

from __future__ import annotations

import itertools
import math
from statistics import NormalDist
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.weather.miss.predictors import calm_night

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.history.pairs import Pairs
    from planner.weather.miss.forecast_error import ForecastError, Quantity

    Floats = NDArray[np.float64]
    Booleans = NDArray[np.bool_]

_LAGS: Final = (1, 2, 3, 6)  # h
_ACROSS: Final = (2, 2)  # hours before and after the break-up
_FIRST_DAYS: Final = 96.0  # h ahead, up to which mornings count
_LEAST: Final = 200  # pairs below which the table that one starts from stands
_ALONE: Final = (0.9, 4.0)  # share and hours where there is nothing to go by
_NO_HOLD: Final = 0.02  # a correlation that is none
_FORGOTTEN: Final = (0.05, 1.0)  # share and hours of errors without memory
_MOST_PAIRS: Final = 6000
_WET: Final = 0.1  # mm in the hour


def hold(
    left: Floats, lead: Floats, leads: tuple[float, ...], base: Quantity | None = None
) -> tuple[float, tuple[float, ...]]:
    """Fit how long errors last: their correlation is ``share * exp(-k / hours)``.

    Parameters
    ----------
    left : numpy.ndarray, shape (forecasts, hours)
        Errors of spread one, NaN where not known [-].
    lead : numpy.ndarray, shape (forecasts, hours)
        How far ahead [h].
    leads : tuple of float
        Lead times at which the hours are wanted [day].
    base : Quantity, optional
        What stands where there are too few pairs.

    Returns
    -------
    tuple of float and tuple of float
        The share [-], and the hours at each lead time [h].

    Notes
    -----
    One share for all lead times; the hours from the errors nearer to a lead time than to
    its neighbours.
    """
    near = _nearest(lead / 24.0, leads)
    curves = []
    for at in range(len(leads)):
        here = np.where(near == at, left, np.nan)
        found = [(lag, _correlation(here[:, :-lag], here[:, lag:])) for lag in _LAGS]
        curves.append(_curve([(lag, r) for lag, r in found if np.isfinite(r)], base, at))
    shares, hours = zip(*curves, strict=True)
    return float(np.mean(shares)), hours


def _nearest(days: Floats, leads: tuple[float, ...]) -> NDArray[np.int_]:
    """Give the lead time that each lead is nearest to, by its place."""
    middles = [(a + b) / 2.0 for a, b in itertools.pairwise(leads)]
    return np.asarray(np.searchsorted(middles, days))


def hold_of_rain(
    chance: Floats, wet: Floats, leads: int, base: ForecastError | None = None
) -> tuple[float, tuple[float, ...]]:
    """Fit how long a wet or a dry turn lasts beyond what the forecast says.

    Parameters
    ----------
    chance : numpy.ndarray, shape (forecasts, hours)
        Of a wet hour [-].
    wet : numpy.ndarray, shape (forecasts, hours)
        1 where it was, 0 where it was not, NaN where not known [-].
    leads : int
        For how many lead times the hours are wanted; they are the same for all [-].
    base : ForecastError, optional
        What stands where there are too few pairs.

    Returns
    -------
    tuple of float and tuple of float
        Share [-] and hours [h] of the correlation of the normal numbers behind.

    Notes
    -----
    For each lag, the correlation at which two normal numbers pass both their marks as
    often as two hours were wet together. How often they do follows from the density of
    the pair, summed over the correlation from nought up (Plackett 1954).
    """
    found = []
    for lag in _LAGS:
        first, second = chance[:, :-lag].ravel(), chance[:, lag:].ravel()
        both = wet[:, :-lag].ravel() * wet[:, lag:].ravel()
        pairs = np.flatnonzero(np.isfinite(both) & (np.minimum(first, second) > 1e-3))
        pairs = pairs[:: max(len(pairs) // _MOST_PAIRS, 1)]
        if len(pairs) >= _LEAST:
            found.append((lag, _tetrachoric(first[pairs], second[pairs], both[pairs].mean())))
    share, hours = _curve(found, base.rain if base else None, 0)
    return share, (hours,) * leads


def same_hour(gust: Floats, wind: Floats, base: ForecastError | None = None) -> float:
    """Give the correlation of the errors of gust and mean wind in the same hour.

    Parameters
    ----------
    gust, wind : numpy.ndarray, shape (forecasts, hours)
        Errors of spread one, NaN where not known [-].
    base : ForecastError, optional
        What stands where there are too few pairs.

    Returns
    -------
    float
        The correlation [-].
    """
    found = _correlation(gust, wind)
    if np.isfinite(found):
        return float(np.clip(found, 0.0, 0.99))
    return base.gust_with_wind if base else 0.7


def through_morning(
    left: Floats,
    pairs: Pairs,
    gust: Quantity,
    *,
    leads: tuple[float, ...],
    base: ForecastError | None = None,
) -> float:
    """Give the share of the correlation left across the break-up of a calm night.

    Parameters
    ----------
    left : numpy.ndarray, shape (forecasts, hours)
        Errors of gusts of spread one, NaN where not known [-].
    pairs : Pairs
        The forecasts, with the hours of the break-up.
    gust : Quantity
        The hold of errors at any hour.
    leads : tuple of float
        Lead times of its hours [day].
    base : ForecastError, optional
        What stands where there are too few pairs.

    Returns
    -------
    float
        At most 1 [-].
    """
    before, after = _ACROSS
    run, hour = np.nonzero(pairs.breaks & calm_night(pairs.predictors["gust"]))
    fits = (hour >= before) & (hour + after < left.shape[1])
    fits &= pairs.lead[run, hour] <= _FIRST_DAYS
    run, hour = run[fits], hour[fits]
    found = _correlation(left[run, hour - before], left[run, hour + after])
    if not np.isfinite(found):
        return base.morning if base else 1.0
    lasts = np.interp(pairs.lead[run, hour] / 24.0, leads, gust.hours)
    usual = float((gust.share * np.exp(-(before + after) / lasts)).mean())
    return float(np.clip(found / usual, 0.2, 1.0))


def with_rain(
    left: Floats, chance: Floats, wet: Floats, base: ForecastError | None = None
) -> float:
    """Give the correlation of an error with the normal number behind rain.

    Parameters
    ----------
    left : numpy.ndarray, shape (forecasts, hours)
        Errors of spread one, NaN where not known [-].
    chance, wet : numpy.ndarray, shape (forecasts, hours)
        Chance of a wet hour; 1 where it was, 0 where not, NaN where not known [-].
    base : ForecastError, optional
        What stands where there are too few pairs.

    Returns
    -------
    float
        The correlation [-].

    Notes
    -----
    Of two normal numbers with correlation r, the first's covariance with the second
    passing a mark is r times the density at the mark.
    """
    known = np.flatnonzero(np.isfinite(left * wet).ravel() & (chance.ravel() > 1e-3))
    if len(known) < _LEAST:
        return base.air_with_rain if base else 0.0
    known = known[:: max(len(known) // _MOST_PAIRS, 1)]
    error, p, came = (x.ravel()[known] for x in (left, chance, wet))
    normal = NormalDist()
    density = np.array([normal.pdf(normal.inv_cdf(1.0 - x)) for x in p])
    together = float(((error - error.mean()) * (came - p)).mean() / density.mean())
    return float(np.clip(together, -0.9, 0.9))


def amount_of_rain(
    pairs: Pairs, rows: Booleans, base: ForecastError | None = None
) -> tuple[float, float, float]:
    """Fit how much falls in a wet hour: the log of the amount against the forecast's.

    Parameters
    ----------
    pairs : Pairs
        What was said and what came.
    rows : numpy.ndarray of bool, shape (forecasts, hours)
        The pairs to learn from.
    base : ForecastError, optional
        What stands where there are too few pairs.

    Returns
    -------
    tuple of float
        Middle of the log of mm, its change with the log of the forecast (at least
        0.1 mm), its spread [-].
    """
    said, came = pairs.predictors["rain"], pairs.truth["rain"]
    wet = rows & (np.nan_to_num(came) >= _WET) & np.isfinite(said)
    if wet.sum() < _LEAST:
        return base.rain_amount if base else (-1.0, 0.3, 0.9)
    logs = np.log(np.maximum(np.expm1(said[wet]) / 10.0, _WET))
    slope, middle = np.polyfit(logs, np.log(came[wet]), 1)
    scatter = np.std(np.log(came[wet]) - middle - slope * logs)
    return float(middle), float(slope), float(scatter)


def _correlation(first: Floats, second: Floats) -> float:
    """Correlation of the pairs that are known, NaN of too few."""
    known = np.isfinite(first) & np.isfinite(second)
    if known.sum() < _LEAST:
        return math.nan
    return float(np.corrcoef(first[known], second[known])[0, 1])


def _curve(
    found: list[tuple[int, float]], base: Quantity | None, at: int
) -> tuple[float, float]:
    """Give share and hours of the curve through some correlations."""
    usable = [(lag, math.log(r)) for lag, r in found if r > _NO_HOLD]
    if len(found) >= 2 > len(usable):
        return _FORGOTTEN
    if len(usable) < 2:
        return (base.share, base.hours[at]) if base else _ALONE
    slope, start = np.polyfit([lag for lag, _ in usable], [log for _, log in usable], 1)
    hours = -1.0 / min(float(slope), -0.01)
    return float(np.clip(math.exp(start), 0.05, 1.0)), hours


def _tetrachoric(first: Floats, second: Floats, both: float) -> float:
    """Correlation of two normal numbers that pass their marks together so often."""
    normal = NormalDist()
    a, b = (np.array([normal.inv_cdf(1.0 - p) for p in chance]) for chance in (first, second))
    grid = np.linspace(0.0, 0.99, 100)
    density = np.array(
        [
            np.mean(
                np.exp(-(a**2 - 2 * r * a * b + b**2) / (2 * (1 - r**2))) / np.sqrt(1 - r**2)
            )
            for r in grid
        ]
    ) / (2.0 * np.pi)
    added = np.concatenate(
        ([0.0], np.cumsum((density[1:] + density[:-1]) / 2.0 * np.diff(grid)))
    )
    return float(np.interp(both, (first * second).mean() + added, grid))
