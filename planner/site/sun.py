"""The sun: its height, and when it rises and sets.

Sun places come from the NREL algorithm in pvlib, worked out once a day and
interpolated between: 14 years of hours cost no more than 14 years of days.
Times go in and out as UTC; dates are local.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    import pandas as pd
    from numpy.typing import ArrayLike, NDArray

    FloatArray = NDArray[np.float64]
    TimeArray = NDArray[np.datetime64]
    BoolArray = NDArray[np.bool_]
    Dates = pd.DatetimeIndex | NDArray[np.datetime64] | Sequence[date]

_DAY: Final = 86400.0  # s
_TURN: Final = 360.0  # deg
_DELTA_T: Final = 67.0  # s, dynamical less universal time; pvlib's own default
_BLOCK: Final = 64  # days; ranges of days are whole blocks, so that they are shared
_PARALLAX: Final = 8.794 / 3600.0  # deg, of the sun at its mean distance

#: Sun centre at sunrise and sunset: refraction 34' and half a disc 16'.
SUNRISE_BELOW: Final = 50.0 / 60.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SunTimes:
    """When the sun passes a height on each of some local dates.

    Attributes
    ----------
    sunrise, sunset : ndarray, shape (dates,)
        UTC, NaT where the sun does not pass that height on that side of noon.
    noon : ndarray, shape (dates,)
        When the sun is highest, UTC.
    above, under : ndarray, shape (2, dates)
        Whether the sun stays above, or below, that height all the forenoon (first
        row) and all the afternoon (second).
    """

    sunrise: TimeArray
    sunset: TimeArray
    noon: TimeArray
    above: BoolArray
    under: BoolArray

    @property
    def always_up(self) -> BoolArray:
        """Whether the sun stays above that height all day."""
        return np.asarray(self.above.all(axis=0))

    @property
    def never_up(self) -> BoolArray:
        """Whether the sun stays below that height all day."""
        return np.asarray(self.under.all(axis=0))


def sun_elevation(times: pd.DatetimeIndex, latitude: float, longitude: float) -> FloatArray:
    """Give the height of the sun's centre, without refraction.

    Radiation, light and the trust in a wind reading hang on it.

    Parameters
    ----------
    times : DatetimeIndex, shape (hours,)
        Moments with a time zone.
    latitude, longitude : float
        The place, north and east positive [deg].

    Returns
    -------
    ndarray, shape (hours,)
        Height above the horizon, negative below it [deg].

    Notes
    -----
    Within 0.001 deg of the NREL algorithm; height above sea level does not matter
    at that. NaT gives NaN.

    Examples
    --------
    The worked example of the NREL report, 39.872046 before refraction:

    >>> import pandas as pd
    >>> moment = pd.DatetimeIndex(["2003-10-17 12:30:30-07:00"])
    >>> sun_elevation(moment, 39.742476, -105.1786)
    array([39.87205])

    References
    ----------
    Reda and Andreas (2004), Solar Energy 76(5), 577-589,
    doi:10.1016/j.solener.2003.12.003.
    """
    seconds = _seconds(times)
    declination, hour_angle = _sun_place(_days_around(seconds), seconds, longitude)
    north = np.radians(latitude)
    turned = np.cos(north) * np.cos(declination) * np.cos(np.radians(hour_angle))
    sine = np.sin(north) * np.sin(declination) + turned
    height = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
    return np.asarray(height - _PARALLAX * np.cos(np.radians(height)))


def morning_break_up(
    times: pd.DatetimeIndex, latitude: float, longitude: float
) -> NDArray[np.bool_]:
    """Say in which hours the morning sun breaks up the calm air of the night.

    What the wind did before it says little about what it does after: calm air near the
    ground is cut off from the wind above until the sun stirs it.

    Parameters
    ----------
    times : DatetimeIndex, shape (hours,)
        Starts of hours, with a time zone.
    latitude, longitude : float
        The place, north and east positive [deg].

    Returns
    -------
    ndarray of bool, shape (hours,)
        True for the hour in whose course the sun passes the height of the row
        ``break_up_sun`` of the terrain table, rising.
    """
    height = value("terrain", "break_up_sun")
    edges = times.union(times[-1:] + np.timedelta64(1, "h"))
    elevation = sun_elevation(edges, latitude, longitude)
    return np.asarray((elevation[:-1] < height) & (elevation[1:] >= height))


def _seconds(times: pd.DatetimeIndex) -> FloatArray:
    """Seconds since 1970 UTC, whatever the index's own unit; NaT gives NaN."""
    naive = times.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[us]")
    return np.where(np.isnat(naive), np.nan, naive.astype(np.int64) / 1e6)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Days:
    """Where the sun is at midnight UTC of each day around some moments."""

    first: float  # day number since 1970
    declination: FloatArray  # deg
    early: FloatArray  # deg, how far the sun is ahead of a clock at Greenwich


