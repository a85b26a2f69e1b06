"""What was typed about past forecasts: the two files, their days, their place."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from planner.errors import SeveralPlaces, UsageError, WeatherError
from planner.typed import day

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from planner.job.records import Job
    from planner.weather.archive import Archive
    from planner.weather.table import Weather


class Where(NamedTuple):
    """A place: degrees north and east [deg], and its time zone."""

    latitude: float
    longitude: float
    time_zone: str


def days_options(verb: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that cut an archive."""
    for option in (
        click.option("--to", "to_date", help="Up to this day, as 2024-02-15."),
        click.option("--from", "from_date", help="Only forecasts issued from this day on."),
    ):
        verb = option(verb)
    return verb


def read_both(
    forecasts: str, observed: str, reading: dict[str, Any]
) -> tuple[Archive, Weather]:
    """Read an archive of forecasts and what was observed.

    Parameters
    ----------
    forecasts, observed : str
        The files.
    reading : dict of str to str
        Options of the reader, for both files; ``location`` for those that name places.

    Returns
    -------
    tuple of Archive and Weather
        As read.

    Raises
    ------
    WeatherError
        As the readers; if a place is chosen and neither file names any.
    """
    from planner.weather.archive import read_archive
    from planner.weather.read import read_weather

    refused: list[WeatherError] = []

    def read(reader: Callable[..., Any], file: str, **more: str) -> Any:
        try:
            return reader(file, **reading, **more)
        except SeveralPlaces:
            raise
        except WeatherError as error:
            if error.key != "location":
                raise
            refused.append(error)
            how = {name: word for name, word in reading.items() if name != "location"}
            return reader(file, **how, **more)

    both = read(read_archive, forecasts), read(read_weather, observed, kind="observed")
    if len(refused) == len(both):
        raise refused[0]
    return both


def where_it_is(job: Job | None, at: str | None, archive: Archive, seen: Weather) -> Where:
    """Tell the place: as the job file says, as typed, else as the weather files say.

    Parameters
    ----------
    job : Job or None
        As read.
    at : str or None
        As "44.02,-91.40".
    archive : Archive
        Past forecasts.
    seen : Weather
        What came.

    Returns
    -------
    Where
        The place.

    Raises
    ------
    UsageError
        If nobody says, or it lies at sea.
    WeatherError
        If one of the files is for a place far from it.
    """
    from planner.plan.place_check import refuse_far

    where = _where(job, at, archive, seen)
    for what, there in (("forecasts are", archive.place), ("observations are", seen.place)):
        refuse_far(where, there, what=what)
    return where


def _where(job: Job | None, at: str | None, archive: Archive, seen: Weather) -> Where:
    if job is not None:
        return Where(job.place.latitude, job.place.longitude, job.place.time_zone)
    if at is not None:
        return _with_zone(*place_at(at))
    for place in (archive.place, seen.place):
        if place.latitude is not None and place.longitude is not None:
            return _with_zone(place.latitude, place.longitude)
    raise UsageError(
        "Neither file says where it is for.",
        fix='Say it with --at "LAT,LON", as --at "44.02,-91.40", or with --job JOB.',
    )


def issued_on(archive: Archive, first: str | None, last: str | None, *, zone: str) -> Archive:
    """Keep the forecasts issued on some days.

    Parameters
    ----------
    archive : Archive
        Past forecasts.
    first, last : str or None
        Days as typed, both of them included.
    zone : str
        Time zone of the place, whose days they are.

    Returns
    -------
    Archive
        With one forecast at least.

    Raises
    ------
    UsageError
        If a day cannot be read, or no forecast was issued then.
    """
    found = archive.between(*stretch(first, last, zone))
    if not len(found):
        days = (("from", first), ("up to", last))
        raise UsageError(
            f"No forecast was issued {' '.join(f'{x} {day}' for x, day in days if day)}; the "
            f"archive has those of {archive.issues[0]:%Y-%m-%d} to "
            f"{archive.issues[-1]:%Y-%m-%d}.",
            fix="Choose other days.",
            key="--from" if first else "--to",
        )
    return found


def stretch(
    first: str | None, last: str | None, zone: str
) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Give the time between two typed days, both of them included.

    Parameters
    ----------
    first, last : str or None
        As "2026-05-09"; None for a stretch without an end on that side.
    zone : str
        Time zone of the place, whose days they are.

    Returns
    -------
    tuple of pandas.Timestamp
        From the first midnight up to but without the last, UTC.

    Raises
    ------
    UsageError
        If one is no date, or the last day comes before the first.
    """
    import pandas as pd

    begin, end = day(first, "--from"), day(last, "--to")
    if begin and end and end < begin:
        raise UsageError(
            f"{last} comes before {first}.",
            fix="Give the first day with --from and the last with --to.",
            key="--to",
        )

    def midnight(date: dt.date) -> pd.Timestamp:
        local = pd.Timestamp(date).tz_localize(
            zone, ambiguous=True, nonexistent="shift_forward"
        )
        return local.tz_convert("UTC")

    return (
        midnight(begin or dt.date(1700, 1, 1)),
        midnight((end or dt.date(2200, 1, 1)) + dt.timedelta(days=1)),
    )


def place_at(text: str) -> tuple[float, float]:
    """Give a typed place.

    Parameters
    ----------
    text : str
        As "44.02,-91.40".

    Returns
    -------
    tuple of float
        Degrees north and degrees east [deg].

    Raises
    ------
    UsageError
        If it is not two numbers, or no place on Earth.
    """
    fix = 'Write it as --at "44.02,-91.40": degrees north, then degrees east.'
    try:
        latitude, longitude = (float(part) for part in text.split(","))
    except ValueError as error:
        raise UsageError(f'"{text}" is not a place.', fix=fix, key="--at") from error
    if not (-90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0):
        raise UsageError(
            f"There is no place {latitude:g} degrees north, {longitude:g} east.",
            fix=fix,
            key="--at",
        )
    return latitude, longitude


def _with_zone(latitude: float, longitude: float) -> Where:
    """Give a place with the time zone that it lies in."""
    try:
        from tzfpy import get_tz

        zone = str(get_tz((longitude + 180.0) % 360.0 - 180.0, latitude))
    except (ImportError, RuntimeError, ValueError):
        zone = ""
    if not zone or zone.startswith("Etc/"):
        raise UsageError(
            f"No time zone is known for {latitude:g}, {longitude:g}; the place lies at sea.",
            fix="Check the signs (north and east are positive), or name a job file that has "
            "place.time_zone with --job.",
        )
    return Where(latitude, longitude, zone)
