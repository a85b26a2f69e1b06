"""The one answer for the job: go, hold, no-go, or no data."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import pandas as pd

from planner.plan.outlook import weigh
from planner.plan.records import Change, Decision
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from planner.hours.records import Window
    from planner.job.records import Job
    from planner.plan.outlook import DayStart, Weighed
    from planner.plan.records import Answer, Sequence, Stage, StepPlan
    from planner.weather.miss.forecast_error import ForecastError

ROOF: Final = "roof"
_MORE: Final = 2  # people more, of whom it is said what they would change
_MOST: Final = 6  # people more, among whom enough are looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a decision asks of the rest of the plan.

    Attributes
    ----------
    now : pandas.Timestamp
        In the place's own time.
    issued : pandas.Timestamp or None
        When the forecast was made, None for a record.
    error : ForecastError or None
        How forecasts grow sharper; None where the weather is taken as certain.
    ordered : callable
        Gives the order of the steps around a window.
    with_people : callable
        Gives the best chance of a step on a day, or on any, with so many people [-].
    stands : callable
        Gives the chance that what is up stands until a time, None if nothing is [-].
    """

    now: pd.Timestamp
    issued: pd.Timestamp | None
    error: ForecastError | None
    ordered: Callable[[Window], Sequence]
    with_people: Callable[[str, int, dt.date | None], float]
    stands: Callable[[pd.Timestamp], float | None]


def decide(job: Job, steps: tuple[StepPlan, ...], asked: Asked) -> Decision:
    """Say go, hold, no-go or no-data for the step that matters most.

    Parameters
    ----------
    job : Job
        With its last day and its stakes.
    steps : tuple of StepPlan
        What is still to do.
    asked : Asked
        The time, the forecast, and what else the plan can work out.

    Returns
    -------
    Decision
        About the roof sheet while it is still to do, else the first step left; or about
        a step that comes before it and has its place today. Go if that costs no more, on
        average, than to wait for sharper forecasts and other days; hold if waiting costs
        less; no-go if there is no window, no-data if the file does not say. No go on an
        old forecast, below the least chance, or where what is up would hardly stand until
        the crew is back. One certain weather is not weighed: its best window is taken.
    """
    now = asked.now
    if not steps:
        return _decision("no-go", codes=("all-done",))
    if job.finish_by and now.date() > job.finish_by:
        return _decision("no-go", step=steps[0], codes=("past-finish",))
    here = next((plan for plan in steps if plan.step.sheet == ROOF), steps[0])
    again = evening(now.date(), now)
    if again <= now:
        again = evening(now.date() + dt.timedelta(days=1), now)
    if not here.found.windows:
        over = job.finish_by is not None and again.date() >= job.finish_by
        found = _without_window(here, steps, None if over else again)
        return replace(found, would_change=tuple(_enough(job, found, steps, asked)))
    here, best = _about(here, steps, asked)
    weighed = _weighed(job, here, best, asked)
    going = _going(here, best, weighed, asked)
    stage = _stage(here, going, asked)
    decision = _answered(here, going, weighed, again=again, asked=asked)
    if weighed.calls and going.start.date() == now.date() + dt.timedelta(days=1):
        decision = replace(decision, codes=(*decision.codes, "call-crew"))
    priced = asked.error is not None
    return replace(
        decision,
        stage=stage,
        go_cost=_go_cost(job, here, going, weighed, now=now) if priced else None,
        wait_cost=weighed.wait if priced else None,
        needs_chance=weighed.needs_chance if priced else None,
        would_change=tuple(_changes(job, here, going, weighed, asked)) if priced else (),
        stands=asked.stands(going.start),
    )


def _without_window(
    here: StepPlan, steps: tuple[StepPlan, ...], again: pd.Timestamp | None
) -> Decision:
    """Say why there is no window: that of an earlier step that has none either."""
    before = [plan for plan in steps if plan.step.name in here.step.after]
    here = next((plan for plan in before if not plan.found.windows), here)
    because = here.found.none_because
    if because is not None and because.quantity == "no data":
        return _decision("no-data", step=here, again=again, codes=("not-covered",))
    if (
        because is None
        and again is not None
        and all(x.found.windows for x in before)
        and before
    ):
        return _decision("hold", step=here, again=again, codes=("waits-for-earlier-step",))
    return _decision("no-go", step=here, again=again, codes=("no-window",))


def _enough(
    job: Job, found: Decision, steps: tuple[StepPlan, ...], asked: Asked
) -> Iterator[Change]:
    """Give the fewest more people with whom a step without a window would have one."""
    here = next((x for x in steps if x.step.name == found.step), None)
    because = None if here is None else here.found.none_because
    if here is None or because is None or because.quantity not in {"gust", "mean_wind"}:
        return
    for people in range(job.crew.people + 1, job.crew.people + 1 + _MOST):
        chance = asked.with_people(here.step.name, people, None)
        if chance >= value("planning", "least_chance_listed"):
            yield Change(what="people", to=people, chance=chance)
            return


