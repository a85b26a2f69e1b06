"""The verb ``inspect``: what is in job and weather files, one by one or in a table."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from planner.errors import PlannerError, SeveralIssues, SeveralPlaces, UsageError, WeatherError
from planner.typed import (
    TABLE_OPTIONS,
    complain,
    json_option,
    reading_options,
    units_option,
    weather_options,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.screen.found_table import Row
    from planner.weather.archive import Archive
    from planner.weather.table import Weather

    Source = tuple[str, ...]  # a file, or several that are read as one
    Found = Weather | Archive | dict[str, Any]  # a job comes with what follows from it


@click.command(short_help="Check job and weather files.")
@click.argument("files", nargs=-1, required=True)
@click.option("--full", is_flag=True, help="Print the report of each, not a table.")
@click.option("--as-one", is_flag=True, help="Read the weather files as one record.")
@click.option(
    "--save",
    type=click.Path(),
    multiple=True,
    help="Write .png, .svg or .json: which hours of a weather file hold a number, by month "
    "and clock hour.",
)
@weather_options
@units_option
@json_option
def inspect(
    files: tuple[str, ...],
    full: bool,
    as_one: bool,
    save: tuple[str, ...],
    units: str | None,
    as_json: bool,
    **reading: str | None,
) -> None:
    """Check job and weather FILES: what is found, assumed, doubted; many make a table."""
    sources = _sources(files, as_one=as_one)
    _check_save(save, sources)
    options = reading_options(reading)
    if as_json:
        codes = _print_records(sources, options, save=save)
    else:
        reader = _reader(sources, units)
        weather = [x for x in sources if not _is_job(x)]
        table = weather if len(weather) > 1 and not full else []
        rest = [x for x in sources if x not in table]
        codes = _print_reports(rest, options, reader=reader, save=save)
        if table:
            click.echo("\n" * bool(rest), nl=False)
            codes += _print_table(table, options)
    if codes:
        raise SystemExit(max(codes))


def _sources(files: tuple[str, ...], *, as_one: bool) -> list[Source]:
    """Give what is to be read, one after the other."""
    if not as_one:
        return [(file,) for file in files]
    weather = tuple(file for file in files if not _is_job((file,)))
    jobs = [(file,) for file in files if _is_job((file,))]
    return [*jobs, *([weather] if weather else [])]


def _is_job(source: Source) -> bool:
    return source[0].lower().endswith(".toml")


def _check_save(save: tuple[str, ...], sources: list[Source]) -> None:
    """Refuse what cannot be written before any file is read."""
    from planner.report.save import INSPECT_SUFFIXES, check_suffixes

    check_suffixes(save, INSPECT_SUFFIXES)
    count = sum(not _is_job(x) for x in sources)
    if save and count != 1:
        raise UsageError(
            f"It shows the hours of one weather file; {count or 'none'} "
            f"{'are' if count > 1 else 'is'} named.",
            fix="Name one, or add --as-one to read several as one record.",
            key="--save",
        )


def _print_records(
    sources: list[Source], options: dict[str, Any], *, save: tuple[str, ...]
) -> list[int]:
    """Print a record of each file or place; give the exit codes of those that failed."""
    import json

    from planner.report.record.inspect import inspect_1
    from planner.report.record.windows import dumps
    from planner.weather.archive import Archive

    codes = []
    for source in sources:
        for place, found in _read_each(source, options):
            if isinstance(found, PlannerError):
                complain(found, as_json=True)
                codes.append(found.exit_code)
                continue
            _save(save, source, place, found)
            what = {"archive" if isinstance(found, Archive) else "weather": found}
            record = inspect_1(files=source, **(found if isinstance(found, dict) else what))
            click.echo(dumps(record) if len(sources) == 1 else json.dumps(record))
    return codes


def _print_reports(
    sources: list[Source],
    options: dict[str, Any],
    *,
    reader: dict[str, str],
    save: tuple[str, ...],
) -> list[int]:
    """Print a report for each file or place; give the exit codes of those that failed."""
    codes, between = [], ""
    for source in sources:
        for place, found in _read_each(source, options):
            if isinstance(found, PlannerError):
                complain(found, as_json=False)
                codes.append(found.exit_code)
                continue
            _save(save, source, place, found)
            click.echo(between + _report(found, source, reader=reader))
            between = "\n"
    return codes


def _reader(sources: list[Source], units: str | None) -> dict[str, str]:
    """Give units and time zone of weather reports: those of a job named, else SI and UTC."""
    from planner.job.jobfile import read_job

    for source in filter(_is_job, sources):
        with contextlib.suppress(PlannerError):  # told when its turn comes
            job = read_job(source[0])
            return {"units": units or job.units, "time_zone": job.place.time_zone}
    return {"units": units or "si", "time_zone": "UTC"}


def _report(found: Found, source: Source, *, reader: dict[str, str]) -> str:
    from planner.report.screen.found import weather_report
    from planner.report.screen.found_archive import archive_report
    from planner.report.screen.found_job import job_report
    from planner.weather.archive import Archive

    if isinstance(found, dict):
        return job_report(**found, units=reader["units"])
    if isinstance(found, Archive):
        return archive_report(found, **reader, files=source)
    return weather_report(found, **reader, files=source)


def _print_table(sources: list[Source], options: dict[str, Any]) -> list[int]:
    """Print a row for each file or place; give the exit codes of those that failed."""
    from planner.report.screen.found_table import found_table, table_row

    codes: list[int] = []
    rows: list[Row] = []
    for source in sources:
        for place, found in _read_each(source, options):
            if isinstance(found, PlannerError):
                codes.append(found.exit_code)
            if not isinstance(found, dict):
                rows.append(table_row(source[0], place, found))
    click.echo(found_table(rows))
    if codes:
        count = f"{len(codes)} of {len(rows)}"
        text = f"{count} {'was' if len(codes) == 1 else 'were'} refused."
        fix = "Name one alone, or add --full, to read why and what to do."
        complain(WeatherError(text, fix=fix), as_json=False)
    return codes


def _read_each(
    source: Source, options: dict[str, Any]
) -> Iterator[tuple[str, Found | PlannerError]]:
    """Give what is in a file, or in every place of it where it holds several, by place."""
    found = _read(source, options)
    alone = "location" in options or len(source) > 1
    if alone or not isinstance(found, SeveralPlaces):
        yield "", found
        return
    for place in found.places:
        yield place, _read(source, {**options, "location": place})


def _read(source: Source, options: dict[str, Any]) -> Found | PlannerError:
    """Read a job, a forecast, a record or an archive; give the error if it is refused."""
    from planner.weather.archive import read_archive
    from planner.weather.read import read_weather

    try:
        if _is_job(source):
            return _job(source[0])
        try:
            return read_weather(source, **options)
        except SeveralIssues:
            how = {name: options[name] for name in TABLE_OPTIONS if name in options}
            return read_archive(source, **how)
    except PlannerError as error:
        return error


def _job(file: str) -> dict[str, Any]:
    """Read a job, and give with it what follows from it."""
    from planner.hours.house import hardware_for, sheets_for, with_steps
    from planner.hours.limits import limits_for
    from planner.job.jobfile import read_job

    job = with_steps(read_job(file))
    return {
        "job": job,
        "sheets": sheets_for(job),
        "hardware": hardware_for(job),
        "limits": {step.name: limits_for(job, step) for step in job.steps},
    }


def _save(save: tuple[str, ...], source: Source, place: str, found: Found) -> None:
    """Write which hours of a weather file hold a number."""
    from planner.report.save import inspect_file, write_whole
    from planner.weather.archive import Archive

    if not save or isinstance(found, dict):
        return
    if place or isinstance(found, Archive):
        what, fix = "places", f"--location {place}"
        if isinstance(found, Archive):
            what, fix = "forecasts", f"--issued {found.issues[-1]:%Y-%m-%dT%H:%MZ}"
        raise UsageError(
            f"It shows the hours of one weather; this file holds several {what}.",
            fix=f"Choose one, for example with {fix}.",
            file=source[0],
            key="--save",
        )
    for path in save:
        write_whole(path, inspect_file(found, Path(path).suffix, files=source))
