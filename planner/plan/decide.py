"""The one answer for the job: go, hold, no-go, or no data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import pandas as pd

from planner.plan.records import Decision
from planner.reference.tables import value

if TYPE_CHECKING:
    from planner.job.records import Job
    from planner.plan.records import Answer, StepPlan

ROOF: Final = "roof"


def decide(job: Job, steps: tuple[StepPlan, ...], *, now: pd.Timestamp) -> Decision:
    """Say go, hold, no-go or no-data for the step that matters most.

    Parameters
    ----------
    job : Job
        With its last day.
    steps : tuple of StepPlan
        What is still to do.
    now : pandas.Timestamp
        In the place's own time.

    Returns
    -------
    Decision
        About the roof sheet while it is still to do, else the first step left. Go if
        its best window starts today, hold if it starts later, no-go if there is
        none, no-data if the file does not say.
    """
    if not steps:
        return _decision("no-go", codes=("all-done",))
    if job.finish_by and now.date() > job.finish_by:
        return _decision("no-go", step=steps[0], codes=("past-finish",))
    step = next((plan for plan in steps if plan.step.sheet == ROOF), steps[0])
    again = _next_evening(now)
    if not step.found.windows:
        because = step.found.none_because
        if because is None:
            return _decision("hold", step=step, again=again, codes=("waits-for-earlier-step",))
        if because.quantity == "no data":
            return _decision("no-data", step=step, again=again, codes=("not-covered",))
        return _decision("no-go", step=step, again=again, codes=("no-window",))
    best = step.found.windows[0]
    if best.start.date() == now.date():
        return _decision("go", step=step, window=0, codes=("starts-today",))
    evening = _next_evening(best.start - pd.Timedelta(days=1), same_day=True)
    return _decision(
        "hold",
        step=step,
        window=0,
        again=evening if evening > now else None,
        codes=("starts-later",),
    )


def _decision(
    answer: Answer,
    *,
    step: StepPlan | None = None,
    window: int | None = None,
    again: pd.Timestamp | None = None,
    codes: tuple[str, ...],
) -> Decision:
    return Decision(
        answer=answer,
        step=step.step.name if step else None,
        window=step.found.windows[window] if step and window is not None else None,
        look_again=again,
        codes=codes,
    )


def _next_evening(at: pd.Timestamp, *, same_day: bool = False) -> pd.Timestamp:
    """Give the next time at which crews are called for the day after."""
    hour = int(value("planning", "evening_call_hour"))
    evening = at.normalize().replace(hour=hour)
    return evening if same_day or evening > at else evening + pd.Timedelta(days=1)
