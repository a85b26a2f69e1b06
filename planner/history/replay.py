"""Replay: past forecasts, morning by morning, through the planner's own hours and decision.

Every morning's forecast is turned into possible weathers and these into chances, by the
same code that plans; the chances of all windows are then held against what came, and the
decisions are played out over stretches of days.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from planner.errors import WeatherError
from planner.history.episodes import play
from planner.history.mornings import Player
from planner.history.pairs import check_overlap
from planner.history.records import DayAhead, Replay
from planner.history.scores import brier, reliability_table
from planner.hours.house import with_steps
from planner.weather.miss.members import COUNT, SEED

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from planner.history.mornings import Morning, Scored
    from planner.job.records import Job
    from planner.weather.archive import Archive
    from planner.weather.miss.forecast_error import ForecastError
    from planner.weather.table import Weather

_NOON: Final = 12  # local hour before which a run counts as the morning's
_LEAST_WINDOWS: Final = 100  # fewer say nothing


def replay(
    job: Job,
    archive: Archive,
    observed: Weather,
    *,
    error_for: Callable[[int], ForecastError],
    fitted_on: str,
    own_months: bool,
    count: int = COUNT,
    seed: int = SEED,
    progress: Callable[[int, int], None] | None = None,
) -> Replay:
    """Play an archive of forecasts against what came.

    Parameters
    ----------
    job : Job
        The step played is the roof sheet, else the first one not done.
    archive : Archive
        Past forecasts; of each local day the first run issued before noon counts.
    observed : Weather
        What came.
    error_for : callable
        Gives the error table for a month, counted as 12 * year + month - 1.
    fitted_on : str
        What those tables were fitted on, in words.
    own_months : bool
        Whether that includes the months that are scored.
    count : int
        Possible weathers drawn for each forecast [-].
    seed : int
        Of the random numbers [-].
    progress : callable, optional
        Called with forecasts done and forecasts in all.

    Returns
    -------
    Replay
        Scores, reliability and what each rule cost.

    Raises
    ------
    WeatherError
        If forecasts and observations do not overlap, or too few windows can be scored.
    UsageError
        If no step is left to do.
    """
    check_overlap(archive, observed)
    job = with_steps(job)
    player = Player(job=job, archive=archive, observed=observed, count=count, seed=seed)
    mornings: list[Morning] = []
    scored: list[Scored] = []
    runs = morning_runs(archive, job.place.time_zone)
    for done, i in enumerate(runs):
        morning, run = player.morning(i, error_for)
        mornings.append(morning)
        scored.append(run)
        if progress is not None:
            progress(done + 1, len(runs))
    windows = sum(len(run.chance) for run in scored)
    if windows < _LEAST_WINDOWS:
        raise WeatherError(
            f"Only {windows} windows of the forecasts have a known outcome; "
            f"{_LEAST_WINDOWS} are needed.",
            fix="Give more days, and observations that cover them.",
        )
    chance = np.concatenate([run.chance for run in scored])
    held = np.concatenate([run.held for run in scored]).astype(float)
    read = (*archive.notes, *observed.notes)
    return Replay(
        job=job.name,
        step=player.step.name,
        time_zone=job.place.time_zone,
        first=archive.issues[runs[0]],
        last=archive.issues[runs[-1]],
        issues=len(runs),
        windows=windows,
        by_day=_by_day(scored),
        tenths=reliability_table(chance, held),
        policies=play(mornings, stakes=job.stakes),
        costs={
            "caught": 1.0,
            "missed": job.stakes.deadline_missed / job.stakes.sheet_lost,
            "waited": job.stakes.day_waited / job.stakes.sheet_lost,
        },
        error=error_for(mornings[-1].month).name,
        fitted_on=fitted_on,
        own_months=own_months,
        credits=tuple(dict.fromkeys(x for x in (archive.credit, observed.credit) if x)),
        notes=tuple(dict.fromkeys(note.text for note in read if note.doubt)),
    )


def morning_runs(archive: Archive, time_zone: str) -> list[int]:
    """Give the first forecast of each local day that was issued before noon.

    Parameters
    ----------
    archive : Archive
        Past forecasts.
    time_zone : str
        Of the place.

    Returns
    -------
    list of int
        In order of issue.
    """
    local = archive.issues.tz_convert(time_zone)
    first: dict[dt.date, int] = {}
    for i, issued in enumerate(local):
        if issued.hour < _NOON:
            first.setdefault(issued.date(), i)
    return list(first.values())


def _by_day(scored: list[Scored]) -> tuple[DayAhead, ...]:
    """Scores by days ahead; climatology is how often windows of other months held."""
    month, ahead, chance, plain, held = (
        np.concatenate([np.broadcast_to(getattr(run, x), run.chance.shape) for run in scored])
        for x in ("month", "ahead", "chance", "plain", "held")
    )
    usual = np.empty(len(held))
    for this in np.unique(month):
        others = held[month != this] if (month != this).any() else held
        usual[month == this] = others.mean()
    truth = held.astype(float)
    return tuple(
        DayAhead(
            days_ahead=int(day),
            cases=int((ahead == day).sum()),
            planner=brier(chance[ahead == day], truth[ahead == day]),
            plain=brier(plain[ahead == day].astype(float), truth[ahead == day]),
            climatology=brier(usual[ahead == day], truth[ahead == day]),
        )
        for day in np.unique(ahead)
    )
