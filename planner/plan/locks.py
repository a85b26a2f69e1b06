"""What the locks need in a window: film temperature, pull, and the night after."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import OutOfRange
from planner.job.phases import SETS_PULL
from planner.plan.course import FILM, first_night
from planner.plan.pull import chart_row

if TYPE_CHECKING:
    import pandas as pd

    from planner.hours.records import Conditions, Window
    from planner.job.records import Job
    from planner.plan.records import StepPlan


def moment_of_locks(window: Window) -> pd.Timestamp | None:
    """Give the moment in which the tension is set, None in a window of another step."""
    return next((x.start for x in window.phases if x.phase == SETS_PULL), None)


def locked_at(steps: tuple[StepPlan, ...]) -> pd.Timestamp | None:
    """Give the moment of the locks in the best window of the plan, None if there is none."""
    best = (here.found.windows[0] for here in steps if here.found.windows)
    return next((at for at in map(moment_of_locks, best) if at is not None), None)


def with_pull(window: Window, job: Job, conditions: Conditions) -> Window:
    """Add to a window the film temperature and the pull at the locks.

    Parameters
    ----------
    window : Window
        Of any step; only one with the phase that sets the tension is changed.
    job : Job
        With its house and film.
    conditions : Conditions
        With film temperatures, where the weather allowed them.

    Returns
    -------
    Window
        The same, with what the locks need in the middle possible weather; without it
        where the film temperature is not known or the growth of film at it is not.
    """
    moment = moment_of_locks(window)
    if moment is None or FILM not in conditions.values:
        return window
    film = _film_at(conditions, "temp_film", moment)
    try:
        pull = chart_row(job, film).pull
    except OutOfRange:
        return window
    return replace(
        window,
        film_temp=film,
        film_temp_shaded=_film_at(conditions, "temp_film_shaded", moment),
        pull=pull,
        first_night=first_night(job, conditions, locked=moment),
    )


def _film_at(conditions: Conditions, quantity: str, moment: pd.Timestamp) -> float:
    """Film temperature of the middle member, between the middles of hours [degC]."""
    film = conditions.middle(quantity)
    hour = (moment - conditions.times[0]).total_seconds() / 3600.0 - 0.5
    return float(np.interp(hour, np.arange(len(film)), film))
