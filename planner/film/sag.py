"""What slack looks like: sag between two bows, lift off the ridge, a curtain too short.

Millimetres of slack are hard to see; a sag is measured with a stick. The crew checks the
one against the other.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.film.slack import free_strain
from planner.reference.tables import value

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from planner.film.slack import Frame

_MM: Final = 1000.0  # millimetres in a metre, exact
_ROOT_STEPS: Final = 60  # of Newton's rule, each at least a third nearer


def bay_sag(bay: ArrayLike, slack: ArrayLike) -> NDArray[np.float64]:
    """Say how deep a slack sheet sags midway between two bows, to check by hand.

    Parameters
    ----------
    bay : array_like
        From bow to bow [m].
    slack : array_like
        Length too much in that bay, not in the whole house [mm].

    Returns
    -------
    ndarray
        Sag at the middle; 0 for a taut sheet [mm].

    Notes
    -----
    The flat parabola, ``sqrt(3 L dL / 8)``; 0.2 % over the exact one for a sag of a
    twenty-fifth. NaN in gives NaN out.

    Examples
    --------
    The published example, 40 mm in 10 m; and 0.967 % in a bay of 1.22 m:

    >>> print(bay_sag([10.0, 1.22], [40.0, 11.80]))
    [387.3 73.5]
    """
    extra = np.maximum(np.asarray(slack, dtype=float), 0.0) / _MM
    return np.asarray(np.sqrt(3.0 / 8.0 * np.multiply(bay, extra)) * _MM)[()]


def slack_from_sag(bay: ArrayLike, sag: ArrayLike) -> NDArray[np.float64]:
    """Say how much film too long a measured sag between two bows means.

    Parameters
    ----------
    bay : array_like
        From bow to bow [m].
    sag : array_like
        At the middle [mm].

    Returns
    -------
    ndarray
        Length too much in that bay [mm].

    Notes
    -----
    Exact length of a parabola. NaN in gives NaN out.

    Examples
    --------
    >>> print(slack_from_sag(10.0, 387.3))
    39.86
    """
    length = np.asarray(bay, dtype=float)
    steep = 4.0 * np.asarray(sag, dtype=float) / _MM / length
    with np.errstate(invalid="ignore"):
        bent = np.where(steep == 0.0, 1.0, np.arcsinh(steep) / np.where(steep == 0, 1, steep))
    return np.asarray((np.sqrt(1.0 + steep**2) + bent - 2.0) * length / 2.0 * _MM)[()]


def arc_lift_off(arc: ArrayLike, radius: ArrayLike, slack: ArrayLike) -> NDArray[np.float64]:
    """Say how high a slack sheet can lift off the ridge when the wind sucks at it.

    Parameters
    ----------
    arc : array_like
        Length over the bow between the locks, less than a full circle [m].
    radius : array_like
        Of the bow; infinite for a straight one [m].
    slack : array_like
        Length too much over the bow [mm].

    Returns
    -------
    ndarray
        Lift at the ridge of a circle through the same locks; 0 for a taut sheet [mm].

    Notes
    -----
    The half angle ``x`` of the longer arc solves ``sin x / x = chord / length``, found by
    Newton's rule from above, where it cannot miss. NaN in gives NaN out.

    Examples
    --------
    >>> print(arc_lift_off(7.0, 2.6, [67.7, 44.3]).round())
    [39. 25.]
    """
    length = np.asarray(arc, dtype=float)
    half = length / np.asarray(radius, dtype=float) / 2.0
    chord = length * np.sinc(half / math.pi)
    longer = length + np.maximum(np.asarray(slack, dtype=float), 0.0) / _MM
    ratio = chord / longer
    turn = np.full(np.shape(ratio), math.pi)
    for _ in range(_ROOT_STEPS):
        turn = turn - (np.sin(turn) - ratio * turn) / (np.cos(turn) - ratio)
    lift = chord / 2.0 * (np.tan(turn / 2.0) - np.tan(half / 2.0))
    return np.asarray(np.where(longer > length, lift, longer - length) * _MM)[()]


def slack_allowed(span: ArrayLike) -> NDArray[np.float64]:
    """Say how much slack at the hottest hour is still well [mm].

    Parameters
    ----------
    span : array_like
        Length held by the locks [m].

    Returns
    -------
    ndarray
        Slack that should not be passed, assumed and without a source; NaN for NaN [mm].

    Examples
    --------
    >>> print(slack_allowed(7.0))
    28.0
    """
    return np.multiply(span, value("film", "slack_allowed") * _MM)


def curtain_change(
    length: ArrayLike, temp_from: ArrayLike, temp_to: ArrayLike, *, frame: Frame = "steel"
) -> NDArray[np.float64]:
    """Say how much a roll-up side changes its length along the house.

    It is free along its tube, so the overlap onto the end wall must take it up.

    Parameters
    ----------
    length : array_like
        Of the curtain [m].
    temp_from, temp_to : array_like
        Film temperature when it is hung and later [degC].
    frame : {"steel", "aluminium", "wood", "pvc"}
        What the end walls stand on [-].

    Returns
    -------
    ndarray
        Growth against the frame, negative for shrinking; NaN for NaN [mm].

    Raises
    ------
    OutOfRange
        If a temperature lies outside the expansion table.

    Examples
    --------
    >>> print(curtain_change(15.0, [55.0, 25.0], -20.0).round())
    [-198. -104.]
    """
    return np.multiply(free_strain(temp_from, temp_to, frame=frame), length) * _MM
