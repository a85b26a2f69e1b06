"""make_tension: how tight to lock the film of one house, now and in the coming days."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import WeatherError
from planner.film.sag import curtain_change
from planner.film.slack import EXPANSION_AT
from planner.film.temperature import film_temperature_error
from planner.hours.conditions import conditions_for
from planner.hours.house import sheets_for
from planner.plan.course import FILM, consequences, follow, inflation_tension
from planner.plan.locks import locked_at
from planner.plan.make import in_reach, make_plan
from planner.plan.pull import chart_row, pull_chart, stress_free_of, tension_limit
from planner.plan.records import TensionPlan
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from planner.job.records import Job
    from planner.plan.records import Course
    from planner.weather.table import Note, Weather

#: Other choices of stress-free film temperature shown beside the job's own [K].
_OTHERS: Final = (-10.0, -5.0, 0.0, 5.0, 10.0)


def make_tension(
    job: Job,
    weather: Weather | None = None,
    *,
    film_temps: Iterable[float],
    film_temp: float | None = None,
    now: pd.Timestamp | None = None,
    far: bool = False,
) -> TensionPlan:
    """Work out how tight to lock the film.

    Parameters
    ----------
    job : Job
        With its house and film.
    weather : Weather, optional
        Of the coming days; without it there is no course.
    film_temps : iterable of float
        Film temperatures of the chart's rows [degC].
    film_temp : float, optional
        Measured at the locks now [degC].
    now : pandas.Timestamp, optional
        As in ``make_plan``; the sheet is taken to be locked in the best window from then
        on, or at once if there is none or the roof sheet is done.
    far : bool
        Whether weather of a place more than 200 km away is accepted.

    Returns
    -------
    TensionPlan
        Numbers and codes, no words.

    Raises
    ------
    JobError
        If no such house can stand or the stress-free temperature cannot be.
    OutOfRange
        If the growth of film at the measured temperature is not known.
    WeatherError
        If the file is of another place, or says too little for a film temperature.
    """
    course: Course | None = None
    notes: tuple[Note, ...] = ()
    hot, cold = value("film", "hot_day"), value("film", "cold_night")
    if weather is not None:
        course, notes = _course(job, weather, now=now, far=far)
        films = [hour.film_temp for hour in course.hours]
        known = np.clip(films, EXPANSION_AT[0], EXPANSION_AT[-1])
        hot, cold = float(np.nanmax(known)), float(np.nanmin(known))
    stress_free = stress_free_of(job)
    choices = [
        stress_free + other
        for other in _OTHERS
        if other == 0.0 or cold < stress_free + other <= EXPANSION_AT[-1]
    ]
    side = next((x.length for x in sheets_for(job) if x.sheet == "side"), job.house.length)
    return TensionPlan(
        job=job,
        chart=pull_chart(job, film_temps),
        now=None if film_temp is None else chart_row(job, film_temp),
        choices=consequences(job, choices, hot=hot, cold=cold),
        course=course,
        inflation=inflation_tension(job),
        allowed=tension_limit(job),
        curtain=float(curtain_change(side, cold, hot, frame=job.house.frame)),
        error=(float(film_temperature_error(1.0)), float(film_temperature_error(0.0))),
        channel_known=job.house.channel_holds is not None,
        time_zone=job.place.time_zone,
        credit="" if weather is None else weather.credit,
        notes=notes,
    )


def _course(
    job: Job, weather: Weather, *, now: pd.Timestamp | None, far: bool
) -> tuple[Course, tuple[Note, ...]]:
    """Follow a sheet locked in the best window of the roof, else from now on."""
    plan = make_plan(job, weather, now=now, far=far)
    conditions = conditions_for(job, in_reach(weather, plan.now), wanted={FILM, "temp_bow"})
    film = conditions.values.get(FILM)
    if film is None or not np.isfinite(film).any():
        raise WeatherError(
            "The weather file says too little for a film temperature.",
            fix="It needs air temperature, wind, and dew point or humidity.",
        )
    locks = locked_at(plan.steps)
    course = follow(job, conditions, locked=locks or plan.now, in_window=locks is not None)
    return course, plan.notes
