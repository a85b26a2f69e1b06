"""When to be down by, and whether what is up will stand until the crew is back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.hours.holds import hourly, sheet_factor
from planner.hours.reasons import room_by_hour
from planner.hours.records import middle
from planner.hours.spans import QUARTER, QUARTERS

if TYPE_CHECKING:
    from planner.hours.records import Conditions
    from planner.hours.spans import Span
    from planner.job.records import Limit


def down_by(
    conditions: Conditions,
    laid: tuple[Span, ...],
    limits: dict[str, tuple[Limit, ...]],
    start: int,
) -> float:
    """Give the latest moment by which everybody is down and nothing is loose.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    laid : tuple of Span
        The phases of a step on the clock.
    limits : dict of str to tuple of Limit
        By phase name.
    start : int
        The start, in quarter hours after the first hour.

    Returns
    -------
    float
        Quarter hours after the first hour: the earliest of the end of the file, the end
        of work light, the crew's stop, and, for each phase that leaves film loose and for
        the last one, the hour after its planned end in which a limit of it is passed. Not
        before the planned end of the step.
    """
    levels = {x.bound for own in limits.values() for x in own if x.quantity == "light"}
    left = [conditions.crew_left[start], *(conditions.light_left[x][start] for x in levels)]
    by_clock = [minutes for minutes in left if np.isfinite(minutes) and minutes >= 0.0]
    latest = min(
        start + min(by_clock, default=np.inf) / QUARTER, len(conditions.times) * QUARTERS
    )
    for span in laid:
        if span.phase.leave_safe and span is not laid[-1]:
            continue
        after = int(np.ceil(start / QUARTERS + span.end / 60.0))
        for limit in hourly(conditions, limits[span.phase.name]):
            passed = np.flatnonzero(room_by_hour(conditions, span, limit)[after:] < 0.0)
            if len(passed):
                latest = min(latest, float(after + passed[0]) * QUARTERS)
    return max(latest, start + laid[-1].end / QUARTER)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftAlone:
    """The state after a step, against the gusts to come.

    Attributes
    ----------
    survives : float or None
        The gust it stands unattended [m/s]; None for a state never to be left.
    worst : float
        The largest gust to come in the file, at the sheet; NaN without data [m/s].
    fails : int or None
        The first hour in which it is passed, counted from the file's first.
    """

    survives: float | None
    worst: float
    fails: int | None


def left_alone(conditions: Conditions, last: Span, start: int) -> LeftAlone:
    """Hold the state after a step against every hour that follows in the file.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    last : Span
        The last phase of the step.
    start : int
        The start, in quarter hours after the first hour.

    Returns
    -------
    LeftAlone
        What it survives, what is to come, and when that is too much.
    """
    survives = last.phase.leave_gust
    after = int(np.ceil(start / QUARTERS + last.end / 60.0))
    factor = sheet_factor(conditions, last.phase.height, "gust")
    gust = middle(conditions.values["gust"])[after:] * factor
    known = np.isfinite(gust)
    worst = float(gust[known].max()) if known.any() else float("nan")
    if survives is None:
        return LeftAlone(survives=None, worst=worst, fails=None)
    passed = np.flatnonzero(gust > survives)
    return LeftAlone(
        survives=survives, worst=worst, fails=after + int(passed[0]) if len(passed) else None
    )
