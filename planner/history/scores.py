"""Scores of chances and of possible weathers against what happened: lower is better.

All of them are proper: nobody gains by saying another chance than the one believed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import OutOfRange
from planner.history.records import Tenth

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    FloatArray = NDArray[np.float64]

_TENTHS: Final = 10
_ROOT_PI: Final = math.sqrt(math.pi)
_ROOT_2: Final = math.sqrt(2.0)
#: Spreads below nought from where a share above it is too small for a double.
_FARTHEST: Final = 25.0
_erf = np.vectorize(math.erf, otypes=[np.float64])
_erfc = np.vectorize(math.erfc, otypes=[np.float64])


@dataclass(frozen=True, slots=True, kw_only=True)
class BrierParts:
    """What a Brier score is made of: reliability less resolution plus uncertainty.

    Attributes
    ----------
    reliability : float
        How far chances are from the shares that held, squared; 0 is best [-].
    resolution : float
        How far those shares are from the overall one, squared; more is better [-].
    uncertainty : float
        Of the weather itself, the score of always saying the overall share [-].
    """

    reliability: float
    resolution: float
    uncertainty: float


def brier(chance: ArrayLike, held: ArrayLike) -> float:
    """Give the mean squared distance between the chance said and what came.

    Parameters
    ----------
    chance : array_like
        Chance of each case, or one for all [-].
    held : array_like
        1 or True where it held, 0 or False where not [-].

    Returns
    -------
    float
        0 if every chance was 0 or 1 and right, 1 if all were wrong [-].

    Raises
    ------
    OutOfRange
        If a chance is below 0 or above 1.

    Notes
    -----
    One NaN in either, or no case at all, gives NaN.

    Examples
    --------
    >>> brier([0.9, 0.2, 0.5], [True, False, True])
    0.1

    References
    ----------
    Brier (1950), Verification of forecasts expressed in terms of probability, Monthly
    Weather Review 78, 1-3.
    """
    said, came = _pairs(chance, held)
    return float(np.mean((said - came) ** 2)) if said.size else math.nan


def brier_parts(chance: ArrayLike, held: ArrayLike, bins: int = 10) -> BrierParts:
    """Split a Brier score into reliability, resolution and uncertainty.

    A score can be poor because chances are not what they say, or because they hardly
    differ from case to case; only the first is mended by calibration.

    Parameters
    ----------
    chance : array_like
        Chance of each case [-].
    held : array_like
        1 or True where it held, 0 or False where not [-].
    bins : int
        Equal parts of the scale that cases are gathered in [-].

    Returns
    -------
    BrierParts
        The three parts.

    Raises
    ------
    OutOfRange
        If a chance is below 0 or above 1.

    Notes
    -----
    The parts add up to the Brier score where all chances of a bin are equal; else they
    miss the variance within bins less twice the covariance there (Stephenson et al.
    2008). One NaN in either, or no case at all, gives NaN.

    References
    ----------
    Murphy (1973), A new vector partition of the probability score, Journal of Applied
    Meteorology 12, 595-600. Stephenson, Coelho and Jolliffe (2008), Two extra components
    in the Brier score decomposition, Weather and Forecasting 23, 752-757.
    """
    said, came = _pairs(chance, held)
    if not said.size or np.isnan(said).any() or np.isnan(came).any():
        return BrierParts(reliability=math.nan, resolution=math.nan, uncertainty=math.nan)
    cases, mean_chance, share_held = _gathered(said, came, bins)
    full = cases > 0
    weight = cases[full] / said.size
    overall = float(came.mean())
    return BrierParts(
        reliability=float(np.sum(weight * (mean_chance[full] - share_held[full]) ** 2)),
        resolution=float(np.sum(weight * (share_held[full] - overall) ** 2)),
        uncertainty=overall * (1.0 - overall),
    )


def reliability_table(chance: ArrayLike, held: ArrayLike) -> tuple[Tenth, ...]:
    """Say for each tenth of chance how often what was said to hold did hold.

    Parameters
    ----------
    chance : array_like
        Chance of each case [-].
    held : array_like
        1 or True where it held, 0 or False where not [-].

    Returns
    -------
    tuple of Tenth
        Ten, from the lowest chance up; one without a case has NaN for its shares.

    Raises
    ------
    OutOfRange
        If a chance is below 0 or above 1.

    Notes
    -----
    A chance of 0.1 is in the second tenth, one of 1 in the last. A case with NaN in
    either belongs to no tenth and is left out.

    Examples
    --------
    >>> tenth = reliability_table([0.72, 0.78, 0.12], [1, 0, 0])[7]
    >>> tenth.cases, tenth.mean_chance, tenth.share_held
    (2, 0.75, 0.5)
    """
    said, came = _pairs(chance, held)
    known = ~(np.isnan(said) | np.isnan(came))
    cases, mean_chance, share_held = _gathered(said[known], came[known], _TENTHS)
    return tuple(
        Tenth(
            low=at / _TENTHS,
            high=(at + 1) / _TENTHS,
            cases=int(cases[at]),
            mean_chance=float(mean_chance[at]),
            share_held=float(share_held[at]),
        )
        for at in range(_TENTHS)
    )


def _pairs(chance: ArrayLike, held: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Give chances and what came side by side, flat; refuse what is no chance [-]."""
    said, came = np.broadcast_arrays(np.asarray(chance, float), np.asarray(held, float))
    wrong = said[(said < 0.0) | (said > 1.0)]
    if wrong.size:
        raise OutOfRange("a chance", value=float(wrong[0]), low=0.0, high=1.0, unit="[-]")
    return said.ravel(), came.ravel()


