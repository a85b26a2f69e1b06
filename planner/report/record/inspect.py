"""What ``inspect`` found, as the record ``inspect/1`` for programs.

It has the keys ``weather``, ``archive`` and ``job``, all but one of them null, and
``files``: what it was read from, several if they were read as one. Times of a weather file
are UTC; ``blank_hours`` counts the hours of a column that hold no number. ``zone`` is the
clock on which times without an offset were read ("" if each has one), ``label`` what a time
labels. A gap is a stretch of hours in which the file gives nothing; ``years`` counts those
hours, and blank gusts, year by year (UTC) if the file spans more than one.

``availability`` is null unless it was asked for (``--save FILE.json``). It gives by column
the share of hours that hold a number, a row a day, a month, or a month of the year over all
years (``by``, ``rows``), across it the clock hours 0 to 23 in ``time_zone``, null where the
file has no hour; ``hours`` counts those it has.

Of an archive of forecasts ``issues`` counts the forecasts, ``first`` and ``last`` are issued
first and last, ``issue_hours`` are the times of day at which they are, ``hours`` how many
the shortest of them spans and the longest.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from planner.report.availability import blank_hours, gaps, longest_gap, years
from planner.report.record.windows import (
    hardware_row,
    iso,
    limit_rows,
    note_rows,
    number,
    phase_row,
    sheet_rows,
    version_here,
)
from planner.weather.formats.maps import formats
from planner.weather.found import given
from planner.weather.table import COLUMN

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.film.sheet import Hardware, Sheet
    from planner.job.records import Job, Limit, Step
    from planner.report.availability import Gap, Shares
    from planner.report.record.windows import Limits, Record
    from planner.weather.archive import Archive
    from planner.weather.table import Weather, WeatherPlace


def inspect_1(
    *,
    weather: Weather | None = None,
    archive: Archive | None = None,
    job: Job | None = None,
    sheets: tuple[Sheet, ...] = (),
    hardware: Hardware | None = None,
    limits: Limits | None = None,
    files: Sequence[str] = (),
    availability: Shares | None = None,
) -> Record:
    """Give what was found in one file as the ``inspect/1`` record.

    Parameters
    ----------
    weather : Weather, optional
        As read.
    archive : Archive, optional
        As read.
    job : Job, optional
        As read, with its steps laid out.
    sheets : tuple of Sheet
        Of the job's house.
    hardware : Hardware, optional
        Of the job's house.
    limits : mapping, optional
        Limits by step and phase.
    files : sequence of str
        What it was read from.
    availability : Shares, optional
        Of the weather.

    Returns
    -------
    dict
        ``weather``, ``archive`` and ``job``, null for what was not given.
    """
    return {
        "schema": "inspect/1",
        "planner": version_here(),
        "files": list(files),
        "weather": None if weather is None else _weather(weather, availability),
        "archive": None if archive is None else _archive(archive),
        "job": None if job is None else _job(job, sheets, hardware, limits or {}),
    }


def _weather(weather: Weather, availability: Shares | None) -> Record:
    known = formats().get(weather.format)
    found = gaps(weather)
    return {
        "format": weather.format,
        "title": None if known is None else known.title,
        "kind": weather.kind,
        "credit": weather.credit,
        "place": _place(weather.place),
        "first": iso(weather.times[0]) if weather.hours else None,
        "last": iso(weather.times[-1]) if weather.hours else None,
        "hours": weather.hours,
        "zone": weather.zone,
        "label": weather.label,
        "issued": iso(weather.issued),
        "issued_from": weather.issued_from,
        "fetched": iso(weather.fetched),
        "stale": weather.stale or None,
        "gust_meaning": weather.gust_meaning,
        "gust_resolution_m_s": number(weather.gust_resolution),
        "columns": [
            {"name": name, "origin": origin, "blank_hours": blank_hours(weather, name)}
            for name, origin in weather.origin.items()
        ],
        "gaps": [_gap(x) for x in found],
        "longest_gap": _gap(longest_gap(found)),
        "years": [asdict(x) for x in years(weather)],
        "availability": None if availability is None else _availability(availability),
        "notes": note_rows(weather.notes),
    }


def _gap(gap: Gap | None) -> Record | None:
    return None if gap is None else {"first": iso(gap.first), "hours": gap.hours}


def _availability(found: Shares) -> Record:
    return {
        "time_zone": found.time_zone,
        "by": found.by,
        "rows": list(found.rows),
        "hours": found.hours.tolist(),
        "share": {
            name: [[number(x, 6) for x in row] for row in found.share(name).tolist()]
            for name in found.there
        },
    }


def _archive(archive: Archive) -> Record:
    return {
        "format": archive.format,
        "credit": archive.credit,
        "place": _place(archive.place),
        "issues": len(archive),
        "first": iso(archive.issues[0]),
        "last": iso(archive.issues[-1]),
        "issue_hours": sorted(set(archive.issues.strftime("%H:%M"))),
        "hours": [int(archive.hours.min()), int(archive.hours.max())],
        "gust_meaning": archive.gust_meaning,
        "gust_resolution_m_s": number(archive.gust_resolution),
        "columns": [name for name in COLUMN if given(archive.values, name)],
        "notes": note_rows(archive.notes),
    }


def _place(place: WeatherPlace) -> Record:
    return {
        "name": place.name,
        "latitude": place.latitude,
        "longitude": place.longitude,
        "elevation_m": number(place.elevation),
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
