"""How hard the locked film pulls, now and after nights of letting go.

Stretched film relaxes: a night's tension is a third of what stiffness alone would give,
and the next day's slack stays. So tension is always given as a low, a middle and a high
value, and slack (``slack``) as a length. Tension from wind or an inflation fan is in
``sail``.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from planner.film.slack import check_stress_free, free_strain, within_table
from planner.reference.tables import value

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from planner.film.slack import Beyond, Frame

    Array = NDArray[np.float64]

MODULUS_AT: Final = (-40, -20, 0, 10, 23, 40, 60)  # rows of the film table [degC]
YIELD_AT: Final = (-20, 0, 23, 40, 60)  # rows of the film table [degC]
_GAS: Final = 8.31446261815324  # J/mol/K, exact by definition
_ZERO: Final = 273.15  # degC to K, exact
_REFERENCE: Final = 23.0  # degC, where the laboratory stiffness is taken
_PULL_SECONDS: Final = 60.0  # the stiffness rows are for a minute after the pull
_APART: Final = 2.0 / 3.0  # of neighbouring relaxation times [log10 s]
_TIMES: Final = np.arange(-5.0, 11.5, _APART)  # relaxation times [log10 s]
_WORK: Final = 250_000  # numbers worked on at a time, 2 MB
_MPA: Final = 1e6  # Pa in a MPa, exact
_HOUR: Final = 3600.0  # s, exact


class Band(NamedTuple):
    """Tension as it may be at least, in the middle and at most [N/m]."""

    low: NDArray[np.float64]
    mid: NDArray[np.float64]
    high: NDArray[np.float64]


def tension(
    film_temp: ArrayLike,
    *,
    stress_free: float,
    thickness: float,
    frame: Frame = "steel",
    frame_temp: ArrayLike | None = None,
    hours: float = 1.0,
    exponent: float | None = None,
    beyond: Beyond = "refuse",
) -> Band:
    """Follow the tension of a locked sheet through a course of film temperatures.

    The crew must know whether the first cold night pulls channel off the boards.

    Parameters
    ----------
    film_temp : array_like, shape (hours,) or (members, hours)
        Film temperature, the first one when the last edge is locked [degC].
    stress_free : float
        Film temperature at which the sheet was locked to be neither slack nor tight [degC].
    thickness : float
        Of the film, all layers that pull on the same locks [m].
    frame : {"steel", "aluminium", "wood", "pvc"}
        What the film is fastened to [-].
    frame_temp : array_like, optional
        Temperature of the frame; left out, the film's [degC].
    hours : float
        From one temperature to the next [h].
    exponent : float, optional
        Power of time with which tension falls; 0 is a spring [-].
    beyond : {"refuse", "nan"}
        What happens outside the range of the expansion table [-].

    Returns
    -------
    Band
        ``low``, ``mid``, ``high``, each with the shape of the temperatures; 0 where the
        sheet is slack [N/m].

    Raises
    ------
    OutOfRange
        If a temperature lies outside the film's table.

    Notes
    -----
    ``s = b(T) int E(xi - xi') dg(e)`` with ``E = E60 (xi / 60 s)^-n``, reduced time xi from
    an Arrhenius shift, b(T) what the shift leaves of the stiffness table, and
    ``g = e / (1 + e / 0.05)``. Middle: b at the hour of the tension. Another: b at the hour
    of the stretch. A third: b alone, no shift, and the sheet held both ways, times
    ``1 / (1 - nu)``. Low and high are the least and the most of the three.

    The power is a sum of decaying exponentials, three in two decades, within 0.1 %; each
    step is exact for a strain and a reduced time that run straight in it. A film does not
    push: where the tension would pass zero it hangs slack, and takes up the load again at
    the length it has by then. The pull itself counts as done a minute before the first
    hour. A missing hour is NaN, and the temperature before it bridges it.

    Left out: give of the frame, friction, wind, creep of years. Worth a factor of 1.8
    either way; the band shows the form of the law, not the 35 % of the stiffness.

    Examples
    --------
    Snug at 55 degC, cooling in 14 hours to 5 degC, 0.15 mm:

    >>> course = np.linspace(55.0, 5.0, 15)
    >>> band = tension(course, stress_free=55.0, thickness=150e-6)
    >>> print([round(float(part[-1])) for part in band])
    [118, 167, 402]

    References
    ----------
    Ferry, J. D. (1980), Viscoelastic Properties of Polymers: superposition of time and
    temperature. Exponent, shift and stiffness: assumed, see the film table.
    """
    given = np.atleast_2d(within_table(film_temp, beyond))
    check_stress_free(stress_free)
    temps = _bridged(given)
    strain = free_strain(temps, stress_free, frame=frame, frame_from=frame_temp)
    power = value("film", "relaxation_exponent") if exponent is None else exponent
    pace = np.stack([_pace(temps)] * 2 + [np.ones_like(temps)])
    left = _modulus(temps) / value("film", "modulus_at_23") * pace**power
    stretched_at = np.ones_like(left)
    stretched_at[0, :, 1:] = (left[0, :, 1:] + left[0, :, :-1]) / 2.0
    stretched_at[0, :, 0] = left[0, :, 0]
    imposed = np.broadcast_to(_softened(strain), pace.shape)
    found = _relaxing(imposed, pace, weight=stretched_at, seconds=hours * _HOUR, power=power)
    found[1:] *= left[1:]
    found[2] /= 1.0 - value("film", "poisson_ratio")
    found *= _MPA * thickness
    found[:, np.isnan(given)] = np.nan
    shape = np.shape(film_temp)
    mid = found[1].reshape(shape)
    return Band(found.min(axis=0).reshape(shape), mid, found.max(axis=0).reshape(shape))


def quick_tension(
    strain: ArrayLike, film_temp: ArrayLike, *, thickness: float, hours: float | None = None
) -> NDArray[np.float64]:
    """Say how hard film pulls that is held at one stretch, without following its past.

    The hand's pull at the locks (a minute) and a cautious figure for the first night.

    Parameters
    ----------
    strain : array_like
        Stretch past stress-free, as ``free_strain`` gives it [-].
    film_temp : array_like
        Film temperature by then [degC].
    thickness : float
        Of the film [m].
    hours : float, optional
        How long the stretch has lasted; left out, a first night's worth [h].

    Returns
    -------
    ndarray
        Tension one way; 0 for slack film [N/m].

    Notes
    -----
    ``E60(T) g(e) (t / 60 s)^-n h``. NaN in gives NaN out.

    Examples
    --------
    0.43 % at 5 degC by hand, and the first night of film locked snug at 55 degC:

    >>> print(quick_tension(0.0043, 5.0, thickness=150e-6, hours=1 / 60).round())
    195.0
    >>> print(quick_tension(0.00967, 5.0, thickness=150e-6).round())
    221.0
    """
    seconds = _HOUR * (value("film", "first_night_time") if hours is None else hours)
    relaxed = (seconds / _PULL_SECONDS) ** -value("film", "relaxation_exponent")
    stretch = _softened(np.maximum(np.asarray(strain, dtype=float), 0.0))
    modulus = _modulus(np.asarray(film_temp, dtype=float))
    return np.asarray(modulus * stretch * (relaxed * thickness * _MPA))[()]


def yield_stress(film_temp: ArrayLike) -> NDArray[np.float64]:
    """Say at what stress film of this temperature yields and does not come back.

    Parameters
    ----------
    film_temp : array_like
        Film temperature; below -20 degC the value there is kept, above 60 that at 60 [degC].

    Returns
    -------
    ndarray
        Yield stress; NaN for NaN [Pa].

    Examples
    --------
    >>> print(yield_stress([-20.0, 23.0]))
    [18000000. 9800000.]
    """
    rows = [value("film", f"yield_at_{temp}") for temp in YIELD_AT]
    return np.asarray(np.interp(np.asarray(film_temp), YIELD_AT, rows) * _MPA)[()]


def share_of_yield(
    pull: ArrayLike, film_temp: ArrayLike, *, thickness: float
) -> NDArray[np.float64]:
    """Say what part of the film's strength a tension uses up.

    Parameters
    ----------
    pull : array_like
        Tension [N/m].
    film_temp : array_like
        Film temperature at that time [degC].
    thickness : float
        Of the film [m].

    Returns
    -------
    ndarray
        Tension over the yield load; NaN for NaN [-].

    Examples
    --------
    >>> print(share_of_yield(168.0, 5.0, thickness=150e-6).round(2))
    0.09
    """
    return np.asarray(np.divide(pull, yield_stress(film_temp) * thickness))[()]


def tension_allowed(
    film_temp: ArrayLike, *, thickness: float, channel_holds: float | None = None
) -> NDArray[np.float64]:
    """Say what lasting tension neither film nor channel should be left with.

    Parameters
    ----------
    film_temp : array_like
        Film temperature [degC].
    thickness : float
        Of the film [m].
    channel_holds : float, optional
        Holding force of the channel; left out, an assumed figure [N/m].

    Returns
    -------
    ndarray
        The lesser of both; NaN for NaN [N/m].

    Notes
    -----
    A third of the yield load, practice without a source. No holding force of a channel is
    published: the user's own figure replaces the assumed 500 N/m.

    Examples
    --------
    >>> print(tension_allowed([5.0, 55.0], thickness=150e-6).round())
    [500. 295.]
    """
    film = yield_stress(film_temp) * (thickness * value("film", "share_of_yield_allowed"))
    channel = value("film", "tension_allowed") if channel_holds is None else channel_holds
    return np.asarray(np.minimum(film, channel))[()]


def end_hoop_load(pull: ArrayLike, arc: ArrayLike) -> NDArray[np.float64]:
    """Say how hard the sheet pulls the two end bows towards each other.

    Parameters
    ----------
    pull : array_like
        Tension end to end [N/m].
    arc : array_like
        Length over the bow between the locks [m].

    Returns
    -------
    ndarray
        Pull on one end; NaN for NaN [N].

    Examples
    --------
    >>> print(end_hoop_load(190.0, 7.0))
    1330.0
    """
    return np.asarray(np.multiply(pull, np.asarray(arc, dtype=float)))[()]


def _softened(strain: Array) -> Array:
    """Give the strain that a spring of the small-strain stiffness would need [-]."""
    bound = value("film", "softening_strain")
    return np.asarray(strain / (1.0 + np.maximum(strain, 0.0) / bound))


def _modulus(temps: Array) -> Array:
    """Stiffness a minute after the pull, straight in its logarithm [MPa]."""
    rows = [math.log(value("film", f"modulus_at_{temp}")) for temp in MODULUS_AT]
    return np.asarray(np.exp(np.interp(temps, MODULUS_AT, rows)))


def _pace(temps: Array) -> Array:
    """How many seconds at 23 degC a second at this temperature relaxes film for [-]."""
    heat = value("film", "activation_energy") / _GAS
    pace = np.exp(heat * (1.0 / (_REFERENCE + _ZERO) - 1.0 / (temps + _ZERO)))
    return np.asarray(pace)


def _bridged(temps: Array) -> Array:
    """Give each missing hour the temperature before it [degC]."""
    missing = np.isnan(temps)
    if not missing.any():
        return temps
    last = np.where(missing, 0, np.arange(temps.shape[-1]))
    np.maximum.accumulate(last, axis=-1, out=last)
    return np.take_along_axis(temps, last, axis=-1)


@cache
def _series(power: float) -> tuple[Array, Array]:
    """Write ``E60 (t / 60 s)^-power`` as decaying terms: stiffness [MPa] and rates [1/s].

    ``t^-n = 1 / Gamma(n) int s^n exp(-t s) dln s``, summed at even steps of ln s; terms
    slower than the last are put together into one that does not decay.
    """
    modulus = value("film", "modulus_at_23")
    rates = np.append(10.0**-_TIMES, 0.0)
    if power == 0.0:
        return np.append(np.zeros(_TIMES.size), modulus), rates
    terms = modulus * (_PULL_SECONDS * rates) ** power / math.gamma(power)
    terms *= _APART * math.log(10.0)
    terms[-1] = terms[-2] / (10.0 ** (power * _APART) - 1.0)
    return terms, rates


def _relaxing(
    imposed: Array, pace: Array, *, weight: Array, seconds: float, power: float
) -> Array:
    """Follow stress through the strain a frame imposes on film that cannot push [MPa].

    All arrays are (..., hours): softened strain, reduced seconds in a second, and what a
    stretch in the step to that hour counts.
    """
    terms, rates = (column[:, None] for column in _series(power))
    hours = imposed.shape[-1]
    strain, speed, counts = (
        np.ascontiguousarray(array.reshape(-1, hours).T) for array in (imposed, pace, weight)
    )
    stress = np.empty(strain.shape)
    film = np.maximum(strain[0], 0.0)
    held = terms * np.exp(-rates * speed[0] * _PULL_SECONDS) * (film * counts[0])
    stress[0] = held.sum(axis=0)
    at_a_time = max(1, _WORK // held.size)
    add, moved = np.add.reduce, []
    for start in range(1, hours, at_a_time):
        stop = min(start + at_a_time, hours)
        passed = (speed[start - 1 : stop - 1] + speed[start:stop]) * (seconds / 2.0)
        decay = np.maximum(rates * passed[:, None, :], 1e-300)
        gain = np.expm1(-decay)
        keep = 1.0 + gain
        gain /= decay
        gain *= -terms
        gain *= counts[start:stop, None, :]
        whole = gain.sum(axis=1)
        steps = zip(
            keep, gain, strain[start:stop], -1.0 / whole, stress[start:stop], strict=True
        )
        for kept, gained, target, back, rest in steps:
            held *= kept
            add(held, axis=0, out=rest)
            stretch = np.maximum(target - film, rest * back)
            film += stretch
            held += gained * stretch
            held *= film >= 0.0  # back at its first length it has forgotten its pulls
            np.maximum(film, 0.0, out=film)
            moved.append(stretch)
        stress[start:stop] += whole * moved
        moved.clear()
    np.maximum(stress, 0.0, out=stress)
    stress[strain <= 0.0] = 0.0
    return stress.T.reshape(imposed.shape).copy()
