"""What binds at each start: the limit with the least room, and when.

Only the plan needs reasons, for a few hundred starts; long records do without.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.holds import hourly, inside, met, sheet_factor
from planner.hours.records import Reason, share
from planner.hours.spans import (
    BY_CLOCK,
    QUARTER,
    QUARTERS,
    by_clock,
    clock,
    clock_holds,
    clock_room,
    crew_pace,
    paces,
    spans,
)
from planner.job.records import QUANTITIES
from planner.site.wet import is_dry

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.hours.records import Conditions, Floats
    from planner.hours.spans import Pace, Span
    from planner.job.records import Limit, Phase, Step

    #: One phase on the clock, at each pace.
    Spans = dict[Pace, Span]

#: Yes-or-no quantities: inside the limit they say nothing about how much room is left.
YES_OR_NO: Final = frozenset({"frost", "thunder", "thunder_ahead", "wetness"})
NO_DATA: Final = "no data"
_MOST: Final = 99.0
_NOT_IN_IT: Final = 2  # place of the rooms of an hour that the crew is not in


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lines:
    """Limits of phases, one a row: share failing, room, and the hour that binds.

    ``share``, ``room`` and ``at`` have shape (rows, starts); ``at`` counts quarter hours.
    """

    rows: tuple[tuple[Phase, Limit], ...]
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
    _which: NDArray[np.int_]
    _lines: _Lines
    _conditions: Conditions

    def reason(self, start: int) -> Reason:
        """Give the limit that binds for a start, by its quarter hour."""
        return _reason(self._conditions, self._lines, row=int(self._which[start]), start=start)


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
    equal shares the one with the least room in the middle member binds. Members fail at
    their own pace, room is that at the crew's. If the film is wet at the start in the
    middle member, soft phases are taken as longer in all of them.
    """
    tables = [_table(conditions, phase, limits[phase.name]) for phase in step.phases]
    lines = _lines(conditions, step, tables, wet=False)
    if "wetness" in conditions.values:
        wet = np.repeat(~is_dry(conditions.middle("wetness")), QUARTERS)
        if wet.any():
            longer = _lines(conditions, step, tables, wet=True)
            lines = _Lines(
                rows=lines.rows,
                share=np.where(wet, longer.share, lines.share),
                room=np.where(wet, longer.room, lines.room),
                at=np.where(wet, longer.at, lines.at),
            )
    badness = lines.share * 1e3 - np.clip(lines.room, -_MOST, _MOST)
    return Binding(
        margin=lines.room.min(axis=0),
        _which=badness.argmax(axis=0),
        _lines=lines,
        _conditions=conditions,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Table:
    """Limits of one phase; those by the hour with who fails them and how much room is left.

    ``failing`` is the weight of the members of each pace outside a limit, shape (2, limits,
    paces, hours), and ``rooms`` the room in the middle member, shape (3, limits, hours):
    first for a step that fills the hour, then for one that is in it briefly; no end of room
    for one that is not in it at all.
    """

    hourly: tuple[Limit, ...]
    by_clock: tuple[Limit, ...]
    failing: Floats
    rooms: Floats


def _table(conditions: Conditions, phase: Phase, limits: tuple[Limit, ...]) -> _Table:
    compared, both = hourly(conditions, limits), (False, True)
    failing = [
        [_failing(conditions, phase, x, short=brief) for x in compared] for brief in both
    ]
    rooms = [
        *(
            [room_by_hour(conditions, phase, x, brief=brief) for x in compared]
            for brief in both
        ),
        [np.full(len(conditions.times), np.inf) for _ in compared],
    ]
    return _Table(
        hourly=compared,
        by_clock=by_clock(limits),
        failing=np.array(failing),
        rooms=np.array(rooms),
    )


def _lines(conditions: Conditions, step: Step, tables: list[_Table], *, wet: bool) -> _Lines:
    laid = {pace: spans(step, pace=pace.work, wet=wet) for pace in paces(conditions)}
    parts = []
    for at, span in enumerate(spans(step, wet=wet)):
        each = {pace: theirs[at] for pace, theirs in laid.items()}
        if tables[at].hourly:
            parts.append(_hourly_lines(conditions, span, each, table=tables[at]))
        parts += [
            _clock_line(conditions, span, each, limit=limit) for limit in tables[at].by_clock
        ]
    return _Lines(
        rows=tuple(row for part in parts for row in part.rows),
        share=np.concatenate([part.share for part in parts]),
        room=np.concatenate([part.room for part in parts]),
        at=np.concatenate([part.at for part in parts]),
    )


def room_by_hour(
    conditions: Conditions, phase: Phase, limit: Limit, *, brief: bool = False
) -> Floats:
    """Give the room to a limit in each hour, in the middle member.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    phase : Phase
        Its height decides the wind at the sheet.
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
    factor = met(conditions, phase, limit, short=brief)

    def work_out() -> Floats:
        at_sheet = conditions.middle(limit.quantity) * factor
        room = limit.bound - at_sheet if limit.side == "at most" else at_sheet - limit.bound
        room = room / limit.scale
        if limit.quantity in YES_OR_NO:
            room = np.where(room >= 0.0, np.inf, -1.0)
        elif limit.quantity == "rain":
            room = np.where(at_sheet == 0.0, np.inf, room)
        return np.where(np.isnan(at_sheet), -np.inf, room)

    key = ("room", limit.quantity, limit.side, limit.bound, limit.scale, factor)
    return conditions.once(key, work_out)


def _failing(conditions: Conditions, phase: Phase, limit: Limit, *, short: bool) -> Floats:
    """Weight of the members of each pace that fail a limit, shape (paces, hours) [-]."""
    factor = met(conditions, phase, limit, short=short)

    def work_out() -> Floats:
        fails = ~inside(conditions, phase, limit, short=short)
        return np.stack(
            [
                share(conditions.weights[pace.members], pace.of(fails))
                for pace in paces(conditions)
            ]
        )

    key = ("failing", limit.quantity, limit.side, limit.bound, factor)
    return conditions.once(key, work_out)


def _hourly_lines(conditions: Conditions, own: Span, each: Spans, *, table: _Table) -> _Lines:
    """Give the worst hour of every limit; arrays have the quarter of the start in front."""
    touched, mine = _touched(own, each)
    failing = (touched[:, :, None] @ table.failing).sum(axis=1)  # quarter, limit, after, hour
    beyond = touched.sum(axis=1) @ _weights(conditions)
    most = np.zeros((QUARTERS, *table.rooms[0].shape))
    least = np.full_like(most, np.inf)
    at = np.zeros_like(most)
    starts = np.arange(most.shape[-1])
    for hour in range(touched.shape[2]):
        fail = _ahead(failing[:, :, hour], hour, beyond[:, hour])
        past = np.where(mine[:, hour] == _NOT_IN_IT, np.inf, -np.inf)
        here = _ahead(table.rooms[mine[:, hour]], hour, past)
        worse = (fail > most) | ((fail == most) & (here < least))
        at = np.where(worse, (starts + hour) * QUARTERS, at)
        most = np.maximum(most, fail)
        least = np.minimum(least, here)
    return _Lines(
        rows=tuple((own.phase, limit) for limit in table.hourly),
        share=_by_start(most),
        room=_by_start(least),
        at=_by_start(at),
    )


def _touched(own: Span, each: Spans) -> tuple[Floats, NDArray[np.int_]]:
    """Say who is in which hour after a start on each quarter, fully or briefly.

    First by pace, 1 for yes, shape (quarters, 2, hours after, paces); then at the crew's own
    pace, as a place among the rooms of a table, shape (quarters, hours after).
    """
    offsets = range(0, 60, QUARTER)
    found = [
        [list(x.hours_touched(offset)) for x in (own, *each.values())] for offset in offsets
    ]
    hours = 1 + max(one[-1][0] for quarter in found for one in quarter)
    touched = np.zeros((QUARTERS, 2, hours, len(each)))
    mine = np.full((QUARTERS, hours), _NOT_IN_IT)
    for quarter, (first, *others) in enumerate(found):
        for hour, brief in first:
            mine[quarter, hour] = int(brief)
        for pace, other in enumerate(others):
            for hour, brief in other:
                touched[quarter, int(brief), hour, pace] = 1.0
    return touched, mine


def _ahead(values: Floats, hour: int, beyond: Floats) -> Floats:
    """Let each hour see the value ``hour`` hours later; past the end ``beyond``, by quarter."""
    ahead = np.empty_like(values)
    in_file = max(values.shape[-1] - hour, 0)
    ahead[..., :in_file] = values[..., hour:]
    ahead[..., in_file:] = beyond[:, None, None]
    return ahead


def _by_start(values: Floats) -> Floats:
    """Put quarters behind their hours, shape (limits, starts)."""
    return values.transpose(1, 2, 0).reshape(values.shape[1], -1)


def _weights(conditions: Conditions) -> Floats:
    """Weight of all members of each pace [-]."""

    def work_out() -> Floats:
        return np.array([conditions.weights[x.members].sum() for x in paces(conditions)]).round(
            9
        )

    return conditions.once("weights", work_out)


def _clock_line(conditions: Conditions, own: Span, each: Spans, *, limit: Limit) -> _Lines:
    room = clock_room(conditions, own, limit, crew_pace(conditions)) / limit.scale
    fails = np.zeros(len(room))
    for (pace, span), all_of_them in zip(each.items(), _weights(conditions), strict=True):
        kept = clock_holds(conditions, span, limit, pace)
        if len(kept) == 1:
            fails += all_of_them * ~kept[0]
        else:
            fails += (all_of_them - share(conditions.weights[pace.members], kept)).round(9)
    at = np.arange(len(room), dtype=float) + own.end // QUARTER
    return _Lines(rows=((own.phase, limit),), share=fails[None], room=room[None], at=at[None])


def _reason(conditions: Conditions, lines: _Lines, *, row: int, start: int) -> Reason:
    phase, limit = lines.rows[row]
    quarter = min(int(lines.at[row, start]), len(conditions.times) * QUARTERS - 1)
    room = float(lines.room[row, start])
    bound, unit = limit.bound, QUANTITIES[limit.quantity][0]
    if limit.quantity == "film_swing":
        number = bound - room * limit.scale
    elif limit.quantity in BY_CLOCK:
        number, bound, unit = room * limit.scale, 0.0, "min"
    elif limit.quantity not in conditions.values:
        number = np.nan
    else:
        number = float(conditions.middle(limit.quantity)[quarter // QUARTERS])
        number *= sheet_factor(conditions, phase.height, limit.quantity)
    no_data = room == -np.inf and limit.quantity not in {"light", "crew_hours"}
    return Reason(
        quantity=NO_DATA if no_data else limit.quantity,
        side=limit.side,
        value=float(number) if np.isfinite(number) else float("nan"),
        bound=bound,
        unit=unit,
        at=clock(conditions, quarter),
        phase=phase.name,
        share=float(lines.share[row, start]),
    )
