"""Where each step holds: its windows, its best start of each day, and what it waits for."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.hours.holds import starts_that_hold
from planner.hours.limits import limits_for
from planner.hours.spans import QUARTERS, quarter_times
from planner.hours.windows import find_windows
from planner.plan.locks import with_pull
from planner.plan.outlook import starts_by_day
from planner.plan.records import StepPlan
from planner.plan.sequence import Laid

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from planner.hours.records import Conditions
    from planner.job.records import Job, Step


def lay_steps(
    job: Job, conditions: Conditions, *, now: pd.Timestamp, on: dt.date | None
) -> tuple[tuple[StepPlan, ...], tuple[Laid, ...]]:
    """Find the windows of each step still to do, after what it waits for.

    Parameters
    ----------
    job : Job
        With its steps laid out.
    conditions : Conditions
        The hours.
    now : pandas.Timestamp
        Starts before it are past.
    on : datetime.date or None
        The only local day to look at.

    Returns
    -------
    tuple
        The steps as planned, and as the order of all of them needs them.

    Notes
    -----
    Roof and end walls wait for the first hours of what comes before them; what follows the
    roof waits for its best hours, since those are the ones that the answer is about.
    """
    planned: dict[str, StepPlan] = {}
    laid = []
    for step in job.steps:
        if step.done:
            continue
        limits = limits_for(job, step)
        holds = starts_that_hold(conditions, step, limits, starts_every=job.starts_every)
        open_to = open_quarters(job, conditions, now=now, on=on)
        laid.append(Laid(step=step, holds=holds, open_to=open_to))
        allowed = open_to & _after_others(step, conditions, planned)
        found = find_windows(
            conditions,
            step,
            limits,
            starts_every=job.starts_every,
            allowed=allowed,
            holds=holds,
        )
        planned[step.name] = StepPlan(
            step=step,
            found=replace(
                found, windows=tuple(with_pull(x, job, conditions) for x in found.windows)
            ),
            days=starts_by_day(
                conditions, step, limits, holds=holds, allowed=allowed, stakes=job.stakes
            ),
        )
    return tuple(planned.values()), tuple(laid)


def open_quarters(
    job: Job, conditions: Conditions, *, now: pd.Timestamp, on: dt.date | None
) -> NDArray[np.bool_]:
    """Say at which quarter hours anything may start: not past, not after the last day.

    Parameters
    ----------
    job : Job
        With its last day.
    conditions : Conditions
        The hours.
    now : pandas.Timestamp
        Starts before it are past.
    on : datetime.date or None
        The only local day to look at.

    Returns
    -------
    numpy.ndarray of bool, shape (4 * hours,)
        True where it may.
    """
    times = _times(conditions)
    open_to = np.asarray(times >= now)
    if job.finish_by:
        open_to &= times.date <= job.finish_by
    if on is not None:
        open_to &= times.date == on
    return open_to


def _times(conditions: Conditions) -> pd.DatetimeIndex:
    return quarter_times(conditions, np.arange(len(conditions.times) * QUARTERS))


def _after_others(
    step: Step, conditions: Conditions, planned: dict[str, StepPlan]
) -> NDArray[np.bool_]:
    """Quarter hours that are not too early for what the step waits for."""
    times = _times(conditions)
    allowed = np.ones(len(times), dtype=bool)
    for name in step.after:
        before = planned.get(name)
        if before is None:
            continue
        if not before.found.windows:
            allowed[:] = False
            continue
        end = before.found.windows[0].end
        if step.sheet in {"roof", "end wall"}:
            end = min(window.end for window in before.found.windows)
        allowed &= np.asarray(times >= end)
        if step.nights_after:
            allowed &= times.date >= end.date() + dt.timedelta(days=step.nights_after)
    return allowed
