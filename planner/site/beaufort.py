"""The Beaufort scale: a wind that a crew can see without a meter."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import OutOfRange

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    FloatArray = NDArray[np.float64]

#: Lower bounds of Beaufort 1 to 12 in m/s, WMO-No. 306 code table 1100.
_BEAUFORT_FROM: Final = (0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7)
_BEAUFORT_SIGNS: Final = (
    "smoke goes straight up",
    "smoke leans, the vane does not turn",
    "you feel it on your face, leaves rustle",
    "twigs never still, a light flag stands out",
    "dust and loose paper fly",
    "small trees in leaf sway",
    "big branches move, an umbrella is hard to hold",
    "whole trees move, walking is hard",
    "twigs break off, walking is very hard",
    "shingles come off",
    "trees are uprooted",
    "wide damage",
    "devastation",
)


def beaufort(mean_speed: ArrayLike) -> FloatArray:
    """Give the Beaufort number of a wind, for a crew without a meter.

    Parameters
    ----------
    mean_speed : array_like
        Mean wind [m/s].

    Returns
    -------
    ndarray
        Whole number 0 to 12, kept as a float so that missing stays NaN [-].

    Notes
    -----
    The bounds are those of the code table, near 0.836 B^1.5. NaN in, NaN out.

    Examples
    --------
    >>> beaufort([0.0, 3.3, 3.4, 40.0])
    array([ 0.,  2.,  3., 12.])

    References
    ----------
    WMO-No. 306, Manual on Codes, code table 1100.
    """
    speeds = np.asarray(mean_speed, float)
    number = np.searchsorted(_BEAUFORT_FROM, speeds, side="right").astype(float)
    return np.where(np.isnan(speeds), np.nan, number)


def beaufort_sign(number: int) -> str:
    """Give something to look for at that Beaufort number.

    Parameters
    ----------
    number : int
        Beaufort number, 0 to 12 [-].

    Returns
    -------
    str
        A short sign seen on land.

    Raises
    ------
    OutOfRange
        If there is no such number.

    Examples
    --------
    >>> beaufort_sign(3)
    'twigs never still, a light flag stands out'
    """
    if not 0 <= number <= 12:
        raise OutOfRange("The Beaufort number", value=number, low=0, high=12, unit="")
    return _BEAUFORT_SIGNS[number]
