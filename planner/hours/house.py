"""The house of a job: its sheets and hardware, and its steps laid out from them."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Final, cast

from planner.errors import JobError, PlannerError
from planner.film.sail import GRAVITY, gust_at_tension, mass_per_area, weight_dragged
from planner.film.sheet import (
    Hardware,
    Profile,
    Sheet,
    arc_lock_to_lock,
    hardware,
    profile,
    sheet_sizes,
)
from planner.hours.limits import typed
from planner.job.phases import Sizes
from planner.job.steps import apply_patches, built_in_steps, check_limit_names
from planner.reference.tables import value

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.job.records import Job, Step, Wet

_END_WALLS: Final = 2


@contextmanager
def as_job_error(job: Job, key: str) -> Iterator[None]:
    """Turn what the film room refuses into an error of the job file, at a key."""
    try:
        yield
    except PlannerError as error:
        raise JobError(error.message, fix=error.fix, file=job.file, key=key) from error


def profile_of(job: Job) -> Profile:
    """Give the shape of the bows.

    Parameters
    ----------
    job : Job
        With its house.

    Returns
    -------
    Profile
        The bow.

    Raises
    ------
    JobError
        If no such house can stand.
    """
    house = job.house
    with as_job_error(job, "house"):
        return profile(
            house.profile, house.width, leg=house.leg, ridge=house.ridge, radius=house.radius
        )


def sheets_for(job: Job) -> tuple[Sheet, ...]:
    """Give the sheets to cut.

    Parameters
    ----------
    job : Job
        With its house and film.

    Returns
    -------
    tuple of Sheet
        Roof, end walls, and sides where they are separate.

    Raises
    ------
    JobError
        If no such house can stand.
    """
    bow = profile_of(job)
    with as_job_error(job, "house"):
        return sheet_sizes(
            bow,
            length=job.house.length,
            hip=job.house.hip,
            thickness=job.film.thickness,
            layers=job.film.layers,
            sides=job.film.sides,
        )


def hardware_for(job: Job) -> Hardware:
    """Give channel, throw lines, straps and cord.

    Parameters
    ----------
    job : Job
        With its house.

    Returns
    -------
    Hardware
        Lengths and counts.
    """
    return hardware(
        profile_of(job),
        length=job.house.length,
        hip=job.house.hip,
        bow_spacing=job.house.bow_spacing,
        sides=job.film.sides,
    )


def with_steps(job: Job) -> Job:
    """Lay out the steps of a job from the sizes of its sheets.

    Parameters
    ----------
    job : Job
        As read; its own steps are replaced.

    Returns
    -------
    Job
        With the built-in steps, patched as the job file says.

    Raises
    ------
    JobError
        If no such house can stand, or a patch or limit names what is not there.

    Notes
    -----
    If an end wall is left out, the house stands open while the roof is pulled. Wind
    along the ridge then finds its way under the sheet; its direction is not known well
    enough to plan on, so the worse case is taken: the force coefficient of the roof's
    phases is raised so that the gust limit falls to ``along_ridge_factor`` of itself.
    """
    sizes = sizes_of(job)
    steps = apply_patches(built_in_steps(job, sizes), job.step_patches, job=job, sizes=sizes)
    if sum(step.sheet == "end wall" for step in steps) < _END_WALLS:
        steps = tuple(_open_ended(step, sizes) for step in steps)
    planned = replace(job, steps=steps)
    check_limit_names(planned)
    return replace(planned, steps=tuple(_as_wet_as_typed(planned, step) for step in steps))


def _as_wet_as_typed(job: Job, step: Step) -> Step:
    """Let a typed ``wet`` limit decide whether wet film stops or slows a phase.

    "damp" for every phase or a whole step does not soften a phase that must be dry, as
    on a ladder; typed for that phase it does.
    """
    phases = []
    for phase in step.phases:
        asked = typed(job, "wet", step=step.name, phase=phase.name)
        word = cast("Wet", asked.word) if asked else phase.wet
        if phase.wet == "dry" and word == "damp" and asked and not asked.phase:
            word = "dry"
        phases.append(replace(phase, wet=word))
    return replace(step, phases=tuple(phases))


def _open_ended(step: Step, sizes: Sizes) -> Step:
    """Give a step as it is on a house with an open end: roof harder to hold and to leave."""
    harder = value("labour", "along_ridge_factor") ** -2 if step.sheet == "roof" else 1.0
    survives = sizes.leave_gust_open_end
    return replace(
        step,
        phases=tuple(
            replace(
                phase,
                drag=phase.drag * harder,
                leave_gust=phase.leave_gust and min(phase.leave_gust, survives),
            )
            for phase in step.phases
        ),
    )


def thickness_of(job: Job) -> float:
    """Give the thickness of all layers together, which pull on the same locks [m]."""
    return job.film.thickness * job.film.layers


def film_weight(job: Job) -> float:
    """Give what all layers weigh on a square metre [N/m2]."""
    return float(mass_per_area(thickness_of(job))) * GRAVITY


def sizes_of(job: Job) -> Sizes:
    """Give the sizes that steps are laid out from.

    Parameters
    ----------
    job : Job
        With its house and film.

    Returns
    -------
    Sizes
        Areas, lengths, the pull of dragged film and what fastened film survives.
    """
    bow, parts = profile_of(job), hardware_for(job)
    sheets = {sheet.sheet: sheet for sheet in sheets_for(job)}
    roof = sheets["roof"]
    film, weight = mass_per_area(job.film.thickness), film_weight(job)
    holds = job.house.channel_holds or value("labour", "leave_tension_wired")
    tacked, open_end, closed = (
        float(gust_at_tension(limit, bow.radius, cp=value("labour", cp), weight=weight))
        for limit, cp in (
            (value("labour", "leave_tension_tacked"), "cp_one_end_open"),
            (holds, "cp_one_end_open"),
            (holds, "cp_closed"),
        )
    )
    tail = job.house.hip * roof.length
    return Sizes(
        roof_area=roof.area,
        end_wall_area=sheets["end wall"].area,
        side_area=sheets["side"].area if "side" in sheets else tail,
        arc=bow.arc_ground_to_ground,
        lock_arc=arc_lock_to_lock(bow, job.house.hip),
        roof_channel=parts.channel_roof,
        throw_lines=parts.throw_lines,
        bays=parts.bays,
        pull_weight=float(
            weight_dragged(
                bow.ridge, film, roof.length, friction=value("labour", "pull_over_friction")
            )
        ),
        leave_gust_tacked=tacked,
        leave_gust_open_end=open_end,
        leave_gust_closed=closed,
    )