def _gathered(
    said: FloatArray, came: FloatArray, bins: int
) -> tuple[NDArray[np.int64], FloatArray, FloatArray]:
    """Give cases, mean chance and share that held of equal parts of the scale."""
    place = np.searchsorted(np.arange(1, bins) / bins, said, side="right")
    cases = np.bincount(place, minlength=bins)
    sums = (np.bincount(place, weights=x, minlength=bins) for x in (said, came))
    empty = np.where(cases > 0, cases, math.nan)
    mean_chance, share_held = (x / empty for x in sums)
    return cases, mean_chance, share_held


def crps_normal(mean: ArrayLike, spread: ArrayLike, seen: ArrayLike) -> FloatArray:
    """Score a normal distribution against what was seen, in the unit of what was seen.

    For one value said as certain it is the distance; so it measures a whole
    distribution by the same stick as a single forecast.

    Parameters
    ----------
    mean : array_like
        Of the distribution [unit of seen].
    spread : array_like
        Its standard deviation; 0 says the mean as certain [unit of seen].
    seen : array_like
        What came [any].

    Returns
    -------
    ndarray
        Continuous ranked probability score, 0 at best [unit of seen].

    Notes
    -----
    s (z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi)) with z = (seen - mean) / s. NaN, or a
    spread below 0, gives NaN.

    Examples
    --------
    >>> float(crps_normal(0.0, 1.0, 0.0))
    0.23369498

    References
    ----------
    Gneiting, Raftery, Westveld and Goldman (2005), Monthly Weather Review 133, 1098-1118,
    equation 5.
    """
    mid, wide, came = _three(mean, spread, seen)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        z = (came - mid) / wide
        score = wide * (z * _erf(z / _ROOT_2) + 2.0 * _density(z) - 1.0 / _ROOT_PI)
    return _or_distance(score, mid, wide, came)


