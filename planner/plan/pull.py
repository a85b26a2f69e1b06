"""How far to pull: the chart for a house, and the pull at the locks of a window."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

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
    stress_free = stress_free_of(job)
    within_table(film_temp)
    frame = job.house.frame
    pull = {
        span: float(pull_past_snug(length, film_temp, stress_free=stress_free, frame=frame))
        for span, length in spans_of(job).items()
    }
    strain = float(free_strain(film_temp, stress_free, frame=frame))
    loose = max(-strain, 0.0) * _MM
    bow = profile_of(job)
    force = float(
        quick_tension(
            max(strain, 0.0), film_temp, thickness=job.film.thickness, hours=_A_MINUTE
        )
    )
    return ChartRow(
        film_temp=film_temp,
        pull=pull,
        hand=pull_class(pull[OVER]),
        sag=float(bay_sag(job.house.bow_spacing, loose * job.house.bow_spacing)),
        lift=float(arc_lift_off(spans_of(job)[OVER], bow.radius, loose * spans_of(job)[OVER])),
        force=force,
        against=_against(job, film_temp, strain=strain, force=force),
    )


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
    JobError
        If the stress-free temperature cannot be.
    """
    return PullChart(
        stress_free=stress_free_of(job),
        spans=spans_of(job),
        rows=tuple(chart_row(job, temp) for temp in film_temps),
    )
