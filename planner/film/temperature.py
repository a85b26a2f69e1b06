"""How warm the film is, and the bows under it, in this sun, wind and sky.

A thin sheet takes its temperature within half a minute, so it follows the weather of
the hour: an energy balance without storage. A reading taken at the locks overrides all
of this; a cloud moves a film by ten degrees in a minute.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import EllipsisType

    from numpy.typing import ArrayLike, NDArray

    Single = NDArray[np.float32]

Kind = Literal["clear", "diffusing", "infrared"]
Place = Literal["bows", "ground", "closed house"]
Convection = Literal["house", "plate"]
Frame = Literal["steel", "aluminium", "wood", "pvc"]

STEFAN_BOLTZMANN: Final = 5.670374419e-8  # W/m2/K4, CODATA 2018, exact
_ZERO: Final = 273.15  # degC to K, exact
_PART: Final = 16384  # numbers worked on at a time: 64 kB in single precision
_WARMING: Final[dict[str, str]] = {
    "bows": "warming_under_bows",
    "ground": "warming_under_sheet",
    "closed house": "warming_in_closed_house",
}


# Four arrays may be given by position: they are the weather, in the order of its table.
def film_temperature(
    temp_air: ArrayLike,
    wind: ArrayLike,
    ghi: ArrayLike,
    sky_longwave: ArrayLike,
    *,
    kind: Kind = "clear",
    place: Place = "bows",
    temp_below: ArrayLike | None = None,
    wet: ArrayLike = False,
    convection: Convection = "house",
) -> NDArray[np.float64]:
    """Say how warm the film is: some degrees over the air in sun, under it in a clear night.

    The pull at the locks, the limits on warm and cold film and the slack of every later
    hour start from it.

    Parameters
    ----------
    temp_air : array_like, shape (members, hours) or broadcastable
        Air temperature [degC].
    wind : array_like
        Mean wind at the sheet [m/s].
    ghi : array_like
        Sun and sky light on level ground [W/m2].
    sky_longwave : array_like
        Long-wave radiation of the sky on level ground, clouds included [W/m2].
    kind : {"clear", "diffusing", "infrared"}
        Film: plain, milky, or made to hold back heat [-].
    place : {"bows", "ground", "closed house"}
        On open bows with air on both faces, lying on the ground, or over a shut house [-].
    temp_below : array_like, optional
        Ground under the bows or under the sheet, or air in the shut house; left out, it is
        warmer than the air in proportion to the sun [degC].
    wet : array_like of bool
        Dew on it makes the film dark to long-wave radiation [-].
    convection : {"house", "plate"}
        ``0.95 + 6.76 v^0.49`` or ``2.8 + 3 v``: the difference tells what it is worth [-].

    Returns
    -------
    ndarray
        Film temperature, a scalar for scalars [degC].

    Notes
    -----
    ``a G (1 + r t) + eps (sky + below - 2 sigma T^4) = n h (T - air) + k (T - below)``: two
    wind faces on bows (n = 2, k = 0), one elsewhere with still air or inside air (k) below.
    Solved by the straight line at the air temperature and one correction of its slope, in
    single precision: within 0.02 K of the exact root. ``h`` was fitted below 6.3 m/s and
    is used beyond, where film is at air temperature anyway; below 0.3 m/s the film's own
    draught is taken for wind. Left out: heat stored (half a minute), evaporation, the
    slope of the roof, and the direction of the sun, so that sunny and shaded sides are
    five degrees apart about this. Worth 2.6 K by day and 2 K by night (one standard
    deviation, ``film_temperature_error``). NaN in gives NaN out.

    Examples
    --------
    Full sun at 30 degC, from a calm to 5 m/s, and a clear night at 10 degC:

    >>> print(film_temperature(30.0, [0.3, 1.0, 3.0, 5.0], 950.0, 409.0) - 30.0)
    [7.5 5.0 3.3 2.6]
    >>> print(film_temperature(10.0, [0.3, 1.0, 3.0], 0.0, 271.0) - 10.0)
    [-1.6 -1.0 -0.7]

    References
    ----------
    Abdel-Ghany, A. M. and Kozai, T. (2006), Renewable Energy 31, 1521: convection.
    Watmuff, J. H., Charters, W. W. S. and Proctor, D. (1977): the other convection.
    """
    emissivity = np.where(
        wet, value("film", "wet_emissivity"), value("film", f"{kind}_emissivity")
    )
    known = temp_air if temp_below is None else temp_below
    given = np.broadcast_arrays(temp_air, wind, ghi, sky_longwave, emissivity, known)
    found = np.empty(given[0].shape)
    for part in parts(found.shape):
        air, speed, sun, sky, dark, below = (array[part].astype(np.float32) for array in given)
        below -= air
        if temp_below is None:
            below = sun * value("film", _WARMING[place])
        sun *= _absorptance(kind)
        loss = _convection(speed, convection)
        rise = _rise(air, sun, sky, below=below, emissivity=dark, loss=loss, place=place)
        np.add(given[0][part], rise, out=found[part])
    return found[()]


def bow_temperature(
    temp_air: ArrayLike,
    wind: ArrayLike,
    ghi: ArrayLike,
    sky_longwave: ArrayLike,
    *,
    frame: Frame = "steel",
    absorptance: float | None = None,
) -> NDArray[np.float64]:
    """Say how hot the bare bows are where film and hands touch them.

    Hot bows burn hands and age the film where it lies on them.

    Parameters
    ----------
    temp_air, wind, ghi, sky_longwave : array_like
        As in ``film_temperature`` [degC], [m/s], [W/m2], [W/m2].
    frame : {"steel", "aluminium", "wood", "pvc"}
        What the bows are made of [-].
    absorptance : float, optional
        Share of the sun taken up, if it is known; weathered zinc takes 0.8 [-].

    Returns
    -------
    ndarray
        Temperature of the bow near the ridge, a scalar for scalars [degC].

    Notes
    -----
    A pipe across the wind, half of it facing the sky and half the ground, lit over its
    width from above; light from the ground is left out. Churchill and Bernstein's formula
    for the air (Reynolds x Prandtl above 0.2). Solved as the film is, without storage,
    which delays a pipe by some minutes. NaN in gives NaN out.

    Examples
    --------
    New galvanised pipe in full sun at 30 degC:

    >>> print(bow_temperature(30.0, [0.3, 1.0, 3.0], 950.0, 409.0).round())
    [43. 37. 34.]

    References
    ----------
    Churchill, S. W. and Bernstein, M. (1977), J. Heat Transfer 99, 300, eq. of the
    abstract. doi:10.1115/1.3450685
    """
    air, speed, sun, sky = (
        np.asarray(given, dtype=float) for given in (temp_air, wind, ghi, sky_longwave)
    )
    if absorptance is None:
        absorptance = value("frame", f"solar_absorptance_{frame}")
    emissivity = value("frame", f"emissivity_{frame}")
    kelvin = air + _ZERO
    black = STEFAN_BOLTZMANN * kelvin**4
    ground = STEFAN_BOLTZMANN * (kelvin + value("film", "warming_under_bows") * sun) ** 4
    surplus = absorptance * sun / math.pi + emissivity * ((sky + ground) / 2.0 - black)
    diameter = value("frame", "bow_diameter")
    speed = np.maximum(speed, value("film", "least_wind"))
    reynolds = speed * diameter / value("frame", "air_viscosity")
    across = _pipe_nusselt(reynolds, value("frame", "air_prandtl"))
    loss = across * value("frame", "air_conductivity") / diameter
    slope = 4.0 * emissivity * black / kelvin
    bend = surplus / (loss + slope) / kelvin
    rise = surplus / (loss + slope * (1.0 + bend * (bend + 1.5)))
    return np.asarray(air + rise)[()]


def film_temperature_error(ghi: ArrayLike) -> NDArray[np.float64]:
    """Say by how much a worked-out film temperature may be off.

    Parameters
    ----------
    ghi : array_like
        Sun and sky light on level ground [W/m2].

    Returns
    -------
    ndarray
        One standard deviation, by day where there is light; NaN for NaN [K].

    Examples
    --------
    >>> print(film_temperature_error([600.0, 0.0]))
    [2.6 2. ]
    """
    sun = np.asarray(ghi, dtype=float)
    day, night = (value("film", f"temperature_error_{part}") for part in ("day", "night"))
    return np.asarray(np.where(np.isnan(sun), np.nan, np.where(sun > 0.0, day, night)))[()]


def parts(shape: tuple[int, ...]) -> Iterator[slice | EllipsisType]:
    """Cut an array into parts small enough to stay near the processor.

    Parameters
    ----------
    shape : tuple of int
        Of the array [-].

    Yields
    ------
    slice or Ellipsis
        To index the array with, one part after another [-].

    Examples
    --------
    >>> [part for part in parts((500, 240))][:2]
    [slice(0, 68, None), slice(68, 136, None)]
    """
    if not shape:
        yield ...
        return
    rows = max(1, _PART // max(1, math.prod(shape[1:])))
    for start in range(0, shape[0], rows):
        yield slice(start, start + rows)


def _pipe_nusselt(reynolds: NDArray[np.float64], prandtl: float) -> NDArray[np.float64]:
    """Heat carried off a pipe by wind across it, on its diameter [-]."""
    shape = 0.62 * math.pow(prandtl, 1 / 3) / math.pow(1 + math.pow(0.4 / prandtl, 2 / 3), 0.25)
    bent = (1.0 + (reynolds / 282000.0) ** 0.625) ** 0.8
    return 0.3 + shape * np.sqrt(reynolds) * bent


def _absorptance(kind: Kind) -> float:
    """Share of the sun taken up, with what comes back from the ground [-]."""
    returned = value("film", "ground_reflectance") * value(
        "film", f"{kind}_solar_transmittance"
    )
    return value("film", f"{kind}_solar_absorptance") * (1.0 + returned)


def _rise(
    air: Single,
    sun: Single,
    sky: Single,
    *,
    below: Single,
    emissivity: Single,
    loss: Single,
    place: Place,
) -> Single:
    """Give the film's temperature less the air's [K]; see ``film_temperature``."""
    kelvin = air + np.float32(_ZERO)
    black = _radiated(kelvin)
    surplus = _radiated(kelvin + below)
    surplus += sky
    surplus -= black
    surplus -= black
    surplus *= emissivity
    surplus += sun
    if place == "bows":
        loss *= 2.0
    else:
        gap = "sheet_gap_conductance" if place == "ground" else "inside_convection"
        surplus += value("film", gap) * below
        loss += value("film", gap)
    slope = black / kelvin  # becomes that of 2 eps sigma T^4 at the air temperature
    slope *= emissivity
    slope *= 8.0
    loss += slope
    bend = surplus / loss  # ((1 + r)^4 - 1) / 4 r = 1 + r (1.5 + r) + r^3 / 4
    bend /= kelvin
    bend *= bend + 1.5
    bend *= slope
    bend += loss
    surplus /= bend
    return surplus


def _radiated(kelvin: Single) -> Single:
    """Long-wave radiation of a black surface [W/m2]."""
    power = np.square(kelvin)
    power *= power
    power *= STEFAN_BOLTZMANN
    return power


def _convection(speed: Single, kind: Convection) -> Single:
    """Heat carried off one face by the wind, in the place of the speed [W/m2/K]."""
    np.maximum(speed, value("film", "least_wind"), out=speed)
    if kind == "plate":
        speed *= 3.0
        speed += 2.8
        return speed
    np.log(speed, out=speed)  # a power by logarithm: three times as fast as **
    speed *= 0.49
    np.exp(speed, out=speed)
    speed *= 6.76
    speed += 0.95
    return speed
