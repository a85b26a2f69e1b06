"""Which starts hold: every phase inside every limit, from this start on.

Limits are compared once an hour. Only the outcome, true or false, is carried to
the quarter hours at which a step may start, and members are reduced before
anything leaves this file; so memory stays at a few arrays of (members, hours).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.reference.tables import value
from planner.site.wind import gust_at_height, mean_at_height

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from planner.hours.records import Conditions, Floats
    from planner.job.records import Limit, Phase, Step

    Booleans = NDArray[np.bool_]

_NINE_IN_TEN: Final = 1.2815515655446004  # standard normal deviate with 90 % below it
QUARTER: Final = 15
QUARTERS: Final = 4
#: Quantities with their own clock, not compared hour by hour.
BY_CLOCK: Final = frozenset({"light", "crew_hours", "film_swing"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A phase on the clock of its step: minutes after the start [min]."""

    phase: Phase
    begin: float
    end: float

    def hours_touched(self, offset: float) -> Iterator[tuple[int, float]]:
        """Give (hours after the start's hour, minutes of it) for a start past the hour."""
        begin, end = offset + self.begin, offset + self.end
        for hour in range(int(begin // 60), max(int(np.ceil(end / 60)), int(begin // 60) + 1)):
            yield hour, min(end, 60.0 * (hour + 1)) - max(begin, 60.0 * hour)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Holds:
    """Which starts hold.

    Attributes
    ----------
    ok : numpy.ndarray, shape (members, starts)
        True where every phase stays inside every limit.
    every : int
        Minutes between starts [min]; the first start is the first hour's.
    """

    ok: Booleans
    every: int

    def chance(self, weights: Floats) -> Floats:
        """Weighted share of members that hold, shape (starts,) [-]."""
        return np.asarray(weights @ self.ok, dtype=float)


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
    at = 0.0
    laid = []
    for phase in step.phases:
        minutes = phase.minutes * pace
        if wet and phase.wet == "damp":
            minutes *= value("labour", "wet_minutes_factor")
        laid.append(Span(phase=phase, begin=at, end=at + minutes))
        at += minutes
    return tuple(laid)


def slow_pace() -> float:
    """Pace that one crew in ten exceeds, over the crew's own [-]."""
    return math.exp(_NINE_IN_TEN * value("labour", "pace_spread"))


def sheet_factor(conditions: Conditions, phase: Phase, quantity: str) -> float:
    """Wind at the sheet over wind at 10 m for a phase, 1 for what is not wind [-]."""
    if quantity not in {"gust", "mean_wind"}:
        return 1.0
    if conditions.site_ratio is not None:
        return conditions.site_ratio
    at_height = gust_at_height if quantity == "gust" else mean_at_height
    return float(at_height(1.0, phase.height))


def inside(
    conditions: Conditions,
    phase: Phase,
    limit: Limit,
    *,
    short: bool,
    hours: slice = slice(None),
) -> Booleans:
    """Say in which hours a limit is kept.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    phase : Phase
        Its height decides the wind at the sheet.
    limit : Limit
        The limit, of a quantity that ``conditions`` holds.
    short : bool
        Whether the phase touches the hour for less than 20 minutes, so that it sees
        a little less than the hour's top gust.
    hours : slice
        Which hours; all by default.

    Returns
    -------
    numpy.ndarray, shape (members or 1, hours)
        False also where there is no data.
    """
    values = conditions.values[limit.quantity][:, hours]
    factor = sheet_factor(conditions, phase, limit.quantity)
    if short and limit.quantity == "gust":
        factor *= value("planning", "short_stay_gust")
    bound = limit.bound / factor
    return values <= bound if limit.side == "at most" else values >= bound


def hourly(conditions: Conditions, limits: tuple[Limit, ...]) -> tuple[Limit, ...]:
    """Give the limits that are compared hour by hour and that the weather can answer."""
    return tuple(
        limit
        for limit in limits
        if limit.governs
        and limit.quantity not in BY_CLOCK
        and limit.quantity in conditions.values
    )


def by_clock(conditions: Conditions, limits: tuple[Limit, ...]) -> tuple[Limit, ...]:
    """Give the limits that run by the clock and that the weather can answer."""
    return tuple(
        limit
        for limit in limits
        if limit.governs
        and limit.quantity in BY_CLOCK
        and (limit.quantity != "film_swing" or "film_swing" in conditions.values)
    )


def starts_that_hold(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    *,
    starts_every: int = QUARTER,
) -> Holds:
    """Find the starts from which a whole step stays inside its limits.

    The answer to "if we begin at this time, does every phase hold?", for every
    possible weather and every start in the file.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        Its phases follow each other without a pause.
    limits : dict of str to tuple of Limit
        By phase name.
    starts_every : int
        Minutes between starts, a multiple of 15 up to 60 [min].

    Returns
    -------
    Holds
        One column a start.

    Notes
    -----
    Weather is met at the crew's own pace, light at the slow pace that one crew in
    ten exceeds. If the film is wet in the hour of the start, soft phases take
    longer. A start whose phases run past the end of the file does not hold.
    """
    dry = _hold(conditions, spans(step), limits, starts_every)
    wetness = conditions.values.get("wetness")
    soft = any(phase.wet == "damp" for phase in step.phases)
    if wetness is None or not soft:
        return Holds(ok=dry, every=starts_every)
    wet = ~(wetness <= value("terrain", "film_dry_below"))
    if not wet.any():
        return Holds(ok=dry, every=starts_every)
    slow = _hold(conditions, spans(step, wet=True), limits, starts_every)
    wet_start = np.repeat(wet, 60 // starts_every, axis=1)
    return Holds(ok=np.where(wet_start, slow, dry), every=starts_every)


def _hold(
    conditions: Conditions,
    laid: tuple[Span, ...],
    limits: dict[str, tuple[Limit, ...]],
    every: int,
) -> Booleans:
    hours = len(conditions.times)
    offsets = range(0, 60, every)
    members = len(conditions.weights)
    ok = np.ones((len(offsets), members, hours), dtype=bool)
    for span in laid:
        phase_limits = limits[span.phase.name]
        full, short = _all_inside(conditions, span.phase, phase_limits)
        for at, offset in enumerate(offsets):
            for hour, minutes in span.hours_touched(offset):
                kept = short if minutes < value("planning", "short_stay_minutes") else full
                in_file = max(hours - hour, 0)
                ok[at, :, :in_file] &= kept[:, hour:]
                ok[at, :, in_file:] = False
        _and_clock(ok, conditions, span, phase_limits)
    return ok.transpose(1, 2, 0).reshape(members, hours * len(offsets))


def phase_chance(
    conditions: Conditions, span: Span, limits: tuple[Limit, ...], start: int
) -> float:
    """Give the chance that one phase holds, if its step starts at a quarter hour.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    span : Span
        The phase on the clock of its step.
    limits : tuple of Limit
        Of the phase.
    start : int
        Quarter hours after the first hour.

    Returns
    -------
    float
        Weighted share of members [-].
    """
    hour, quarter = divmod(start, QUARTERS)
    kept = np.ones(len(conditions.weights), dtype=bool)
    for after, minutes in span.hours_touched(quarter * QUARTER):
        short = minutes < value("planning", "short_stay_minutes")
        at = slice(hour + after, hour + after + 1)
        for limit in hourly(conditions, limits):
            kept &= inside(conditions, span.phase, limit, short=short, hours=at).all(axis=1)
    return float(conditions.weights @ kept)


def _all_inside(
    conditions: Conditions, phase: Phase, limits: tuple[Limit, ...]
) -> tuple[Booleans, Booleans]:
    """Hours inside every limit: for a phase that fills the hour, and for a short stay."""
    full = np.ones((1, len(conditions.times)), dtype=bool)
    short = full
    for limit in hourly(conditions, limits):
        kept = inside(conditions, phase, limit, short=False)
        brief = (
            inside(conditions, phase, limit, short=True) if limit.quantity == "gust" else kept
        )
        full, short = full & kept, short & brief
    return full, short


def _and_clock(
    ok: Booleans, conditions: Conditions, span: Span, limits: tuple[Limit, ...]
) -> None:
    """Take out the starts from which a phase meets the dark or the end of the day."""
    step = QUARTERS // len(ok)
    for limit in by_clock(conditions, limits):
        kept = _clock_holds(conditions, span, limit)
        ok &= kept.reshape(kept.shape[0], -1, QUARTERS)[:, :, ::step].transpose(2, 0, 1)


def _clock_holds(conditions: Conditions, span: Span, limit: Limit) -> Booleans:
    """Say at which quarter hours ``clock_room`` is not negative, without working it out."""
    if limit.quantity == "film_swing":
        film = conditions.values["film_swing"]
        first, last = (int(minutes // QUARTER) for minutes in (span.begin, span.end))
        count = max(film.shape[1] - last, 0)
        change = film[:, last:] - film[:, first : first + count]
        kept = np.zeros(film.shape, dtype=bool)
        kept[:, :count] = np.abs(change, out=change) <= limit.bound
        return kept
    left, shift, needed = _time_left(conditions, span, limit)
    kept = np.zeros((1, len(left)), dtype=bool)
    kept[0, : max(len(left) - shift, 0)] = left[shift:] >= max(needed, 0.0)
    return kept


def _time_left(conditions: Conditions, span: Span, limit: Limit) -> tuple[Floats, int, float]:
    """Give minutes left by quarter hour, quarters after the start, minutes needed then."""
    if limit.quantity == "light":
        left, slow = conditions.light_left[limit.bound], slow_pace()
    else:
        left, slow = conditions.crew_left, 1.0
    shift = int(span.begin * slow // QUARTER)
    return left, shift, span.end * slow - QUARTER * shift


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
        film = conditions.values["film_swing"]
        change = np.abs(_later(film, span.end) - _later(film, span.begin))
        return np.where(np.isnan(change), -np.inf, limit.bound - change)
    left, shift, needed = _time_left(conditions, span, limit)
    room = _later(left[None, :], QUARTER * shift)
    return np.where(np.isnan(room) | (room < 0.0), -np.inf, room - needed)


def _later(quarters: Floats, minutes: float) -> Floats:
    """Shift quarter hours so that each start sees the value ``minutes`` later."""
    shift = int(minutes // QUARTER)
    later = np.full_like(quarters, np.nan)
    later[:, : quarters.shape[1] - shift] = quarters[:, shift:]
    return later
