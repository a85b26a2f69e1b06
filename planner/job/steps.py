"""The steps of covering a house: built in, and patched by the job file.

The phases inside them are made in ``phases``; what the job file says about steps and
phases is laid over them in ``patches``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.job.patches import apply_patches, check_limit_names
from planner.job.phases import (
    LEFT_OUT,
    PhaseMaker,
    Sizes,
    cord_phases,
    effort,
    end_wall_phases,
    roof_phases,
    side_phases,
    strip_phases,
    trim_phases,
)
from planner.job.records import Step

if TYPE_CHECKING:
    from planner.job.records import Job

__all__ = [
    "LEFT_OUT",
    "Sizes",
    "apply_patches",
    "built_in_steps",
    "check_limit_names",
    "make_safe_minutes",
]


def built_in_steps(job: Job, sizes: Sizes) -> tuple[Step, ...]:
    """List the steps of covering this house, each with its phases.

    Every limit, window and order is worked out for these.

    Parameters
    ----------
    job : Job
        The job; its own ``steps`` and ``step_patches`` are not looked at.
    sizes : Sizes
        Of the sheets.

    Returns
    -------
    tuple of Step
        In the usual order. Steps named in ``LEFT_OUT`` are among them; ``apply_patches``
        takes them out unless the job file wants them.

    Notes
    -----
    ``minutes = person-minutes x pace / hands``; the whole crew pulls, tacks and locks
    the edges, other phases have a usual number of hands or the crew if it is smaller.
    Two layers are pulled one after the other and locked together. A one-piece sheet has
    no separate sides: its tails are clipped before the ends are locked, since nobody may
    leave them loose. The second end wall waits for the first unless there are hands for
    both at once.
    """
    make = PhaseMaker(job=job, sizes=sizes)
    walls = ("end wall north", "end wall south")
    roof = ("roof sheet",)
    wall = end_wall_phases(make)
    both = 2 * max(phase.hands for phase in wall)
    steps = [
        Step(name=LEFT_OUT[0], sheet="none", phases=strip_phases(make)),
        Step(name=walls[0], sheet="end wall", phases=wall, after=LEFT_OUT),
        Step(
            name=walls[1],
            sheet="end wall",
            phases=wall,
            after=LEFT_OUT if both <= job.crew.people else (*LEFT_OUT, walls[0]),
        ),
        Step(name=roof[0], sheet="roof", phases=roof_phases(make), after=walls),
        Step(name="trim", sheet="none", phases=trim_phases(make), after=roof, nights_after=1),
    ]
    last = roof
    if job.film.sides == "separate" and sizes.side_area > 0.0:
        last = ("roll-up sides",)
        steps.append(Step(name=last[0], sheet="side", phases=side_phases(make), after=roof))
    steps.append(
        Step(name="cords and straps", sheet="none", phases=cord_phases(make), after=last)
    )
    return tuple(steps)


def make_safe_minutes(job: Job, sizes: Sizes) -> float:
    """Say how long the crew needs to make a loose roof sheet safe, whatever happens.

    The crew keeps these minutes in hand at the end of the light and before trouble.

    Parameters
    ----------
    job : Job
        The job.
    sizes : Sizes
        Of the sheets.

    Returns
    -------
    float
        With the whole crew at its pace [min].
    """
    return (
        effort("make_safe_base", {"make_safe_per_m2": sizes.roof_area})
        * job.crew.pace
        / job.crew.people
    )
