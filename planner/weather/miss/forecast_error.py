"""How far forecasts have been from what came: the table that possible weathers are drawn from.

One table a file, in TOML: for each quantity a sum of terms that gives where the truth is
to be looked for, and one that gives how far it scatters. A term is a predictor
(``weather/miss/predictors.py``) times a number that depends on how far ahead the hour is; the
numbers stand at a few lead times and run straight between them. So every number can be
read and every forecast be followed by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from planner.reference.tables import value
from planner.weather.miss.predictors import PLACE_TERMS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Terms = Mapping[str, tuple[float, ...]]

#: Quantities with a table of where and spread: square root of gust and mean wind
#: [(m/s)^0.5], air temperature [degC]; "rain" has the log odds of 0.1 mm or more [-].
GAUSSIAN: Final = ("gust", "wind", "temp")
_KM_PER_DEGREE: Final = 111.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """Terms of one quantity: where the truth is to be looked for, and its spread.

    ``where`` adds up to the middle of the error's normal curve, ``spread`` to the log of
    its standard deviation squared; for rain ``where`` adds up to the log odds. ``share``
    and ``hours`` give the correlation of errors ``k`` hours apart,
    ``share * exp(-k / hours)`` [-, h], the hours at each lead time; ``too_high`` by how
    much forecasts were above the truth on average, ``typical`` how far the truth lay from
    ``where``, root mean square, both at each lead time [unit of the quantity].
    """

    where: Terms
    spread: Terms
    share: float
    hours: tuple[float, ...]
    too_high: tuple[float, ...]
    typical: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastError:
    """How far forecasts were from what came, and what that was learned from.

    Attributes
    ----------
    name : str
        "shipped", or the name of a learned table.
    source : str
        Where forecasts and truth came from, in words.
    truth : {"analysis", "station"}
        What forecasts were held against.
    months : tuple of str
        The months of the hours that were learned from, "2024-05".
    cases : int
        Pairs of a forecast hour and what came.
    latitude, longitude : float
        Where they were learned [deg].
    leads : tuple of float
        Lead times at which the numbers of a term stand [day].
    gust, wind, temp, rain : Quantity
        The terms.
    neutral : dict of str to float
        Value of each predictor where it is not known: its mean [unit of the predictor].
    gust_with_wind, air_with_rain : float
        Correlation of the errors in the same hour: of gust and mean wind, of air
        temperature and the normal number behind rain [-].
    morning : float
        Share of the correlation that is left across the morning break-up of a calm
        night [-].
    rain_amount : tuple of float
        Of wet hours: middle of the log of mm, its change with the log of the forecast,
        its spread [-].
    away : bool
        Whether it is used at another place than it was learned at.
    """

    name: str
    source: str
    truth: Literal["analysis", "station"]
    months: tuple[str, ...]
    cases: int
    latitude: float
    longitude: float
    leads: tuple[float, ...]
    gust: Quantity
    wind: Quantity
    temp: Quantity
    rain: Quantity
    neutral: Mapping[str, float]
    gust_with_wind: float
    air_with_rain: float
    morning: float
    rain_amount: tuple[float, float, float]
    away: bool = False

    def near(self, latitude: float, longitude: float) -> bool:
        """Say whether a place is near enough to where the table was learned.

        Parameters
        ----------
        latitude, longitude : float
            The place [deg].

        Returns
        -------
        bool
            True within ``error_place_km`` of the planning table.
        """
        north = latitude - self.latitude
        east = (longitude - self.longitude + 180.0) % 360.0 - 180.0
        east *= np.cos(np.radians(0.5 * (latitude + self.latitude)))
        return bool(
            _KM_PER_DEGREE * np.hypot(north, east) <= value("planning", "error_place_km")
        )

    def at(self, latitude: float, longitude: float) -> ForecastError:
        """Give the table as it is to be used at a place.

        Parameters
        ----------
        latitude, longitude : float
            The place [deg].

        Returns
        -------
        ForecastError
            Itself where it was learned; elsewhere without what belongs to that place
            (wind direction, season, the average by which forecasts ran high), and with
            the scatter of what the new place's own average may be.
        """
        return replace(self, away=not self.near(latitude, longitude))

    def with_leads(self, leads: tuple[float, ...]) -> ForecastError:
        """Give the table with its numbers at other lead times, straight between its own.

        Parameters
        ----------
        leads : tuple of float
            Where the numbers are to stand [day].

        Returns
        -------
        ForecastError
            Itself if they stand there already.
        """
        if leads == self.leads:
            return self
        weights = self.lead_weights(24.0 * np.array(leads))

        def moved(numbers: tuple[float, ...]) -> tuple[float, ...]:
            return tuple((np.array(numbers) @ weights).tolist())

        def again(quantity: Quantity) -> Quantity:
            return replace(
                quantity,
                where={name: moved(row) for name, row in quantity.where.items()},
                spread={name: moved(row) for name, row in quantity.spread.items()},
                hours=moved(quantity.hours),
                too_high=moved(quantity.too_high),
                typical=moved(quantity.typical),
            )

        return replace(
            self,
            leads=leads,
            gust=again(self.gust),
            wind=again(self.wind),
            temp=again(self.temp),
            rain=again(self.rain),
        )

    def still_open(self, lead: float, later: float) -> float:
        """Say how much of an error is settled between a forecast and a later one.

        Parameters
        ----------
        lead, later : float
            How far ahead the hour is in the first and in the later forecast [day].

        Returns
        -------
        float
            Standard deviation of what the later forecast brings, in units of the error
            that is left then; 0 where nothing is settled [-].

        Notes
        -----
        The variance of the first forecast's error less that of the later one, over the
        latter: for normal errors and a forecast that makes use of all it knows.
        """
        first, then = np.interp([lead, later], self.leads, self.gust.typical)
        return float(np.sqrt(max((first / then) ** 2 - 1.0, 0.0)))

    def lead_weights(self, lead: Floats) -> Floats:
        """Give the weight of each lead time of the table for hours ahead.

        Parameters
        ----------
        lead : array_like, shape (hours,)
            Hours after the issue [h].

        Returns
        -------
        numpy.ndarray, shape (leads, hours)
            Straight between neighbours, the last one beyond; they add up to 1 [-].
        """
        days = np.asarray(lead, dtype=float) / 24.0
        unit = np.eye(len(self.leads))
        return np.stack([np.interp(days, self.leads, row) for row in unit])

    def total(self, terms: Terms, predictors: Mapping[str, Floats], lead: Floats) -> Floats:
        """Add up terms.

        Parameters
        ----------
        terms : mapping of str to tuple of float
            Numbers of each predictor at the lead times.
        predictors : mapping of str to numpy.ndarray, shape (hours,)
            By name; what is NaN in one that may be missing counts as its mean.
        lead : numpy.ndarray, shape (hours,)
            Hours after the issue [h].

        Returns
        -------
        numpy.ndarray, shape (hours,)
            The sum, NaN where a predictor that is needed is [unit of the quantity].
        """
        weights = self.lead_weights(lead)
        names = [name for name in terms if name in predictors]
        rows = np.stack([self.known(name, predictors[name]) for name in names])
        numbers = np.array([terms[name] for name in names])
        return np.asarray((rows * (numbers @ weights)).sum(axis=0))

    def known(self, name: str, predictor: Floats) -> Floats:
        """Give a predictor with its mean in place of what is not known.

        Parameters
        ----------
        name : str
            The predictor.
        predictor : numpy.ndarray
            Its values, NaN where not known [unit of the predictor].

        Returns
        -------
        numpy.ndarray
            The same shape; all its mean where it belongs to another place.
        """
        if name not in self.neutral:
            return predictor
        if self.away and name in PLACE_TERMS:
            return np.full_like(predictor, self.neutral[name])
        return np.where(np.isnan(predictor), self.neutral[name], predictor)
