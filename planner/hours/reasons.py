"""What binds at each start: the limit with the least room, and when.

Only the plan needs reasons, for a few hundred starts; long records do without.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.holds import hourly, inside, sees_less, sheet_factor
from planner.hours.records import Reason, middle
from planner.hours.spans import BY_CLOCK, QUARTER, QUARTERS, by_clock, clock_room, spans
from planner.job.records import QUANTITIES
from planner.reference.tables import value
from planner.site.wet import is_dry

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.hours.records import Conditions, Floats
    from planner.hours.spans import Span
    from planner.job.records import Limit, Step

#: Yes-or-no quantities: inside the limit they say nothing about how much room is left.
YES_OR_NO: Final = frozenset({"frost", "thunder", "thunder_ahead", "wetness"})
NO_DATA: Final = "no data"
_MOST: Final = 99.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """One limit of one phase: share failing, room, and the hour of the least room.

    ``share``, ``room`` and ``at`` have shape (starts,); ``at`` counts quarter hours.
    """

    span: Span
    limit: Limit
    share: Floats
    room: Floats
    at: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Binding:
    """For each start on the quarter hour, how much room is left and what binds.

    Attributes
    ----------
    margin : numpy.ndarray, shape (starts,)
        Least room over phases, limits and hours, in the limits' own scales [-];
        minus infinity without data.
    """

    margin: Floats
    _which: Floats
    _lines: tuple[_Line, ...]
    _conditions: Conditions

    def reason(self, start: int) -> Reason:
        """Give the limit that binds for a start, by its quarter hour."""
        line = self._lines[int(self._which[start])]
        return _reason(self._conditions, line, start)


def binding(
    conditions: Conditions, step: Step, limits: dict[str, tuple[Limit, ...]]
) -> Binding:
    """Find what binds at every quarter hour taken as a start of a step.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        The step.
    limits : dict of str to tuple of Limit
        By phase name.

    Returns
    -------
    Binding
        The least room and the limit it belongs to, for each start.

    Notes
    -----
    A limit that fails in more members comes before one that fails in fewer; with
    equal shares the one with the least room in the middle member binds. Wet film at
    the start makes soft phases longer, as in ``starts_that_hold``.
    """
    dry = _lines(conditions, spans(step), limits)
    wetness = conditions.values.get("wetness")
    if wetness is not None:
        wet = np.repeat(~is_dry(middle(wetness)), QUARTERS)
        if wet.any():
            slow = _lines(conditions, spans(step, wet=True), limits)
            dry = [_where(wet, w, d) for w, d in zip(slow, dry, strict=True)]
    badness = np.stack([line.share * 1e3 - np.clip(line.room, -_MOST, _MOST) for line in dry])
    which = badness.argmax(axis=0)
    room = np.stack([line.room for line in dry])
    return Binding(
        margin=room.min(axis=0), _which=which, _lines=tuple(dry), _conditions=conditions
    )


def _where(wet: NDArray[np.bool_], wet_line: _Line, dry_line: _Line) -> _Line:
    return _Line(
        span=dry_line.span,
        limit=dry_line.limit,
        share=np.where(wet, wet_line.share, dry_line.share),
        room=np.where(wet, wet_line.room, dry_line.room),
        at=np.where(wet, wet_line.at, dry_line.at),
    )


def _lines(
    conditions: Conditions, laid: tuple[Span, ...], limits: dict[str, tuple[Limit, ...]]
) -> list[_Line]:
    lines = []
    for span in laid:
        phase_limits = limits[span.phase.name]
        lines += [_hourly_line(conditions, span, x) for x in hourly(conditions, phase_limits)]
        lines += [_clock_line(conditions, span, x) for x in by_clock(phase_limits)]
    return lines


def room_by_hour(
    conditions: Conditions, span: Span, limit: Limit, *, brief: bool = False
) -> Floats:
    """Give the room to a limit in each hour, in the middle member.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    span : Span
        Its phase decides the wind at the sheet.
    limit : Limit
        Compared hour by hour.
    brief : bool
        Whether the step is in the hour only briefly.

    Returns
    -------
    numpy.ndarray, shape (hours,)
        In the limit's scale, negative outside it; infinite where there is no rain at
        all or the quantity is a plain yes; minus infinity without data [-].
    """
    if limit.quantity not in conditions.values:
        return np.full(len(conditions.times), -np.inf)
    values = middle(conditions.values[limit.quantity])
    at_sheet = values * sheet_factor(conditions, span.phase.height, limit.quantity)
    if brief and sees_less(limit):
        at_sheet = at_sheet * value("planning", "short_stay_gust")
    room = limit.bound - at_sheet if limit.side == "at most" else at_sheet - limit.bound
    room = room / limit.scale
    kept = room >= 0.0
    if limit.quantity in YES_OR_NO:
        room = np.where(kept, np.inf, -1.0)
    elif limit.quantity == "rain":
        room = np.where(at_sheet == 0.0, np.inf, room)
    return np.where(np.isnan(values), -np.inf, room)


def _hourly_line(conditions: Conditions, span: Span, limit: Limit) -> _Line:
    hours = len(conditions.times)
    fails = {
        short: conditions.weights
        @ ~np.broadcast_to(
            inside(conditions, span.phase, limit, short=short),
            (len(conditions.weights), hours),
        )
        for short in (False, True)
    }
    room = {x: room_by_hour(conditions, span, limit, brief=x) for x in (False, True)}
    share = np.zeros((hours, QUARTERS))
    least = np.full((hours, QUARTERS), np.inf)
    at = np.zeros((hours, QUARTERS))
    for quarter in range(QUARTERS):
        for hour, brief in span.hours_touched(quarter * QUARTER):
            fail, here = _ahead(fails[brief], hour, 1.0), _ahead(room[brief], hour, -np.inf)
            worse = (fail > share[:, quarter]) | (
                (fail == share[:, quarter]) & (here < least[:, quarter])
            )
            at[:, quarter] = np.where(
                worse, (np.arange(hours) + hour) * QUARTERS, at[:, quarter]
            )
            share[:, quarter] = np.maximum(share[:, quarter], fail)
            least[:, quarter] = np.minimum(least[:, quarter], here)
    return _Line(span=span, limit=limit, share=share.ravel(), room=least.ravel(), at=at.ravel())


def _ahead(values: Floats, hour: int, beyond: float) -> Floats:
    """Let each hour see the value ``hour`` hours later; ``beyond`` past the end."""
    ahead = np.full(len(values), beyond)
    ahead[: max(len(values) - hour, 0)] = values[hour:]
    return ahead


def _clock_line(conditions: Conditions, span: Span, limit: Limit) -> _Line:
    room = clock_room(conditions, span, limit)
    fails = np.broadcast_to(room < 0.0, (len(conditions.weights), room.shape[1]))
    starts = np.arange(room.shape[1], dtype=float)
    return _Line(
        span=span,
        limit=limit,
        share=conditions.weights @ fails,
        room=middle(room) / limit.scale,
        at=starts + span.end // QUARTER,
    )


def _reason(conditions: Conditions, line: _Line, start: int) -> Reason:
    quarter = min(int(line.at[start]), len(conditions.times) * QUARTERS - 1)
    at = conditions.times[quarter // QUARTERS] + np.timedelta64(
        QUARTER * (quarter % QUARTERS), "m"
    )
    limit = line.limit
    room = float(line.room[start])
    bound, unit = limit.bound, QUANTITIES[limit.quantity][0]
    if limit.quantity == "film_swing":
        number = bound - room * limit.scale
    elif limit.quantity in BY_CLOCK:
        number, bound, unit = room * limit.scale, 0.0, "min"
    elif limit.quantity not in conditions.values:
        number = np.nan
    else:
        number = middle(conditions.values[limit.quantity])[quarter // QUARTERS]
        number *= sheet_factor(conditions, line.span.phase.height, limit.quantity)
    no_data = room == -np.inf and limit.quantity not in {"light", "crew_hours"}
    return Reason(
        quantity=NO_DATA if no_data else limit.quantity,
        side=limit.side,
        value=float(number) if np.isfinite(number) else float("nan"),
        bound=bound,
        unit=unit,
        at=at.tz_convert(conditions.time_zone),
        phase=line.span.phase.name,
        share=float(line.share[start]),
    )
