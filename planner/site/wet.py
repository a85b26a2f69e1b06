"""Wet film and rungs: rain and dew fill a thin store, sun and wind empty it.

Ladders, tape and locking wire want it dry; pulling only goes slower. The store
takes the water of a whole night in one number per hour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.reference.tables import value
from planner.site.body import vapour_pressure

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    FloatArray = NDArray[np.float64]

_ZERO: Final = 273.15  # K at 0 degC
_STEFAN_BOLTZMANN: Final = 5.670374419e-8  # W/m2/K4
_LATENT: Final = 2.45e6  # J/kg, evaporation of water
_PSYCHROMETRIC: Final = 66.0  # Pa/K, at sea level
_HOUR: Final = 3600.0  # s


def sky_longwave(
    temp_air: ArrayLike, temp_dew: ArrayLike, cloud_cover: ArrayLike
) -> FloatArray:
    """Give the heat that the sky sends down, by night as by day.

    Film loses heat to a clear sky and so falls below the air and gathers dew.

    Parameters
    ----------
    temp_air, temp_dew : array_like
        Air and dew point temperature [degC].
    cloud_cover : array_like
        Sky covered by cloud [%].

    Returns
    -------
    ndarray
        Long-wave radiation on flat ground [W/m2].

    Notes
    -----
    Sky emissivity 0.787 + 0.764 ln(Td/273), raised by cloud with a cubic in
    tenths. NaN in, NaN out.

    Examples
    --------
    293 K, dew point 283 K, clear; the reference prints 340.6 with rounding:

    >>> float(sky_longwave(19.85, 9.85, 0.0))
    340.4

    References
    ----------
    Clark and Allen (1978) and Walton (1983), as given in the EnergyPlus Engineering
    Reference, chapter Climate Calculations.
    """
    dew = np.asarray(temp_dew, float) + _ZERO
    tenths = np.asarray(cloud_cover, float) / 10.0
    cloud = 1.0 + 0.0224 * tenths - 0.0035 * tenths**2 + 0.00028 * tenths**3
    emissivity = (0.787 + 0.764 * np.log(dew / 273.0)) * cloud
    return np.asarray(emissivity * _black_body(temp_air))


def _black_body(temp: ArrayLike) -> FloatArray:
    """Radiation of a black body [W/m2] at a temperature [degC]."""
    return np.asarray(_STEFAN_BOLTZMANN * (np.asarray(temp, float) + _ZERO) ** 4)


def net_radiation(
    ghi: ArrayLike, temp_air: ArrayLike, temp_dew: ArrayLike, cloud_cover: ArrayLike
) -> FloatArray:
    """Give the radiation that a wet sheet keeps: sun taken up less heat lost to the sky.

    Parameters
    ----------
    ghi : array_like, shape (members, hours)
        Sun and sky on flat ground [W/m2].
    temp_air, temp_dew : array_like
        Air and dew point temperature [degC].
    cloud_cover : array_like
        Sky covered by cloud [%].

    Returns
    -------
    ndarray
        Net radiation, negative on clear nights [W/m2].

    Notes
    -----
    Both the share of sun taken up and the emissivity are assumed (terrain table).
    The sheet is taken at air temperature, its lower face in balance with the
    ground. NaN in, NaN out.

    Examples
    --------
    >>> float(net_radiation(0.0, 10.0, 8.0, 0.0)) < -25.0
    True
    """
    lost = _black_body(temp_air) - sky_longwave(temp_air, temp_dew, cloud_cover)
    taken = value("terrain", "wet_film_absorbs") * np.asarray(ghi, float)
    return np.asarray(taken - value("terrain", "film_night_emissivity") * lost)


def drying_rate(
    temp_air: ArrayLike, temp_dew: ArrayLike, wind: ArrayLike, net_radiation: ArrayLike
) -> FloatArray:
    """Give how fast a wet sheet dries, or gathers dew.

    Parameters
    ----------
    temp_air, temp_dew : array_like, shape (members, hours)
        Air and dew point temperature [degC].
    wind : array_like
        Mean wind at the sheet [m/s].
    net_radiation : array_like
        Net radiation of the sheet [W/m2].

    Returns
    -------
    ndarray
        Water lost in an hour, negative for dew [mm].

    Notes
    -----
    A gain of radiation goes into water whole. A loss cools the sheet below the air
    by it over the two faces' exchange, 2 K or so on a clear calm night. To both is
    added exchange with the air, h/gamma x (e_s(sheet) - e), less what the water's
    own cooling takes off, with h = 0.95 + 6.76 v^0.49. Heat that the sun's gain
    loses to the air is left out: a sheet may dry somewhat later. NaN in, NaN out.

    Examples
    --------
    Hours to dry 0.14 mm of dew in saturated air at 50, 100 and 200 W/m2:

    >>> 0.14 / drying_rate(10.0, 10.0, 1.0, [50.0, 100.0, 200.0])
    array([1.9, 1.0, 0.5])

    References
    ----------
    Abdel-Ghany and Kozai (2006), Renewable Energy 31, 1521 (exchange of film houses);
    Penman's combination for the cooling.
    """
    air = np.asarray(temp_air, float)
    radiation = np.asarray(net_radiation, float)
    exchange = 0.95 + 6.76 * np.asarray(wind, float) ** 0.49
    emissivity = value("terrain", "film_night_emissivity")
    faces = 2.0 * exchange + 8.0 * emissivity * _black_body(air) / (air + _ZERO)
    sheet = air + np.minimum(radiation, 0.0) / faces
    slope = vapour_pressure(air + 0.5) - vapour_pressure(air - 0.5)
    vapour = exchange / _PSYCHROMETRIC
    damping = faces / (faces + vapour * slope)
    to_air = damping * vapour * (vapour_pressure(sheet) - vapour_pressure(temp_dew))
    return np.asarray((np.maximum(radiation, 0.0) + to_air) * _HOUR / _LATENT)


def film_wetness(
    rain: ArrayLike,
    temp_air: ArrayLike,
    temp_dew: ArrayLike,
    wind: ArrayLike,
    net_radiation: ArrayLike,
    *,
    before: float = 0.0,
) -> FloatArray:
    """Give the most water that a sheet carries in each hour.

    Parameters
    ----------
    rain : array_like, shape (members, hours) or (hours,)
        Rain in the hour [mm].
    temp_air, temp_dew : array_like
        Air and dew point temperature [degC].
    wind : array_like
        Mean wind at the sheet [m/s].
    net_radiation : array_like
        Net radiation of the sheet [W/m2].
    before : float
        Water on the sheet when the first hour begins [mm].

    Returns
    -------
    ndarray, shape as rain
        Water on the sheet [mm].

    Notes
    -----
    W = max(0, min(store, W + rain + dew) - drying) from hour to hour; what is given
    is the state before the drying, so an hour in which it dries still counts as
    wet. After a missing value the store may hold anything: NaN, until it has been
    full or dry whatever it held.

    Examples
    --------
    Half a millimetre of rain, then 200 W/m2 of drying: 0.29 mm goes in an hour.

    >>> film_wetness([2.0, 0.0, 0.0], 10.0, 10.0, 1.0, 200.0)
    array([0.5  , 0.206, 0.   ])
    """
    store = value("terrain", "film_water_store")
    fallen = np.asarray(rain, float)
    drying = drying_rate(temp_air, temp_dew, wind, net_radiation)
    fallen, drying = np.broadcast_arrays(fallen, drying)
    known = np.isfinite(fallen) & np.isfinite(drying)
    gain = np.where(known, fallen + np.maximum(-drying, 0.0), 0.0)
    loss = np.where(known, np.maximum(drying, 0.0), 0.0)
    gain[..., :1] += before
    if known.all():
        return _run(gain, loss, store)
    # Run once as dry and once as wet as the missing hours allow: known where both agree.
    low = _run(
        np.where(known, gain, np.nan_to_num(fallen)), np.where(known, loss, store), store
    )
    high = _run(np.where(known, gain, store), loss, store)
    return np.where(high - low < 1e-9, high, np.nan)


def _run(gain: FloatArray, loss: FloatArray, store: float) -> FloatArray:
    """Water before drying, hour by hour, from a dry start [mm].

    Each hour turns W into clip(W + shift, floor, roof); two such steps make a third
    of the same kind, so all hours are joined in about log2(hours) passes.
    """
    shift = gain - loss
    floor = np.zeros_like(shift)
    roof = np.maximum(store - loss, 0.0)
    step = 1
    while step < shift.shape[-1]:
        late = (..., slice(step, None))
        early = (..., slice(None, -step))
        joined = [
            np.clip(bound[early] + shift[late], floor[late], roof[late])
            for bound in (floor, roof)
        ]
        shift[late] = shift[late] + shift[early]
        floor[late], roof[late] = joined
        step *= 2
    after = np.clip(shift, floor, roof)
    before = np.zeros_like(after)
    before[..., 1:] = after[..., :-1]
    return np.minimum(before + gain, store)


def is_dry(wetness: ArrayLike) -> NDArray[np.bool_]:
    """Say whether a sheet is dry to the hand.

    Parameters
    ----------
    wetness : array_like
        Water on the sheet [mm].

    Returns
    -------
    ndarray of bool
        True if surely dry; an unknown wetness (NaN) is not dry.

    Examples
    --------
    >>> is_dry([0.0, 0.14, np.nan])
    array([ True, False, False])
    """
    return np.asarray(np.asarray(wetness, float) < value("terrain", "film_dry_below"))


def frost(temp_air: ArrayLike, temp_dew: ArrayLike, wetness: ArrayLike) -> FloatArray:
    """Say whether ice or hoar may be on rungs and bows.

    Parameters
    ----------
    temp_air, temp_dew : array_like
        Air and dew point temperature [degC].
    wetness : array_like
        Water on the sheet [mm].

    Returns
    -------
    ndarray
        1 for ice or hoar, 0 for none, NaN where missing values leave it open [-].

    Notes
    -----
    The metal may be 2 K below the air (assumed). It is icy if that is at or below
    0 degC and it is wet or at or below the dew point. Sun that has warmed it
    already is left out.

    Examples
    --------
    >>> frost([1.0, 1.0, 5.0], [0.5, -8.0, 5.0], [0.0, 0.0, 0.3])
    array([1., 0., 0.])
    """
    metal = np.asarray(temp_air, float) - value("terrain", "hoar_surface_drop")
    dew, water = np.asarray(temp_dew, float), np.asarray(wetness, float)
    threshold = value("terrain", "film_dry_below")
    moist = (water >= threshold) | (dew >= metal)
    icy = (metal <= 0.0) & moist
    clear = (metal > 0.0) | ((water < threshold) & (dew < metal))
    return np.where(icy, 1.0, np.where(clear, 0.0, np.nan))
