"""Who reads a plan: on which clock, by which daylight, in which units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.words import Words

if TYPE_CHECKING:
    from planner.plan.records import Plan


def words_for(plan: Plan, units: str) -> Words:
    """Give how the reader of a plan is spoken to.

    Parameters
    ----------
    plan : Plan
        The finished plan: its place's clock and daylight.
    units : {"us", "si"}
        Which units are written.

    Returns
    -------
    Words
        The same for every face of the plan.
    """
    return Words(units=units, time_zone=plan.time_zone, light=plan.light)
