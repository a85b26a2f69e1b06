"""How near the gusts of a step come to what it can hold, in each possible weather."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.hours.holds import met, wet_starts
from planner.hours.spans import QUARTER, QUARTERS, paces, spans

if TYPE_CHECKING:
    from planner.hours.records import Conditions, Floats
    from planner.hours.spans import Pace, Span
    from planner.job.records import Limit, Step


def worst_ratio(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    start: int,
) -> Floats:
    """Give the largest gust of a step over its limit, in each possible weather.

    Passing a limit is not losing the sheet; how far it is passed decides that.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        The step.
    limits : dict of str to tuple of Limit
        By phase name.
    start : int
        Quarter hours after the first hour.

    Returns
    -------
    numpy.ndarray, shape (members,)
        Over all phases and the hours they are in, at each member's own pace; at most 1
        where every gust limit is kept, 0 where there is none. Infinite if an hour is past
        the end of the file or without data, or if the hands are too few at any gust [-].
    """
    worst = np.zeros(len(conditions.weights))
    for pace in paces(conditions):
        ratio = _ratio(conditions, spans(step, pace=pace.work), limits, pace, start)
        wet = wet_starts(conditions, step, pace)
        if wet is not None:
            laid = spans(step, pace=pace.work, wet=True)
            longer = _ratio(conditions, laid, limits, pace, start)
            ratio = np.where(wet[:, start // QUARTERS], longer, ratio)
        worst[pace.members] = ratio
    return worst


def _ratio(
    conditions: Conditions,
    laid: tuple[Span, ...],
    limits: dict[str, tuple[Limit, ...]],
    pace: Pace,
    start: int,
) -> Floats:
    hour, quarter = divmod(start, QUARTERS)
    gusts = pace.of(conditions.values["gust"])
    worst = np.zeros(len(gusts))
    for span in laid:
        governing = [x for x in limits[span.phase.name] if x.governs and x.quantity == "gust"]
        for limit in governing:
            for after, brief in span.hours_touched(quarter * QUARTER):
                if hour + after >= len(conditions.times) or limit.bound <= 0.0:
                    return np.full(len(gusts), np.inf)
                factor = met(conditions, span.phase, limit, short=brief) / limit.bound
                worst = np.maximum(worst, gusts[:, hour + after] * factor)
    return np.where(np.isnan(worst), np.inf, worst)
