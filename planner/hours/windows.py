"""Windows: calm spells for a step, one a spell, best first.

A window is named by its best start and gives the range of starts that hold.
Neighbouring starts of the same spell are never listed as separate windows.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.holds import phase_chance, sheet_factor, starts_that_hold
from planner.hours.leaving import down_by, left_alone
from planner.hours.reasons import binding
from planner.hours.records import HourRow, PhaseTime, StepWindows, Window, middle
from planner.hours.spans import QUARTER, QUARTERS, spans
from planner.reference.tables import value
from planner.site.beaufort import beaufort
from planner.site.wet import is_dry
from planner.site.wind import hand_meter_factor

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from planner.hours.reasons import Binding
    from planner.hours.records import Conditions, Floats
    from planner.hours.spans import Span
    from planner.job.records import Limit, Phase, Step

_PERCENTILES: Final = (10.0, 50.0, 90.0)


def find_windows(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    *,
    starts_every: int = QUARTER,
    allowed: NDArray[np.bool_] | None = None,
) -> StepWindows:
    """Find the windows of a step in the hours of a place.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        The step.
    limits : dict of str to tuple of Limit
        By phase name.
    starts_every : int
        Minutes between starts, a multiple of 15 up to 60 [min].
    allowed : numpy.ndarray of bool, shape (4 * hours,), optional
        The quarter hours at which a start is to be considered at all (not past, not
        after the last day). All by default.

    Returns
    -------
    StepWindows
        Windows best first: by chance, then by room to the limits less a little for
        swing of temperature and for days ahead, then the earlier. Windows that overlap
        a better one are left out.
    """
    every = starts_every // QUARTER
    chance, slow = (
        starts_that_hold(conditions, step, limits, starts_every=starts_every, slow=slow).chance(
            conditions.weights
        )
        for slow in (False, True)
    )
    count = len(conditions.times) * QUARTERS
    starts = np.arange(0, count, every)
    open_to = np.ones(count, dtype=bool) if allowed is None else allowed
    spread = _Starts(
        chance=np.repeat(chance, every),
        slow=np.repeat(slow, every),
        bound=binding(conditions, step, limits),
    )
    considered = starts[open_to[starts]]
    found = [
        _window(conditions, step, limits, spread, spell)
        for spell in _spells(considered, spread.chance, every)
    ]
    none_because = None
    if not found and len(considered):
        least_bad = considered[spread.bound.margin[considered].argmax()]
        none_because = spread.bound.reason(int(least_bad))
    return StepWindows(
        limits=limits,
        windows=_ranked(found, clock(conditions, considered[0])) if found else (),
        hours=_hour_rows(conditions, step, spread, open_to),
        none_because=none_because,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Starts:
    """By quarter hour: chance at the crew's pace and at a slow one, and what binds."""

    chance: Floats
    slow: Floats
    bound: Binding


def _spells(considered: NDArray[np.int_], chance: Floats, every: int) -> list[NDArray[np.int_]]:
    """Give the runs of neighbouring starts whose chance is worth listing."""
    good = considered[chance[considered] >= value("planning", "least_chance_listed")]
    return np.split(good, np.flatnonzero(np.diff(good) > every) + 1) if len(good) else []


