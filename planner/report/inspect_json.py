"""What ``inspect`` found, as the record ``inspect/1`` for programs.

It has the keys ``weather`` and ``job``, one of them null. Times of a weather file are
UTC; ``blank_hours`` counts the hours of a column that hold no number.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.as_json import (
    hardware_row,
    iso,
    limit_rows,
    note_rows,
    number,
    phase_row,
    sheet_rows,
    version_here,
)
from planner.report.fine_print import blank_hours

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.film.sheet import Hardware, Sheet
    from planner.job.records import Job, Limit, Step
    from planner.report.as_json import Limits, Record
    from planner.weather.table import Weather


def inspect_1(
    *,
    weather: Weather | None = None,
    job: Job | None = None,
    sheets: tuple[Sheet, ...] = (),
    hardware: Hardware | None = None,
    limits: Limits | None = None,
) -> Record:
    """Give what was found in a weather file or a job file as the ``inspect/1`` record.

    Parameters
    ----------
    weather : Weather, optional
        As read.
    job : Job, optional
        As read, with its steps laid out.
    sheets : tuple of Sheet
        Of the job's house.
    hardware : Hardware, optional
        Of the job's house.
    limits : mapping, optional
        Limits by step and phase.

    Returns
    -------
    dict
        ``weather`` and ``job``, null for the one that was not given.
    """
    return {
        "schema": "inspect/1",
        "planner": version_here(),
        "weather": None if weather is None else _weather(weather),
        "job": None if job is None else _job(job, sheets, hardware, limits or {}),
    }


def _weather(weather: Weather) -> Record:
    return {
        "format": weather.format,
        "kind": weather.kind,
        "credit": weather.credit,
        "place": {
            "name": weather.place.name,
            "latitude": weather.place.latitude,
            "longitude": weather.place.longitude,
            "elevation_m": number(weather.place.elevation),
        },
        "first": iso(weather.times[0]) if weather.hours else None,
        "last": iso(weather.times[-1]) if weather.hours else None,
        "hours": weather.hours,
        "issued": iso(weather.issued),
        "issued_from": weather.issued_from,
        "gust_meaning": weather.gust_meaning,
        "gust_resolution_m_s": number(weather.gust_resolution),
        "columns": [
            {"name": name, "origin": origin, "blank_hours": blank_hours(weather, name)}
            for name, origin in weather.origin.items()
        ],
        "notes": note_rows(weather.notes),
    }


def _job(
    job: Job, sheets: tuple[Sheet, ...], hardware: Hardware | None, limits: Limits
) -> Record:
    return {
        "name": job.name,
        "time_zone": job.place.time_zone,
        "finish_by": job.finish_by.isoformat() if job.finish_by else None,
        "people": job.crew.people,
        "steps": [_job_step(x, limits.get(x.name, {})) for x in job.steps],
        "limits": [row for step, of in limits.items() for row in limit_rows(step, of)],
        "sheets": sheet_rows(sheets),
        "hardware": hardware_row(hardware),
        "assumed": list(job.assumed),
    }


def _job_step(step: Step, limits: Mapping[str, tuple[Limit, ...]]) -> Record:
    return {
        "step": step.name,
        "after": list(step.after),
        "nights_after": step.nights_after,
        "done": step.done,
        "phases": [phase_row(x, limits.get(x.name, ())) for x in step.phases],
    }
