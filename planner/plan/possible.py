"""The weather that a plan reckons with: what was observed, or what may come."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.hours.conditions import conditions_for
from planner.hours.spans import draw_paces
from planner.site.sun import morning_break_up
from planner.weather.miss.members import COUNT, SEED, make_members
from planner.weather.miss.predictors import Known

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.hours.records import Conditions
    from planner.job.records import Job
    from planner.weather.miss.forecast_error import ForecastError
    from planner.weather.table import Weather


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """How possible weathers are drawn.

    Attributes
    ----------
    error : ForecastError or None
        How far forecasts have been from what came, as used at the place; None takes the
        file as it comes.
    count : int
        How many [-].
    seed : int
        Of the random numbers [-].
    paced : bool
        Whether each possible weather meets a crew of its own pace.
    earlier : sequence of Weather
        Forecasts issued before this one; they sharpen.
    """

    error: ForecastError | None = None
    count: int = COUNT
    seed: int = SEED
    paced: bool = True
    earlier: Sequence[Weather] = ()


def possible_conditions(job: Job, weather: Weather, draw: Draw) -> Conditions:
    """Turn a weather file into the conditions of every possible weather.

    Parameters
    ----------
    job : Job
        With its place.
    weather : Weather
        As read.
    draw : Draw
        How to draw. Of what was observed nothing is drawn: it is one certain weather.

    Returns
    -------
    Conditions
        Of one certain weather, or of ``draw.count`` possible ones.
    """
    if draw.error is None or weather.kind == "observed":
        return conditions_for(job, weather)
    members = make_members(
        weather,
        draw.error,
        count=draw.count,
        seed=draw.seed,
        known=Known(earlier=draw.earlier),
        breaks=morning_break_up(weather.times, job.place.latitude, job.place.longitude),
    )
    pace = draw_paces(draw.count, draw.seed) if draw.paced else None
    return conditions_for(job, members, pace=pace)
