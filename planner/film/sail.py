"""A loose sheet is a sail: what the wind does to it, and what hands can hold.

Wind speeds are at the height of the sheet. A gust is paired with a momentary hold,
a mean with a sustained one; the caller chooses the pair.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.reference.tables import value

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

AIR_DENSITY: Final = 1.225  # kg/m3, 15 degC at sea level: U.S. Standard Atmosphere 1976
GRAVITY: Final = 9.80665  # m/s2, standard gravity, exact by definition


def mass_per_area(thickness: float) -> float:
    """Weigh one square metre of dry film.

    Parameters
    ----------
    thickness : float
        Of one layer [m].

    Returns
    -------
    float
        Mass per area [kg/m2].

    Examples
    --------
    >>> mass_per_area(150e-6)
    0.138
    """
    return thickness * value("film", "density")


def gust_people_can_hold(
    loose_area: ArrayLike,
    hands: ArrayLike,
    *,
    hold: ArrayLike,
    drag: ArrayLike,
    taken: ArrayLike = 0.0,
    air_density: ArrayLike = AIR_DENSITY,
) -> NDArray[np.float64]:
    """Say in how strong a gust the people on the sheet can still hold it.

    The limit of every phase in which film is loose comes from here.

    Parameters
    ----------
    loose_area : array_like
        Area of the sheet that is not yet fastened [m2].
    hands : array_like
        People on the sheet [-].
    hold : array_like
        Pull of one person: momentary for a gust, sustained for a mean wind [N].
    drag : array_like
        Force coefficient of the loose part [-].
    taken : array_like
        Pull already spent on moving the sheet's own weight [N].
    air_density : array_like
        Of the air [kg/m3].

    Returns
    -------
    ndarray
        Wind speed at the sheet; a scalar for scalars. 0 where the weight takes all the
        pull there is, infinite where nothing is loose [m/s].

    Notes
    -----
    ``hands x hold - taken = rho V^2 C A / 2``. The gust is taken to reach the whole
    loose area at once, which a short gust over a long sheet does not: a reserve that is
    not spent. NaN in gives NaN out.

    Examples
    --------
    Four people on 250 m2, half billowing, at 100, 150 and 200 N each:

    >>> print(gust_people_can_hold(250.0, 4, hold=[100.0, 150.0, 200.0], drag=0.5))
    [2.286 2.799 3.232]
    """
    spare = np.maximum(np.multiply(hands, hold) - np.asarray(taken, float), 0.0)
    sail = np.multiply(air_density, drag) * np.asarray(loose_area, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = np.sqrt(2.0 * spare / sail)
    return np.where((spare == 0.0) & ~np.isnan(sail), 0.0, speed)[()]


def weight_dragged(
    ridge: ArrayLike, mass_per_area: ArrayLike, length: ArrayLike, *, friction: ArrayLike
) -> NDArray[np.float64]:
    """Say how hard the film itself pulls back while it is dragged over the bows.

    The people who pull it over have that much less left for the wind.

    Parameters
    ----------
    ridge : array_like
        Height the film is dragged up [m].
    mass_per_area : array_like
        Of the film being dragged, all its layers together [kg/m2].
    length : array_like
        Of the sheet, along the house [m].
    friction : array_like
        Of film on the bow [-].

    Returns
    -------
    ndarray
        Pull needed when it is heaviest, all lines together; a scalar for scalars [N].

    Notes
    -----
    Film that hangs up one side of a curve weighs ``w H`` per metre of house whatever the
    shape, because only its height counts; belt friction multiplies that by
    ``exp(mu pi)`` on the half turn from straight up to straight down. Two things are
    left out and nearly cancel: the film's own weight also presses it on the bow, and film
    past the ridge helps. Stepwise integration of both round a half circle, friction 0.2
    to 0.5, gives 0.82 to 0.97 of this with lines that run free, and 1.07 to 1.12 with
    lines that rub like the film. Wet film is heavier and sticks. NaN in gives NaN out.

    Examples
    --------
    One metre of a 9 m half circle, 0.15 mm film:

    >>> print(weight_dragged(4.5, 0.138, 1.0, friction=0.3))
    15.6

    References
    ----------
    Euler, L. (1769) and Eytelwein, J. A. (1808): the belt-friction equation.
    """
    hanging = GRAVITY * np.multiply(mass_per_area, ridge) * np.asarray(length, float)
    pull: NDArray[np.float64] = hanging * np.exp(np.multiply(friction, math.pi))
    return pull


def wind_force(
    speed: ArrayLike, area: ArrayLike, drag: ArrayLike, *, air_density: ArrayLike = AIR_DENSITY
) -> NDArray[np.float64]:
    """Say how hard the wind pushes on an area.

    Used for a sheet in the hands, and for an end wall on a frame that has no roof yet.

    Parameters
    ----------
    speed : array_like
        Of the wind at that height [m/s].
    area : array_like
        That the wind meets [m2].
    drag : array_like
        Force coefficient [-].
    air_density : array_like
        Of the air [kg/m3].

    Returns
    -------
    ndarray
        Force along the wind; a scalar for scalars [N].

    Notes
    -----
    ``F = rho V^2 C A / 2``. NaN in gives NaN out.

    Examples
    --------
    The end wall of a 9 m half circle at 20 m/s:

    >>> print(wind_force(20.0, 31.81, 1.2))
    9352.
    """
    return 0.5 * np.multiply(air_density, np.square(speed)) * np.multiply(drag, area)


def membrane_tension(
    gust: ArrayLike,
    radius: ArrayLike,
    *,
    cp: ArrayLike,
    weight: ArrayLike,
    air_density: ArrayLike = AIR_DENSITY,
) -> NDArray[np.float64]:
    """Say how hard a gust pulls a lifted sheet against its edges.

    Parameters
    ----------
    gust : array_like
        At the sheet [m/s].
    radius : array_like
        Of the bow [m].
    cp : array_like
        Net pressure coefficient, outward positive [-].
    weight : array_like
        Of the film [N/m2].
    air_density : array_like
        Of the air [kg/m3].

    Returns
    -------
    ndarray
        Tension in the film across its edge; 0 while the sheet still lies on the bows;
        a scalar for scalars [N/m].

    Notes
    -----
    ``T = (q Cp - w) R``: the lifted sheet keeps the bow's radius. Stretch and what the
    bows carry are ignored. NaN in gives NaN out.

    Examples
    --------
    >>> print(membrane_tension([5.0, 10.0, 20.0], 4.5, cp=1.0, weight=1.354))
    [  62.8  269.5  1096.4  ]
    """
    lift = wind_force(gust, 1.0, cp, air_density=air_density) - np.asarray(weight, float)
    pull: NDArray[np.float64] = np.maximum(lift, 0.0) * np.asarray(radius, float)
    return pull


def gust_at_tension(
    limit: ArrayLike,
    radius: ArrayLike,
    *,
    cp: ArrayLike,
    weight: ArrayLike,
    air_density: ArrayLike = AIR_DENSITY,
) -> NDArray[np.float64]:
    """Say which gust a fastened sheet survives with nobody there.

    The leave gust of a locked or tacked sheet: the inverse of ``membrane_tension``.

    Parameters
    ----------
    limit : array_like
        Tension that the weakest fastening holds [N/m].
    radius : array_like
        Of the bow [m].
    cp : array_like
        Net pressure coefficient, outward positive [-].
    weight : array_like
        Of the film [N/m2].
    air_density : array_like
        Of the air [kg/m3].

    Returns
    -------
    ndarray
        Gust at the sheet; a scalar for scalars [m/s].

    Notes
    -----
    ``V = sqrt(2 (T / R + w) / (rho Cp))``, with the limits of ``membrane_tension``.
    NaN in gives NaN out.

    Examples
    --------
    Tacked ends, one end of the house open, bows of 3 and 4.5 m radius:

    >>> print(gust_at_tension(100.0, [3.0, 4.5], cp=2.0, weight=1.354))
    [5.32 4.39]
    """
    held = np.divide(limit, radius) + np.asarray(weight, float)
    speed: NDArray[np.float64] = np.sqrt(2.0 * held / np.multiply(air_density, cp))
    return speed
