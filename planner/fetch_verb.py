"""The verb ``fetch``: the weather of a job's place from a service, into a file."""

from __future__ import annotations

import os
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from planner.typed import json_option, units_option

if TYPE_CHECKING:
    from planner.job.records import Job
    from planner.weather.live.fetch import Fetched

_CONTACT: Final = "PLANNER_CONTACT"
_CACHE: Final = "PLANNER_CACHE"
_ADDRESS: Final = "PLANNER_ADDRESS_"
_SENT: Final = (
    "Only coordinates, or station and dates, and a name with your contact are sent. Answers "
    "are kept for as long as the service says; where the line fails, the last one is used "
    "and says how old it is. PLANNER_CONTACT, PLANNER_CACHE (a folder) and "
    "PLANNER_ADDRESS_NWS and the like may stand in the environment."
)


@click.command(short_help="Weather from a service, into a file.", epilog=_SENT)
@click.argument("job")
@click.option(
    "--from",
    "service",
    default="open-meteo",
    show_default=True,
    help="open-meteo, open-meteo-ensemble, nws, met-norway, or iem (airport reports).",
)
@click.option("--save", type=click.Path(), help="The .csv file; beside JOB if left out.")
@click.option("--days", type=click.IntRange(1, 366), help="How many days ahead; iem: back.")
@click.option("--contact", help="Your mail or web address, for services that ask for one.")
@click.option("--station", help="The airport, for iem.")
@click.option("--offline", is_flag=True, help="Open no connection, use the last copy.")
@click.option("--address", help="Another address of the service.")
@click.option(
    "--deadline",
    type=click.FloatRange(0.1, 600.0),
    default=30.0,
    show_default=True,
    help="Seconds that all of it may take.",
)
@units_option
@json_option
def fetch(
    job: str,
    service: str,
    save: str | None,
    days: int | None,
    contact: str | None,
    station: str | None,
    offline: bool,
    address: str | None,
    deadline: float,
    units: str | None,
    as_json: bool,
) -> None:
    """Fetch the weather of JOB's place from a service and write it as a file."""
    from planner.job.jobfile import read_job
    from planner.report.save import check_suffixes, write_whole
    from planner.weather.live.fetch import fetch as fetch_weather
    from planner.weather.live.service import find_service

    the_job = read_job(job)
    chosen = find_service(service)
    ending = "observed" if chosen.kind == "observed" else "forecast"
    file = Path(save) if save else Path(job).with_name(f"{Path(job).stem}-{ending}.csv")
    check_suffixes([file], (".csv",))
    fetched = fetch_weather(
        service,
        the_job.place.latitude,
        the_job.place.longitude,
        days=days,
        station=station or "",
        contact=contact or (_known_contact(the_job) if chosen.contact else ""),
        base=address or os.environ.get(_ADDRESS + service.upper().replace("-", "_")),
        cache=os.environ.get(_CACHE) or None,
        offline=offline,
        deadline=deadline,
        tell=_silent if as_json else _tell,
    )
    source = file.with_suffix(".source.toml")
    write_whole(file, fetched.csv)
    write_whole(source, fetched.source)
    click.echo(
        _said(fetched, the_job, (file, source), units=units or the_job.units, as_json=as_json)
    )


def _known_contact(job: Job) -> str:
    """Give the contact that was not typed, for services that ask for one."""
    return os.environ.get(_CONTACT) or job.contact


def _said(
    fetched: Fetched, job: Job, files: tuple[Path, Path], *, units: str, as_json: bool
) -> str:
    """Say what was fetched, in words or as JSON."""
    file, source = map(str, files)
    if as_json:
        from planner.report.record.fetch import fetch_json
        from planner.report.record.windows import dumps

        zone = job.place.time_zone
        return dumps(fetch_json(fetched, time_zone=zone, file=file, source_file=source))
    from planner.report.screen.fetch import fetch_text

    further = ["planner", "windows", job.file, file]
    if fetched.weather.kind == "observed":
        further = ["planner", "inspect", file]
    return fetch_text(
        fetched,
        job=job,
        units=units,
        files=[file, f"{source} (where it is from)"],
        further=shlex.join(further),
    )


def _tell(text: str) -> None:
    """Say what takes long, apart from the answer."""
    click.echo(text, err=True)


def _silent(text: str) -> None:
    """Say nothing: a program reads what is printed."""
