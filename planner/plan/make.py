"""make_plan: one job and one weather file in, one finished plan out."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import pandas as pd

from planner.errors import UsageError, WeatherError
from planner.hours.holds import starts_that_hold
from planner.hours.house import hardware_for, sheets_for, sizes_of, with_steps
from planner.hours.leaving import stands
from planner.hours.limits import limits_for
from planner.hours.records import share
from planner.job.steps import make_safe_minutes
from planner.plan.course import FILM, follow
from planner.plan.decide import Asked, decide
from planner.plan.doubts import doubts, use_until
from planner.plan.lay import lay_steps, open_quarters
from planner.plan.locks import locked_at
from planner.plan.place_check import place_notes
from planner.plan.possible import Draw, possible_conditions
from planner.plan.records import (
    ColumnState,
    LightDay,
    Plan,
    StepPlan,
    Strain,
    WeatherState,
)
from planner.plan.sequence import sequence
from planner.weather.miss.error_file import shipped_error
from planner.weather.miss.forecast_error import ForecastError
from planner.weather.miss.members import COUNT, SEED
from planner.weather.table import COLUMNS

if TYPE_CHECKING:
    from collections.abc import Sequence as Several

    from planner.hours.records import Conditions
    from planner.job.records import Job
    from planner.weather.table import Weather

#: How a time of issue is told that no file and nobody gave.
GUESSED: Final = "first hour"
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
    error: ForecastError | Literal["shipped"] | None = "shipped",
    count: int = COUNT,
    seed: int = SEED,
    paced: bool = True,
    earlier: Several[Weather] = (),
) -> Plan:
    """Work out which hours hold for each step of a job, and how likely.

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
    error : ForecastError or "shipped" or None
        How far forecasts have been from what came; None takes the forecast as it comes,
        as one certain weather. What was observed is certain anyway.
    count : int
        How many possible weathers to draw [-].
    seed : int
        Of the random numbers: the same seed, the same plan [-].
    paced : bool
        Whether the crew's pace is drawn too, or is the job file's for certain.
    earlier : sequence of Weather
        Forecasts of the place issued before this one; they sharpen the chances.

    Returns
    -------
    Plan
        Numbers and codes, no words.

    Raises
    ------
    JobError
        If the house cannot stand or a step waits for one that is not there.
    WeatherError
        If the file is of another place, holds only past hours, or not the day asked for;
        if a member of an ensemble lacks hours.
    UsageError
        If the day asked for is past or after the last day.
    """
    bare, job = job, with_steps(job)
    notes = (*weather.notes, *place_notes(job, weather, far=far))
    now = _now(weather, now)
    if weather.issued is not None and weather.issued > now and weather.issued_from == GUESSED:
        weather = replace(weather, issued=now)
    weather = in_reach(weather, now, days=days)
    table = shipped_error() if error == "shipped" else error
    draw = Draw(
        error=None if table is None else table.at(job.place.latitude, job.place.longitude),
        count=count,
        seed=seed,
        paced=paced,
        earlier=earlier,
    )
    conditions = possible_conditions(job, weather, draw)
    now = now.tz_convert(conditions.time_zone)
    if on is not None:
        _check_day(on, job, now.date())
    if on is not None and on not in conditions.days:
        raise WeatherError(
            f"The weather file does not cover {on}: it goes from {conditions.days[0]} to "
            f"{conditions.days[-1]}.",
            fix="Choose one of its days with --on, or get a longer file.",
        )
    drawn = draw.error if len(conditions.weights) > 1 else None
    notes = (*doubts(job, weather, conditions, now=now, on=on, error=drawn), *notes)
    steps, laid = lay_steps(job, conditions, now=now, on=on)
    asked = Asked(
        now=now,
        issued=weather.issued,
        error=drawn,
        ordered=lambda window: sequence(conditions, laid, fixed=window),
        with_people=lambda step, people, day: _with_people(
            bare, conditions, step, people, now=now, on=day
        ),
        stands=lambda until: _stands(job, conditions, now=now, until=until),
    )
    decision = decide(job, steps, asked)
    return Plan(
        job=job,
        now=now,
        time_zone=conditions.time_zone,
        weather=_weather_state(weather, conditions),
        notes=notes,
        steps=steps,
        decision=decision,
        light=_light_days(conditions),
        sheets=sheets_for(job),
        hardware=hardware_for(job),
        make_safe=make_safe_minutes(job, sizes_of(job)),
        beyond=_beyond(job, conditions, steps),
        order=None
        if on is not None or decision.window is None
        else sequence(conditions, laid, fixed=decision.window),
        seed=None if drawn is None else seed,
        error="" if drawn is None else drawn.name,
        use_until=use_until(weather, now, conditions.time_zone),
        on=on,
    )


def _with_people(
    bare: Job,
    conditions: Conditions,
    name: str,
    people: int,
    *,
    now: pd.Timestamp,
    on: dt.date | None,
) -> float:
    """Give the best chance of a step on a day, or any, with another number of people [-]."""
    job = with_steps(replace(bare, crew=replace(bare.crew, people=people)))
    step = next(step for step in job.steps if step.name == name)
    holds = starts_that_hold(
        conditions, step, limits_for(job, step), starts_every=job.starts_every
    )
    chance = holds.chance(conditions.weights)
    allowed = open_quarters(job, conditions, now=now, on=on)
    return float(chance[allowed[:: len(allowed) // len(chance)]].max(initial=0.0))


def _stands(
    job: Job, conditions: Conditions, *, now: pd.Timestamp, until: pd.Timestamp
) -> float | None:
    """Give the chance that what is up stands until a time; None if nothing is up [-]."""
    up = [step for step in job.steps if step.done and step.phases[-1].leave_safe]
    hour = pd.Timedelta(hours=1)
    first, last = (int((at - conditions.times[0]) // hour) for at in (now, until))
    if not up or last <= first:
        return None
    standing = stands(conditions, up[-1].phases[-1])[:, max(first, 0) : last]
    return float(share(conditions.weights, np.asarray(standing.all(axis=1))))


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


def _beyond(
    job: Job, conditions: Conditions, steps: tuple[StepPlan, ...]
) -> tuple[Strain, ...]:
    """Say where a sheet locked in its best window leaves the band in the file's days."""
    locks = locked_at(steps)
    if locks is None or FILM not in conditions.values:
        return ()
    return follow(job, conditions, locked=locks).beyond


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
        fetched=weather.fetched,
        stale=weather.stale,
        members=len(conditions.weights),
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
