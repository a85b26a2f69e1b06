"""Which starts hold: every phase inside every limit, from this start on.

Limits are compared once an hour, and each bound only once. Only the outcome, true or
false, is carried to the quarter hours at which a step may start, at each member's own
pace; so memory stays at a few arrays of numbers and some of true and false.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from planner.hours.records import share
from planner.hours.spans import (
    BY_CLOCK,
    QUARTER,
    QUARTERS,
    by_clock,
    clock_holds,
    paces,
    spans,
)
from planner.reference.tables import value
from planner.site.wet import is_dry
from planner.site.wind import ground_roughness, gust_at_height, mean_at_height

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.hours.records import Conditions, Floats
    from planner.hours.spans import Pace, Span
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
        return share(weights, self.ok)


def sheet_factor(conditions: Conditions, height: float, quantity: str) -> float:
    """Wind at a height of the sheet over wind at 10 m, 1 for what is not wind [-]."""
    if quantity not in {"gust", "mean_wind"}:
        return 1.0
    if quantity == "gust" and conditions.site_ratio is not None:
        return conditions.site_ratio

    def work_out() -> float:
        if quantity == "gust":
            return float(gust_at_height(1.0, height))
        roughness = ground_roughness(conditions.ground)
        return float(mean_at_height(1.0, height, roughness=roughness))

    return conditions.once(("factor", quantity, height), work_out)


def inside(conditions: Conditions, phase: Phase, limit: Limit, *, short: bool) -> Booleans:
    """Say in which hours a limit is kept.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    phase : Phase
        Its height decides the wind at the sheet.
    limit : Limit
        The limit; nobody keeps one on a quantity that ``conditions`` does not hold.
    short : bool
        Whether the step touches the hour for less than 20 minutes, so that it meets a
        little less than the hour's top gust. A ceiling or a typed limit is not loosened.

    Returns
    -------
    numpy.ndarray, shape (members or 1, hours)
        False also where there is no data.
    """
    if limit.quantity not in conditions.values or _never(limit):
        return np.zeros((1, len(conditions.times)), dtype=bool)
    values = conditions.values[limit.quantity]
    bound = limit.bound / met(conditions, phase, limit, short=short)

    def compare() -> Booleans:
        return values <= bound if limit.side == "at most" else values >= bound

    return conditions.once(("inside", limit.quantity, limit.side, bound), compare)


def met(conditions: Conditions, phase: Phase, limit: Limit, *, short: bool) -> float:
    """Give what is met at the sheet over the value of an hour; 1 for what is not wind [-]."""
    factor = sheet_factor(conditions, phase.height, limit.quantity)
    if short and sees_less(limit):
        factor *= value("planning", "short_stay_gust")
    return factor


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

    Returns
    -------
    Holds
        One column a start.

    Notes
    -----
    Each member is met at its own pace. Where no pace is drawn that is the crew's own,
    and light is met at the slow pace that one crew in ten exceeds. If the film is wet in
    the hour of the start, soft phases take longer. A start whose phases run past the end
    of the file does not hold, nor does one that meets an hour without data in that member.
    """
    starts = len(conditions.times) * (60 // starts_every)
    ok = np.empty((len(conditions.weights), starts), dtype=bool)
    for pace in paces(conditions):
        held = _hold(conditions, spans(step, pace=pace.work), limits, pace, starts_every)
        wet = wet_starts(conditions, step, pace)
        if wet is not None:
            laid = spans(step, pace=pace.work, wet=True)
            longer = _hold(conditions, laid, limits, pace, starts_every)
            held = np.where(np.repeat(wet, 60 // starts_every, axis=1), longer, held)
        ok[pace.members] = held
    return Holds(ok=ok, every=starts_every)


def wet_starts(conditions: Conditions, step: Step, pace: Pace) -> Booleans | None:
    """Say in which hours a step starts on film so wet that it takes longer.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    step : Step
        The step.
    pace : Pace
        Whose members are asked for.

    Returns
    -------
    numpy.ndarray of bool, shape (members of that pace or 1, hours), or None
        None if that makes no difference: no such hour, or no soft phase.
    """
    wetness = conditions.values.get("wetness")
    if wetness is None or not any(phase.wet == "damp" for phase in step.phases):
        return None
    wet = pace.of(conditions.once("wet", lambda: ~is_dry(wetness)))
    return wet if wet.any() else None


def _hold(
    conditions: Conditions,
    laid: tuple[Span, ...],
    limits: dict[str, tuple[Limit, ...]],
    pace: Pace,
    every: int,
) -> Booleans:
    hours = len(conditions.times)
    offsets = range(0, 60, every)
    members = len(conditions.weights[pace.members])
    ok = np.ones((len(offsets), hours, members), dtype=bool)  # hours shift in one piece
    for span in laid:
        phase_limits = limits[span.phase.name]
        full, short = (
            np.ascontiguousarray(pace.of(kept).T)
            for kept in all_inside(conditions, span.phase, phase_limits)
        )
        for at, offset in enumerate(offsets):
            for hour, brief in span.hours_touched(offset):
                in_file = max(hours - hour, 0)
                ok[at, :in_file] &= (short if brief else full)[hour:]
                ok[at, in_file:] = False
        for limit in by_clock(phase_limits):
            kept = clock_holds(conditions, span, limit, pace).T
            in_turn = kept.reshape(hours, QUARTERS, -1)[:, :: every // QUARTER]
            ok &= in_turn.transpose(1, 0, 2)
    return ok.transpose(2, 1, 0).reshape(members, hours * len(offsets))


def phase_chance(
    conditions: Conditions,
    phase: Phase,
    limits: tuple[Limit, ...],
    *,
    at_paces: dict[Pace, Span],
    start: int,
) -> float:
    """Give the chance that one phase holds, if its step starts at a quarter hour.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    phase : Phase
        The phase.
    limits : tuple of Limit
        Its limits; those that run by the clock are not asked.
    at_paces : dict of Pace to Span
        The phase on the clock of its step, at the pace of each member.
    start : int
        Quarter hours after the first hour.

    Returns
    -------
    float
        Weighted share of members [-].
    """
    hour, quarter = divmod(start, QUARTERS)
    holds = np.zeros(len(conditions.weights), dtype=bool)
    full, short = all_inside(conditions, phase, limits)
    for pace, span in at_paces.items():
        touched = [(hour + x, brief) for x, brief in span.hours_touched(quarter * QUARTER)]
        if touched[-1][0] < len(conditions.times):
            kept = np.ones(len(conditions.weights[pace.members]), dtype=bool)
            for at, brief in touched:
                kept &= pace.of((short if brief else full)[:, at])
            holds[pace.members] = kept
    return float(share(conditions.weights, holds))


def all_inside(
    conditions: Conditions, phase: Phase, limits: tuple[Limit, ...]
) -> tuple[Booleans, Booleans]:
    """Say in which hours every limit that is compared hour by hour is kept.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    phase : Phase
        The phase.
    limits : tuple of Limit
        Its limits.

    Returns
    -------
    tuple of numpy.ndarray of bool, shape (members or 1, hours)
        For a step that fills the hour, and for one that is in it only briefly.
    """

    def work_out() -> tuple[Booleans, Booleans]:
        full = np.ones((1, len(conditions.times)), dtype=bool)
        short = full
        for limit in hourly(conditions, limits):
            kept = inside(conditions, phase, limit, short=False)
            full = full & kept
            brief = inside(conditions, phase, limit, short=True) if sees_less(limit) else kept
            short = short & brief
        return full, short

    return conditions.once(("all inside", phase.height, limits), work_out)
