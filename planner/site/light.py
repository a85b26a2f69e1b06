"""Light: when there is enough to work by, and how much warmth the sun brings.

A crew works on after sunset until the light is gone, and stops before it under a
storm sky: the sun height at which work ends follows from the cloud.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import OutOfRange
from planner.reference.tables import value
from planner.site.sun import local_moment, stamp, sun_times

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike, NDArray

    from planner.site.sun import Dates

    FloatArray = NDArray[np.float64]
    TimeArray = NDArray[np.datetime64]

#: Sun height in degrees and the row that holds the clear-sky light at it.
_LIGHT_ROWS: Final = (
    (-12.0, "clear_light_sun_12_below"),
    (-9.0, "clear_light_sun_9_below"),
    (-6.0, "clear_light_sun_6_below"),
    (-5.0, "clear_light_sun_5_below"),
    (-4.0, "clear_light_sun_4_below"),
    (-3.5, "clear_light_sun_3_5_below"),
    (-3.0, "clear_light_sun_3_below"),
    (-2.0, "clear_light_sun_2_below"),
    (-1.0, "clear_light_sun_1_below"),
    (-0.83, "clear_light_sunrise"),
    (0.0, "clear_light_sun_0"),
    (2.0, "clear_light_sun_2"),
    (5.0, "clear_light_sun_5"),
    (10.0, "clear_light_sun_10"),
    (15.0, "clear_light_sun_15"),
    (20.0, "clear_light_sun_20"),
    (30.0, "clear_light_sun_30"),
    (45.0, "clear_light_sun_45"),
    (60.0, "clear_light_sun_60"),
    (90.0, "clear_light_sun_90"),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WorkLight:
    """When there is light enough to work on each of some local dates.

    Attributes
    ----------
    begin, end : ndarray, shape (dates,)
        UTC; local midnights where it is light all day, NaT where it never is.
    """

    begin: TimeArray
    end: TimeArray


def illuminance(
    elevation: ArrayLike, *, cloud_cover: ArrayLike | None = None, dark: ArrayLike = False
) -> FloatArray:
    """Estimate the light on flat ground from the height of the sun.

    Parameters
    ----------
    elevation : array_like
        Height of the sun's centre without refraction [deg].
    cloud_cover : array_like, optional
        Sky covered by cloud; left out means clear [%].
    dark : array_like
        Whether a dark storm sky is overhead [-].

    Returns
    -------
    ndarray
        Light; below -12 deg that of -12 deg [lx].

    Notes
    -----
    Logarithms interpolated in a table of the US Naval Observatory's curve, divided
    by 1 (clear), 2 (thin cloud) to 3 (ordinary cloud), in between by cover
    (assumed), or by 10 (dark). Refraction near sunrise is left out, which is dark
    by a little. Real light can differ tenfold. NaN in, NaN out.

    Examples
    --------
    >>> illuminance([0.0, -3.0, -6.0])
    array([757. , 81. , 3.5])

    References
    ----------
    Brown (1952), Natural illumination charts, US Navy Bureau of Ships 374-1, in the
    fit of the US Naval Observatory.
    """
    heights, logs = _light_curve()
    clear = np.exp(np.interp(np.asarray(elevation, float), heights, logs))
    return np.asarray(clear / _cloud_divisor(cloud_cover, dark))


def sun_height_for_light(
    lux: float, *, cloud_cover: ArrayLike | None = None, dark: ArrayLike = False
) -> FloatArray:
    """Give the sun height at which there is just that much light.

    Parameters
    ----------
    lux : float
        Light needed, at least 0.1 [lx].
    cloud_cover : array_like, optional
        Sky covered by cloud; left out means clear [%].
    dark : array_like
        Whether a dark storm sky is overhead [-].

    Returns
    -------
    ndarray
        Height of the sun's centre, 90 where that much is never reached [deg].

    Raises
    ------
    OutOfRange
        If less than 0.1 lx is asked for.

    Notes
    -----
    The inverse of `illuminance`. NaN in, NaN out.

    Examples
    --------
    Five foot-candles under a clear, an overcast and a storm sky:

    >>> skies = sun_height_for_light(53.8, cloud_cover=[0, 100, 0], dark=[False, False, True])
    >>> [round(float(height), 1) for height in skies]
    [-3.4, -2.2, -0.6]
    """
    if not lux >= 0.1:
        raise OutOfRange("The light needed", value=lux, low=0.1, high=1e5, unit="lx")
    heights, logs = _light_curve()
    return np.interp(np.log(lux * _cloud_divisor(cloud_cover, dark)), logs, heights)


def _light_curve() -> tuple[FloatArray, FloatArray]:
    """Sun heights [deg] and the logarithm of the clear-sky light at them."""
    heights = np.array([height for height, _ in _LIGHT_ROWS])
    return heights, np.log([value("terrain", key) for _, key in _LIGHT_ROWS])


def _cloud_divisor(cloud_cover: ArrayLike | None, dark: ArrayLike) -> FloatArray:
    """By how much cloud cuts the light [-]."""
    cover = np.asarray(0.0 if cloud_cover is None else cloud_cover, float)
    ordinary = 1.0 + (value("terrain", "light_cut_cloud") - 1.0) * cover / 100.0
    return np.where(dark, value("terrain", "light_cut_dark"), ordinary)


def work_light(
    dates: Dates,
    latitude: float,
    longitude: float,
    *,
    time_zone: str,
    lux: float = 53.8,
    cloud_begin: ArrayLike | None = None,
    cloud_end: ArrayLike | None = None,
    dark_begin: ArrayLike = False,
    dark_end: ArrayLike = False,
) -> WorkLight:
    """Give when the light to work by begins and ends on each date.

    Parameters
    ----------
    dates : sequence of dates, shape (dates,)
        Local dates.
    latitude, longitude : float
        The place, north and east positive [deg].
    time_zone : str
        Name of the zone the dates are in.
    lux : float
        Light needed [lx].
    cloud_begin, cloud_end : array_like, shape (dates,), optional
        Cloud cover in the morning and in the evening; left out means clear [%].
    dark_begin, dark_end : array_like, shape (dates,)
        Whether a dark storm sky is overhead in the morning and in the evening [-].

    Returns
    -------
    WorkLight
        Begin and end of the light of each date.

    Raises
    ------
    OutOfRange
        If less than 0.1 lx is asked for.

    Notes
    -----
    A hill or trees on the horizon are left out. If either half of the day has too
    little light all along, or an unknown cloud, both times are NaT.

    Examples
    --------
    >>> day = work_light([np.datetime64("2026-06-21")], 69.65, 18.96, time_zone="Europe/Oslo")
    >>> day.end - day.begin
    array([86400000000000], dtype='timedelta64[ns]')
    """
    heights = np.broadcast_arrays(
        sun_height_for_light(lux, cloud_cover=cloud_begin, dark=dark_begin),
        sun_height_for_light(lux, cloud_cover=cloud_end, dark=dark_end),
        np.zeros(len(dates)),
    )
    below = -np.stack(heights[:2])
    sun = sun_times(dates, latitude, longitude, time_zone=time_zone, below=below)
    begin, end = sun.sunrise, sun.sunset
    if sun.above.any():
        midnights = [stamp(local_moment(dates, time_zone, hours=hour)) for hour in (0, 24)]
        begin = np.where(sun.above[0], midnights[0], begin)
        end = np.where(sun.above[1], midnights[1], end)
    dark = np.isnat(begin) | np.isnat(end)
    never = np.datetime64("NaT", "ns")
    return WorkLight(begin=np.where(dark, never, begin), end=np.where(dark, never, end))


def clear_sky_ghi(elevation: ArrayLike) -> FloatArray:
    """Give the sun and sky radiation on flat ground under a clear sky.

    Parameters
    ----------
    elevation : array_like
        Height of the sun's centre [deg].

    Returns
    -------
    ndarray
        Radiation, 0 with the sun below the horizon [W/m2].

    Notes
    -----
    1098 sin(h) exp(-0.059 / sin(h)). NaN in, NaN out.

    Examples
    --------
    >>> clear_sky_ghi([-5.0, 30.0, 90.0])
    array([   0. ,  487.9, 1035.1])

    References
    ----------
    Haurwitz (1945), Journal of Meteorology 2, 154-166.
    """
    sine = np.sin(np.radians(np.asarray(elevation, float)))
    up = np.maximum(sine, 1e-9)
    return np.where(sine <= 0.0, 0.0, 1098.0 * up * np.exp(-0.059 / up))


def ghi_under_cloud(ghi_clear: ArrayLike, cloud_cover: ArrayLike) -> FloatArray:
    """Give the radiation left under cloud.

    Parameters
    ----------
    ghi_clear : array_like
        Radiation under a clear sky [W/m2].
    cloud_cover : array_like
        Sky covered by cloud [%].

    Returns
    -------
    ndarray
        Radiation under that cloud, a quarter under a full cover [W/m2].

    Notes
    -----
    Clear x (1 - 0.75 N^3.4), N from 0 to 1; a mean over many skies. NaN in, NaN out.

    Examples
    --------
    >>> ghi_under_cloud(800.0, [0.0, 50.0, 100.0])
    array([800. , 743.2, 200. ])

    References
    ----------
    Kasten and Czeplak (1980), Solar Energy 24, 177-189.
    """
    share = np.asarray(cloud_cover, float) / 100.0
    return np.asarray(np.asarray(ghi_clear, float) * (1.0 - 0.75 * share**3.4))


def sky_light(ghi: ArrayLike, elevation: ArrayLike, times: pd.DatetimeIndex) -> FloatArray:
    """Give the part of the light that comes from the sky and not from the sun's disc.

    The side of a house that lies away from the sun has this and no more.

    Parameters
    ----------
    ghi : array_like, shape (members, hours) or (hours,)
        Sun and sky on flat ground [W/m2].
    elevation : array_like, shape (hours,)
        Height of the sun's centre in the middle of the hours [deg].
    times : DatetimeIndex, shape (hours,)
        Starts of the hours; the day of the year is taken from them.

    Returns
    -------
    ndarray
        Never more than ``ghi``; NaN for NaN [W/m2].

    Notes
    -----
    A curve of the clearness of the sky, fitted to hourly records of five stations at
    31 to 42 degrees north.

    References
    ----------
    Erbs, Klein and Duffie (1982), Solar Energy 28(4), 293-302,
    doi:10.1016/0038-092X(82)90302-4.
    """
    from pvlib.irradiance import erbs

    light = np.asarray(ghi, float)
    days = np.asarray(times.day_of_year, float)
    sky = erbs(light, 90.0 - np.asarray(elevation, float), days)["dhi"]
    return np.where(np.isnan(light), np.nan, np.minimum(np.asarray(sky, float), light))
