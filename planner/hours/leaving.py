"""When to be down by, and whether what is up will stand until the crew is back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.holds import hourly, sheet_factor
from planner.hours.reasons import room_by_hour
from planner.hours.records import at_most_in, share
from planner.hours.spans import QUARTER, QUARTERS
from planner.reference.tables import value

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.hours.records import Conditions, Floats
    from planner.hours.spans import Span
    from planner.job.records import Limit, Phase

_MOSTLY: Final = 0.9  # share of possible weathers whose gusts stay below the worst told of


def down_by(
    conditions: Conditions,
    laid: tuple[Span, ...],
    limits: dict[str, tuple[Limit, ...]],
    start: int,
) -> float:
    """Give the latest moment by which everybody is down and nothing is loose.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    laid : tuple of Span
        The phases of a step on the clock.
    limits : dict of str to tuple of Limit
        By phase name.
    start : int
        The start, in quarter hours after the first hour.

    Returns
    -------
    float
        Quarter hours after the first hour: the earliest of the end of the file, the end
        of work light, the crew's stop, and, for each phase that leaves film loose and for
        the last one, the hour after its planned end in which a limit of it is passed. Not
        before the planned end of the step.
    """
    levels = {x.bound for own in limits.values() for x in own if x.quantity == "light"}
    left = [conditions.crew_left[start], *(conditions.light_left[x][start] for x in levels)]
    by_clock = [minutes for minutes in left if np.isfinite(minutes) and minutes >= 0.0]
    latest = min(
        start + min(by_clock, default=np.inf) / QUARTER, len(conditions.times) * QUARTERS
    )
    for span in laid:
        if span.phase.leave_safe and span is not laid[-1]:
            continue
        after = int(np.ceil(start / QUARTERS + span.end / 60.0))
        for limit in hourly(conditions, limits[span.phase.name]):
            passed = np.flatnonzero(room_by_hour(conditions, span.phase, limit)[after:] < 0.0)
            if len(passed):
                latest = min(latest, float(after + passed[0]) * QUARTERS)
    return max(latest, start + laid[-1].end / QUARTER)


def stands(conditions: Conditions, last: Phase) -> NDArray[np.bool_]:
    """Say in which hours the state after a step stands unattended.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    last : Phase
        The last phase of the step.

    Returns
    -------
    numpy.ndarray of bool, shape (members, hours)
        False throughout for a state never to be left, and in hours without data.
    """
    shape = (len(conditions.weights), len(conditions.times))
    return np.broadcast_to(_stands(conditions, last, slice(None)), shape)


def _stands(conditions: Conditions, last: Phase, hours: slice) -> NDArray[np.bool_]:
    gust = _at_sheet(conditions, last, conditions.values["gust"][:, hours])
    if last.leave_gust is None:
        return np.zeros(gust.shape, dtype=bool)
    return np.asarray(gust <= last.leave_gust)


def _at_sheet(conditions: Conditions, phase: Phase, gust: Floats) -> Floats:
    """Turn gusts at 10 m into gusts at the sheet of a phase [m/s]."""
    return gust * sheet_factor(conditions, phase.height, "gust")


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftAlone:
    """The state after a step, against the gusts to come.

    Attributes
    ----------
    survives : float or None
        The gust it stands unattended [m/s]; None for a state never to be left.
    chance : float or None
        Share of possible weathers in which it stands every hour until the crew is back,
        as far as the file goes; None for a state never to be left, or if the file ends
        before [-].
    worst : float
        The largest gust to come, at the sheet: of one certain weather in the whole file,
        of several the one that nine in ten stay below until the crew is back; NaN without
        data [m/s].
    fails : int or None
        The first hour of the file, counted from its first, in which it is passed in the
        middle possible weather.
    """

    survives: float | None
    chance: float | None
    worst: float
    fails: int | None


def left_alone(
    conditions: Conditions, last: Span, start: int, *, until: float | None = None
) -> LeftAlone:
    """Hold the state after a step against the hours that follow.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    last : Span
        The last phase of the step, at the crew's own pace.
    start : int
        The start, in quarter hours after the first hour.
    until : float, optional
        Hours from the end of the step until the crew is back; the row ``leave_hours`` by
        default [h].

    Returns
    -------
    LeftAlone
        What it survives, how likely that is enough, what is to come, and when that is
        too much. A member without data in one of the hours counts as one in which it fails.
    """
    phase = last.phase
    end = start / QUARTERS + last.end / 60.0
    back = end + (value("planning", "leave_hours") if until is None else until)
    after = int(np.ceil(end))
    hours = slice(after, int(np.ceil(back)))
    chance = None
    if phase.leave_gust is not None and after < len(conditions.times):
        kept = np.asarray(_stands(conditions, phase, hours).all(axis=1))
        chance = float(share(conditions.weights, kept))
    expected = _at_sheet(conditions, phase, conditions.middle("gust")[after:])
    passed = np.flatnonzero(expected > (phase.leave_gust or np.inf))
    return LeftAlone(
        survives=phase.leave_gust,
        chance=chance,
        worst=_worst(conditions, phase, hours),
        fails=after + int(passed[0]) if len(passed) else None,
    )


def _worst(conditions: Conditions, phase: Phase, hours: slice) -> float:
    """Largest gust at the sheet in some hours that most members stay below [m/s]."""
    gust = conditions.values["gust"]
    gust = gust[:, hours.start :] if len(gust) == 1 else gust[:, hours]
    if not gust.shape[1]:
        return float("nan")
    largest = np.fmax.reduce(_at_sheet(conditions, phase, gust), axis=1)
    weights = conditions.weights if len(gust) > 1 else np.ones(1)
    [worst] = at_most_in(largest, weights, (_MOSTLY,))
    return worst
