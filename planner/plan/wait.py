"""Go now or wait: what each costs on average, with forecasts that grow sharper.

A day's chance is not what it will be on its own morning. A forecast that makes use of all
it knows moves without a drift: on the scale of the normal curve it is spread out and
stretched so that its mean stays (Murphy 1977; Jewson, Scher and Messori 2021). Going back
from the last day, waiting is worth what the better of going and waiting will cost then.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_NODES: Final = 21
_SURE: Final = 1e-4  # no chance is nearer to 0 or 1
_CALM_ROUNDS: Final = 60  # days without a last one, beyond which nothing changes
_NORMAL: Final = NormalDist()


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """One day to come: its best start as it is seen now.

    Attributes
    ----------
    chance : float
        That it holds [-].
    loss : float
        What going costs where it does not hold [money].
    by_evening, by_dawn : float
        How far its chance still moves until the evening before, and from then to its
        own dawn: standard deviations on the normal scale [-].
    """

    chance: float
    loss: float
    by_evening: float
    by_dawn: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What waiting costs [money], and the chance below which nobody is sent out [-].

    ``day_waited`` is decided the evening before, ``sent_home`` with the crew in the yard;
    ``missed`` comes due when no day is left.
    """

    day_waited: float
    sent_home: float
    missed: float
    least_chance: float


def lost(ratio: ArrayLike) -> Floats:
    """Give the chance that a sheet is lost.

    To pass a limit is not to lose the sheet: people hold on, and limits have room.

    Parameters
    ----------
    ratio : array_like
        Largest gust over its limit [-].

    Returns
    -------
    numpy.ndarray
        1 / (1 + exp(-(ratio - 1.3) / 0.102)): 5 % at the limit, one half at 1.3 times;
        NaN where the ratio is, 1 where it is infinite [-].

    Notes
    -----
    Assumed: rows ``lost_half`` and ``lost_scale`` of the planning table.
    """
    steep = (np.asarray(ratio, dtype=float) - value("planning", "lost_half")) / value(
        "planning", "lost_scale"
    )
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(steep, -700.0, 700.0))))


def moved(chance: ArrayLike, by: float) -> tuple[Floats, Floats]:
    """Give what a chance may have become when a later forecast is out.

    Parameters
    ----------
    chance : array_like, shape (...)
        As it is seen now [-].
    by : float
        Standard deviation of the move, on the normal scale of the later chance [-].

    Returns
    -------
    tuple of numpy.ndarray, shape (..., nodes) and (nodes,)
        Chances then and their weights; the weighted mean is ``chance`` [-].
    """
    now = np.clip(np.asarray(chance, dtype=float), _SURE, 1.0 - _SURE)[..., None]
    if by <= 0.0:
        return now, np.ones(1)
    nodes, weights = _nodes()
    scale = np.sqrt(1.0 + by**2) * _deviate(now) + by * nodes
    return _below(scale), weights


def cost_of_waiting(
    days: Sequence[Ahead], prices: Prices, *, open_end: int | None = 0
) -> float:
    """Give what it costs, on average, not to go before the first of some days.

    Parameters
    ----------
    days : sequence of Ahead
        The days that are left, the first of them next.
    prices : Prices
        What waiting costs.
    open_end : int or None
        Days beyond those until ``missed`` is due, taken to be like the last three of
        them; None where there is no last day [day].

    Returns
    -------
    float
        The cost of the better choice on every evening and every dawn [money].
    """
    later = _beyond(days, prices, open_end)
    for day in reversed(days):
        later = _evening(day, prices, later)
    return later


def calls_for(days: Sequence[Ahead], prices: Prices, *, open_end: int | None = 0) -> bool:
    """Say whether to call the crew for the first of some days.

    Parameters
    ----------
    days : sequence of Ahead
        The days that are left, the first of them tomorrow.
    prices : Prices
        What waiting costs.
    open_end : int or None
        As in ``cost_of_waiting`` [day].

    Returns
    -------
    bool
        True if having it in the yard tomorrow, to start or be sent home, costs no more
        than to wait another day.
    """
    later = cost_of_waiting(days[1:], prices, open_end=open_end)
    called = _called(np.array([days[0].chance]), days[0], prices, later)
    return float(called[0]) <= prices.day_waited + later


def _beyond(days: Sequence[Ahead], prices: Prices, open_end: int | None) -> float:
    """Give the cost of what lies beyond the last day that is forecast."""
    like = days[-3:]
    if open_end is None and not like:
        return 0.0  # no last day, and nothing is known of the days to come
    if open_end == 0 or not like:
        return prices.missed
    cost = prices.missed
    for _ in range(_CALM_ROUNDS if open_end is None else open_end):
        before = cost
        cost = float(np.mean([_evening(day, prices, cost) for day in like]))
        if abs(cost - before) < 1e-9 * max(abs(cost), 1.0):
            break
    return cost


def _evening(day: Ahead, prices: Prices, later: float) -> float:
    """Give the cost from the evening before a day on: the crew is called for it, or not.

    Once called, they start at dawn or are sent home.
    """
    evening, weights = moved(day.chance, day.by_evening)
    called = _called(evening, day, prices, later)
    return float(weights @ np.minimum(called, prices.day_waited + later))


def _called(evening: Floats, day: Ahead, prices: Prices, later: float) -> Floats:
    """Give the cost of having the crew in the yard at dawn, by the chance of the evening."""
    dawn, weights = moved(evening, day.by_dawn)
    going = np.where(dawn >= prices.least_chance, day.loss * (1.0 - dawn), np.inf)
    return np.asarray(np.minimum(going, prices.sent_home + later) @ weights)


@cache
def _nodes() -> tuple[Floats, Floats]:
    """Give nodes and weights of a sum over a standard normal number."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES)
    return nodes, weights / weights.sum()


def _deviate(chance: Floats) -> Floats:
    """Give the normal number that has a chance below it [-]."""
    return np.asarray(np.vectorize(_NORMAL.inv_cdf, otypes=[float])(chance))


def _below(deviate: Floats) -> Floats:
    """Give the chance below a normal number [-]."""
    return np.asarray(0.5 * np.vectorize(math.erfc, otypes=[float])(-deviate / math.sqrt(2.0)))
