"""Which starts hold: every phase inside every limit, from this start on.

Limits are compared once an hour. Only the outcome, true or false, is carried to
the quarter hours at which a step may start, and members are reduced before
anything leaves this file; so memory stays at a few arrays of (members, hours).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.spans import (
    BY_CLOCK,
    QUARTER,
    QUARTERS,
    by_clock,
    clock_holds,
    slow_pace,
    spans,
)
from planner.reference.tables import value
from planner.site.wet import is_dry
from planner.site.wind import gust_at_height, mean_at_height

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.hours.records import Conditions, Floats
    from planner.hours.spans import Span
    from planner.job.records import Limit, Phase, Step

    Booleans = NDArray[np.bool_]

#: Quantities that may be missing from a file without closing its hours.
LEFT_TO_THE_EYE: Final = frozenset({"thunder", "thunder_ahead"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Holds:
    """Which starts hold.

    Attributes
    ----------
    ok : numpy.ndarray, shape (members, starts)
        True where every phase stays inside every limit.
    every : int
        Minutes between starts [min]; the first start is the first hour's.
    """

    ok: Booleans
    every: int

    def chance(self, weights: Floats) -> Floats:
        """Weighted share of members that hold, shape (starts,) [-]."""
        return np.asarray(weights @ self.ok, dtype=float)


def sheet_factor(conditions: Conditions, height: float, quantity: str) -> float:
    """Wind at a height of the sheet over wind at 10 m, 1 for what is not wind [-]."""
    if quantity not in {"gust", "mean_wind"}:
        return 1.0
    if quantity == "gust":
        if conditions.site_ratio is not None:
            return conditions.site_ratio
        return float(gust_at_height(1.0, height))
    return float(mean_at_height(1.0, height, roughness=conditions.roughness))


def inside(
    conditions: Conditions,
    phase: Phase,
    limit: Limit,
    *,
    short: bool,
    hours: slice = slice(None),
) -> Booleans:
    """Say in which hours a limit is kept.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    phase : Phase
        Its height decides the wind at the sheet.
    limit : Limit
        The limit, of a quantity that ``conditions`` holds.
    short : bool
        Whether the step touches the hour for less than 20 minutes, so that it meets a
        little less than the hour's top gust. A ceiling or a typed limit is not loosened.
    hours : slice
        Which hours; all by default.

    Returns
    -------
    numpy.ndarray, shape (members or 1, hours)
        False also where there is no data.
    """
    if limit.quantity not in conditions.values or _never(limit):
        return np.zeros((1, len(conditions.times[hours])), dtype=bool)
    values = conditions.values[limit.quantity][:, hours]
    factor = sheet_factor(conditions, phase.height, limit.quantity)
    if short and sees_less(limit):
        factor *= value("planning", "short_stay_gust")
    bound = limit.bound / factor
    return values <= bound if limit.side == "at most" else values >= bound


def sees_less(limit: Limit) -> bool:
    """Whether a short stay in an hour loosens a limit: a worked-out gust limit only."""
    return limit.quantity == "gust" and limit.kind == "worked out"


def _never(limit: Limit) -> bool:
    """Whether nobody can keep a limit: too few hands to move the film at all."""
    return limit.quantity in {"gust", "mean_wind"} and limit.bound <= 0.0


def hourly(conditions: Conditions, limits: tuple[Limit, ...]) -> tuple[Limit, ...]:
    """Give the limits that are compared hour by hour.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    limits : tuple of Limit
        Of one phase.

    Returns
    -------
    tuple of Limit
        Those that govern. A limit on something that the file does not hold is among them
        and is never kept; only thunder, which few files hold, is left to the eye.
    """
    return tuple(
        limit
        for limit in limits
        if limit.governs
        and limit.quantity not in BY_CLOCK
        and (limit.quantity in conditions.values or limit.quantity not in LEFT_TO_THE_EYE)
    )


def starts_that_hold(
    conditions: Conditions,
    step: Step,
    limits: dict[str, tuple[Limit, ...]],
    *,
    starts_every: int = QUARTER,
    slow: bool = False,
) -> Holds:
    """Find the starts from which a whole step stays inside its limits.

    The answer to "if we begin at this time, does every phase hold?", for every
    possible weather and every start in the file.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        Its phases follow each other without a pause.
    limits : dict of str to tuple of Limit
        By phase name.
    starts_every : int
        Minutes between starts, a multiple of 15 up to 60 [min].
    slow : bool
        Whether weather and crew hours are met at the slow pace too.

    Returns
    -------
    Holds
        One column a start.

    Notes
    -----
    Weather is met at the crew's own pace, light at the slow pace that one crew in
    ten exceeds. If the film is wet in the hour of the start, soft phases take
    longer. A start whose phases run past the end of the file does not hold.
    """
    pace = slow_pace() if slow else 1.0
    if slow:  # light is met at the slow pace already
        limits = {
            name: tuple(limit for limit in own if limit.quantity != "light")
            for name, own in limits.items()
        }
    dry = _hold(conditions, spans(step, pace=pace), limits, starts_every)
    wetness = conditions.values.get("wetness")
    soft = any(phase.wet == "damp" for phase in step.phases)
    if wetness is None or not soft:
        return Holds(ok=dry, every=starts_every)
    wet = ~is_dry(wetness)
    if not wet.any():
        return Holds(ok=dry, every=starts_every)
    longer = _hold(conditions, spans(step, pace=pace, wet=True), limits, starts_every)
    wet_start = np.repeat(wet, 60 // starts_every, axis=1)
    return Holds(ok=np.where(wet_start, longer, dry), every=starts_every)


def _hold(
    conditions: Conditions,
    laid: tuple[Span, ...],
    limits: dict[str, tuple[Limit, ...]],
    every: int,
) -> Booleans:
    hours = len(conditions.times)
    offsets = range(0, 60, every)
    members = len(conditions.weights)
    ok = np.ones((len(offsets), members, hours), dtype=bool)
    for span in laid:
        phase_limits = limits[span.phase.name]
        full, short = _all_inside(conditions, span.phase, phase_limits)
        for at, offset in enumerate(offsets):
            for hour, brief in span.hours_touched(offset):
                kept = short if brief else full
                in_file = max(hours - hour, 0)
                ok[at, :, :in_file] &= kept[:, hour:]
                ok[at, :, in_file:] = False
        _and_clock(ok, conditions, span, phase_limits)
    return ok.transpose(1, 2, 0).reshape(members, hours * len(offsets))


def phase_chance(
    conditions: Conditions, span: Span, limits: tuple[Limit, ...], start: int
) -> float:
    """Give the chance that one phase holds, if its step starts at a quarter hour.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    span : Span
        The phase on the clock of its step.
    limits : tuple of Limit
        Of the phase.
    start : int
        Quarter hours after the first hour.

    Returns
    -------
    float
        Weighted share of members [-].
    """
    hour, quarter = divmod(start, QUARTERS)
    kept = np.ones(len(conditions.weights), dtype=bool)
    for after, short in span.hours_touched(quarter * QUARTER):
        at = slice(hour + after, hour + after + 1)
        for limit in hourly(conditions, limits):
            kept &= inside(conditions, span.phase, limit, short=short, hours=at).all(axis=1)
    return float(conditions.weights @ kept)


def _all_inside(
    conditions: Conditions, phase: Phase, limits: tuple[Limit, ...]
) -> tuple[Booleans, Booleans]:
    """Hours inside every limit: for a phase that fills the hour, and for a short stay."""
    full = np.ones((1, len(conditions.times)), dtype=bool)
    short = full
    for limit in hourly(conditions, limits):
        kept = inside(conditions, phase, limit, short=False)
        brief = inside(conditions, phase, limit, short=True) if sees_less(limit) else kept
        full, short = full & kept, short & brief
    return full, short


def _and_clock(
    ok: Booleans, conditions: Conditions, span: Span, limits: tuple[Limit, ...]
) -> None:
    """Take out the starts from which a phase meets the dark or the end of the day."""
    step = QUARTERS // len(ok)
    for limit in by_clock(limits):
        kept = clock_holds(conditions, span, limit)
        ok &= kept.reshape(kept.shape[0], -1, QUARTERS)[:, :, ::step].transpose(2, 0, 1)