def _days_around(seconds: FloatArray) -> _Days:
    """Give the sun for the days of those moments and two more either side."""
    known = seconds[np.isfinite(seconds)]
    low, high = (known.min(), known.max()) if known.size else (0.0, 0.0)
    first, last = int(low // _DAY) - 2, int(high // _DAY) + 4
    return _days(first - first % _BLOCK, last + _BLOCK - last % _BLOCK)


@lru_cache(maxsize=8)
def _days(first: int, last: int) -> _Days:
    """Work out the sun for a range of days since 1970, once for all who ask."""
    from pvlib import spa

    days = np.arange(first, last, dtype=float)
    sidereal, ascension, declination = spa.solar_position(
        days * _DAY, 0.0, 0.0, 0.0, 0.0, 0.0, _DELTA_T, 0.0, 1, sst=True
    )
    # At midnight UTC the sun is half a turn from Greenwich, give or take 4 degrees.
    early = _wrap(sidereal - ascension - _TURN / 2)
    return _Days(first=float(first), declination=declination, early=early)


def _sun_place(
    days: _Days, seconds: FloatArray, longitude: float
) -> tuple[FloatArray, FloatArray]:
    """Declination [rad] and hour angle, -180 to 180 with 0 at noon [deg]."""
    day = np.where(np.isfinite(seconds), seconds / _DAY - days.first, 1.0)
    at = np.floor(day).astype(int)
    along = day - at
    clock = np.where(np.isfinite(seconds), _TURN * along + _TURN / 2, np.nan)
    hour_angle = _wrap(clock + _cubic(days.early, at, along) + longitude)
    return np.radians(_cubic(days.declination, at, along)), hour_angle


def _wrap(angle: FloatArray) -> FloatArray:
    """Bring an angle between -180 and 180 [deg]."""
    return (angle + _TURN / 2) % _TURN - _TURN / 2


def _cubic(table: FloatArray, at: NDArray[np.int_], u: FloatArray) -> FloatArray:
    """Interpolate through four neighbours of a table with step one."""
    before, here, after = table[at - 1], table[at], table[at + 1]
    return (
        -u * (u - 1) * (u - 2) / 6 * before
        + (u + 1) * (u - 1) * (u - 2) / 2 * here
        - (u + 1) * u * (u - 2) / 2 * after
        + (u + 1) * u * (u - 1) / 6 * table[at + 2]
    )


def sun_times(
    dates: Dates,
    latitude: float,
    longitude: float,
    *,
    time_zone: str,
    below: ArrayLike = SUNRISE_BELOW,
) -> SunTimes:
    """Give sunrise and sunset, or when the sun passes any other height.

    Parameters
    ----------
    dates : sequence of dates, shape (dates,)
        Local dates.
    latitude, longitude : float
        The place, north and east positive [deg].
    time_zone : str
        Name of the zone the dates are in.
    below : array_like, shape (), (dates,) or (2, dates)
        How far below the horizon the sun's centre is to be; two rows give the
        morning and the evening their own [deg].

    Returns
    -------
    SunTimes
        The rise before, and the set after, the solar noon of each local date.

    Notes
    -----
    The hour angle at that height from the declination at that moment, repeated
    until it moves by less than 0.05 s; within 2 s of other almanacs outside the
    days on which the sun only grazes that height. A set after local midnight
    belongs to the date of its noon. NaN in ``below`` gives NaT and no flag.

    Examples
    --------
    >>> times = sun_times([np.datetime64("2015-01-02")], 39.743, -105.178,
    ...     time_zone="America/Denver")
    >>> times.sunset.astype("datetime64[m]")
    array(['2015-01-02T23:47'], dtype='datetime64[m]')

    References
    ----------
    Reda and Andreas (2004), Solar Energy 76(5), 577-589,
    doi:10.1016/j.solener.2003.12.003.
    """
    noon = local_moment(dates, time_zone, hours=12)
    days = _days_around(noon)
    for _ in range(2):
        noon = noon - _sun_place(days, noon, longitude)[1] / _TURN * _DAY
    wanted = np.broadcast_to(np.asarray(below, float), (2, len(noon)))
    passed, above, under = _crossing(days, noon, (latitude, longitude), below=wanted)
    return SunTimes(
        sunrise=stamp(passed[0]),
        sunset=stamp(passed[1]),
        noon=stamp(noon),
        above=above,
        under=under,
    )


def local_moment(dates: Dates, time_zone: str, *, hours: float) -> FloatArray:
    """Give a clock hour of each local date in seconds since 1970 UTC [s]."""
    import pandas as pd

    days = np.asarray(dates, dtype="datetime64[D]")
    clock = pd.DatetimeIndex(days + np.timedelta64(round(hours * 60.0), "m"))
    first = np.ones(len(clock), dtype=bool)
    return _seconds(clock.tz_localize(time_zone, ambiguous=first, nonexistent="shift_forward"))


def stamp(seconds: FloatArray) -> TimeArray:
    """Turn seconds since 1970 into nanosecond stamps; NaN gives NaT."""
    known = np.isfinite(seconds)
    nanos = np.rint(np.where(known, seconds, 0.0) * 1e9).astype(np.int64)
    return np.where(known, nanos.view("datetime64[ns]"), np.datetime64("NaT", "ns"))


def _crossing(
    days: _Days, noon: FloatArray, place: tuple[float, float], *, below: FloatArray
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """When the sun passes a height before and after noon [s]; above, under it all along."""
    known = np.isfinite(below)
    height = np.radians(np.where(known, -below, 0.0))
    height = height + np.radians(_PARALLAX) * np.cos(height)
    side = np.array([[-1.0], [1.0]])
    north = np.radians(place[0])
    moment = noon + side * _DAY / 4
    for _ in range(12):
        declination, hour_angle = _sun_place(days, moment, place[1])
        reached = np.sin(height) - np.sin(north) * np.sin(declination)
        cosine = reached / (np.cos(north) * np.cos(declination))
        target = side * np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
        expected = (moment - noon) / _DAY * _TURN
        move = target - expected - _wrap(hour_angle - expected)
        moment = moment + move / _TURN * _DAY
        if np.abs(move).max(initial=0.0) < 0.05 / _DAY * _TURN:
            break
    above, under = known & (cosine < -1.0), known & (cosine > 1.0)
    return np.where(known & ~above & ~under, moment, np.nan), above, under
