"""The body: heat, cold and thunder, and the moisture of the air behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import OutOfRange
from planner.reference.tables import value
from planner.site.wind import mean_at_height

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    FloatArray = NDArray[np.float64]

# Magnus coefficients over water of Alduchov and Eskridge (1996), -40 to 50 degC.
_MAGNUS_A: Final = 610.94  # Pa
_MAGNUS_B: Final = 17.625
_MAGNUS_C: Final = 243.04  # degC

_GLOBE_SIZE: Final = 0.0508  # m, two-inch globe
_GLOBE_BLACK: Final = 0.95  # share taken up and given off by its black paint
_GLOBE_HEIGHT: Final = 2.0  # m
_STILL: Final = 0.7  # m/s, a person at work is never in stiller air


def vapour_pressure(temp_dew: ArrayLike) -> FloatArray:
    """Give the water vapour pressure of air with that dew point.

    Parameters
    ----------
    temp_dew : array_like
        Dew point; the air temperature gives the pressure at saturation [degC].

    Returns
    -------
    ndarray
        Vapour pressure over water [Pa].

    Notes
    -----
    Magnus form, -40 to 50 degC. NaN in, NaN out.

    Examples
    --------
    >>> float(vapour_pressure(0.0)), float(vapour_pressure(20.0))
    (610.9, 2333.4)

    References
    ----------
    Alduchov and Eskridge (1996), Journal of Applied Meteorology 35, 601-609.
    """
    dew = np.asarray(temp_dew, float)
    return np.asarray(_MAGNUS_A * np.exp(_MAGNUS_B * dew / (_MAGNUS_C + dew)))


def relative_humidity(temp_air: ArrayLike, temp_dew: ArrayLike) -> FloatArray:
    """Give the relative humidity of air with that dew point.

    Parameters
    ----------
    temp_air, temp_dew : array_like
        Air and dew point temperature [degC].

    Returns
    -------
    ndarray
        Relative humidity; above 100 if the dew point is above the air [%].

    Notes
    -----
    Ratio of two `vapour_pressure`. NaN in, NaN out.

    Examples
    --------
    >>> float(relative_humidity(20.0, 10.0))
    52.5
    """
    return np.asarray(100.0 * vapour_pressure(temp_dew) / vapour_pressure(temp_air))


def dew_point(temp_air: ArrayLike, humidity: ArrayLike) -> FloatArray:
    """Give the temperature to which air must cool before dew falls.

    Parameters
    ----------
    temp_air : array_like
        Air temperature [degC].
    humidity : array_like
        Relative humidity; 0 gives NaN [%].

    Returns
    -------
    ndarray
        Dew point over water [degC].

    Notes
    -----
    The inverse of `relative_humidity`. NaN in, NaN out.

    Examples
    --------
    >>> float(dew_point(20.0, 52.53))
    10.0
    """
    share = np.asarray(humidity, float) / 100.0
    known = np.where(share > 0.0, share, np.nan)
    air = np.asarray(temp_air, float)
    power = np.log(known) + _MAGNUS_B * air / (_MAGNUS_C + air)
    return np.asarray(_MAGNUS_C * power / (_MAGNUS_B - power))


def heat_index(temp_air: ArrayLike, humidity: ArrayLike) -> FloatArray:
    """Give how hot it feels in the shade.

    Parameters
    ----------
    temp_air : array_like
        Air temperature [degC].
    humidity : array_like
        Relative humidity [%].

    Returns
    -------
    ndarray
        Heat index [degC].

    Notes
    -----
    The weather service's procedure: a simple line, and from 80 F the Rothfusz
    regression with its two adjustments. At or below 40 F the air temperature.
    Light wind, shade; full sun adds up to 8 K. NaN in, NaN out.

    Examples
    --------
    90 F and 60 % feel like 100 F:

    >>> float(heat_index(32.22, 60.0)) * 9 / 5 + 32
    99.7

    References
    ----------
    Rothfusz (1990), The heat index equation, NWS Southern Region SR 90-23, as put
    into a procedure by the Weather Prediction Center.
    """
    t, r = np.broadcast_arrays(_fahrenheit(temp_air), np.asarray(humidity, float))
    simple = (t + 0.5 * (t + 61.0 + (t - 68.0) * 1.2 + r * 0.094)) / 2.0
    full = (
        -42.379
        + 2.04901523 * t
        + 10.14333127 * r
        - 0.22475541 * t * r
        - 6.83783e-3 * t**2
        - 5.481717e-2 * r**2
        + 1.22874e-3 * t**2 * r
        + 8.5282e-4 * t * r**2
        - 1.99e-6 * t**2 * r**2
    )
    dry = (13.0 - r) / 4.0 * np.sqrt(np.maximum(17.0 - np.abs(t - 95.0), 0.0) / 17.0)
    full = full - np.where((r < 13.0) & (t >= 80.0) & (t <= 112.0), dry, 0.0)
    damp = (r - 85.0) / 10.0 * (87.0 - t) / 5.0
    full = full + np.where((r > 85.0) & (t >= 80.0) & (t <= 87.0), damp, 0.0)
    felt = np.where(simple >= 80.0, full, simple)
    return _celsius(np.where(t <= 40.0, np.where(np.isnan(r), np.nan, t), felt))


def wind_chill(temp_air: ArrayLike, wind: ArrayLike) -> FloatArray:
    """Give how cold wind makes bare skin.

    Parameters
    ----------
    temp_air : array_like
        Air temperature [degC].
    wind : array_like
        Mean wind at 10 m [m/s].

    Returns
    -------
    ndarray
        Wind chill; the air temperature above 50 F or under 3 mph [degC].

    Notes
    -----
    35.74 + 0.6215 T - 35.75 V^0.16 + 0.4275 T V^0.16 in F and mph, never above the
    air temperature. NaN in, NaN out.

    Examples
    --------
    30 F and 10 mph feel like 21 F:

    >>> float(wind_chill(-1.111, 4.4704)) * 9 / 5 + 32
    21.2

    References
    ----------
    US National Weather Service and Environment Canada (2001), wind chill chart.
    """
    t, v = np.broadcast_arrays(
        _fahrenheit(temp_air), np.asarray(wind, float) * 3600.0 / 1609.344
    )
    power = np.maximum(v, 3.0) ** 0.16
    felt = 35.74 + 0.6215 * t - 35.75 * power + 0.4275 * t * power
    outside = (t > 50.0) | (v < 3.0)
    return _celsius(np.where(outside & np.isfinite(t + v), t, np.minimum(felt, t)))


def _fahrenheit(temp: ArrayLike) -> FloatArray:
    """Temperature in F from degC [F]."""
    return np.asarray(np.asarray(temp, float) * 1.8 + 32.0)


def _celsius(temp: FloatArray) -> FloatArray:
    """Temperature in degC from F [degC]."""
    return np.asarray((temp - 32.0) / 1.8)


def wet_bulb_globe(
    temp_air: ArrayLike, humidity: ArrayLike, wind: ArrayLike, ghi: ArrayLike
) -> FloatArray:
    """Give the heat that a person at work outdoors has to bear.

    Parameters
    ----------
    temp_air : array_like, shape (members, hours)
        Air temperature [degC].
    humidity : array_like
        Relative humidity [%].
    wind : array_like
        Mean wind at 10 m, at least 0.7 is counted [m/s].
    ghi : array_like
        Sun and sky on flat ground [W/m2].

    Returns
    -------
    ndarray
        Wet-bulb globe temperature [degC].

    Notes
    -----
    0.7 natural wet bulb + 0.2 globe + 0.1 air. The globe stands above the air by
    0.95 x 0.55 ghi / (h_c + h_r), h_c = 6.3 v^0.6 / D^0.4 for D = 50.8 mm and the
    wind at 2 m; the natural wet bulb above Stull's wet bulb by a quarter of that.
    The 0.55 is set to agree with the full balance of Liljegren and others: within
    2 K at 22 to 36 degC, 30 to 75 %. Night cooling of the globe is left out. NaN
    in, NaN out.

    Examples
    --------
    A calm sunny noon, where the limit for steady work is 28 degC:

    >>> float(wet_bulb_globe(30.0, 50.0, 1.5, 800.0)) > 28.0
    True

    References
    ----------
    Stull (2011), Journal of Applied Meteorology and Climatology 50, 2267-2269;
    ISO 7726 (globe); Bernard and Pourmoghani (1999) for the natural wet bulb, as
    reviewed in Lemke and Kjellstrom (2012), Industrial Health 50, 267-278.
    """
    air = np.asarray(temp_air, float)
    speed = mean_at_height(np.maximum(np.asarray(wind, float), _STILL), _GLOBE_HEIGHT)
    convection = 6.3 * speed**0.6 / _GLOBE_SIZE**0.4
    radiation = _GLOBE_BLACK * 4.0 * 5.67e-8 * (air + 273.15) ** 3
    sun = _GLOBE_BLACK * value("work_rules", "globe_sun_share") * np.asarray(ghi, float)
    rise = sun / (convection + radiation)
    wet = _wet_bulb(air, np.asarray(humidity, float)) + rise / 4.0
    return np.asarray(0.7 * wet + 0.2 * (air + rise) + 0.1 * air)


def _wet_bulb(t: FloatArray, r: FloatArray) -> FloatArray:
    """Wet bulb of aspirated air by Stull's fit, 5 to 99 % and -20 to 50 degC [degC]."""
    return np.asarray(
        t * np.arctan(0.151977 * np.sqrt(r + 8.313659))
        + np.arctan(t + r)
        - np.arctan(r - 1.676331)
        + 0.00391838 * r**1.5 * np.arctan(0.023101 * r)
        - 4.686035
    )