def _about(
    here: StepPlan, steps: tuple[StepPlan, ...], asked: Asked
) -> tuple[StepPlan, Window]:
    """Give the step that the answer is about, and its window.

    That is the main step and its best window, or a step that comes first in the order
    around that window and has its place in a window of today.
    """
    best = here.found.windows[0]
    waits = set(here.step.after)
    order = asked.ordered(best) if waits & {plan.step.name for plan in steps} else None
    if order is None or not order.steps or order.steps[0].step == here.step.name:
        return here, best
    first = order.steps[0]
    before = next(plan for plan in steps if plan.step.name == first.step)
    for window in before.found.windows:
        near = window.earliest_start <= first.start <= window.latest_start
        if near and first.start.date() == asked.now.date() and window.end <= best.start:
            return before, window
    return here, best


def _weighed(job: Job, here: StepPlan, best: Window, asked: Asked) -> Weighed:
    issued = asked.now if asked.issued is None else asked.issued
    lead = pd.Timedelta(hours=value("planning", "call_lead"))
    today = asked.now.date()
    first = best.earliest_start
    called = first.date() == today and asked.now >= first - lead
    return weigh(
        here.days,
        today=today,
        issued=issued.tz_convert(asked.now.tzinfo),
        stakes=job.stakes,
        finish_by=job.finish_by,
        error=asked.error,
        called=called,
    )


def _going(here: StepPlan, best: Window, weighed: Weighed, asked: Asked) -> Window:
    """Give the window that the answer is about: the best, or one not to be waited beyond."""
    if asked.error is None:
        return best
    today = asked.now.date()
    for day, taken in (
        (today, weighed.goes),
        (today + dt.timedelta(days=1), weighed.calls),
    ):
        of_day = [window for window in here.found.windows if window.start.date() == day]
        if of_day and (taken or of_day[0] is best):
            return of_day[0]
    return best


def _stage(here: StepPlan, going: Window, asked: Asked) -> Stage:
    """Give the price that waiting has now."""
    now = asked.now
    if going.start.date() == now.date():
        return "start"
    over = not any(window.start.date() == now.date() for window in here.found.windows)
    if over and now < evening(now.date(), now) and asked.stands(going.start) is not None:
        return "leave"
    return "call"


def _answered(
    here: StepPlan, window: Window, weighed: Weighed, *, again: pd.Timestamp, asked: Asked
) -> Decision:
    """Go if the window is today and nothing speaks against it, else hold."""
    now = asked.now
    if window.start.date() != now.date():
        eve = evening(window.start.date() - dt.timedelta(days=1), now)
        again = eve if eve > now else window.earliest_start
        return _decision("hold", step=here, window=window, again=again, codes=("starts-later",))
    against = _against(window, weighed, asked)
    if not against:
        return _decision("go", step=here, window=window, codes=("starts-today",))
    if "old-forecast" in against:
        again = now  # a newer one may still be in time
    return _decision("hold", step=here, window=window, again=again, codes=against)


def _against(window: Window, weighed: Weighed, asked: Asked) -> tuple[str, ...]:
    """Give the codes of what speaks against a go on a window that starts today."""
    codes = []
    if window.chance < value("planning", "least_chance_go"):
        codes.append("low-chance")
    elif asked.error is not None and not weighed.goes:
        codes.append("waiting-costs-less")
    issued = asked.issued
    if issued is not None and _hours(window.start - issued) >= value(
        "planning", "forecast_too_old"
    ):
        codes.append("old-forecast")
    stays = window.leave_chance
    if stays is not None and stays < value("planning", "least_chance_leave"):
        codes.append("leave-gust")
    return tuple(codes)


def _go_cost(
    job: Job, here: StepPlan, window: Window, weighed: Weighed, *, now: pd.Timestamp
) -> float:
    """Give what it costs to go today, or, with no start left, in the window come what may."""
    if weighed.go is not None and window.start.date() != now.date():
        return weighed.go
    day = _day(here, window.start.date())
    waited = (window.start.date() - now.date()).days
    loss = job.stakes.sheet_lost if day is None else day.loss
    return waited * job.stakes.day_waited + (1.0 - window.chance) * loss


def _day(here: StepPlan, day: dt.date) -> DayStart | None:
    return next((start for start in here.days if start.day == day), None)


def _changes(
    job: Job, here: StepPlan, window: Window, weighed: Weighed, asked: Asked
) -> list[Change]:
    """Give what would change the answer: people, another day, the chance it takes."""
    day, people = window.start.date(), job.crew.people + _MORE
    found = [
        Change(what="people", to=people, chance=asked.with_people(here.step.name, people, day)),
        Change(what="chance", to=weighed.needs_chance, chance=window.chance),
    ]
    others = [other for other in here.found.windows if other.start.date() != day]
    if others:
        found.append(Change(what="day", to=others[0].start, chance=others[0].chance))
    return found


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
