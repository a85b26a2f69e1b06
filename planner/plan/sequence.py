"""The order of the steps over the days: every start there is, handed to ``order``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.hours.leaving import stands
from planner.hours.spans import QUARTER, QUARTERS, clock, quarter_times, spans
from planner.plan.order import Candidates, order_steps
from planner.plan.records import OrderedStep, Sequence
from planner.site.wet import is_dry

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from planner.hours.holds import Holds
    from planner.hours.records import Conditions, Window
    from planner.job.records import Step


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """A step, where it holds, and the quarter hours at which it may start at all.

    ``open_to`` leaves out what is past and what is too late, not what must come before.
    """

    step: Step
    holds: Holds
    open_to: NDArray[np.bool_]


def sequence(
    conditions: Conditions, laid: Iterable[Laid], *, fixed: Window | None = None
) -> Sequence:
    """Find the order of the steps that is likeliest to hold as a whole.

    Parameters
    ----------
    conditions : Conditions
        The hours.
    laid : iterable of Laid
        The steps still to do.
    fixed : Window, optional
        The window that the answer is about; the other steps are laid around it.

    Returns
    -------
    Sequence
        Local times and chances.
    """
    steps = [_candidates(conditions, one) for one in laid]
    first = None
    if fixed is not None:
        after = fixed.start - conditions.times[0]
        first = (fixed.step, round(after.total_seconds() / (60.0 * QUARTER)))
    found = order_steps(steps, conditions.weights, first=first)
    return Sequence(
        steps=tuple(
            OrderedStep(
                step=placed.step,
                start=clock(conditions, placed.start),
                end=clock(conditions, placed.end),
                chance=placed.chance,
            )
            for placed in found.placed
        ),
        chance_as_listed=found.chance,
        chance_all=found.chance_all,
        missing=found.missing,
    )


def _candidates(conditions: Conditions, laid: Laid) -> Candidates:
    """Give every start of a step that is open."""
    every = laid.holds.every // QUARTER
    starts = np.arange(0, len(conditions.times) * QUARTERS, every)
    place = np.flatnonzero(laid.open_to[starts])
    starts = starts[place]
    ends = starts + _quarters_long(conditions, laid.step)[starts // QUARTERS]
    last = laid.step.phases[-1]
    return Candidates(
        step=laid.step.name,
        after=laid.step.after,
        nights_after=laid.step.nights_after,
        starts=starts,
        ends=ends,
        start_days=_days(conditions, starts),
        end_days=_days(conditions, ends),
        ok=laid.holds.ok[:, place],
        stands=stands(conditions, last) if last.leave_safe else None,
    )


def _quarters_long(conditions: Conditions, step: Step) -> NDArray[np.int_]:
    """Give how long a step takes if begun in each hour, longer on wet film [quarter hours]."""
    dry, wet = (int(np.ceil(spans(step, wet=x)[-1].end / QUARTER)) for x in (False, True))
    if "wetness" not in conditions.values:
        return np.full(len(conditions.times), dry)
    return np.where(is_dry(conditions.middle("wetness")), dry, wet)


def _days(conditions: Conditions, quarters: NDArray[np.int_]) -> NDArray[np.int_]:
    """Give the local day of each quarter hour, as a number [-]."""
    local = quarter_times(conditions, quarters).tz_localize(None).normalize()
    return local.to_numpy().astype("datetime64[D]").astype(int)
