"""make_plan: one job and one weather file in, one finished plan out."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.errors import UsageError, WeatherError
from planner.hours.conditions import conditions_for
from planner.hours.house import hardware_for, sheets_for, sizes_of, with_steps
from planner.hours.limits import limits_for
from planner.hours.spans import QUARTER, QUARTERS
from planner.hours.windows import find_windows
from planner.job.steps import make_safe_minutes
from planner.plan.course import FILM, follow
from planner.plan.decide import decide
from planner.plan.doubts import doubts
from planner.plan.locks import locked_at, with_pull
from planner.plan.place_check import place_notes
from planner.plan.records import ColumnState, LightDay, Plan, StepPlan, Strain, WeatherState
from planner.weather.table import COLUMNS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.hours.records import Conditions
    from planner.job.records import Job, Step
    from planner.weather.table import Weather

#: How many days ahead a plan looks, unless asked for more or fewer.
DAYS: Final = 16


def make_plan(
    job: Job,
    weather: Weather,
    *,
    now: pd.Timestamp | None = None,
    on: dt.date | None = None,
    days: int = DAYS,
    far: bool = False,
) -> Plan:
    """Work out which hours hold for each step of a job.

    Parameters
    ----------
    job : Job
        As read from the job file; its built-in steps are laid out here.
    weather : Weather
        As read from the weather file.
    now : pandas.Timestamp, optional
        Starts before it are past. The issue time by default, else the first hour.
    on : datetime.date, optional
        Only starts on this local day.
    days : int
        How many days ahead to look at most; a long record is cut [day].
    far : bool
        Whether weather of a place more than 200 km away is accepted.

    Returns
    -------
    Plan
        Numbers and codes, no words.

    Raises
    ------
    JobError
        If the house cannot stand or a step waits for one that is not there.
    WeatherError
        If the file is of another place, holds only past hours, or not the day asked for.
    UsageError
        If the day asked for is past or after the last day.
    """
    job = with_steps(job)
    notes = (*weather.notes, *place_notes(job, weather, far=far))
    now = _now(weather, now)
    weather = in_reach(weather, now, days=days)
    conditions = conditions_for(job, weather)
    if on is not None:
        _check_day(on, job, now.tz_convert(conditions.time_zone).date())
    if on is not None and on not in conditions.days:
        raise WeatherError(
            f"The weather file does not cover {on}: it goes from {conditions.days[0]} to "
            f"{conditions.days[-1]}.",
            fix="Choose one of its days with --on, or get a longer file.",
        )
    notes = (*doubts(job, weather, conditions, now=now, on=on), *notes)
    steps = _plan_steps(job, conditions, now=now, on=on)
    return Plan(
        job=job,
        now=now.tz_convert(conditions.time_zone),
        time_zone=conditions.time_zone,
        weather=_weather_state(weather, conditions),
        notes=notes,
        steps=steps,
        decision=decide(
            job, steps, now=now.tz_convert(conditions.time_zone), issued=weather.issued
        ),
        light=_light_days(conditions),
        sheets=sheets_for(job),
        hardware=hardware_for(job),
        make_safe=make_safe_minutes(job, sizes_of(job)),
        beyond=_beyond(job, conditions, steps),
    )


def _check_day(on: dt.date, job: Job, today: dt.date) -> None:
    """Refuse a day on which nothing can start any more."""
    if on < today:
        text = f"{on} is past: today is {today}."
        raise UsageError(text, fix="Choose a day to come.", key="--on")
    if job.finish_by is not None and on > job.finish_by:
        raise UsageError(
            f"{on} is after the last day of the job, {job.finish_by}.",
            fix="Choose an earlier day, or change finish_by in the job file.",
            key="--on",
        )


def in_reach(weather: Weather, now: pd.Timestamp, *, days: int = DAYS) -> Weather:
    """Cut a long record to the days that are planned.

    Parameters
    ----------
    weather : Weather
        As read.
    now : pandas.Timestamp
        The time that is planned from.
    days : int
        How many days ahead [day].

    Returns
    -------
    Weather
        From the day before, so that it is known how wet the film is, to the last.
    """
    day = pd.Timedelta(days=1)
    base = max(now, weather.times[0])
    return weather.between(base - day, base + days * day)


def _now(weather: Weather, now: pd.Timestamp | None) -> pd.Timestamp:
    if now is None:
        return weather.issued if weather.issued is not None else weather.times[0]
    if now >= weather.times[-1] + pd.Timedelta(hours=1):
        raise WeatherError(
            f"Every hour of the file is past: it ends {weather.times[-1]:%Y-%m-%d %H:%M} UTC.",
            fix="Get a newer forecast, or give the time to plan from with --now.",
        )
    return now


def _plan_steps(
    job: Job, conditions: Conditions, *, now: pd.Timestamp, on: dt.date | None
) -> tuple[StepPlan, ...]:
    """Find the windows of each step still to do, after what it waits for.

    Roof and end walls wait for the first hours of what comes before them; what follows the
    roof waits for its best hours, since those are the ones that the answer is about.
    """
    planned: dict[str, StepPlan] = {}
    for step in job.steps:
        if step.done:
            continue
        found = find_windows(
            conditions,
            step,
            limits_for(job, step),
            starts_every=job.starts_every,
            allowed=_allowed(job, step, conditions, planned, now=now, on=on),
        )
        windows = tuple(with_pull(window, job, conditions) for window in found.windows)
        planned[step.name] = StepPlan(step=step, found=replace(found, windows=windows))
    return tuple(planned.values())


def _beyond(
    job: Job, conditions: Conditions, steps: tuple[StepPlan, ...]
) -> tuple[Strain, ...]:
    """Say where a sheet locked in its best window leaves the band in the file's days."""
    locks = locked_at(steps)
    if locks is None or FILM not in conditions.values:
        return ()
    return follow(job, conditions, locked=locks).beyond


