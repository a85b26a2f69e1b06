"""The JSON interface: the contracts of ``--json``, from a job and a weather file as text.

Errors are ``error/1`` records: 422 for what was sent, 413 for too much of it.
"""

from __future__ import annotations

import datetime as dt
import threading
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from fastapi import APIRouter
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from planner.errors import PlannerError, UsageError
from planner.web.made import planned_from
from planner.web.uploaded import read_given

if TYPE_CHECKING:
    from planner.job.records import Job
    from planner.weather.table import Weather

_MOST_JOB, _MOST_WEATHER = 200_000, 20_000_000  # letters
_TURN: Final = threading.Semaphore(2)

_JobText = Annotated[str, Field(max_length=_MOST_JOB, description="The job file, TOML.")]
_WeatherText = Annotated[
    str, Field(max_length=_MOST_WEATHER, description="The weather file, as text.")
]
_Word = Annotated[str | None, Field(max_length=80)]


class Asked(BaseModel):
    """How a weather file is to be read."""

    model_config = ConfigDict(extra="forbid")

    format: _Word = None
    zone: _Word = None
    label: Literal["start", "end", "closes"] | None = None
    issued: _Word = None
    kind: Literal["forecast", "observed"] | None = None
    location: _Word = None

    def reading(self) -> dict[str, str]:
        """Give what was said about the reading of the file."""
        return {
            key: value
            for key in Asked.model_fields
            if isinstance(value := getattr(self, key), str)
        }


class AskedWindows(Asked):
    """What ``/api/windows`` takes."""

    job: _JobText
    weather: _WeatherText
    now: _Word = None
    on: dt.date | None = None
    people: Annotated[int | None, Field(ge=1, le=30)] = None
    days: Annotated[int, Field(ge=1, le=60)] = 16
    count: Annotated[int, Field(ge=20, le=2000)] = 500
    seed: Annotated[int, Field(ge=0, le=2**31)] = 1
    far: bool = False


class AskedTension(Asked):
    """What ``/api/tension`` takes."""

    job: _JobText
    weather: _WeatherText | None = None
    now: _Word = None
    film_temp_c: Annotated[float | None, Field(ge=-100.0, le=100.0)] = None
    far: bool = False


class AskedInspect(Asked):
    """What ``/api/inspect`` takes: a job, a weather file, or both."""

    job: _JobText | None = None
    weather: _WeatherText | None = None


class Answer(BaseModel):
    """A record of one of the contracts; ``schema`` names it."""

    model_config = ConfigDict(extra="allow")

    contract: str = Field(alias="schema")


class Refused(BaseModel):
    """The record ``error/1``."""

    contract: Literal["error/1"] = Field(alias="schema")
    exit: int
    file: str | None
    line: int | None
    key: str | None
    message: str
    fix: str


router = APIRouter(
    prefix="/api",
    responses={
        code: {"model": Refused, "description": text}
        for code, text in {
            400: "The request cannot be read.",
            403: "Sent from another site, or without the key.",
            413: "Too much was sent.",
            421: "Not the address of the planner.",
            422: "The job, the weather or an option cannot be used.",
        }.items()
    },
)


def _job(text: str) -> Job:
    from planner.job.jobfile import parse_job

    return parse_job(text.removeprefix("\ufeff"))


def _weather(text: str | None, asked: Asked) -> Weather | None:
    if text is None:
        return None
    return read_given(text.encode(), "weather", asked.reading()).weather


def _answered(record: dict[str, Any]) -> Response:
    from planner.report.record.windows import dumps

    return Response(dumps(record), media_type="application/json")


@router.post("/windows", response_model=Answer)
def windows(asked: AskedWindows) -> Response:
    """Rank the hours in which each step of the job stays inside its limits: windows/1."""
    from dataclasses import replace

    from planner.plan.make import make_plan
    from planner.report.record.windows import windows_1

    with _TURN:
        job, weather = _job(asked.job), _weather(asked.weather, asked)
        if asked.people is not None:
            job = replace(job, crew=replace(job.crew, people=asked.people))
        assert weather is not None
        plan = make_plan(
            job,
            weather,
            now=planned_from(asked.now, job.place.time_zone, weather),
            on=asked.on,
            days=asked.days,
            far=asked.far,
            count=asked.count,
            seed=asked.seed,
        )
        return _answered(windows_1(plan))


@router.post("/tension", response_model=Answer)
def tension(asked: AskedTension) -> Response:
    """Say how tight to lock the film, and how it fares in the weather: tension/1."""
    from planner.hours.house import with_steps
    from planner.plan.tension_plan import make_tension
    from planner.report.record.tension import tension_1
    from planner.report.screen.tension import CHART_ROWS

    with _TURN:
        job, weather = with_steps(_job(asked.job)), _weather(asked.weather, asked)
        when = None
        if weather is not None:
            when = planned_from(asked.now, job.place.time_zone, weather)
        plan = make_tension(
            job,
            weather,
            film_temps=CHART_ROWS[job.units],
            film_temp=asked.film_temp_c,
            now=when,
            far=asked.far,
        )
        return _answered(tension_1(plan))


@router.post("/inspect", response_model=Answer)
def inspect(asked: AskedInspect) -> Response:
    """Say what was found in a job and a weather file: inspect/1, one or both filled in."""
    from planner.hours.house import hardware_for, sheets_for, with_steps
    from planner.hours.limits import limits_for
    from planner.report.record.inspect import inspect_1

    if asked.job is None and asked.weather is None:
        raise UsageError("There is nothing to look at.", fix="Send a job, a weather or both.")
    with _TURN:
        record: dict[str, Any] = {}
        if asked.weather is not None:
            record = inspect_1(weather=_weather(asked.weather, asked))
        if asked.job is not None:
            job = with_steps(_job(asked.job))
            found = inspect_1(
                job=job,
                sheets=sheets_for(job),
                hardware=hardware_for(job),
                limits={step.name: limits_for(job, step) for step in job.steps},
            )
            record = found | {"weather": record.get("weather")}
        return _answered(record)


def as_record(error: PlannerError, status: int = 422) -> Response:
    """Answer with an ``error/1`` record.

    Parameters
    ----------
    error : PlannerError
        What was wrong.
    status : int
        Of the answer [-].

    Returns
    -------
    Response
        The answer.
    """
    return _status(_answered(error.as_dict()), status)


def _status(response: Response, status: int) -> Response:
    response.status_code = status
    return response
