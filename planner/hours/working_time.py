"""When the crew can be at work: the light it needs and its own hours, by quarter hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.hours.spans import QUARTER, QUARTERS
from planner.reference.tables import value
from planner.site.sun import local_moment, stamp

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from planner.hours.records import Floats
    from planner.job.records import Job

    Times = NDArray[np.datetime64]


def light_levels(job: Job) -> set[float]:
    """Give every level of light that some limit of the job may ask for [lx]."""
    typed = {limit.low for limit in job.limits if limit.quantity == "light"}
    return {level for level in typed if level is not None} | {value("work_rules", "light_work")}


def crew_times(
    job: Job, days: Sequence[dt.date], *, light_begin: Times, light_end: Times
) -> tuple[Times, Times]:
    """Give begin and end of the crew's hours on each local day; days off have none.

    Parameters
    ----------
    job : Job
        With its crew.
    days : sequence of datetime.date
        Local days.
    light_begin, light_end : numpy.ndarray, shape (days,)
        Work light of those days, UTC [-].

    Returns
    -------
    tuple of numpy.ndarray, shape (days,)
        UTC, NaT where nobody comes. "First light" and "last light" set no bound where
        the job drops the light limit.
    """

    def by_the_clock(minutes: float) -> Times:
        return stamp(local_moment(days, job.place.time_zone, hours=minutes / 60.0))

    begin, end = light_begin, light_end
    if any(limit.quantity == "light" and limit.off and not limit.step for limit in job.limits):
        begin, end = by_the_clock(0.0), by_the_clock(24.0 * 60.0)
    if not isinstance(job.crew.start, str):
        begin = by_the_clock(job.crew.start)
    if not isinstance(job.crew.stop, str):
        end = by_the_clock(job.crew.stop)
    days_off = job.crew.days_off
    if not days_off:
        return begin, end
    off = np.array([day in days_off or f"{day:%A}" in days_off for day in days])
    return np.where(off, np.datetime64("NaT", "ns"), begin), end


def minutes_left(times: pd.DatetimeIndex, begin: Times, end: Times) -> Floats:
    """Give the minutes left to the end of its stretch at each quarter hour.

    Parameters
    ----------
    times : pandas.DatetimeIndex, shape (hours,)
        Starts of the hours, UTC.
    begin, end : numpy.ndarray, shape (stretches,)
        In order, UTC, NaT for none; stretches that touch are one [-].

    Returns
    -------
    numpy.ndarray, shape (4 * hours,)
        Negative outside every stretch [min].
    """
    known = ~(np.isnat(begin) | np.isnat(end))
    first = times[0].tz_localize(None).to_numpy()
    start, stop = ((x[known] - first) / np.timedelta64(1, "m") for x in (begin, end))
    for at in range(len(start) - 2, -1, -1):
        if stop[at] >= start[at + 1]:
            stop[at] = stop[at + 1]
    quarter = np.arange(len(times) * QUARTERS, dtype=float) * QUARTER
    begun = np.bincount(np.searchsorted(quarter, start), minlength=len(quarter))
    which = np.cumsum(begun)[: len(quarter)]
    left = np.concatenate([[-np.inf], stop])[which] - quarter
    return np.where(left < 0.0, -1.0, left)
