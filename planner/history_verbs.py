"""The verbs that go by past forecasts: ``learn`` how far they miss, ``replay`` decisions."""

from __future__ import annotations

import contextlib
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from planner.errors import UsageError
from planner.typed import json_option, reading_options, table_options, units_option
from planner.typed_past import Where, days_options, issued_on, read_both, stretch, where_it_is

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from planner.history.misses import Learned
    from planner.history.pairs import Pairs
    from planner.history.records import Replay
    from planner.job.records import Job, Place
    from planner.weather.archive import Archive
    from planner.weather.miss.forecast_error import ForecastError
    from planner.weather.table import Weather

    Progress = Callable[[int, int], None]

_ARCHIVE = (
    "FORECASTS has many forecasts, each row with the time its forecast was issued; OBSERVED "
    "has what came."
)


@click.command(short_help="How far forecasts miss at a place.", epilog=_ARCHIVE)
@click.argument("forecasts")
@click.argument("observed")
@click.option("--job", help="A job file that says where the place is.")
@click.option("--at", help='The place, as "44.02,-91.40": degrees north, degrees east.')
@days_options
@click.option("--alone", is_flag=True, help="Do not lean on the planner's own table.")
@click.option(
    "--truth",
    type=click.Choice(["analysis", "station"]),
    default="station",
    show_default=True,
    help="What OBSERVED is.",
)
@click.option("--save", type=click.Path(), help="The .toml file to write.")
@table_options
@units_option
@json_option
def learn(
    forecasts: str,
    observed: str,
    job: str | None,
    at: str | None,
    from_date: str | None,
    to_date: str | None,
    alone: bool,
    truth: str,
    save: str | None,
    units: str | None,
    as_json: bool,
    **reading: str | None,
) -> None:
    """Learn from FORECASTS and OBSERVED how far forecasts miss, and write a table of it."""
    from planner.report.record.learn import learn_json
    from planner.report.record.windows import dumps
    from planner.report.screen.learn import learn_text

    _check_new(save)
    the_job = _read_job(job, at)
    archive, seen = read_both(forecasts, observed, reading_options(reading))
    where = where_it_is(the_job, at, archive, seen)
    learned = _learned(
        issued_on(archive, from_date, to_date, zone=where.time_zone),
        seen.between(*stretch(from_date, to_date, where.time_zone)),
        where=where,
        source=f"{Path(forecasts).name} against {Path(observed).name}",
        how={"alone": alone, "truth": truth, "save": save},
    )
    units = units or (the_job.units if the_job else "si")
    click.echo(dumps(learn_json(learned)) if as_json else learn_text(learned, units=units))


@click.command(short_help="How well chances held in the past.", epilog=_ARCHIVE)
@click.argument("job")
@click.argument("forecasts")
@click.argument("observed")
@click.option("--error", help="A table that `learn` wrote; the planner's own if left out.")
@click.option(
    "--blocked",
    is_flag=True,
    help="Score each month with a table refitted on the other months of FORECASTS.",
)
@click.option(
    "--own-months", is_flag=True, help="Score months that the table was learned from too."
)
@days_options
@click.option("--count", type=click.IntRange(20, 10_000), help="How many possible weathers.")
@click.option("--seed", type=click.IntRange(0), help="Of the random numbers.")
@click.option(
    "--save",
    type=click.Path(),
    multiple=True,
    help="Write .json, .svg or .png; may be given several times.",
)
@table_options
@units_option
@json_option
def replay(
    job: str,
    forecasts: str,
    observed: str,
    error: str | None,
    blocked: bool,
    own_months: bool,
    from_date: str | None,
    to_date: str | None,
    save: tuple[str, ...],
    units: str | None,
    as_json: bool,
    **more: Any,
) -> None:
    """Play FORECASTS for JOB as if each were today's, and score what was said by OBSERVED."""
    from planner.job.jobfile import read_job
    from planner.report.record.replay import replay_json
    from planner.report.record.windows import dumps
    from planner.report.save import (
        REPLAY_SUFFIXES,
        check_suffixes,
        replay_file,
        write_whole,
    )
    from planner.report.screen.replay import replay_text

    del units  # scores and shares are the same in both
    check_suffixes(save, REPLAY_SUFFIXES)
    _check_table(error=error, blocked=blocked, own_months=own_months)
    drawn = {x: more.pop(x) for x in ("count", "seed")}
    the_job = read_job(job)
    table = None if blocked else _error(error)
    archive, seen = read_both(forecasts, observed, reading_options(more))
    played = issued_on(archive, from_date, to_date, zone=the_job.place.time_zone)
    how = (
        _refitted(the_job.place, archive, seen)
        if table is None
        else _as_it_is(table, the_job.place, played, seen, own_months=own_months)
    )
    how |= {name: number for name, number in drawn.items() if number is not None}
    done = _played(the_job, played, seen, how)
    for path in save:
        write_whole(path, replay_file(done, Path(path).suffix))
    click.echo(dumps(replay_json(done)) if as_json else replay_text(done))


