"""What the planner itself found, assumed or doubts about a job and its weather."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from planner.hours.limits import limits_for
from planner.reference.tables import value
from planner.weather.hourly.issued import age_of
from planner.weather.table import Note

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from planner.hours.records import Conditions
    from planner.job.records import Job
    from planner.weather.miss.forecast_error import ForecastError
    from planner.weather.table import Weather

_A_DAY: Final = 24
_ONLY: Final = "Only starts on {} were looked at."
#: Quantities that need humidity, as they are called in words.
_NEED_HUMIDITY: Final = {
    "wetness": "wet film",
    "frost": "frost",
    "heat": "heat",
    "temp_film": "film temperature",
}


def doubts(
    job: Job,
    weather: Weather,
    conditions: Conditions,
    *,
    now: pd.Timestamp,
    on: dt.date | None = None,
    error: ForecastError | None = None,
) -> tuple[Note, ...]:
    """Say what a reader of the plan must know about what went into it.

    Parameters
    ----------
    job : Job
        With its typed limits and site ratio.
    weather : Weather
        As read.
    conditions : Conditions
        Worked out from both.
    now : pandas.Timestamp
        The time that is planned from.
    on : datetime.date, optional
        The only day that was looked at.
    error : ForecastError, optional
        What the possible weathers were drawn from.

    Returns
    -------
    tuple of Note
        In the order of their weight.
    """
    only = () if on is None else (Note(code="only-day", text=_ONLY.format(on), doubt=True),)
    return (
        *only,
        *_not_judged(weather, conditions),
        *_age(weather, now),
        *_drawn(weather, error),
        *_job_says(job),
        *_filled(weather, conditions),
        *_odd(job, conditions),
        *_too_short(job, conditions),
    )


def _not_judged(weather: Weather, conditions: Conditions) -> Iterator[Note]:
    blind = [word for name, word in _NEED_HUMIDITY.items() if name not in conditions.values]
    if blind:
        yield Note(
            code="no-humidity",
            text=f"The file has no dew point or humidity: {', '.join(blind)} cannot be judged, "
            "so nothing that needs them is a go. The job file can switch such limits off.",
            doubt=True,
        )
    if not weather.has("thunder"):
        yield Note(
            code="no-thunder",
            text="The file says nothing of thunder: watch the sky.",
            doubt=True,
        )


def _age(weather: Weather, now: pd.Timestamp) -> Iterator[Note]:
    if weather.stale:
        text = "The weather is an old copy"
        if weather.fetched is not None:
            text += f", fetched {age_of(now - weather.fetched)} ago"
        yield Note(code="old-copy", text=f"{text}: {weather.stale}.", doubt=True)
    if weather.issued is None:
        return
    hours = (now - weather.issued).total_seconds() / 3600.0
    if hours < 0.0:
        text = "The forecast is dated after the time that is planned from: check both."
        yield Note(code="forecast-ahead", text=text, doubt=True)
    if hours >= value("planning", "forecast_old"):
        yield Note(
            code="forecast-old",
            text=f"The forecast is {hours:.0f} h old: get a newer one before you start.",
            doubt=True,
        )


def use_until(weather: Weather, now: pd.Timestamp, zone: str) -> pd.Timestamp | None:
    """Give when a newer forecast is wanted, so that nobody goes by an old page.

    Parameters
    ----------
    weather : Weather
        As read.
    now : pandas.Timestamp
        The time that is planned from.
    zone : str
        Time zone of the place.

    Returns
    -------
    pandas.Timestamp or None
        When the forecast becomes old, or, if it is by now, when it is too old for a go or
        the day is over; never after its end. None for past and for invented weather.
    """
    if weather.kind == "observed" or "example" in {x.code for x in weather.notes}:
        return None
    made = now if weather.issued is None else weather.issued
    end = weather.times[-1] + pd.Timedelta(hours=1)
    ages = (value("planning", key) for key in ("forecast_old", "forecast_too_old"))
    old, too_old = (min(made + pd.Timedelta(hours=age), end) for age in ages)
    if old > now:
        return old
    tonight = now.tz_convert(zone).normalize() + pd.DateOffset(days=1)
    return min(too_old, tonight.tz_convert("UTC"))


def _drawn(weather: Weather, error: ForecastError | None) -> Iterator[Note]:
    """Say what the chances rest on."""
    if error is None:
        if weather.kind == "forecast":
            text = "The forecast is taken as it comes: how likely it is to hold is not said."
            yield Note(code="taken-as-it-comes", text=text, doubt=True)
        return
    meter = "" if error.truth == "station" else " Truth there was an analysis, not a meter."
    yield Note(
        code="chances-from",
        text=f"Chances rest on how far past forecasts missed: {error.source}.{meter}",
    )
    if error.away:
        yield Note(
            code="learned-elsewhere",
            text="Those forecasts were for another place, so chances are kept wider; "
            "`planner learn` makes a table of your own.",
            doubt=True,
        )


def _job_says(job: Job) -> Iterator[Note]:
    ratio = job.place.gust_at_sheet
    if ratio is not None:
        low = (
            " That is a lot of shelter to believe."
            if ratio < value("planning", "ratio_low")
            else ""
        )
        yield Note(
            code="site-ratio",
            text=f"Gusts at the sheet are taken as {ratio:g} of those at 10 m, as typed.{low}",
            doubt=bool(low),
        )
    yield from _looser(job)
    off = sorted({limit.quantity.replace("_", " ") for limit in job.limits if limit.off})
    if off:
        yield Note(
            code="limits-off",
            text=f"Switched off in the job file, at least in part: {', '.join(off)}.",
            doubt=True,
        )


def _looser(job: Job) -> Iterator[Note]:
    """Name the phases in which a typed wind limit is above what the crew holds."""
    phases = sorted(
        {
            phase
            for step in job.steps
            if not step.done
            for phase, limits in limits_for(job, step).items()
            for x in limits
            if x.quantity == "gust" and x.replaced is not None and x.bound > x.replaced
        }
    )
    if phases:
        yield Note(
            code="limits-looser",
            text=f"Your gust limit is above the built-in one in: {', '.join(phases)}.",
            doubt=True,
        )


def _filled(weather: Weather, conditions: Conditions) -> Iterator[Note]:
    raised = int(conditions.estimated["gust_in_sun"].sum())
    if raised:
        short = weather.gust_meaning == "10-minute maximum"
        why = "ten minutes do not tell the hour" if short else "strong sun brings puffs"
        yield Note(code="gusts-raised", text=f"{raised} gusts were raised: {why}.")
    lacks = _hours_without_amount(weather)
    if lacks and weather.has("precipitation"):
        text = f"{lacks} hours have a chance of rain but no amount: rain goes by the chance."
        yield Note(code="rain-amount-missing", text=text, doubt=True)
    if not weather.has("precipitation"):
        least = value("planning", "rain_probability")
        yield Note(
            code="rain-by-chance",
            text=f"The file gives chances of rain only: each hour under {least:.0f} % counts "
            "as dry, over several hours the chance is higher.",
            doubt=True,
        )
    if "wetness" in conditions.values:
        yield Note(
            code="first-hour-dew",
            text="Film and rungs are taken as dewy when the file begins; if it has just rained "
            "there, they stay wet longer.",
        )


def _hours_without_amount(weather: Weather) -> int:
    """Count hours in which rain is forecast by its chance alone [h]."""
    chance = weather.values.get("precipitation_probability")
    amount = weather.values.get("precipitation")
    if chance is None or amount is None:
        return 0
    return int((np.isnan(amount) & ~np.isnan(chance)).any(axis=0).sum())


def _odd(job: Job, conditions: Conditions) -> Iterator[Note]:
    offset = conditions.times[0].tz_convert(job.place.time_zone).utcoffset()
    sun = job.place.longitude / 15.0
    if offset is not None and abs(offset.total_seconds() / 3600.0 - sun) > value(
        "planning", "zone_off"
    ):
        yield Note(
            code="zone-odd",
            text=f"{job.place.time_zone} is far from the sun's time there: check both.",
            doubt=True,
        )
    gust = conditions.values["gust"]
    mean = conditions.values.get("mean_wind", gust)
    if len(conditions.times) >= _A_DAY and not np.nanmax(mean, initial=0.0) > 0.0:
        yield Note(
            code="wind-stuck",
            text="The mean wind is nought in every hour: is the meter stuck?",
            doubt=True,
        )


def _too_short(job: Job, conditions: Conditions) -> Iterator[Note]:
    if job.finish_by and job.finish_by > conditions.days[-1]:
        yield Note(
            code="ends-before-finish",
            text=f"The hours looked at end before the last day, {job.finish_by}.",
        )
