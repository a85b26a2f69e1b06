"""The course of slack and tension of a locked sheet through the coming days."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.film.sag import slack_allowed
from planner.film.sail import membrane_tension
from planner.film.slack import slack_mm
from planner.film.tension import Band, end_hoop_load, share_of_yield, tension, tension_allowed
from planner.hours.holds import sheet_factor
from planner.hours.house import film_weight, profile_of, thickness_of
from planner.hours.spans import QUARTERS
from planner.plan.pull import OVER, spans_of, stress_free_of, tension_limit
from planner.plan.records import Consequence, Course, CourseHour, Strain
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from planner.hours.records import Conditions, Floats
    from planner.job.records import Job

FILM: Final = "temp_film_closed"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    """The middle possible weather from the hour after locking, as arrays by the hour.

    ``gust`` is at the ridge [m/s].
    """

    times: pd.DatetimeIndex
    film: Floats
    band: Band
    slack: dict[str, Floats]
    gust: Floats
    bow: Floats
    light: Floats


def _state(job: Job, conditions: Conditions, locked: pd.Timestamp) -> _State:
    """Follow the sheet from the hour in which it is locked; give the hours after that.

    In the first hour the pull of the hands has yet to ease, so it is no part of the course
    unless the file ends with it.
    """
    first = max(int((locked - conditions.times[0]).total_seconds() // 3600), 0)
    first = min(first, len(conditions.times) - 1)
    after = slice(min(first + 1, len(conditions.times) - 1), None)
    film = conditions.middle(FILM)
    stress_free, frame = stress_free_of(job), job.house.frame
    band = tension(
        film[first:],
        stress_free=stress_free,
        thickness=thickness_of(job),
        frame=frame,
        beyond="nan",
    )
    film = film[after]
    light = conditions.light_left[value("work_rules", "light_work")]
    return _State(
        times=conditions.times[after].tz_convert(conditions.time_zone),
        film=film,
        band=Band(*(side[-len(film) :] + inflation_tension(job) for side in band)),
        slack={
            span: slack_mm(length, film, stress_free=stress_free, frame=frame, beyond="nan")
            for span, length in spans_of(job).items()
        },
        gust=conditions.middle("gust")[after]
        * sheet_factor(conditions, profile_of(job).ridge, "gust"),
        bow=conditions.middle("temp_bow")[after],
        light=light[after.start * QUARTERS :: QUARTERS],
    )


def follow(
    job: Job, conditions: Conditions, *, locked: pd.Timestamp, in_window: bool = True
) -> Course:
    """Follow the sheet from the hour it is locked to the end of the weather file.

    Parameters
    ----------
    job : Job
        With its house and film.
    conditions : Conditions
        With the film temperatures of the closed house.
    locked : pandas.Timestamp
        When the last edge is locked, pulled as the chart says.
    in_window : bool
        Whether that is in the roof's best window.

    Returns
    -------
    Course
        An hour at a time from the one after locking, in the middle possible weather, with
        the hottest hour, the coldest, that of the first night and that of the largest
        gust named.

    Raises
    ------
    JobError
        If the stress-free temperature cannot be.

    Notes
    -----
    The house counts as closed, with ends and doors shut; air between two layers is in the
    tension. Hours without data, or at film
    temperatures at which its growth is not known, hold NaN.
    """
    state = _state(job, conditions, locked)
    windiest = _highest(state.gust)
    gust = float("nan") if windiest is None else float(state.gust[windiest])
    pull = float(np.nanmax(state.band.high, initial=0.0))
    return Course(
        locked=locked.tz_convert(conditions.time_zone),
        in_window=in_window,
        hours=_hours(job, state),
        hottest=_highest(state.film),
        coldest=_highest(-state.film),
        first_night=_first_night(state),
        windiest=windiest,
        gust=gust,
        gust_tension=gust_tension(job, gust),
        end_hoop=float(end_hoop_load(pull, spans_of(job)[OVER])),
        bow=float(np.nanmax(state.bow, initial=-np.inf)),
        beyond=_beyond(job, state),
    )


def first_night(
    job: Job, conditions: Conditions, *, locked: pd.Timestamp
) -> tuple[float, float, float] | None:
    """Give the tension in the coldest hour of the first night after locking.

    Parameters
    ----------
    job : Job
        With its house and film.
    conditions : Conditions
        With the film temperatures of the closed house.
    locked : pandas.Timestamp
        When the last edge is locked, pulled as the chart says.

    Returns
    -------
    tuple of float or None
        At least, in the middle and at most [N/m]; None if the file ends before the night.
    """
    state = _state(job, conditions, locked)
    at = _first_night(state)
    if at is None:
        return None
    return float(state.band.low[at]), float(state.band.mid[at]), float(state.band.high[at])


def _hours(job: Job, state: _State) -> tuple[CourseHour, ...]:
    thickness = thickness_of(job)
    channel = tension_limit(job)
    low, mid, high = (share_of_yield(x, state.film, thickness=thickness) for x in state.band)
    return tuple(
        CourseHour(
            time=time,
            film_temp=float(state.film[at]),
            slack={span: float(mm[at]) for span, mm in state.slack.items()},
            tension=(
                float(state.band.low[at]),
                float(state.band.mid[at]),
                float(state.band.high[at]),
            ),
            share_of_yield=(float(low[at]), float(mid[at]), float(high[at])),
            share_of_channel=float(state.band.high[at] / channel),
        )
        for at, time in enumerate(state.times)
    )


def _highest(values: Floats) -> int | None:
    """Give the hour of the highest number, None where there is no number at all."""
    return int(np.nanargmax(values)) if np.isfinite(values).any() else None


def _first_night(state: _State) -> int | None:
    """Give the coldest hour of the first night after locking."""
    dark = np.flatnonzero(state.light < 0.0)
    if not len(dark):
        return None
    ends = np.flatnonzero(np.diff(dark) > 1)
    night = dark[: ends[0] + 1] if len(ends) else dark
    known = night[np.isfinite(state.film[night])]
    return int(known[state.film[known].argmin()]) if len(known) else None


def consequences(
    job: Job, stress_free: Iterable[float], *, hot: float, cold: float
) -> tuple[Consequence, ...]:
    """Show what each choice of stress-free film temperature means, both ways.

    Parameters
    ----------
    job : Job
        With its house and film.
    stress_free : iterable of float
        The choices [degC].
    hot, cold : float
        Film temperature of the hottest hour and of the coldest night [degC].

    Returns
    -------
    tuple of Consequence
        Slack when hot, and the most tension of a first cold night: cooled evenly
        through an evening and a night from the stress-free temperature, then held.
    """
    found = []
    cooling, held = (int(value("planning", key)) for key in ("cooling_hours", "cold_hours"))
    thickness, frame = thickness_of(job), job.house.frame
    channel = job.house.channel_holds
    for temp in stress_free:
        course = np.append(np.linspace(temp, cold, cooling), np.full(held, cold))
        band = tension(course, stress_free=temp, thickness=thickness, frame=frame)
        slack = {
            span: float(slack_mm(length, hot, stress_free=temp, frame=frame))
            for span, length in spans_of(job).items()
        }
        air = inflation_tension(job)
        low, mid, high = (float(side.max()) + air for side in band)
        bound = float(tension_allowed(cold, thickness=thickness, channel_holds=channel))
        too_much = {
            "slack-hot": slack[OVER] > slack_allowed(spans_of(job)[OVER]),
            "tension-cold": high > bound,
        }
        found.append(
            Consequence(
                stress_free=temp,
                hot=hot,
                cold=cold,
                slack=slack,
                tension=(low, mid, high),
                beyond=tuple(code for code, true in too_much.items() if true),
            )
        )
    return tuple(found)


def gust_tension(job: Job, gust: float) -> float:
    """Say how hard a gust pulls the closed sheet over the bows.

    Parameters
    ----------
    job : Job
        With its house and film.
    gust : float
        At the ridge [m/s].

    Returns
    -------
    float
        Tension added while the gust lasts [N/m].
    """
    cp, radius = value("labour", "cp_closed"), profile_of(job).radius
    return float(membrane_tension(gust, radius, cp=cp, weight=film_weight(job)))


def inflation_tension(job: Job) -> float:
    """Say how hard the air between two layers pulls them over the bows.

    Parameters
    ----------
    job : Job
        With its house and film.

    Returns
    -------
    float
        Pressure times radius; 0 for one layer [N/m].
    """
    return job.film.inflation * profile_of(job).radius if job.film.layers > 1 else 0.0


def _beyond(job: Job, state: _State) -> tuple[Strain, ...]:
    """Say where slack or tension is more than film, channel and wind allow."""
    thickness = thickness_of(job)
    channel = tension_limit(job)
    gusts = np.array([gust_tension(job, gust) for gust in state.gust])
    gusts = gusts + state.band.high
    slack = state.slack[OVER]
    checks = (
        ("slack-hot", slack, np.full_like(slack, slack_allowed(spans_of(job)[OVER])), "mm"),
        (
            "tension-cold",
            state.band.high,
            tension_allowed(
                state.film, thickness=thickness, channel_holds=job.house.channel_holds
            ),
            "N/m",
        ),
        ("gust-over-channel", gusts, np.full_like(gusts, channel), "N/m"),
    )
    found = []
    for code, values, allowed, unit in checks:
        worst = _highest(values / allowed)
        if worst is not None and values[worst] > allowed[worst]:
            found.append(
                Strain(
                    code=code,
                    at=state.times[worst],
                    value=float(values[worst]),
                    allowed=float(allowed[worst]),
                    unit=unit,
                )
            )
    return tuple(found)
