"""How far past forecasts missed, as they came and after a table has set them right."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from planner.errors import WeatherError

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from planner.history.pairs import Pairs
    from planner.weather.miss.forecast_error import ForecastError, Quantity, Terms

    Floats = NDArray[np.float64]

Which = Literal["gust", "wind", "temp"]
#: Days ahead for which misses are given: hours less than half a day from each.
DAYS_AHEAD: Final = (0, 1, 2, 3, 5)
#: The quantities, with the predictor that is the forecast as it comes.
_SAID: Final[dict[Which, str]] = {"gust": "gust", "wind": "wind", "temp": "air"}
_HALF_A_DAY: Final = 12.0  # h


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """How far forecasts missed one quantity so many days ahead.

    Attributes
    ----------
    quantity : {"gust", "wind", "temp"}
        Gust and mean wind [m/s], air temperature [degC].
    days_ahead : int
        Days from the issue [d].
    cases : int
        Hours with both forecast and truth [-].
    as_it_comes, after : float
        Root mean square of the error of the forecast, and of the middle that the table
        puts in its place; NaN without a case [unit of the quantity].
    too_high : float
        By how much the forecast lay above the truth on average [unit of the quantity].
    lasts : float
        Hours after which the error that is left says half as much of the error then, 0 if
        it does not from the first hour on; NaN without a case [h].
    """

    quantity: Which
    days_ahead: int
    cases: int
    as_it_comes: float
    after: float
    too_high: float
    lasts: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """An error table and what it was learned from.

    Attributes
    ----------
    error : ForecastError
        The table.
    file : str
        Where it is written.
    forecasts : int
        How many were learned from [-].
    first, last : pandas.Timestamp
        The first hour and the last of which forecast and truth are known, UTC.
    time_zone : str
        Of the place.
    leans_on : str
        The table that few pairs leave as it is, "" for none.
    misses : tuple of Miss
        By quantity and days ahead.
    credits : tuple of str
        Of forecasts and of what happened.
    notes : tuple of str
        What reading doubts.
    """

    error: ForecastError
    file: str
    forecasts: int
    first: pd.Timestamp
    last: pd.Timestamp
    time_zone: str
    leans_on: str
    misses: tuple[Miss, ...]
    credits: tuple[str, ...]
    notes: tuple[str, ...]


def misses(pairs: Pairs, error: ForecastError) -> tuple[Miss, ...]:
    """Measure how far forecasts missed.

    Parameters
    ----------
    pairs : Pairs
        What was said and what came.
    error : ForecastError
        The table that sets forecasts right.

    Returns
    -------
    tuple of Miss
        By quantity and days ahead.

    Notes
    -----
    Where the table was fitted on the same pairs, ``after`` is a little better than new
    days will be.
    """
    return tuple(_miss(pairs, error, which, days) for which in _SAID for days in DAYS_AHEAD)


def forecasts_with_truth(pairs: Pairs) -> int:
    """Count the forecasts of which an hour was observed.

    Parameters
    ----------
    pairs : Pairs
        What was said and what came.

    Returns
    -------
    int
        How many [-].
    """
    seen = np.any([np.isfinite(truth) for truth in pairs.truth.values()], axis=0)
    return int(seen.any(axis=1).sum())


def check_quantities(pairs: Pairs) -> None:
    """Refuse pairs that say nothing of the gust, the mean wind or the air.

    Parameters
    ----------
    pairs : Pairs
        What was said and what came.

    Raises
    ------
    WeatherError
        If one of them was never both forecast and observed.
    """
    words: dict[Which, str] = {"gust": "gust", "wind": "mean wind", "temp": "air temperature"}
    for which, word in words.items():
        said, came = pairs.predictors[_SAID[which]], pairs.truth[which]
        if not (np.isfinite(said) & np.isfinite(came)).any():
            raise WeatherError(
                f"No hour has both a forecast {word} and an observed one.",
                fix="Give forecasts and observations that both have it.",
            )


def _miss(pairs: Pairs, error: ForecastError, which: Which, days: int) -> Miss:
    said = pairs.predictors[_SAID[which]]
    near = np.abs(pairs.lead - 24.0 * days) < _HALF_A_DAY
    rows = near & np.isfinite(said) & np.isfinite(pairs.truth[which])
    here = {name: column[rows] for name, column in pairs.predictors.items()}
    terms: Terms = getattr(error, which).where
    middle = error.total(terms, here, pairs.lead[rows])
    truth = pairs.truth[which][rows]
    if which == "temp":
        raw, after = 10.0 * said[rows] - truth, middle - truth
    else:  # square roots of speeds
        raw, after = said[rows] ** 2 - truth**2, np.maximum(middle, 0.0) ** 2 - truth**2
    return Miss(
        quantity=which,
        days_ahead=days,
        cases=len(truth),
        as_it_comes=_root_mean_square(raw),
        after=_root_mean_square(after[np.isfinite(after)]),
        too_high=float(raw.mean()) if len(raw) else float("nan"),
        lasts=_half_after(error, which, days) if len(raw) else float("nan"),
    )


def _half_after(error: ForecastError, which: Which, days: int) -> float:
    """Give the hours apart at which errors are correlated by a half [h]."""
    quantity: Quantity = getattr(error, which)
    hours = float(np.interp(days, error.leads, quantity.hours))
    return hours * math.log(max(2.0 * quantity.share, 1.0))


def _root_mean_square(error: Floats) -> float:
    return float(np.sqrt(np.mean(error**2))) if len(error) else float("nan")
