"""The command line: parse, call, print, turn an error into an exit code.

Only ``click`` is imported here at the top; each verb imports its own room, so that
``planner --help`` stays fast.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from planner.errors import PlannerError, UsageError
from planner.fetch_verb import fetch
from planner.history_verbs import learn, replay
from planner.inspect_verb import inspect
from planner.serve_verb import serve
from planner.typed import (
    complain,
    day,
    drawing,
    drawing_options,
    film_temperature,
    json_option,
    planned_from,
    reading_options,
    units_option,
    weather_options,
    with_people,
    with_stress_free,
)

if TYPE_CHECKING:
    from collections.abc import Callable


_USAGE = 1


@click.group(
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog="A plan is not permission: the reading in the hand outranks the forecast.",
)
@click.version_option(package_name="planner")
def cli() -> None:
    """Say which hours to put film on a hoop house, and what stops them.

    `planner serve` does everything in the browser. By hand, `planner new` writes a job
    file, `planner inspect` checks it, and `planner windows` says when.
    """


@cli.command(short_help="Which hours: the main job.")
@click.argument("job")
@click.argument("weather", nargs=-1, required=True)
@click.option("--now", help="Plan from this time (place's own time, or with an offset).")
@click.option("--days", type=click.IntRange(1, 60), default=16, help="How many days ahead.")
@click.option("--on", "on_date", help="Only starts on this day, as 2026-05-09.")
@click.option("--people", type=click.IntRange(1, 30), help="Instead of the job file's number.")
@click.option(
    "--save",
    type=click.Path(),
    multiple=True,
    help="Write .html (the page), .pdf or .txt (the crew card), .ics (the calendar), .svg, "
    ".png (the day sheet) or .json; may be given several times.",
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    help="Of the crew card; by the units if left out.",
)
@click.option("--far", is_flag=True, help="Accept weather of a place over 200 km away.")
@drawing_options
@weather_options
@units_option
@json_option
def windows(
    job: str,
    weather: tuple[str, ...],
    now: str | None,
    days: int,
    on_date: str | None,
    people: int | None,
    save: tuple[str, ...],
    paper: str | None,
    far: bool,
    units: str | None,
    as_json: bool,
    error: str | None,
    earlier: tuple[str, ...],
    seed: int | None,
    pace: float | None,
    **reading: str | None,
) -> None:
    """Rank the hours in which each step of JOB stays inside its limits in WEATHER."""
    from planner.job.jobfile import read_job
    from planner.plan.make import make_plan
    from planner.report.record.windows import dumps, windows_1
    from planner.report.save import SUFFIXES, check_suffixes, plan_file, write_whole
    from planner.report.screen.first import first_screen
    from planner.weather.read import read_weather

    check_suffixes(save, SUFFIXES)
    the_weather = read_weather(weather, **reading_options(reading))
    the_job, drawn = drawing(
        with_people(read_job(job), people),
        error=error,
        earlier=earlier,
        seed=seed,
        pace=pace,
        reading=reading_options(reading),
    )
    plan = make_plan(
        the_job,
        the_weather,
        now=planned_from(now, the_job.place.time_zone, the_weather),
        on=day(on_date),
        days=days,
        far=far,
        **drawn,
    )
    units = units or the_job.units
    click.echo(dumps(windows_1(plan)) if as_json else first_screen(plan, units=units))
    for path in save:
        made = plan_file(plan, Path(path).suffix, units=units, paper=paper)
        write_whole(path, made)


@cli.command(short_help="How tight to lock the film.")
@click.argument("job")
@click.argument("weather", nargs=-1)
@click.option("--film-temp", help="Measured at the locks now, as 48C or 118F.")
@click.option("--stress-free", help="Instead of the job file's, as 35C or 95F.")
@click.option("--now", help="Plan from this time (place's own time, or with an offset).")
@click.option(
    "--save", type=click.Path(), multiple=True, help="Write .json, .svg, .png or .csv."
)
@click.option("--far", is_flag=True, help="Accept weather of a place over 200 km away.")
@weather_options
@units_option
@json_option
def tension(
    job: str,
    weather: tuple[str, ...],
    film_temp: str | None,
    stress_free: str | None,
    now: str | None,
    save: tuple[str, ...],
    far: bool,
    units: str | None,
    as_json: bool,
    **reading: str | None,
) -> None:
    """Say how tight to lock the film of JOB, and how it fares in WEATHER."""
    from planner.hours.house import with_steps
    from planner.job.jobfile import read_job
    from planner.plan.tension_plan import make_tension
    from planner.report.record.tension import tension_1
    from planner.report.record.windows import dumps
    from planner.report.save import TENSION_SUFFIXES, check_suffixes, tension_file, write_whole
    from planner.report.screen.tension import CHART_ROWS, tension_screen
    from planner.weather.read import read_weather

    check_suffixes(save, TENSION_SUFFIXES)
    the_job = with_stress_free(with_steps(read_job(job)), stress_free)
    the_weather = when = None
    if weather:
        the_weather = read_weather(weather, **reading_options(reading))
        when = planned_from(now, the_job.place.time_zone, the_weather)
    units = units or the_job.units
    plan = make_tension(
        the_job,
        the_weather,
        film_temps=CHART_ROWS[units],
        film_temp=film_temperature(film_temp, "--film-temp"),
        now=when,
        far=far,
    )
    click.echo(dumps(tension_1(plan)) if as_json else tension_screen(plan, units=units))
    for path in save:
        write_whole(path, tension_file(plan, Path(path).suffix, units=units))


#: What ``new`` asks, in order: option, key of the job file, question.
_QUESTIONS = (
    ("name", "name", "What do you call the house"),
    ("latitude", "place.latitude", "Latitude in degrees, north positive"),
    ("longitude", "place.longitude", "Longitude in degrees, east positive"),
    ("width", "house.width", 'Width, as "30 ft" or "9.1 m"'),
    ("length", "house.length", 'Length, as "96 ft" or "29 m"'),
    ("thickness", "film.thickness", 'Film, as "6 mil" or "0.15 mm"'),
    ("people", "crew.people", "People in the crew"),
)
_NUMBERS = {"latitude": float, "longitude": float, "people": int}


def _answer_options(verb: Callable[..., Any]) -> Callable[..., Any]:
    """Add an option for each question of ``new``."""
    for option, _, question in reversed(_QUESTIONS):
        kind = _NUMBERS.get(option, str)
        verb = click.option(f"--{option}", type=kind, help=f"{question}.")(verb)
    return verb


@cli.command(short_help="Write a commented job file.")
@click.argument("file", type=click.Path())
@click.option("--force", is_flag=True, help="Replace the file if it is there.")
@_answer_options
def new(file: str, force: bool, **answers: Any) -> None:
    """Write a commented job FILE from a few answers; asks for those not given."""
    from planner.report.save import write_whole

    path = Path(file)
    if path.suffix.lower() != ".toml":
        raise UsageError(f"A job file ends in .toml, {file} does not.", fix=f"Try {file}.toml.")
    if path.exists() and not force:
        raise UsageError(
            f"{file} is there already.", fix="Choose another name, or add --force."
        )
    for option, _, question in _QUESTIONS:
        if answers[option] is None:
            if not sys.stdin.isatty():
                raise UsageError(f"--{option} is missing.", fix=f"{question}.")
            answers[option] = click.prompt(question, type=_NUMBERS.get(option, str))
    text = _new_text(answers)
    write_whole(path, text)
    import shlex

    name = shlex.quote(file)
    click.echo(f"{file} is written. Check it: planner inspect {name}")
    click.echo(f"Then, with a weather file: planner windows {name} WEATHER")


def _new_text(answers: dict[str, Any]) -> str:
    """Give the text of a new job file; at a terminal a bad answer is asked for again."""
    from planner.errors import JobError
    from planner.job.newfile import new_job_text

    while True:
        try:
            return new_job_text({key: answers[option] for option, key, _ in _QUESTIONS})
        except JobError as error:
            asked = [x for x in _QUESTIONS if x[1] == error.key]
            if not asked or not sys.stdin.isatty():
                raise UsageError(error.message, fix=error.fix, key=error.key) from error
            [(option, _, question)] = asked
            click.echo(f"{error.message} {error.fix}")
            answers[option] = click.prompt(question, type=_NUMBERS.get(option, str))


for verb in (fetch, inspect, learn, replay, serve):
    cli.add_command(verb)


def main() -> None:
    """Run the command line and leave with its exit code."""
    as_json = "--json" in sys.argv[1:]
    try:
        cli.main(prog_name="planner", standalone_mode=False)
    except PlannerError as error:
        complain(error, as_json=as_json)
        raise SystemExit(error.exit_code) from None
    except click.ClickException as error:
        context = getattr(error, "ctx", None)
        where = context.command_path if context else "planner"
        complain(
            UsageError(error.format_message(), fix=f"See: {where} --help"), as_json=as_json
        )
        raise SystemExit(_USAGE) from None
    except (click.Abort, KeyboardInterrupt):
        click.echo("planner: stopped; nothing was written.", err=True)
        raise SystemExit(_USAGE) from None
    except BrokenPipeError:
        raise SystemExit(0) from None
    except OSError as error:
        complain(PlannerError(f"Nothing can be written: {error.strerror}."), as_json=as_json)
        raise SystemExit(_USAGE) from None
