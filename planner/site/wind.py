"""Wind at the sheet: from the 10 m values of a weather file to the height of the hands.

Mean wind follows the log law. A gust is the mean times a gust factor that grows
as the height falls, so gusts lose less than the mean on the way down. A gust that
is not in the file is filled from what full records show, never with calm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from planner.errors import OutOfRange, UsageError
from planner.reference.tables import value

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    FloatArray = NDArray[np.float64]

Ground = Literal["open", "wooded"]

_STATION_HEIGHT: Final = 10.0  # m, height of the wind in weather files
_HOUR: Final = 3600.0  # s, time over which the mean is taken
_GUST: Final = 3.0  # s, averaging time of a gust


def mean_at_height(
    speed_10m: ArrayLike,
    height: ArrayLike,
    *,
    roughness: float = 0.03,
    measured_over: float | None = None,
) -> FloatArray:
    """Give the hourly mean wind at a height above the ground.

    The sustained hold of the crew is compared with this.

    Parameters
    ----------
    speed_10m : array_like, shape (members, hours)
        Mean wind at 10 m [m/s].
    height : array_like
        Height wanted, 0 to 60; below 0.5 m, or twice the roughness if that is
        more, it counts as that much [m].
    roughness : float
        Roughness length of the ground at the house, 0.0002 to 1 [m].
    measured_over : float, optional
        Roughness length where the 10 m wind holds, if it is another ground; the
        means then agree at 60 m [m].

    Returns
    -------
    ndarray
        Mean wind at that height [m/s].

    Raises
    ------
    OutOfRange
        If a height or a roughness is outside its range.

    Notes
    -----
    Log law U(z) = U(10) ln(z/z0) / ln(10/z0) in neutral air. In the stable air of
    a calm dawn the true ratio is lower (0.57 to 0.72 at 3 m), so it errs to the
    safe side then. No displacement height, no shelter. NaN in, NaN out.

    Examples
    --------
    The ratios of the log law over open ground:

    >>> [float(mean_at_height(1.0, height)) for height in (2.0, 3.0, 4.0)]
    [0.723, 0.793, 0.842]

    References
    ----------
    Wieringa (1992), Updating the Davenport roughness classification.
    """
    return np.asarray(speed_10m, float) * _ratio(height, roughness, measured_over)


def gust_at_height(
    gust_10m: ArrayLike,
    height: ArrayLike,
    *,
    roughness: float = 0.03,
    measured_over: float | None = None,
) -> FloatArray:
    """Give the largest 3 s gust of the hour at a height above the ground.

    The momentary hold of the crew is compared with this.

    Parameters
    ----------
    gust_10m : array_like, shape (members, hours)
        Largest 3 s gust at 10 m [m/s].
    height : array_like
        As in `mean_at_height` [m].
    roughness : float
        Roughness length of the ground at the house [m].
    measured_over : float, optional
        Roughness length where the 10 m gust holds, if it is another ground [m].

    Returns
    -------
    ndarray
        Gust at that height [m/s].

    Raises
    ------
    OutOfRange
        If a height or a roughness is outside its range.

    Notes
    -----
    Gust = mean x `gust_factor`, turbulence intensity 1 / ln(z/z0). Carried down
    from 60 m over any ground of 0.03 to 0.5 m the ratio from an open station to
    3 m is 0.86: for gusts the roughness hardly matters. NaN in, NaN out.

    Examples
    --------
    >>> [float(gust_at_height(1.0, height)) for height in (2.0, 3.0, 4.0)]
    [0.817, 0.863, 0.896]
    >>> float(gust_at_height(1.0, 3.0, roughness=0.5, measured_over=0.03))
    0.862

    References
    ----------
    Cook (1985), The designer's guide to wind loading of building structures, part 1.
    """
    mean = _ratio(height, roughness, measured_over)
    station = roughness if measured_over is None else measured_over
    here = gust_factor(_GUST, turbulence=1.0 / np.log(_counted(height, roughness) / roughness))
    there = gust_factor(_GUST, turbulence=1.0 / np.log(_STATION_HEIGHT / station))
    return np.asarray(np.asarray(gust_10m, float) * mean * here / there)


def _counted(height: ArrayLike, roughness: float) -> FloatArray:
    """Give the height at which the wind is taken: never lower than the law reaches [m]."""
    lowest = max(value("terrain", "lowest_height"), 2.0 * roughness)
    return np.asarray(np.maximum(np.asarray(height, float), lowest))


def _ratio(height: ArrayLike, roughness: float, measured_over: float | None) -> FloatArray:
    """Mean wind at a height over mean wind at 10 m [-]."""
    station = roughness if measured_over is None else measured_over
    for ground in (roughness, station):
        if not 0.0002 <= ground <= 1.0:
            raise OutOfRange(
                "The roughness length", value=ground, low=0.0002, high=1.0, unit="m"
            )
    heights = np.asarray(height, float)
    top = value("terrain", "blending_height")
    if np.any((heights < 0) | (heights > top)):
        worst = float(heights.min() if np.any(heights < 0) else heights.max())
        raise OutOfRange("The height above ground", value=worst, low=0, high=top, unit="m")
    here = np.log(_counted(heights, roughness) / roughness)
    there = np.log(_STATION_HEIGHT / station)
    ratio: FloatArray = here / there * np.log(top / station) / np.log(top / roughness)
    return ratio


def gust_factor(averaging: ArrayLike, *, turbulence: ArrayLike) -> FloatArray:
    """Give how much the largest short average of an hour exceeds the hour's mean.

    Parameters
    ----------
    averaging : array_like
        Averaging time of the peak, 1 to 3600 [s].
    turbulence : array_like
        Turbulence intensity, standard deviation over mean [-].

    Returns
    -------
    ndarray
        Peak over hourly mean [-].

    Notes
    -----
    1 + 0.42 Iu ln(3600/t). Strong winds in neutral air; light winds in the sun
    are gustier (`gust_in_strong_sun`). NaN in, NaN out.

    Examples
    --------
    >>> [float(gust_factor(t, turbulence=0.175)) for t in (3, 10, 60, 600)]
    [1.521, 1.433, 1.301, 1.132]

    References
    ----------
    Cook (1985), The designer's guide to wind loading of building structures, part 1.
    """
    slope = value("terrain", "gust_factor_slope")
    logs = np.log(_HOUR / np.asarray(averaging, float))
    return np.asarray(1.0 + slope * np.asarray(turbulence, float) * logs)


def ground_roughness(ground: Ground) -> float:
    """Give the roughness length that stands for a kind of ground.

    Parameters
    ----------
    ground : {"open", "wooded"}
        What surrounds the place.

    Returns
    -------
    float
        Roughness length, for the mean wind [m].

    Raises
    ------
    UsageError
        If the ground is not one of the two.

    Examples
    --------
    >>> ground_roughness("open")
    0.03
    """
    return value("terrain", _ground_rows(ground)[0])


def _ground_rows(ground: Ground) -> tuple[str, str, str]:
    """Rows of the roughness, the gust in a calm and its slope with the mean."""
    if ground == "open":
        return "roughness_open", "blank_gust_open", "blank_slope_open"
    if ground == "wooded":
        return "roughness_wooded", "blank_gust_wooded", "blank_slope_wooded"
    raise UsageError(f'The ground is "{ground}".', fix='Write "open" or "wooded".')


def gust_from_mean(mean: ArrayLike, ground: Ground, *, upper: bool = False) -> FloatArray:
    """Estimate the gust of an hour in which none was reported.

    A blank gust means "not reported". Many stations report one only when it is
    gusty, so a blank is not calm.

    Parameters
    ----------
    mean : array_like, shape (members, hours)
        Hourly mean wind at 10 m [m/s].
    ground : {"open", "wooded"}
        What surrounds the station.
    upper : bool
        Give the gust that nine hours in ten stay below, not the usual one.

    Returns
    -------
    ndarray
        Largest 3 s gust in the hour at 10 m, above zero even in a calm [m/s].

    Raises
    ------
    UsageError
        If the ground is not one of the two.

    Notes
    -----
    Straight lines through 14 years of hourly records in whole m/s, means of 1 to
    7 m/s: open 0.75 + 1.47 U, wooded 0.4 + 1.80 U. NaN in, NaN out.

    Examples
    --------
    >>> float(gust_from_mean(2.0, "open")), float(gust_from_mean(2.0, "wooded"))
    (3.69, 4.0)

    References
    ----------
    KNMI hourly records 2011 to 2025, stations 240 and 260 (measured).
    """
    still, slope = (value("terrain", key) for key in _ground_rows(ground)[1:])
    more = value("terrain", "blank_gust_upper") if upper else 0.0
    return np.asarray(still + more + slope * np.asarray(mean, float))


def mean_from_gust(gust: ArrayLike, ground: Ground, *, upper: bool = False) -> FloatArray:
    """Give the mean wind that comes with an hour's largest gust: what a crew can see.

    Parameters
    ----------
    gust : array_like
        Largest 3 s gust in the hour at 10 m [m/s].
    ground : {"open", "wooded"}
        What surrounds the place.
    upper : bool
        Give the wind whose gusts stay below in nine hours in ten, not the usual one.

    Returns
    -------
    ndarray
        Mean wind at 10 m, 0 for a gust that comes in a calm [m/s].

    Notes
    -----
    The lines of ``gust_from_mean`` the other way round. NaN in, NaN out.

    Examples
    --------
    >>> float(mean_from_gust(3.69, "open")), float(mean_from_gust(0.3, "wooded"))
    (2.0, 0.0)

    References
    ----------
    KNMI hourly records 2011 to 2025, stations 240 and 260 (measured).
    """
    still, slope = (value("terrain", key) for key in _ground_rows(ground)[1:])
    still += value("terrain", "blank_gust_upper") if upper else 0.0
    return np.asarray(np.maximum((np.asarray(gust, float) - still) / slope, 0.0))


def gust_in_strong_sun(
    gust: ArrayLike, mean: ArrayLike, ghi: ArrayLike, *, ground: Ground
) -> FloatArray:
    """Raise the gust of a nearly calm, sunny hour to what thermals can bring.

    Warm ground lets go of bubbles of air: single puffs of 6 to 8 m/s come on days
    of "2 m/s", whatever the forecast gust says.

    Parameters
    ----------
    gust : array_like, shape (members, hours)
        Largest 3 s gust at 10 m [m/s].
    mean : array_like
        Hourly mean wind at 10 m [m/s].
    ghi : array_like
        Sun and sky on flat ground [W/m2].
    ground : {"open", "wooded"}
        What surrounds the place.

    Returns
    -------
    ndarray
        The gust, or the upper gust of `gust_from_mean` if that is more and the
        sun is strong while the mean is light [m/s].

    Raises
    ------
    UsageError
        If the ground is not one of the two.

    Notes
    -----
    Strong sun: above 500 W/m2; light: mean under 3 m/s, fading out at 4 (assumed). The free
    convection behind it is a textbook law, its size here is assumed. NaN where
    the gust is NaN, and where a missing mean or sun leaves the answer open.

    Examples
    --------
    >>> gust_in_strong_sun([3.0, 3.0], 2.0, [700.0, 100.0], ground="open")
    array([4.69, 3.  ])
    """
    given, means, suns = (np.asarray(item, float) for item in (gust, mean, ghi))
    sun_above = value("terrain", "free_convection_sun")
    mean_below = value("terrain", "free_convection_mean")
    fade = value("terrain", "free_convection_fade")
    counts = (suns > sun_above) & (means < mean_below + fade)
    ruled_out = (suns <= sun_above) | (means >= mean_below + fade)
    upper = gust_from_mean(np.minimum(means, mean_below), ground, upper=True)
    share = np.clip((mean_below + fade - means) / fade, 0.0, 1.0)
    raised = given + share * np.maximum(upper - given, 0.0)
    return np.where(counts, raised, np.where(ruled_out, given, np.nan))


def hand_meter_factor(
    height_meter: float, height_limit: float, *, roughness: float = 0.03
) -> float:
    """Give the factor that turns a limit at the sheet into a limit on the hand meter.

    Parameters
    ----------
    height_meter : float
        Height at which the meter is held up [m].
    height_limit : float
        Height at which the limit holds [m].
    roughness : float
        Roughness length of the ground [m].

    Returns
    -------
    float
        Gust at the meter over gust at the sheet, below 1 for a meter held lower [-].

    Raises
    ------
    OutOfRange
        If a height or the roughness is outside its range.

    Examples
    --------
    >>> hand_meter_factor(2.0, 3.0)
    0.947
    """
    at_meter = gust_at_height(1.0, height_meter, roughness=roughness)
    return float(at_meter / gust_at_height(1.0, height_limit, roughness=roughness))