def _allowed(
    job: Job,
    step: Step,
    conditions: Conditions,
    planned: dict[str, StepPlan],
    *,
    now: pd.Timestamp,
    on: dt.date | None,
) -> NDArray[np.bool_]:
    """Quarter hours at which a step may start: not past, not too late, not too early."""
    starts = conditions.times[0] + pd.to_timedelta(
        np.arange(len(conditions.times) * QUARTERS) * QUARTER, unit="min"
    )
    local_days = starts.tz_convert(conditions.time_zone).date
    allowed = np.asarray(starts >= now)
    if job.finish_by:
        allowed &= local_days <= job.finish_by
    if on is not None:
        allowed &= local_days == on
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
        allowed &= np.asarray(starts >= end)
        if step.nights_after:
            allowed &= local_days >= end.date() + dt.timedelta(days=step.nights_after)
    return allowed


def _weather_state(weather: Weather, conditions: Conditions) -> WeatherState:
    columns = []
    for column in COLUMNS:
        filled = conditions.estimated.get(column.name)
        hours = int(filled.sum()) if filled is not None else 0
        origin = weather.origin.get(column.name, "missing")
        columns.append(
            ColumnState(
                name=column.name,
                origin="estimated" if hours and origin == "missing" else origin,
                hours=hours,
            )
        )
    return WeatherState(
        format=weather.format,
        kind=weather.kind,
        credit=weather.credit,
        first=weather.times[0],
        last=weather.times[-1] + pd.Timedelta(hours=1),
        issued=weather.issued,
        issued_from=weather.issued_from,
        members=weather.members,
        hours=weather.hours,
        columns=tuple(columns),
    )


def _light_days(conditions: Conditions) -> tuple[LightDay, ...]:
    def local(at: np.datetime64) -> pd.Timestamp | None:
        if np.isnat(at):
            return None
        return pd.Timestamp(at).tz_localize("UTC").tz_convert(conditions.time_zone)

    return tuple(
        LightDay(
            day=day,
            sunrise=local(conditions.sunrise[at]),
            sunset=local(conditions.sunset[at]),
            begin=local(conditions.light_begin[at]),
            end=local(conditions.light_end[at]),
        )
        for at, day in enumerate(conditions.days)
    )