def heat_limit(metabolic: float, *, used_to_heat: bool) -> float:
    """Give the wet-bulb globe temperature at which steady work must stop.

    Parameters
    ----------
    metabolic : float
        Rate of the work: 180 light, 300 moderate, 415 heavy; 100 to 600 [W].
    used_to_heat : bool
        Whether everybody has worked in the heat for a week or two.

    Returns
    -------
    float
        Limit for the mean over an hour [degC].

    Raises
    ------
    OutOfRange
        If the rate is outside 100 to 600 W (it is watts, not W/m2 or kcal/h).

    Notes
    -----
    56.7 - 11.5 log10 M (used to it), 59.9 - 14.1 log10 M (not). A person's own
    rate may be 30 % off. No clothing correction.

    Examples
    --------
    >>> heat_limit(300.0, used_to_heat=True), heat_limit(300.0, used_to_heat=False)
    (28.2, 25.0)

    References
    ----------
    NIOSH (2016), publication 2016-106, section 8.1.
    """
    if not 100.0 <= metabolic <= 600.0:
        raise OutOfRange("The rate of work", value=metabolic, low=100, high=600, unit="W")
    if used_to_heat:
        start, slope = value("work_rules", "rel_start"), value("work_rules", "rel_slope")
    else:
        start, slope = value("work_rules", "ral_start"), value("work_rules", "ral_slope")
    return float(start - slope * np.log10(metabolic))