def _window(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    starts: _Starts,
    spell: NDArray[np.int_],
) -> Window:
    chance, slow = (x[spell].round(2) for x in (starts.chance, starts.slow))
    margin = np.minimum(starts.bound.margin[spell], 1.0).round(2)
    best = int(spell[np.lexsort((spell, -margin, -slow, -chance))[0]])
    wetness = conditions.values.get("wetness")
    wet = wetness is not None and not is_dry(middle(wetness)[best // QUARTERS])
    laid = spans(step, wet=wet)
    end = best + laid[-1].end / QUARTER
    temp = conditions.values.get("temp_film", conditions.values["temp_air"])
    alone = left_alone(conditions, laid[-1], best)
    return Window(
        step=step.name,
        rank=0,
        start=clock(conditions, best),
        earliest_start=clock(conditions, spell[0]),
        latest_start=clock(conditions, spell[-1]),
        end=clock(conditions, end),
        down_by=clock(conditions, down_by(conditions, laid, limits, best)),
        chance=float(starts.chance[best]),
        slow_chance=float(starts.slow[best]),
        margin=float(starts.bound.margin[best]),
        reason=starts.bound.reason(best),
        phases=tuple(_phase_time(conditions, span, limits, best) for span in laid),
        leave_gust=alone.survives,
        leave_worst=alone.worst,
        leave_fails=None if alone.fails is None else clock(conditions, alone.fails * QUARTERS),
        heat_index=_hottest(conditions, best // QUARTERS, int(np.ceil(end / QUARTERS))),
        swing=_swing(temp, best // QUARTERS, int(np.ceil(end / QUARTERS))),
    )


def clock(conditions: Conditions, quarter: float) -> pd.Timestamp:
    """Give the local time of a quarter hour counted from the first hour."""
    after = np.timedelta64(round(quarter * QUARTER * 60), "s")
    return (conditions.times[0] + after).tz_convert(conditions.time_zone)


def _swing(temp: Floats, first: int, last: int) -> float:
    """Change of the middle member's temperature over some hours [K]."""
    over = middle(temp)[first : last + 1]
    return float(over.max() - over.min())


def _hottest(conditions: Conditions, first: int, last: int) -> float | None:
    """Highest heat index of some hours in the middle member, None where it is not known."""
    index = conditions.values.get("heat_index")
    if index is None:
        return None
    over = middle(index)[first:last]
    return float(np.nanmax(over)) if np.isfinite(over).any() else None


def _phase_time(
    conditions: Conditions, span: Span, limits: dict[str, tuple[Limit, ...]], best: int
) -> PhaseTime:
    first = best + span.begin / QUARTER
    last = best + span.end / QUARTER
    hours = slice(int(first // QUARTERS), max(int(np.ceil(last / QUARTERS)), 1))
    gust = conditions.values["gust"][:, hours].max(axis=1) * sheet_factor(
        conditions, span.phase.height, "gust"
    )
    own = limits[span.phase.name]
    bound = min((x.bound for x in own if x.quantity == "gust"), default=float("nan"))
    low, middle, high = (float(number) for number in np.percentile(gust, _PERCENTILES))
    return PhaseTime(
        phase=span.phase.name,
        start=clock(conditions, first),
        end=clock(conditions, last),
        chance=phase_chance(conditions, span, own, best),
        gust=(low, middle, high),
        gust_limit=bound,
        hand_limit=bound * _in_the_hand(conditions, span.phase),
        beaufort=float(beaufort(_mean_limit(conditions, span.phase, own))),
        hands=span.phase.hands,
    )


def _in_the_hand(conditions: Conditions, phase: Phase) -> float:
    """Gust at a meter held up over gust at the sheet [-]."""
    if conditions.site_ratio is not None:
        return 1.0  # the ratio was read with the meter in the hand
    return hand_meter_factor(value("planning", "meter_height"), phase.height)


def _mean_limit(conditions: Conditions, phase: Phase, own: tuple[Limit, ...]) -> float:
    """Mean wind at 10 m at which the phase stops, NaN where none is limited [m/s]."""
    bound = min((x.bound for x in own if x.quantity == "mean_wind"), default=float("nan"))
    return bound / sheet_factor(conditions, phase.height, "mean_wind")


def _ranked(found: list[Window], first: pd.Timestamp) -> tuple[Window, ...]:
    """Put windows in order and leave out those that overlap a better one."""

    def worth(window: Window) -> tuple[float, float, pd.Timestamp]:
        ahead = (window.start - first).total_seconds() / 86_400.0
        room = (
            min(window.margin, 1.0)
            - value("planning", "swing_weight") * window.swing
            - value("planning", "lead_weight") * ahead
        )
        return (-round(window.chance, 2), -round(room, 1), window.start)

    kept: list[Window] = []
    for window in sorted(found, key=worth):
        if all(window.start >= k.end or window.end <= k.start for k in kept):
            kept.append(replace(window, rank=len(kept) + 1))
    return tuple(kept)


def _hour_rows(
    conditions: Conditions, step: Step, starts: _Starts, open_to: NDArray[np.bool_]
) -> tuple[HourRow, ...]:
    local = conditions.times.tz_convert(conditions.time_zone)
    gust = middle(conditions.values["gust"]) * sheet_factor(
        conditions, max(phase.height for phase in step.phases), "gust"
    )
    temp = middle(conditions.values["temp_air"])
    film = conditions.values.get("temp_film")
    film = None if film is None else middle(film)
    light = conditions.light_left[value("work_rules", "light_work")]
    return tuple(
        HourRow(
            time=time,
            chance=float(starts.chance[hour * QUARTERS]),
            open_to=bool(open_to[hour * QUARTERS]),
            reason=starts.bound.reason(hour * QUARTERS),
            gust_at_sheet=float(gust[hour]),
            temp_air=float(temp[hour]),
            film_temp=None if film is None else float(film[hour]),
            work_light_left=max(float(light[hour * QUARTERS]), 0.0),
        )
        for hour, time in enumerate(local)
    )
