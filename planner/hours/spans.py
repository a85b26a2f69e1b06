"""Phases on the clock: when each begins and ends, and the limits that run by the clock.

Light, crew hours and the swing of film temperature are met at quarter hours; all other
limits are compared hour by hour, in ``holds``.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.job.phases import FIRST_LOCKS
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterator

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
        for hour in range(int(begin // 60), max(int(np.ceil(end / 60)), int(begin // 60) + 1)):
            last, first = (
                min(offset + self.step_end, 60.0 * (hour + 1)),
                max(offset, 60.0 * hour),
            )
            yield hour, last - first < value("planning", "short_stay_minutes")


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


def slow_pace() -> float:
    """Pace that one crew in ten exceeds, over the crew's own [-]."""
    return math.exp(_NINE_IN_TEN * value("labour", "pace_spread"))


def by_clock(limits: tuple[Limit, ...]) -> tuple[Limit, ...]:
    """Give the limits that run by the clock."""
    return tuple(limit for limit in limits if limit.governs and limit.quantity in BY_CLOCK)


def clock_holds(conditions: Conditions, span: Span, limit: Limit) -> Booleans:
    """Say at which quarter hours a limit that runs by the clock is kept.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    span : Span
        The phase on the clock of its step.
    limit : Limit
        Of ``light``, ``crew_hours`` or ``film_swing``.

    Returns
    -------
    numpy.ndarray, shape (members or 1, 4 * hours)
        Where ``clock_room`` is not negative, found without working that out.
    """
    if limit.quantity == "film_swing":
        film = _film(conditions)
        first, last = (int(minutes // QUARTER) for minutes in (span.locks_from, span.end))
        count = max(film.shape[1] - last, 0)
        change = film[:, last:] - film[:, first : first + count]
        kept = np.zeros(film.shape, dtype=bool)
        kept[:, :count] = np.abs(change, out=change) <= limit.bound
        return kept
    left, shift, needed = _time_left(conditions, span, limit)
    kept = np.zeros((1, len(left)), dtype=bool)
    kept[0, : max(len(left) - shift, 0)] = left[shift:] >= max(needed, 0.0)
    return kept


def clock_room(conditions: Conditions, span: Span, limit: Limit) -> Floats:
    """Room to a limit that runs by the clock, at each quarter hour taken as a start.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    span : Span
        The phase on the clock of its step.
    limit : Limit
        Of ``light``, ``crew_hours`` or ``film_swing``.

    Returns
    -------
    numpy.ndarray, shape (members or 1, 4 * hours)
        Minutes left over [min], or degrees of swing left over [K]; minus infinity
        past the end of the file.
    """
    if limit.quantity == "film_swing":
        film = _film(conditions)
        change = np.abs(_later(film, span.end) - _later(film, span.locks_from))
        return np.where(np.isnan(change), -np.inf, limit.bound - change)
    left, shift, needed = _time_left(conditions, span, limit)
    room = _later(left[None, :], QUARTER * shift)
    return np.where(np.isnan(room) | (room < 0.0), -np.inf, room - needed)


def _time_left(conditions: Conditions, span: Span, limit: Limit) -> tuple[Floats, int, float]:
    """Give minutes left by quarter hour, quarters after the start, minutes needed then."""
    if limit.quantity == "light":
        left, slow = conditions.light_left[limit.bound], slow_pace()
    else:
        left, slow = conditions.crew_left, 1.0
    shift = int(span.begin * slow // QUARTER)
    return left, shift, span.end * slow - QUARTER * shift


def _film(conditions: Conditions) -> Floats:
    """Film temperature by quarter hours, NaN where the file does not say enough [degC]."""
    unknown = np.full((1, QUARTERS * len(conditions.times)), np.nan)
    return conditions.values.get("film_swing", unknown)


def _later(quarters: Floats, minutes: float) -> Floats:
    """Shift quarter hours so that each start sees the value ``minutes`` later."""
    shift = min(int(minutes // QUARTER), quarters.shape[1])
    later = np.full_like(quarters, np.nan)
    later[:, : quarters.shape[1] - shift] = quarters[:, shift:]
    return later