def thunder_closed(
    thunder: ArrayLike, *, hours_before: int = 0, wait_minutes: float = 30.0
) -> FloatArray:
    """Say which hours thunder closes: its own, the wait after, and hours before.

    Parameters
    ----------
    thunder : array_like, shape (members, hours) or (hours,)
        1 or True in hours with thunder; a missing value leaves the hours it closes unknown [-].
    hours_before : int
        Hours closed ahead of it, for work that cannot be left [h].
    wait_minutes : float
        Wait after the last thunder, any part of an hour closes it [min].

    Returns
    -------
    ndarray
        1 where nobody may be on the frame, 0 where they may, NaN where it is not known [-].

    Notes
    -----
    The thunder may come in the last minute of its hour, so the wait is counted
    from the hour's end.

    Examples
    --------
    >>> thunder_closed([0, 0, 0, 1, 0, 0], hours_before=2)
    array([0., 1., 1., 1., 1., 0.])

    References
    ----------
    National Weather Service, lightning safety: 30 minutes after the last thunder.
    """
    heard = np.asarray(thunder, float)
    sure = _spread(heard > 0.0, hours_before, wait_minutes)
    perhaps = _spread(np.isnan(heard), hours_before, wait_minutes)
    return np.where(sure, 1.0, np.where(perhaps, np.nan, 0.0))


def _spread(
    hours: NDArray[np.bool_], hours_before: int, wait_minutes: float
) -> NDArray[np.bool_]:
    """Mark the hours before and after those marked."""
    closed = hours.copy()
    for lag in range(1, int(np.ceil(wait_minutes / 60.0)) + 1):
        closed[..., lag:] |= hours[..., :-lag]
    for lead in range(1, hours_before + 1):
        closed[..., :-lead] |= hours[..., lead:]
    return closed
