"""Windows: calm spells for a step, one a spell, best first.

A window is named by its best start and gives the range of starts that hold.
Neighbouring starts of the same spell are never listed as separate windows.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.holds import (
    QUARTER,
    QUARTERS,
    hourly,
    phase_chance,
    sheet_factor,
    spans,
    starts_that_hold,
)
from planner.hours.reasons import binding, room_by_hour
from planner.hours.records import HourRow, PhaseTime, StepWindows, Window
from planner.reference.tables import value

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from planner.hours.holds import Span
    from planner.hours.reasons import Binding
    from planner.hours.records import Conditions, Floats
    from planner.job.records import Limit, Step

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
    chance = starts_that_hold(conditions, step, limits, starts_every=starts_every).chance(
        conditions.weights
    )
    quarters = np.full(len(conditions.times) * QUARTERS, -1.0)
    quarters[::every] = chance
    if allowed is not None:
        quarters[~allowed] = -1.0
    bound = binding(conditions, step, limits)
    found = [
        _window(conditions, step, limits, bound, spell, quarters)
        for spell in _spells(quarters, every)
    ]
    none_because = None
    considered = np.flatnonzero(quarters >= 0.0)
    if not found and len(considered):
        none_because = bound.reason(int(considered[bound.margin[considered].argmax()]))
    return StepWindows(
        limits=limits,
        windows=_ranked(found, clock(conditions, considered[0])) if found else (),
        hours=_hour_rows(conditions, step, bound, quarters),
        none_because=none_because,
    )


def _spells(chance: Floats, every: int) -> list[np.ndarray]:
    """Give the runs of neighbouring starts whose chance is worth listing."""
    good = np.flatnonzero(chance >= value("planning", "least_chance_listed"))
    return np.split(good, np.flatnonzero(np.diff(good) > every) + 1) if len(good) else []


def _window(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    bound: Binding,
    spell: np.ndarray,
    chance: Floats,
) -> Window:
    margin = np.minimum(bound.margin[spell], 1.0)
    best = int(spell[np.lexsort((spell, -margin.round(2), -chance[spell].round(2)))[0]])
    wetness = conditions.values.get("wetness")
    wet = wetness is not None and bool(
        np.median(wetness[:, best // QUARTERS]) > value("terrain", "film_dry_below")
    )
    laid = spans(step, wet=wet)
    end = best + laid[-1].end / QUARTER
    temp = conditions.values["temp_air"]
    return Window(
        step=step.name,
        rank=0,
        start=clock(conditions, best),
        earliest_start=clock(conditions, spell[0]),
        latest_start=clock(conditions, spell[-1]),
        end=clock(conditions, end),
        down_by=clock(conditions, _down_by(conditions, laid, limits, best)),
        chance=float(chance[best]),
        margin=float(bound.margin[best]),
        reason=bound.reason(best),
        phases=tuple(_phase_time(conditions, span, limits, best) for span in laid),
        swing=_swing(temp, best // QUARTERS, int(np.ceil(end / QUARTERS))),
    )


def clock(conditions: Conditions, quarter: float) -> pd.Timestamp:
    """Give the local time of a quarter hour counted from the first hour."""
    after = np.timedelta64(round(quarter * QUARTER * 60), "s")
    return (conditions.times[0] + after).tz_convert(conditions.time_zone)


def _swing(temp: Floats, first: int, last: int) -> float:
    """Change of the middle member's temperature over some hours [K]."""
    over = np.median(temp, axis=0)[first : last + 1]
    return float(over.max() - over.min())


def _down_by(
    conditions: Conditions,
    laid: tuple[Span, ...],
    limits: dict[str, tuple[Limit, ...]],
    best: int,
) -> float:
    """Give the quarter hour by which everybody is down and the sheet is leave-safe.

    The earliest of the end of work light, the crew's stop, and the hour in which a
    limit of the last phase is first passed.
    """
    last = laid[-1]
    left = [conditions.crew_left[best]]
    left += [
        conditions.light_left[x.bound][best]
        for x in limits[last.phase.name]
        if x.quantity == "light"
    ]
    by_clock = [minutes for minutes in left if np.isfinite(minutes) and minutes >= 0.0]
    latest = best + min(by_clock, default=24.0 * 60.0) / QUARTER
    after = int(np.ceil(best / QUARTERS + laid[-1].end / 60.0))
    for limit in hourly(conditions, limits[last.phase.name]):
        passed = np.flatnonzero(room_by_hour(conditions, last, limit)[after:] < 0.0)
        if len(passed):
            latest = min(latest, float(after + passed[0]) * QUARTERS)
    return max(latest, best + laid[-1].end / QUARTER)


def _phase_time(
    conditions: Conditions, span: Span, limits: dict[str, tuple[Limit, ...]], best: int
) -> PhaseTime:
    first = best + span.begin / QUARTER
    last = best + span.end / QUARTER
    hours = slice(int(first // QUARTERS), max(int(np.ceil(last / QUARTERS)), 1))
    gust = conditions.values["gust"][:, hours].max(axis=1) * sheet_factor(
        conditions, span.phase, "gust"
    )
    own = limits[span.phase.name]
    kept = [x.bound for x in own if x.quantity == "gust"]
    low, middle, high = (float(number) for number in np.percentile(gust, _PERCENTILES))
    return PhaseTime(
        phase=span.phase.name,
        start=clock(conditions, first),
        end=clock(conditions, last),
        chance=phase_chance(conditions, span, own, best),
        gust=(low, middle, high),
        gust_limit=min(kept, default=float("nan")),
        hands=span.phase.hands,
    )


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
    conditions: Conditions, step: Step, bound: Binding, chance: Floats
) -> tuple[HourRow, ...]:
    local = conditions.times.tz_convert(conditions.time_zone)
    gust = np.median(conditions.values["gust"], axis=0) * sheet_factor(
        conditions, max(step.phases, key=lambda phase: phase.height), "gust"
    )
    temp = np.median(conditions.values["temp_air"], axis=0)
    light = conditions.light_left[value("work_rules", "light_work")]
    return tuple(
        HourRow(
            time=time,
            chance=max(float(chance[hour * QUARTERS]), 0.0),
            reason=bound.reason(hour * QUARTERS),
            gust_at_sheet=float(gust[hour]),
            temp_air=float(temp[hour]),
            film_temp=None,
            work_light_left=max(float(light[hour * QUARTERS]), 0.0),
        )
        for hour, time in enumerate(local)
    )
