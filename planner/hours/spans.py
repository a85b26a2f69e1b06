"""Phases on the clock: when each begins and ends, at which pace, and limits by the clock.

Light, crew hours and the swing of film temperature are met at quarter hours; all other
limits are compared hour by hour, in ``holds``.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from planner.hours.records import middle
from planner.job.phases import FIRST_LOCKS
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd
    from numpy.typing import NDArray

    from planner.hours.records import Conditions, Floats
    from planner.job.records import Limit, Phase, Step

    Booleans = NDArray[np.bool_]

_NINE_IN_TEN: Final = 1.2815515655446004  # standard normal deviate with 90 % below it
QUARTER: Final = 15  # min
QUARTERS: Final = 4  # in an hour
#: Quantities with their own clock, not compared hour by hour.
BY_CLOCK: Final = frozenset({"light", "crew_hours", "film_swing"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A phase on the clock of its step: minutes after the start [min].

    ``step_end`` is when the whole step ends, ``locks_from`` when its film begins to be
    locked, or the phase itself where the step has no locks.
    """

    phase: Phase
    begin: float
    end: float
    step_end: float
    locks_from: float

    def hours_touched(self, offset: float) -> Iterator[tuple[int, bool]]:
        """Give (hours after the start's hour, whether the step is in it only briefly).

        An hour counts as brief by the minutes that the *whole step* spends in it: work
        that fills an hour with short phases meets the hour's top gust like any other.
        """
        begin, end = offset + self.begin, offset + self.end
        briefly = value("planning", "short_stay_minutes")
        for hour in range(int(begin // 60), max(int(np.ceil(end / 60)), int(begin // 60) + 1)):
            last, first = (
                min(offset + self.step_end, 60.0 * (hour + 1)),
                max(offset, 60.0 * hour),
            )
            yield hour, last - first < briefly


def clock(conditions: Conditions, quarter: float) -> pd.Timestamp:
    """Give the local time of a quarter hour counted from the first hour."""
    import pandas as pd

    def all_quarters() -> list[pd.Timestamp]:
        after = pd.to_timedelta(np.arange(len(conditions.times) * QUARTERS) * QUARTER, "min")
        return list((conditions.times[0] + after).tz_convert(conditions.time_zone))

    whole = conditions.once("quarters", all_quarters)
    if quarter == int(quarter) < len(whole):
        return whole[int(quarter)]
    after = round(quarter * QUARTER * 60) * 10**9
    return pd.Timestamp(whole[0].value + after, tz=whole[0].tz)


def quarter_times(conditions: Conditions, quarters: NDArray[np.int_]) -> pd.DatetimeIndex:
    """Give the local times of quarter hours counted from the first hour.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    quarters : numpy.ndarray of int
        Quarter hours after the first hour [-].

    Returns
    -------
    pandas.DatetimeIndex
        In the place's own time.
    """
    after = quarters.astype("timedelta64[m]") * QUARTER
    times: pd.DatetimeIndex = conditions.times[:1].repeat(len(quarters)) + after
    return times.tz_convert(conditions.time_zone)


def spans(step: Step, *, pace: float = 1.0, wet: bool = False) -> tuple[Span, ...]:
    """Lay the phases of a step one after the other.

    Parameters
    ----------
    step : Step
        The step.
    pace : float
        Stretches every phase; 1 is the crew's own pace [-].
    wet : bool
        Whether the film is wet, which makes soft phases longer.

    Returns
    -------
    tuple of Span
        In order, minutes after the start [min].
    """
    longer = value("labour", "wet_minutes_factor")
    minutes = [
        phase.minutes * pace * (longer if wet and phase.wet == "damp" else 1.0)
        for phase in step.phases
    ]
    ends = list(itertools.accumulate(minutes))
    begins = [0.0, *ends[:-1]]
    locks = next(
        (x for x, phase in zip(begins, step.phases, strict=True) if phase.name == FIRST_LOCKS),
        math.inf,
    )
    return tuple(
        Span(phase=phase, begin=begin, end=end, step_end=ends[-1], locks_from=min(locks, begin))
        for phase, begin, end in zip(step.phases, begins, ends, strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pace:
    """Possible weathers in which the crew works at the same pace.

    Attributes
    ----------
    work : float
        By which its minutes are multiplied when weather and crew hours are met [-].
    light : float
        By which they are multiplied when light is met [-].
    members : slice or numpy.ndarray of int
        The possible weathers.
    """

    work: float
    light: float
    members: slice | NDArray[np.int_]

    def of(self, values: NDArray[Any]) -> NDArray[Any]:
        """Give the rows of these members, or the one row that stands for every member."""
        whole = len(values) == 1 or isinstance(self.members, slice)
        return values if whole else values[self.members]


def paces(conditions: Conditions) -> tuple[Pace, ...]:
    """Put members of the same pace together, quick ones first.

    Parameters
    ----------
    conditions : Conditions
        With the pace of each member.

    Returns
    -------
    tuple of Pace
        Where no pace is drawn, every member is at the crew's own pace, and light is met
        at the slow pace that one crew in ten exceeds. Where paces are drawn, light is met
        at each member's own.
    """

    def work_out() -> tuple[Pace, ...]:
        if not _drawn(conditions):
            return (crew_pace(conditions),)
        return tuple(
            Pace(work=float(x), light=float(x), members=np.flatnonzero(conditions.pace == x))
            for x in np.unique(conditions.pace)
        )

    return conditions.once("paces", work_out)


def crew_pace(conditions: Conditions) -> Pace:
    """Give the crew's own pace in every member, light met as ``paces`` does."""
    light = 1.0 if _drawn(conditions) else slow_pace()
    return Pace(work=1.0, light=light, members=slice(None))


def _drawn(conditions: Conditions) -> bool:
    return bool((conditions.pace != 1.0).any())


def slow_pace() -> float:
    """Pace that one crew in ten exceeds, over the crew's own [-]."""
    return math.exp(_NINE_IN_TEN * value("labour", "pace_spread"))


def draw_paces(members: int, seed: int) -> Floats:
    """Draw the crew's pace for each possible weather, as evenly as can be.

    Nobody knows beforehand how quickly a crew will work; a plan that holds only at one
    pace is worth less.

    Parameters
    ----------
    members : int
        How many possible weathers.
    seed : int
        The same seed gives the same order.

    Returns
    -------
    numpy.ndarray, shape (members,)
        By which the crew's minutes are multiplied; half of them above 1 [-].

    Notes
    -----
    A pace is log-normal around the crew's own with the row ``pace_spread``. It is cut
    into ``pace_strata`` parts of the same chance; each gives its median to as many
    members as any other, or to one more or less, in a shuffled order.

    Examples
    --------
    >>> np.unique(draw_paces(500, 1)).round(2)
    array([0.58, 0.73, 0.84, 0.95, 1.06, 1.19, 1.36, 1.71])
    """
    strata = min(int(value("planning", "pace_strata")), members)
    part = ((np.arange(members) + 0.5) * strata / members).astype(int)
    normal, spread = NormalDist(), value("labour", "pace_spread")
    medians = [math.exp(spread * normal.inv_cdf((at + 0.5) / strata)) for at in range(strata)]
    return np.asarray(np.array(medians)[np.random.default_rng(seed).permutation(part)])


def slowest(conditions: Conditions) -> Floats:
    """Give weights that count the slowest fifth of the paces only.

    Parameters
    ----------
    conditions : Conditions
        With pace and weight of each member.

    Returns
    -------
    numpy.ndarray, shape (members,)
        Adding up to 1; the plain weights where all paces are the same. Members at the
        pace in which the row ``slow_fifth`` is reached count in part [-].
    """
    weights = np.zeros(len(conditions.weights))
    left = value("planning", "slow_fifth")
    for pace in reversed(paces(conditions)):
        own = conditions.weights[pace.members]
        share = float(own.sum())
        counted = min(left, share)
        weights[pace.members] = own * (counted / share if share else 0.0)
        left -= counted
    return np.asarray(weights / weights.sum())


def by_clock(limits: tuple[Limit, ...]) -> tuple[Limit, ...]:
    """Give the limits that run by the clock."""
    return tuple(limit for limit in limits if limit.governs and limit.quantity in BY_CLOCK)


def clock_holds(conditions: Conditions, span: Span, limit: Limit, pace: Pace) -> Booleans:
    """Say at which quarter hours a limit that runs by the clock is kept.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    span : Span
        The phase on the clock of its step, at the pace of work.
    limit : Limit
        Of ``light``, ``crew_hours`` or ``film_swing``.
    pace : Pace
        Whose members are asked for.

    Returns
    -------
    numpy.ndarray, shape (members of that pace or 1, 4 * hours)
        False also past the end of the file and without data.
    """
    if limit.quantity == "film_swing":
        key = ("swing", pace, span.locks_from, span.end, limit.bound)
        return conditions.once(key, lambda: _swing_holds(conditions, span, limit, pace))
    left, shift, needed = _time_left(conditions, span, limit, pace)
    kept = np.zeros((1, len(left)), dtype=bool)
    kept[0, : max(len(left) - shift, 0)] = left[shift:] >= max(needed, 0.0)
    return kept


def _swing_holds(conditions: Conditions, span: Span, limit: Limit, pace: Pace) -> Booleans:
    film = conditions.once(
        ("film", pace), lambda: np.ascontiguousarray(pace.of(_film(conditions)).T)
    )
    first, last = (int(minutes // QUARTER) for minutes in (span.locks_from, span.end))
    count = max(len(film) - last, 0)
    change = film[last:] - film[first : first + count]
    kept = np.zeros(film.shape, dtype=bool)
    kept[:count] = np.abs(change, out=change) <= limit.bound
    return kept.T


def clock_room(conditions: Conditions, span: Span, limit: Limit, pace: Pace) -> Floats:
    """Give the room to a limit that runs by the clock, at each quarter hour as a start.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    span : Span
        The phase on the clock of its step, at the pace of work.
    limit : Limit
        Of ``light``, ``crew_hours`` or ``film_swing``.
    pace : Pace
        At which it is met.

    Returns
    -------
    numpy.ndarray, shape (4 * hours,)
        Minutes left over [min], or degrees of swing left over in the middle possible
        weather [K]; minus infinity past the end of the file.
    """
    if limit.quantity == "film_swing":
        film = conditions.once("middle film", lambda: middle(_film(conditions)))
        change = np.abs(_later(film, span.end) - _later(film, span.locks_from))
        return np.where(np.isnan(change), -np.inf, limit.bound - change)
    left, shift, needed = _time_left(conditions, span, limit, pace)
    room = _later(left, QUARTER * shift)
    return np.where(np.isnan(room) | (room < 0.0), -np.inf, room - needed)


def _time_left(
    conditions: Conditions, span: Span, limit: Limit, pace: Pace
) -> tuple[Floats, int, float]:
    """Give minutes left by quarter hour, quarters after the start, minutes needed then."""
    if limit.quantity == "light":
        left, slower = conditions.light_left[limit.bound], pace.light / pace.work
    else:
        left, slower = conditions.crew_left, 1.0
    shift = int(span.begin * slower // QUARTER)
    return left, shift, span.end * slower - QUARTER * shift


def _film(conditions: Conditions) -> Floats:
    """Film temperature by quarter hours, NaN where the file does not say enough [degC]."""
    unknown = np.full((1, QUARTERS * len(conditions.times)), np.nan)
    return conditions.values.get("film_swing", unknown)


def _later(quarters: Floats, minutes: float) -> Floats:
    """Shift quarter hours so that each start sees the value ``minutes`` later."""
    shift = min(int(minutes // QUARTER), len(quarters))
    later = np.full(len(quarters), np.nan)
    later[: len(quarters) - shift] = quarters[shift:]
    return later