def crps_normal_above_zero(mean: ArrayLike, spread: ArrayLike, seen: ArrayLike) -> FloatArray:
    """Score a normal distribution cut off at 0, as of wind, against what was seen.

    Parameters
    ----------
    mean : array_like
        Of the distribution before the cut [unit of seen].
    spread : array_like
        Its standard deviation before the cut; 0 says the mean, at least 0, as certain
        [unit of seen].
    seen : array_like
        What came; below 0 it adds its distance from 0 [any].

    Returns
    -------
    ndarray
        Continuous ranked probability score, 0 at best [unit of seen].

    Notes
    -----
    s/p^2 (z p (2 Phi(z) + p - 2) + 2 phi(z) p - Phi(sqrt(2) mean/s) / sqrt(pi)) with
    p = Phi(mean/s) and z = (seen - mean) / s. NaN, a spread below 0, or a mean more than
    25 spreads below 0 gives NaN: of such a distribution nothing is left above 0.

    References
    ----------
    Thorarinsdottir and Gneiting (2010), Probabilistic forecasts of wind speed, Journal of
    the Royal Statistical Society A 173, 371-388. The normal is cut and scaled up, not
    heaped at 0.
    """
    mid, wide, came = _three(mean, spread, seen)
    above = np.maximum(came, 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        z = (above - mid) / wide
        ratio = np.where(mid < -_FARTHEST * wide, math.nan, mid / wide)
        left = _share_below(ratio)
        score = wide * (
            z * (1.0 - 2.0 * _share_below(-z) / left)
            + 2.0 * _density(z) / left
            - _share_below(_ROOT_2 * ratio) / (left**2 * _ROOT_PI)
        )
    return _or_distance(score, np.maximum(mid, 0.0), wide, above) + (above - came)


def crps_members(
    members: ArrayLike, seen: ArrayLike, weights: ArrayLike | None = None
) -> FloatArray:
    """Score possible weathers, each with its weight, against the one that came.

    Parameters
    ----------
    members : array_like, shape (members, ...)
        The possible values, along the first axis [unit of seen].
    seen : array_like, shape (...)
        What came [any].
    weights : array_like, shape (members,), optional
        Weight of each possible weather, of any sum above 0; by default all alike [-].

    Returns
    -------
    ndarray, shape (...)
        Continuous ranked probability score, 0 at best [unit of seen].

    Notes
    -----
    The mean distance to what came, less half the mean distance between two possible
    weathers, each drawn with its weight, the same one twice included; from members in
    order, without the table of all pairs. NaN in any member or in what came gives NaN.

    Examples
    --------
    >>> float(crps_members([1.0, 2.0, 3.0, 4.0], 2.5))
    0.375

    References
    ----------
    Gneiting and Raftery (2007), Strictly proper scoring rules, prediction, and estimation,
    Journal of the American Statistical Association 102, 359-378, equation 21.
    """
    away = np.asarray(members, float) - np.asarray(seen, float)
    count = away.shape[0]
    weight = np.ones(count) if weights is None else np.asarray(weights, float)
    weight = (weight / weight.sum()).reshape(-1, *[1] * (away.ndim - 1))
    order = np.argsort(away, axis=0)
    away = np.take_along_axis(away, order, axis=0)
    mine = np.take_along_axis(np.broadcast_to(weight, away.shape), order, axis=0)
    apart = np.sum(mine * away * (2.0 * np.cumsum(mine, axis=0) - mine - 1.0), axis=0)
    return np.asarray(np.sum(mine * np.abs(away), axis=0) - apart)


def _three(*values: ArrayLike) -> list[FloatArray]:
    """Give mean, spread and what was seen in one shape; a spread below 0 is none."""
    mid, wide, came = np.broadcast_arrays(*(np.asarray(x, float) for x in values))
    return [mid, np.where(wide < 0.0, math.nan, wide), came]


def _or_distance(
    score: FloatArray, mid: FloatArray, wide: FloatArray, came: FloatArray
) -> FloatArray:
    """Give the score, and the distance where the mean was said as certain."""
    return np.asarray(np.where(wide == 0.0, np.abs(came - mid), score))


def _density(z: FloatArray) -> FloatArray:
    """Give the standard normal density [-]."""
    return np.asarray(np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi))


def _share_below(z: FloatArray) -> FloatArray:
    """Give the standard normal share below z, right far out in its lower tail too [-]."""
    return np.asarray(0.5 * _erfc(-z / _ROOT_2))