def _read_job(job: str | None, at: str | None) -> Job | None:
    from planner.job.jobfile import read_job

    if job is not None and at is not None:
        raise UsageError(
            "--job and --at both say where the place is.", fix="Leave one of them out."
        )
    return None if job is None else read_job(job)


def _learned(
    archive: Archive,
    seen: Weather,
    *,
    where: Where,
    source: str,
    how: dict[str, Any],
) -> Learned:
    """Fit the table, write it, and measure what it does for the hours it is fitted on."""
    from planner.history.learn import learn as fit
    from planner.history.misses import Learned, forecasts_with_truth, misses
    from planner.history.months import paired, unseen
    from planner.report.save import write_whole
    from planner.weather.miss.error_file import error_text, shipped_error

    first, last = paired(archive, seen)
    days = [time.tz_convert(where.time_zone).date() for time in (first, last)]
    file = how["save"] or f"forecast_error_{days[1]}.toml"
    _check_new(file)
    base = None if how["alone"] else shipped_error()
    leaning = "" if base is None else ", leaning on the planner's own table"
    pairs = _pairs(archive, seen, where)
    error = fit(
        pairs,
        name=Path(file).stem,
        source=f"{source}, {days[0]} to {days[1]}{leaning}",
        truth=how["truth"],
        base=base,
        without=unseen(pairs),
    )
    write_whole(file, error_text(error))
    return Learned(
        error=error,
        file=file,
        forecasts=forecasts_with_truth(pairs),
        first=first,
        last=last,
        time_zone=where.time_zone,
        leans_on="" if base is None else base.name,
        misses=misses(pairs, error),
        credits=tuple(dict.fromkeys(x for x in (archive.credit, seen.credit) if x)),
        notes=tuple(
            dict.fromkeys(
                x.text
                for x in (*archive.notes, *seen.notes)
                if x.doubt and x.code != "place_unknown"
            )
        ),
    )


def _pairs(archive: Archive, seen: Weather, where: Where) -> Pairs:
    from planner.history.misses import check_quantities
    from planner.history.pairs import gather

    with _progress("Reading what was said") as progress:
        pairs = gather(
            archive,
            seen,
            latitude=where.latitude,
            longitude=where.longitude,
            time_zone=where.time_zone,
            progress=progress,
        )
    check_quantities(pairs)
    return pairs


def _check_table(*, error: str | None, blocked: bool, own_months: bool) -> None:
    for other, given in (("--error", error is not None), ("--own-months", own_months)):
        if blocked and given:
            raise UsageError(
                f"--blocked makes its own tables; {other} does not go with it.",
                fix="Leave one of the two out.",
            )


def _error(file: str | None) -> ForecastError:
    from dataclasses import replace

    from planner.weather.miss.error_file import read_error, shipped_error

    if file is not None:
        return read_error(file)
    return replace(shipped_error(), name="the table that comes with the planner")


def _refitted(place: Place, archive: Archive, seen: Weather) -> dict[str, Any]:
    """Say which table serves which month: one fitted on all the other months."""
    from planner.history.months import blocked

    where = Where(place.latitude, place.longitude, place.time_zone)
    pairs = _pairs(archive, seen, where)
    return {
        "error_for": blocked(pairs, "the other months of this archive"),
        "fitted_on": "the other months of this archive",
        "own_months": False,
    }


def _as_it_is(
    error: ForecastError, place: Place, archive: Archive, seen: Weather, *, own_months: bool
) -> dict[str, Any]:
    """Say that one table serves every month; refuse those that it was learned from."""
    from planner.history.months import in_words, months_scored, overlap

    here = {"latitude": place.latitude, "longitude": place.longitude}
    own = overlap(error, months_scored(archive, seen, place.time_zone), **here)
    if own and not own_months:
        raise UsageError(
            f'The table "{error.name}" was learned here from months that would be scored: '
            f"{in_words(own)}.",
            fix="Add --blocked (each month is scored with a table refitted on the others) or "
            "--own-months (score them anyway, and say so), or give a table learned from "
            "other months with --error.",
            key="--error",
        )
    away = "" if error.near(**here) else ", at another place"
    return {
        "error_for": lambda _: error,
        "fitted_on": error.source + away,
        "own_months": bool(own),
    }


def _played(job: Job, archive: Archive, seen: Weather, how: dict[str, Any]) -> Replay:
    from planner.history.replay import replay as play

    with _progress("Playing mornings") as progress:
        return play(job, archive, seen, progress=progress, **how)


def _check_new(file: str | None) -> None:
    """Refuse a table's file that cannot be written, or is there already."""
    from planner.report.save import check_suffixes

    if file is None:
        return
    check_suffixes([file], (".toml",))
    if Path(file).exists():
        raise UsageError(
            f"{file} is there already.",
            fix="Choose another name with --save, or take it away first.",
            key="--save",
        )


@contextlib.contextmanager
def _progress(label: str) -> Iterator[Progress | None]:
    """Show how far a long run is, where somebody is looking."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def told(done: int, of: int) -> None:
            bar.length = of
            bar.update(done - bar.pos)

        yield told
