"""The one answer for the job: go, hold, no-go, or no data."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

import pandas as pd

from planner.plan.records import Decision
from planner.reference.tables import value

if TYPE_CHECKING:
    from planner.hours.records import Window
    from planner.job.records import Job
    from planner.plan.records import Answer, StepPlan

ROOF: Final = "roof"


def decide(
    job: Job, steps: tuple[StepPlan, ...], *, now: pd.Timestamp, issued: pd.Timestamp | None
) -> Decision:
    """Say go, hold, no-go or no-data for the step that matters most.

    Parameters
    ----------
    job : Job
        With its last day.
    steps : tuple of StepPlan
        What is still to do.
    now : pandas.Timestamp
        In the place's own time.
    issued : pandas.Timestamp or None
        When the forecast was made, None for a record.

    Returns
    -------
    Decision
        About the roof sheet while it is still to do, else the first step left; or about
        a step that must come before it and whose hours are today. Go if its best window
        starts today, hold if it starts later, no-go if there is none, no-data if the
        file does not say. No go on an old forecast, on a low chance, or where what is
        up would not stand the gusts that follow.
    """
    if not steps:
        return _decision("no-go", codes=("all-done",))
    if job.finish_by and now.date() > job.finish_by:
        return _decision("no-go", step=steps[0], codes=("past-finish",))
    step = next((plan for plan in steps if plan.step.sheet == ROOF), steps[0])
    again = evening(now.date(), now)
    if again <= now:
        again = evening(now.date() + dt.timedelta(days=1), now)
    if not step.found.windows:
        over = job.finish_by is not None and again.date() >= job.finish_by
        return _without_window(step, None if over else again)
    best = step.found.windows[0]
    first = _needed_first(step, best, steps, now=now)
    if first is not None:
        step, best = first
    if best.start.date() == now.date():
        against = _against(best, now=now, issued=issued)
        if not against:
            return _decision("go", step=step, window=best, codes=("starts-today",))
        if "old-forecast" in against:
            again = now  # a newer one may still be in time
        return _decision("hold", step=step, window=best, again=again, codes=against)
    eve = evening(best.start.date() - dt.timedelta(days=1), now)
    again = eve if eve > now else best.earliest_start
    return _decision("hold", step=step, window=best, again=again, codes=("starts-later",))


def _without_window(step: StepPlan, again: pd.Timestamp | None) -> Decision:
    because = step.found.none_because
    if because is None:
        return _decision("hold", step=step, again=again, codes=("waits-for-earlier-step",))
    if because.quantity == "no data":
        return _decision("no-data", step=step, again=again, codes=("not-covered",))
    return _decision("no-go", step=step, again=again, codes=("no-window",))


def _needed_first(
    step: StepPlan, best: Window, steps: tuple[StepPlan, ...], *, now: pd.Timestamp
) -> tuple[StepPlan, Window] | None:
    """Give a step that must come before the best window and whose last hours are today."""
    for before in steps:
        if before.step.name in step.step.after:
            in_time = [window for window in before.found.windows if window.end <= best.start]
            if in_time and all(window.start.date() == now.date() for window in in_time):
                return before, in_time[0]
    return None


def _against(
    window: Window, *, now: pd.Timestamp, issued: pd.Timestamp | None
) -> tuple[str, ...]:
    """Give the codes of what speaks against a go on a window that starts today."""
    codes = []
    if window.chance < value("planning", "least_chance_go"):
        codes.append("low-chance")
    if issued is not None and _hours(now - issued) > value("planning", "forecast_too_old"):
        codes.append("old-forecast")
    fails = window.leave_fails
    if fails is not None and _hours(fails - window.end) < value("planning", "leave_hours"):
        codes.append("leave-gust")
    return tuple(codes)


def _hours(time: pd.Timedelta) -> float:
    return float(time.total_seconds()) / 3600.0


def _decision(
    answer: Answer,
    *,
    step: StepPlan | None = None,
    window: Window | None = None,
    again: pd.Timestamp | None = None,
    codes: tuple[str, ...],
) -> Decision:
    return Decision(
        answer=answer,
        step=step.step.name if step else None,
        window=window,
        look_again=again,
        codes=codes,
    )


def evening(day: dt.date, like: pd.Timestamp) -> pd.Timestamp:
    """Give the time of a day at which crews are called for the day after.

    Parameters
    ----------
    day : datetime.date
        The local day.
    like : pandas.Timestamp
        Any time in the place's own zone.

    Returns
    -------
    pandas.Timestamp
        In that zone; where the clock skips that hour, the next there is.
    """
    hour = int(value("planning", "evening_call_hour"))
    naive = pd.Timestamp(year=day.year, month=day.month, day=day.day, hour=hour)
    return naive.tz_localize(like.tzinfo, ambiguous=True, nonexistent="shift_forward")
