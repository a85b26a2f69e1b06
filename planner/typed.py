"""What was typed on the command line, turned into what the rooms take.

The options that several verbs share are here too, and how a refusal is told.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from planner.errors import OutOfRange, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from planner.errors import PlannerError
    from planner.job.records import Job
    from planner.weather.table import Weather

units_option = click.option(
    "--units",
    type=click.Choice(["us", "si"]),
    help="Units to print; the job file's own if left out.",
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON and nothing else."
)
_PACE = "For certain: 1 has done it often, 1.6 never."
_LABELS = ("start", "end", "closes")
#: How a table of any weather is to be read, one forecast or many.
TABLE_OPTIONS = ("format", "zone", "label", "location", "model")


def weather_options(verb: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of every verb that reads a weather file."""
    for option in (
        click.option("--issued", help="When the forecast was made (ISO time with offset)."),
        click.option("--kind", type=click.Choice(["forecast", "observed"]), help="What it is."),
    ):
        verb = option(verb)
    return table_options(verb)


def table_options(verb: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say how a table of any weather is to be read."""
    for option in (
        click.option("--model", help="Which model's columns, if there are several."),
        click.option("--location", help="Which station or airport of the file."),
        click.option("--label", type=click.Choice(_LABELS), help="What a time labels."),
        click.option("--zone", help="Time zone of times without an offset."),
        click.option(
            "--format", "format_", help="Name of the format, if it is not recognised."
        ),
    ):
        verb = option(verb)
    return verb


def drawing_options(verb: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say how possible weathers are drawn around a forecast."""
    for option in (
        click.option("--pace", type=click.FloatRange(0.5, 3.0), help=_PACE),
        click.option("--seed", type=click.IntRange(0), help="Of the possible weathers."),
        click.option(
            "--earlier", multiple=True, help="A forecast issued before; may be given twice."
        ),
        click.option("--error", help="A table that `learn` wrote; none = take it as it comes."),
    ):
        verb = option(verb)
    return verb


def drawing(
    job: Job,
    *,
    error: str | None,
    earlier: tuple[str, ...],
    seed: int | None,
    pace: float | None,
    reading: dict[str, Any],
) -> tuple[Job, dict[str, Any]]:
    """Turn what was typed about possible weathers into what ``make_plan`` takes.

    Parameters
    ----------
    job : Job
        Its pace is replaced by a typed one, which then is certain.
    error : str or None
        A file, "none", or nothing typed.
    earlier : tuple of str
        Files of forecasts issued before.
    seed : int or None
        Of the random numbers [-].
    pace : float or None
        Of the crew [-].
    reading : dict
        How the weather files are to be read.

    Returns
    -------
    tuple of Job and dict
        The job, and the arguments by name.
    """
    from planner.weather.miss.error_file import read_error
    from planner.weather.read import read_weather

    options: dict[str, Any] = {}
    if error is not None:
        options["error"] = None if error.lower() == "none" else read_error(error)
    if seed is not None:
        options["seed"] = seed
    if pace is not None:
        job = replace(job, crew=replace(job.crew, pace=pace))
        options["paced"] = False
    once = {name: text for name, text in reading.items() if name != "issued"}
    options["earlier"] = [read_weather(file, **once) for file in earlier]
    return job, options


def complain(error: PlannerError, *, as_json: bool) -> None:
    """Print an error where errors go, in words or as JSON."""
    if as_json:
        import json

        click.echo(json.dumps(error.as_dict()), err=True)
    else:
        click.echo(f"planner: {error}", err=True)


def reading_options(options: dict[str, str | None]) -> dict[str, Any]:
    """Give the options of a weather reader under the names that it uses."""
    return {name.rstrip("_"): text for name, text in options.items() if text is not None}


def with_people(job: Job, people: int | None) -> Job:
    """Give the job with another number of people.

    Parameters
    ----------
    job : Job
        As read.
    people : int or None
        None to keep the job's own.

    Returns
    -------
    Job
        Its crew changed.
    """
    return job if people is None else replace(job, crew=replace(job.crew, people=people))


def planned_from(text: str | None, zone: str, weather: Weather) -> pd.Timestamp | None:
    """Give the time to plan from: as typed for ``--now``, the clock's, or the file's own."""
    import pandas as pd

    from planner.plan.now import time_to_plan_from

    clock = pd.Timestamp.now(tz="UTC")
    return time_to_plan_from(text, zone, weather, clock=clock, key="--now")


def film_temperature(text: str | None, option: str) -> float | None:
    """Give a typed film temperature.

    Parameters
    ----------
    text : str or None
        With its unit, as "48C".
    option : str
        The option it was typed for.

    Returns
    -------
    float or None
        None if nothing was typed [degC].

    Raises
    ------
    UsageError
        If it has no unit or another kind of unit.
    """
    from planner.errors import UnitError
    from planner.units import parse

    if text is None:
        return None
    try:
        return round(parse(text, "temperature"), 6)
    except UnitError as error:
        raise UsageError(error.message, fix=error.fix, key=option) from error


def with_stress_free(job: Job, text: str | None) -> Job:
    """Give the job with another stress-free film temperature.

    Parameters
    ----------
    job : Job
        As read.
    text : str or None
        With its unit, as "35C"; None to keep the job's own.

    Returns
    -------
    Job
        Its film changed.

    Raises
    ------
    UsageError
        If it has no unit, or film of that temperature does not serve.
    """
    from planner.film.slack import check_stress_free

    typed = film_temperature(text, "--stress-free")
    if typed is not None:
        try:
            check_stress_free(typed)
        except OutOfRange as error:
            raise UsageError(error.message, fix=error.fix, key="--stress-free") from error
    return job if typed is None else replace(job, film=replace(job.film, stress_free=typed))


def day(text: str | None, option: str = "--on") -> dt.date | None:
    """Give a typed day, None if nothing was typed.

    Parameters
    ----------
    text : str or None
        As "2026-05-09".
    option : str
        The option it was typed for.

    Returns
    -------
    datetime.date or None
        The day.

    Raises
    ------
    UsageError
        If it is no date.
    """
    if text is None:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(
            f'"{text}" is not a date.', fix="Write it as 2026-05-09.", key=option
        ) from error
