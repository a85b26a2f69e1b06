"""Learn how far forecasts miss: fit an error table to pairs of forecast and truth.

Each quantity is a straight sum of predictors whose numbers run with the lead time,
fitted by least squares that are pulled towards the table one starts from: few pairs
change little, many change all. The log of the spread is fitted to what is left, the chance
of rain by logistic regression.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from planner.errors import WeatherError
from planner.history.least_squares import Design, log_spread, logistic, straight
from planner.history.links import (
    amount_of_rain,
    hold,
    hold_of_rain,
    same_hour,
    through_morning,
    with_rain,
)
from planner.history.pairs import chosen
from planner.reference.tables import value
from planner.weather.miss.forecast_error import ForecastError, Quantity
from planner.weather.miss.predictors import PLACE_TERMS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from planner.history.pairs import Pairs

    Floats = NDArray[np.float64]
    Booleans = NDArray[np.bool_]
    Terms = Mapping[str, tuple[float, ...]]

#: Lead times at which the numbers of a term stand [day].
LEADS: Final = (0.0, 1.0, 2.0, 3.0, 5.0, 8.0)
_CLOCK: Final = ("day_cos", "day_sin", "half_day_cos", "half_day_sin")
_FROM: Final = ("from_east", "from_north", "wind_from_east", "wind_from_north")
_OTHER: Final = ("cloud", "dew_gap", "air", "air_squared")
#: The predictors of each quantity, by part.
WHERE: Final = {
    "gust": (
        *("one", "gust", "gust_squared", "wind", *_CLOCK, "gust_day_cos", "gust_day_sin"),
        *("wind_day_cos", "wind_day_sin", *_FROM, *_OTHER, "gust_hour_before"),
        *("gust_hour_after", "gust_5h", "gust_13h", "before_gust", "before_gust_5h"),
        *("before_wind", "second_gust", "last_gust_error", "newest_gust_error"),
        *("rain", "rain_chance"),
    ),
    "wind": (
        *("one", "wind", "wind_squared", *_CLOCK, "wind_day_cos", "wind_day_sin", *_FROM),
        *(*_OTHER, "wind_hour_before", "wind_hour_after", "wind_5h", "wind_13h"),
        *("before_wind", "second_wind", "last_wind_error", "newest_wind_error"),
        *("rain", "rain_chance"),
    ),
    "temp": (
        *("one", "air", "dew", *_CLOCK, "cloud", "season_cos", "season_sin", "air_25h"),
        *("before_air", "wind", "from_east", "from_north", "rain", "last_air_error"),
    ),
    "rain": (
        *("one", "rain", "rain_beside", "rain_7h", "rain_17h", "rain_chance"),
        *("before_rain", "before_rain_5h", "cloud", "cloud_5h", "dew_gap", "day_cos"),
        "day_sin",
    ),
}
SPREAD: Final = {
    "gust": ("one", "where", "day_cos", "day_sin", "gust_change", "gust_steep", "cloud"),
    "wind": ("one", "where", "day_cos", "day_sin", "wind_steep", "cloud"),
    "temp": ("one", "day_cos", "day_sin", "air_change"),
}
#: What each quantity is, taken as it comes: the predictor, its number.
_AS_IT_COMES: Final = {"gust": ("gust", 1.0), "wind": ("wind", 1.0), "temp": ("air", 10.0)}
_WET: Final = 0.1  # mm in the hour
_WORDS: Final = {"gust": "gusts", "wind": "wind", "temp": "air temperature", "rain": "rain"}
_LEAST_PAIRS: Final = 24 * 20  # hours of truth: less says nothing
_LEAST_SQUARE: Final = 1e-4  # of what is left over
#: Predictors that a forecast may lack; they count as their mean then.
_MAY_LACK: Final = (*_FROM, *_OTHER[:2], "dew", "cloud_5h", "season_cos", "season_sin")
_RAIN: Final = ("rain", "rain_beside", "rain_7h", "rain_17h", "before_rain", "before_rain_5h")


def learn(
    pairs: Pairs,
    *,
    name: str,
    source: str,
    truth: Literal["analysis", "station"] = "station",
    base: ForecastError | None = None,
    without: Sequence[int] = (),
) -> ForecastError:
    """Fit an error table.

    Parameters
    ----------
    pairs : Pairs
        What was said and what came.
    name : str
        Of the table.
    source : str
        Where forecasts and truth came from, in words.
    truth : {"analysis", "station"}
        What forecasts are held against.
    base : ForecastError, optional
        The table that few pairs leave as it is. By default the forecast as it comes.
    without : sequence of int
        Months to leave out, counted as in ``Pairs`` [-].

    Returns
    -------
    ForecastError
        The table; its months are those learned from, with those of ``base`` where it
        was learned near the same place.

    Raises
    ------
    WeatherError
        If fewer than 480 hours have both gust or wind and what came.
    """
    rows = chosen(pairs, without)
    rows &= np.isfinite(pairs.predictors["wind"])
    cases = int((rows & np.isfinite(pairs.truth["wind"])).sum())
    if cases < _LEAST_PAIRS:
        raise WeatherError(
            f"Only {cases} hours have both a forecast and what came; "
            f"{_LEAST_PAIRS} are needed.",
            fix="Give more days of forecasts and observations, or use the shipped table.",
        )
    base = None if base is None else base.with_leads(LEADS)
    fit = _Fit(pairs=pairs, rows=rows, base=base)
    gust, wind, temp = fit.gaussian("gust"), fit.gaussian("wind"), fit.gaussian("temp")
    rain = fit.rain()
    seen = rows & np.isfinite(pairs.truth["wind"])
    found = sorted({int(month) for month in np.unique(pairs.month[seen])})
    own = tuple(f"{month // 12}-{month % 12 + 1:02d}" for month in found)
    leaned = base.months if base and base.near(pairs.latitude, pairs.longitude) else ()
    return ForecastError(
        name=name,
        source=source,
        truth=truth,
        months=tuple(sorted({*own, *leaned})),
        cases=cases,
        latitude=pairs.latitude,
        longitude=pairs.longitude,
        leads=LEADS,
        neutral=fit.neutral,
        gust_with_wind=same_hour(fit.left["gust"], fit.left["wind"], base),
        air_with_rain=fit.air_with_rain,
        morning=through_morning(fit.left["gust"], pairs, gust, leads=LEADS, base=base),
        rain_amount=amount_of_rain(pairs, rows, base),
        gust=gust,
        wind=wind,
        temp=temp,
        rain=rain,
    )


class _Fit:
    """One fit: the pairs chosen, the means of what may be missing, and what is left over.

    ``left`` has the errors of spread one, by quantity; ``air_with_rain`` is there once
    air temperature and rain have been fitted.
    """

    def __init__(self, *, pairs: Pairs, rows: Booleans, base: ForecastError | None) -> None:
        self.pairs = pairs
        self.rows = rows
        self.base = base
        self.neutral = _means(pairs, rows, base)
        self.left: dict[str, Floats] = {}
        self.air_with_rain = 0.0
        self.pull = value("planning", "learn_pull" if base else "learn_pull_alone")

    def gaussian(self, which: Literal["gust", "wind", "temp"]) -> Quantity:
        """Fit where the truth is to be looked for and how far it scatters."""
        truth = self.pairs.truth[which]
        if not (self.rows & np.isfinite(truth)).any():
            self.left[which] = np.full(truth.shape, np.nan)
            return self._not_seen(which)
        design = self._design(WHERE[which], np.isfinite(truth))
        numbers = straight(design, truth, pull=self.pull, start=self._start(which, "where"))
        where = design.total(numbers)
        spread = self._design(SPREAD[which], np.isfinite(truth - where), where=where)
        logs = log_spread(
            spread, truth - where, pull=self.pull, start=self._start(which, "spread")
        )
        scale = np.exp(-0.5 * spread.total(logs))
        self.left[which] = np.where(self.rows, (truth - where) * scale, np.nan)
        predictor, number = _AS_IT_COMES[which]
        error = number * self.pairs.predictors[predictor] - truth
        share, hours = hold(self.left[which], self.pairs.lead, LEADS, self._quantity(which))
        return Quantity(
            where=_terms(WHERE[which], numbers),
            spread=_terms(SPREAD[which], logs),
            share=share,
            hours=hours,
            too_high=self._average(error, which, "too_high"),
            typical=self._typical(which, truth - where),
        )

    def rain(self) -> Quantity:
        """Fit the log odds of a wet hour."""
        truth = self.pairs.truth["rain"]
        if not (self.rows & np.isfinite(truth)).any():
            return self._not_seen("rain")
        design = self._design(WHERE["rain"], np.isfinite(truth))
        wet = (truth >= _WET).astype(float)
        numbers = logistic(design, wet, pull=self.pull, start=self._start("rain", "where"))
        odds = design.total(numbers)
        chance = 1.0 / (1.0 + np.exp(-np.clip(odds, -20.0, 20.0)))
        wet[np.isnan(truth) | ~self.rows] = np.nan
        share, hours = hold_of_rain(chance, wet, len(LEADS), self.base)
        self.air_with_rain = with_rain(self.left["temp"], chance, wet, self.base)
        return Quantity(
            where=_terms(WHERE["rain"], numbers),
            spread={},
            share=share,
            hours=hours,
            too_high=tuple(0.0 for _ in LEADS),
            typical=self._typical("rain", wet - chance),
        )

    def _not_seen(self, which: str) -> Quantity:
        """Give the quantity of the table one starts from; without one, refuse."""
        found = self._quantity(which)
        if found is None:
            raise WeatherError(
                f"No hour has both a forecast and an observation of {_WORDS[which]}.",
                fix="Give observations with it, or leave --alone out.",
            )
        return found

    def _quantity(self, which: str) -> Quantity | None:
        found: Quantity | None = getattr(self.base, which) if self.base else None
        return found

    def _start(self, which: str, part: Literal["where", "spread"]) -> Floats:
        """Give the numbers one starts from, shape (terms, leads)."""
        names = (WHERE if part == "where" else SPREAD)[which]
        start = np.zeros((len(names), len(LEADS)))
        if self.base is not None:
            terms: Terms = getattr(getattr(self.base, which), part)
            weights = self.base.lead_weights(24.0 * np.array(LEADS))
            near = self.base.near(self.pairs.latitude, self.pairs.longitude)
            for at, name in enumerate(names):
                if name in terms and (near or name not in PLACE_TERMS):
                    start[at] += np.array(terms[name]) @ weights
                elif name in terms:  # another place's: its mean stays, in the constant term
                    start[0] += self.base.neutral[name] * (np.array(terms[name]) @ weights)
            if not near and part == "where" and which in {"gust", "wind"}:
                start[0] += np.maximum(getattr(self.base, which).too_high, 0.0) @ weights
        elif part == "where" and which in _AS_IT_COMES:
            predictor, number = _AS_IT_COMES[which]
            start[names.index(predictor)] = number
        return start

    def _design(
        self, names: tuple[str, ...], known: Booleans, where: Floats | None = None
    ) -> Design:
        columns = []
        for name in names:
            column = where if name == "where" else self.pairs.predictors[name]
            assert column is not None
            if name in self.neutral:
                column = np.where(np.isnan(column), self.neutral[name], column)
            columns.append(column)
        return Design(
            columns=columns, lead=self.pairs.lead / 24.0, leads=LEADS, rows=self.rows & known
        )

    def _average(
        self, error: Floats, which: str, part: Literal["too_high", "typical"]
    ) -> tuple[float, ...]:
        """Mean of something at each lead time."""
        design = self._design(("one",), np.isfinite(error))
        base = self._quantity(which)
        known = error[design.known()]
        start = np.full((1, len(LEADS)), known.mean() if part == "typical" else 0.0)
        if base is not None:
            start[0] = np.array(getattr(base, part)) ** (2 if part == "typical" else 1)
        return tuple(straight(design, error, pull=self.pull, start=start)[0].tolist())

    def _typical(self, which: str, left: Floats) -> tuple[float, ...]:
        """Root mean square of what is left over, never less at a longer lead."""
        squares = np.maximum(self._average(left**2, which, "typical"), _LEAST_SQUARE)
        return tuple(np.sqrt(np.maximum.accumulate(squares)).tolist())


def _terms(names: tuple[str, ...], numbers: Floats) -> Terms:
    return {name: tuple(row.tolist()) for name, row in zip(names, numbers, strict=True)}


def _means(pairs: Pairs, rows: Booleans, base: ForecastError | None) -> dict[str, float]:
    """Means of the predictors that a forecast may lack."""
    found = {}
    chance, rain = pairs.predictors["rain_chance"], pairs.predictors["rain"]
    for name, column, where in (
        *((name, pairs.predictors[name], rows) for name in (*_MAY_LACK, *_RAIN)),
        ("rain_chance", chance, rows & (rain == 0.0)),
        ("rain_chance_wet", chance, rows & (rain > 0.0)),
    ):
        known = column[where & np.isfinite(column)]
        fallback = base.neutral.get(name, 0.0) if base else 0.0
        found[name] = float(known.mean()) if len(known) else fallback
    return found
