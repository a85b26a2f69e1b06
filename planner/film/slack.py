"""How far to pull the film, and how slack it will hang: its growth against the frame's.

One number is chosen, the film temperature at which the locked sheet is neither slack nor
tight. How far to pull past snug at the locks, and how much slack there is at any later
film temperature, both follow from it. Words for the hand are the report's.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from planner.errors import OutOfRange, UsageError
from planner.film.temperature import parts
from planner.reference.tables import value

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

Frame = Literal["steel", "aluminium", "wood", "pvc"]
Beyond = Literal["refuse", "nan"]
PullClass = Literal["slack", "snug", "pull", "no-data"]

EXPANSION_AT: Final = (-40, -20, 0, 20, 40, 60)  # rows of the film table [degC]
_MM: Final = 1000.0  # millimetres in a metre, exact


def free_strain(
    temp_from: ArrayLike,
    temp_to: ArrayLike,
    *,
    frame: Frame = "steel",
    frame_from: ArrayLike | None = None,
    frame_to: ArrayLike | None = None,
    beyond: Beyond = "refuse",
) -> NDArray[np.float64]:
    """Say how much longer than the frame the film gets from one temperature to another.

    Slack, pull and tension all come from this mismatch; it is the same over the bows and
    end to end.

    Parameters
    ----------
    temp_from, temp_to : array_like
        Film temperature before and after [degC].
    frame : {"steel", "aluminium", "wood", "pvc"}
        What the film is fastened to [-].
    frame_from, frame_to : array_like, optional
        Temperature of the frame before and after; left out, the film's [degC].
    beyond : {"refuse", "nan"}
        What happens outside the range of the table; NaN is for hours of a forecast [-].

    Returns
    -------
    ndarray
        Growth of the film less that of the frame over the length; a scalar for scalars.
        Positive: the film hangs slack [-].

    Raises
    ------
    OutOfRange
        If a film temperature lies outside the table, unless ``beyond`` is ``"nan"``.

    Notes
    -----
    The expansion table, straight lines between its rows, is integrated exactly; worth
    15 to 20 %, and the film differs by as much along and across the roll. NaN in gives NaN
    out.

    Examples
    --------
    A hot afternoon, 55 degC, to a cold night, over steel:

    >>> print(free_strain(55.0, 5.0))
    -0.00967
    """
    rate = value("frame", f"expansion_{frame}")
    before = _growth(within_table(temp_from, beyond), rate if frame_from is None else 0.0)
    after = _growth(within_table(temp_to, beyond), rate if frame_to is None else 0.0)
    if frame_from is not None:
        before = before - rate * np.asarray(frame_from, dtype=float)
    if frame_to is not None:
        after = after - rate * np.asarray(frame_to, dtype=float)
    room = _again(before, after)
    return np.subtract(after, before, out=_again(after, before) if room is None else room)


def pull_past_snug(
    span: ArrayLike,
    film_temp: ArrayLike,
    *,
    stress_free: float,
    frame: Frame = "steel",
    frame_temp: ArrayLike | None = None,
    beyond: Beyond = "refuse",
) -> NDArray[np.float64]:
    """Say how far to pull the film past snug, at the temperature it has now.

    Parameters
    ----------
    span : array_like
        Length held by the locks, over the bows or end to end [m].
    film_temp : array_like
        Film temperature at the locks, better measured than worked out [degC].
    stress_free : float
        Film temperature at which the locked sheet is to be neither slack nor tight [degC].
    frame : {"steel", "aluminium", "wood", "pvc"}
        What the film is fastened to [-].
    frame_temp : array_like, optional
        Temperature of the frame now; left out, the film's [degC].
    beyond : {"refuse", "nan"}
        What happens outside the range of the expansion table [-].

    Returns
    -------
    ndarray
        Pull past snug; negative: lock with that much slack [mm].

    Raises
    ------
    UsageError
        If a span is not longer than nothing.
    OutOfRange
        If the stress-free temperature is above what film serves at, or a temperature is
        outside the table.

    Notes
    -----
    Snug by hand repeats to 10 or 15 mm, so round to 5. Friction over the bows, which
    keeps slack where it is, is left out. NaN in gives NaN out.

    Examples
    --------
    7.0 m over the bows, to be stress-free at 40 degC:

    >>> print(pull_past_snug(7.0, [5.0, 25.0, 45.0], stress_free=40.0).round(1))
    [43.9 20.5 -7.5]
    """
    lengths = np.asarray(span, dtype=float)
    if np.any(lengths <= 0.0):
        raise UsageError(
            f"A span of {lengths.min():g} m holds no film.",
            fix="Give the length between the locks, over the bows or end to end.",
        )
    check_stress_free(stress_free)
    pull = free_strain(
        film_temp, stress_free, frame=frame, frame_from=frame_temp, beyond=beyond
    )
    return np.multiply(pull, lengths * _MM, out=_again(pull, lengths))


def slack_mm(
    span: ArrayLike,
    film_temp: ArrayLike,
    *,
    stress_free: float,
    frame: Frame = "steel",
    frame_temp: ArrayLike | None = None,
    beyond: Beyond = "refuse",
) -> NDArray[np.float64]:
    """Say how slack the locked sheet hangs at a film temperature.

    Parameters
    ----------
    span, film_temp, stress_free, frame, frame_temp, beyond : array_like
        As in ``pull_past_snug`` [m], [degC], [degC], [-], [degC], [-].

    Returns
    -------
    ndarray
        Length too much over the span; 0 where the sheet is taut [mm].

    Notes
    -----
    Worth 20 %. Stretch that stays behind after cold nights and wind is left out; it makes
    more slack. NaN in gives NaN out.

    Examples
    --------
    >>> print(slack_mm(7.0, [55.0, 20.0], stress_free=40.0).round(1))
    [23.8 0. ]
    """
    pull = pull_past_snug(
        span,
        film_temp,
        stress_free=stress_free,
        frame=frame,
        frame_temp=frame_temp,
        beyond=beyond,
    )
    room = _again(pull)
    return np.negative(np.minimum(pull, 0.0, out=room), out=room)


def pull_class(pull: float) -> PullClass:
    """Name what the hand does: leave slack, lock snug, or pull.

    Parameters
    ----------
    pull : float
        Pull past snug [mm].

    Returns
    -------
    {"slack", "snug", "pull", "no-data"}
        ``"snug"`` while the pull is within what snug repeats to by hand [-].

    Examples
    --------
    >>> pull_class(-25.0), pull_class(5.0), pull_class(20.0)
    ('slack', 'snug', 'pull')
    """
    if math.isnan(pull):
        return "no-data"
    if abs(pull) < value("film", "snug_repeats"):
        return "snug"
    return "pull" if pull > 0.0 else "slack"


def within_table(temp: ArrayLike, beyond: Beyond = "refuse") -> NDArray[np.float64]:
    """Let through film temperatures at which the film's growth is known.

    Parameters
    ----------
    temp : array_like
        Film temperature [degC].
    beyond : {"refuse", "nan"}
        What happens to others [-].

    Returns
    -------
    ndarray
        The same, with NaN where it is unknown and ``beyond`` is ``"nan"`` [degC].

    Raises
    ------
    OutOfRange
        If one lies outside and ``beyond`` is ``"refuse"``.

    Examples
    --------
    >>> print(within_table([20.0, 70.0], "nan"))
    [20. nan]
    """
    given = np.asarray(temp, dtype=float)
    if given.size == 0:
        return given
    low, high = EXPANSION_AT[0], EXPANSION_AT[-1]
    least, most = float(np.fmin.reduce(given, None)), float(np.fmax.reduce(given, None))
    if not (least < low or most > high):
        return given
    if beyond == "nan":
        return np.where((given < low) | (given > high), np.nan, given)
    raise OutOfRange(
        "film temperature",
        value=least if least < low else most,
        low=low,
        high=high,
        unit="C",
        fix="The film's growth is known in that range only.",
    )


def check_stress_free(temp: float) -> None:
    """Refuse a stress-free temperature at which film does not serve or is not known.

    Parameters
    ----------
    temp : float
        Film temperature [degC].

    Raises
    ------
    OutOfRange
        If it is above the service limit or outside the expansion table.

    Examples
    --------
    >>> check_stress_free(35.0)
    """
    low = max(value("film", "service_low"), float(EXPANSION_AT[0]))
    high = min(value("film", "service_high"), float(EXPANSION_AT[-1]))
    if not math.isnan(temp) and not low <= temp <= high:
        raise OutOfRange(
            "stress-free film temperature",
            value=temp,
            low=low,
            high=high,
            unit="C",
            fix="Beyond it film does not serve or its growth is not known; 30 to 40 C suits "
            "one layer.",
        )


@cache
def _expansion() -> tuple[tuple[float, ...], tuple[tuple[float, float], ...]]:
    """Give the table's integral as a quadratic and, per knot, ``c u |u|`` beyond it.

    The rate is a straight line plus ``d max(u, 0)`` for each later change of slope d at
    distance u, and ``2 max(u, 0)^2 = u^2 + u |u|``.
    """
    temps = np.array(EXPANSION_AT, dtype=float)
    rates = np.array([value("film", f"expansion_at_{temp}") for temp in EXPANSION_AT])
    slopes = np.diff(rates) / np.diff(temps)
    bends = tuple(
        (float(knot), float(change) / 4.0)
        for knot, change in zip(temps[1:-1], np.diff(slopes), strict=True)
        if abs(change) > 1e-12 * abs(slopes[0])
    )
    linear = rates[0] - slopes[0] * temps[0] - sum(2.0 * c * knot for knot, c in bends)
    square = slopes[0] / 2.0 + sum(c for _, c in bends)
    return (float(linear), float(square)), bends


def _growth(temp: Array, less: float) -> Array:
    """Give the film's strain from a fixed start, less a frame's at ``less`` per K [-]."""
    (linear, square), bends = _expansion()
    found = np.empty(temp.shape)
    for part in parts(temp.shape):
        given, total = temp[part], found[part]
        np.multiply(given, square, out=total)
        total += linear - less
        total *= given
        for knot, factor in bends:
            u = given - knot
            bent = np.abs(u)
            bent *= u
            bent *= factor
            total += bent
    return found


def _again(own: Array, other: ArrayLike = 0.0) -> Array | None:
    """Give an array of ours to write a result into: fresh memory costs more than the sum."""
    array = isinstance(own, np.ndarray) and own.ndim > 0
    return (
        own if array and np.broadcast_shapes(own.shape, np.shape(other)) == own.shape else None
    )
