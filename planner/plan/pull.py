"""How far to pull: the chart for a house, and the pull at the locks of a window."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.film.sag import arc_lift_off, bay_sag
from planner.film.sheet import arc_lock_to_lock
from planner.film.slack import (
    check_stress_free,
    free_strain,
    pull_class,
    pull_past_snug,
    within_table,
)
from planner.film.tension import quick_tension
from planner.hours.house import as_job_error, profile_of
from planner.plan.records import ChartRow, PullChart
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.job.records import Job

OVER: Final = "over the bows"
ALONG: Final = "end to end"
_MM: Final = 1000.0
_A_MINUTE: Final = 1.0 / 60.0  # h, how long the hand has pulled when it locks


def spans_of(job: Job) -> dict[str, float]:
    """Give the two lengths that the locks hold [m].

    Parameters
    ----------
    job : Job
        With its house.

    Returns
    -------
    dict of str to float
        Over the bows from channel to channel, and end to end [m].
    """
    over = arc_lock_to_lock(profile_of(job), job.house.hip)
    return {OVER: over, ALONG: job.house.length}


def stress_free_of(job: Job) -> float:
    """Give the job's stress-free film temperature, refused where film does not serve.

    Parameters
    ----------
    job : Job
        With its film.

    Returns
    -------
    float
        Film temperature [degC].

    Raises
    ------
    JobError
        If film of that temperature is past its service limit or its growth is not known.
    """
    with as_job_error(job, "film.stress_free"):
        check_stress_free(job.film.stress_free)
    return job.film.stress_free


def chart_row(job: Job, film_temp: float) -> ChartRow:
    """Say what the hand does at one film temperature.

    Parameters
    ----------
    job : Job
        With its house and stress-free film temperature.
    film_temp : float
        Measured at the locks [degC].

    Returns
    -------
    ChartRow
        Pull by span, what that is called, the sag to check by hand, the hand's force.

    Raises
    ------
    OutOfRange
        If the growth of film at that temperature is not known.
    JobError
        If the stress-free temperature cannot be.
    """
    [row] = pull_chart(job, (film_temp,)).rows
    return row


def _against(job: Job, film_temp: float, *, strain: float, force: float) -> tuple[str, ...]:
    """Say what speaks against pulling film of this temperature, or so far."""
    hardest = min(value("film", "hand_pull"), tension_limit(job))
    codes = {
        "film-cold": film_temp < value("work_rules", "film_lowest"),
        "film-hot": film_temp > value("work_rules", "film_highest"),
        "hard-pull": strain > value("film", "pull_strain") or force > hardest,
    }
    return tuple(code for code, true in codes.items() if true)


def tension_limit(job: Job) -> float:
    """Give what the channel holds, by the job or else assumed.

    Parameters
    ----------
    job : Job
        With its house.

    Returns
    -------
    float
        Along the edge [N/m].
    """
    return job.house.channel_holds or value("film", "tension_allowed")


def pull_chart(job: Job, film_temps: Iterable[float]) -> PullChart:
    """Make the chart that the crew takes to the locks.

    Parameters
    ----------
    job : Job
        With its house and stress-free film temperature.
    film_temps : iterable of float
        Film temperatures of the rows [degC].

    Returns
    -------
    PullChart
        One row a film temperature.

    Raises
    ------
    OutOfRange
        If the growth of film at one of them is not known.
    JobError
        If the stress-free temperature cannot be.
    """
    stress_free, spans, bow = stress_free_of(job), spans_of(job), profile_of(job)
    temps = np.asarray(tuple(film_temps), float)
    within_table(temps)
    frame, spacing = job.house.frame, job.house.bow_spacing
    strain = free_strain(temps, stress_free, frame=frame)
    loose = np.maximum(-strain, 0.0) * _MM
    force = quick_tension(
        np.maximum(strain, 0.0), temps, thickness=job.film.thickness, hours=_A_MINUTE
    )
    pull = {
        span: pull_past_snug(length, temps, stress_free=stress_free, frame=frame)
        for span, length in spans.items()
    }
    sag = bay_sag(spacing, loose * spacing)
    lift = arc_lift_off(spans[OVER], bow.radius, loose * spans[OVER])
    rows = tuple(
        ChartRow(
            film_temp=float(temp),
            pull={span: float(mm[at]) for span, mm in pull.items()},
            hand=pull_class(float(pull[OVER][at])),
            sag=float(sag[at]),
            lift=float(lift[at]),
            force=float(force[at]),
            against=_against(
                job, float(temp), strain=float(strain[at]), force=float(force[at])
            ),
        )
        for at, temp in enumerate(temps)
    )
    return PullChart(stress_free=stress_free, spans=spans, rows=rows)
