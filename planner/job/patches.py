"""What the job file says about steps and phases, laid over the built-in ones.

A step or phase that the file names and that is not built in is a new one, and must say
all that a phase needs; a name that looks like a built-in one is refused, since it is
more likely a slip.
"""

from __future__ import annotations

import difflib
from dataclasses import replace
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING, Final

from planner.errors import JobError, nearest
from planner.job.complaints import key_text
from planner.job.phases import LEFT_OUT, usual_height
from planner.job.records import Phase, Step
from planner.reference.tables import row

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from planner.job.phases import Sizes
    from planner.job.records import Job, PhasePatch, StepPatch

_NEEDED: Final = ("time", "hands", "loose", "drag")  # of a new phase
_SLIP: Final = 0.8  # names more alike than this are taken for one name misspelt


def apply_patches(
    steps: Iterable[Step], patches: Iterable[StepPatch], *, job: Job, sizes: Sizes
) -> tuple[Step, ...]:
    """Lay over the built-in steps what the job file says about steps and phases.

    Parameters
    ----------
    steps : iterable of Step
        From ``built_in_steps``.
    patches : iterable of StepPatch
        In the order of the file; new steps follow the built-in ones in that order, and a
        new phase follows the phases its step has.
    job : Job
        For the crew, and for the name of the file in messages.
    sizes : Sizes
        Of the sheets: a typed loose share is a share of the step's own sheet.

    Returns
    -------
    tuple of Step
        Without those skipped. What waited for a skipped step waits for what that one
        waited for.

    Raises
    ------
    JobError
        If a name is unknown and no complete new step or phase, if it looks like a
        misspelt built-in one, if a step waits for one that is not there, or if steps
        wait for each other in a ring.

    Notes
    -----
    A typed time is taken as it is. With other hands and no time, the person-minutes stay
    the same. Typed hands are cut to the crew if that has become smaller.
    """
    made = {step.name: step for step in steps}
    skipped = set(LEFT_OUT) & set(made)
    lines: dict[str, int | None] = {}
    for patch in patches:
        if patch.name not in made:
            _check_new_step(patch, made, job=job)
            made[patch.name] = Step(name=patch.name, sheet=patch.sheet or "none", phases=())
        made[patch.name] = _patched(made[patch.name], patch, job=job, sizes=sizes)
        lines[patch.name] = patch.line
        if patch.skip is not None:
            (skipped.add if patch.skip else skipped.discard)(patch.name)
    _check_after(made, lines, job=job)
    return tuple(
        replace(step, after=tuple(dict.fromkeys(_awaited(step, made, skipped))))
        for step in made.values()
        if step.name not in skipped
    )


def _awaited(step: Step, made: dict[str, Step], skipped: set[str]) -> Iterator[str]:
    """Names of the steps waited for, looking through those that are skipped."""
    for name in step.after:
        if name in skipped:
            yield from _awaited(made[name], made, skipped)
        else:
            yield name


def _check_after(made: dict[str, Step], lines: dict[str, int | None], *, job: Job) -> None:
    """Refuse waiting for a step that is not there, and steps that wait in a ring."""
    for step in made.values():
        for name in step.after:
            if name not in made:
                raise _error(
                    ("steps", step.name, "after"),
                    f'there is no step "{name}" to wait for.',
                    _near(name, made),
                    job=job,
                    line=lines.get(step.name),
                )
    try:
        TopologicalSorter({step.name: step.after for step in made.values()}).prepare()
    except CycleError as err:
        ring = err.args[1]
        line = next((lines[name] for name in ring if name in lines), None)
        raise _error(
            ("steps", ring[0], "after"),
            f"these steps wait for each other: {', '.join(dict.fromkeys(ring))}.",
            'Take one of them out of the "after" of another.',
            job=job,
            line=line,
        ) from err


def _patched(step: Step, patch: StepPatch, *, job: Job, sizes: Sizes) -> Step:
    """Lay one patch over one step."""
    said = {
        name: getattr(patch, name)
        for name in ("sheet", "after", "nights_after", "done")
        if getattr(patch, name) is not None
    }
    step = replace(step, **said)
    phases = {phase.name: phase for phase in step.phases}
    area = sizes.area(step.sheet)
    for one in patch.phases:
        if one.name not in phases:
            _check_new_phase(one, phases, step=step, job=job)
            phases[one.name] = _blank_phase(one.name, job)
        phases[one.name] = _patched_phase(phases[one.name], one, area=area, job=job)
    return replace(step, phases=tuple(phases.values()))


def _check_new_step(patch: StepPatch, known: Iterable[str], *, job: Job) -> None:
    """Refuse a new step that looks like a known one or has no phases."""
    path = ("steps", patch.name)
    known = tuple(known)
    _check_slip("step", patch.name, known, path=path, job=job, line=patch.line)
    if not patch.phases:
        raise _error(
            path,
            f'"{patch.name}" is a new step without phases.',
            f"Give it phases with {', '.join(_NEEDED)}; or did you mean one of: "
            f"{', '.join(known)}?",
            job=job,
            line=patch.line,
        )


def _check_new_phase(patch: PhasePatch, known: Iterable[str], *, step: Step, job: Job) -> None:
    """Refuse a new phase that looks like a known one or does not say all it needs."""
    path = ("steps", step.name, "phases", patch.name)
    known = tuple(known)
    _check_slip("phase", patch.name, known, path=path, job=job, line=patch.line)
    values = (patch.minutes, patch.hands, patch.loose, patch.drag)
    lacking = [key for key, given in zip(_NEEDED, values, strict=True) if given is None]
    if lacking:
        raise _error(
            path,
            f'"{patch.name}" is a new phase of "{step.name}" and lacks {", ".join(lacking)}.',
            f"Add them; or did you mean one of: {', '.join(known) or 'none yet'}?",
            job=job,
            line=patch.line,
        )


def _check_slip(
    what: str,
    name: str,
    known: tuple[str, ...],
    *,
    path: tuple[str, ...],
    job: Job,
    line: int | None,
) -> None:
    """Refuse a name that looks like a known one misspelt."""
    folded = {one.lower(): one for one in known}
    near = difflib.get_close_matches(name.lower(), folded, n=1, cutoff=_SLIP)
    if near:
        raise _error(
            path,
            f'there is no {what} "{name}".',
            f'Did you mean "{folded[near[0]]}"? A new {what} needs a name less like it.',
            job=job,
            line=line,
        )


def _error(
    path: tuple[str, ...], message: str, fix: str, *, job: Job, line: int | None
) -> JobError:
    return JobError(message, fix=fix, file=job.file or None, line=line, key=key_text(path))


def _blank_phase(name: str, job: Job) -> Phase:
    """Make a phase of one person and one minute for a patch to fill."""
    ceiling = row("work_rules", "roof_sheet_gust_cap")
    return Phase(
        name=name,
        minutes=1.0,
        hands=1,
        loose_area=0.0,
        drag=0.0,
        height=usual_height(job),
        gust_ceiling=ceiling.value,
        ceiling_kind=ceiling.kind,
        ceiling_source="roof work rule for large sheets",
    )


def _patched_phase(phase: Phase, patch: PhasePatch, *, area: float, job: Job) -> Phase:
    """Lay one patch over one phase."""
    hands = phase.hands if patch.hands is None else min(patch.hands, job.crew.people)
    minutes = phase.minutes * phase.hands / hands
    leave = phase.leave_gust
    if patch.leave_gust is not None:
        leave = None if patch.leave_gust == "no" else patch.leave_gust
    return replace(
        phase,
        hands=hands,
        minutes=minutes if patch.minutes is None else patch.minutes,
        loose_area=phase.loose_area if patch.loose is None else patch.loose * area,
        drag=phase.drag if patch.drag is None else patch.drag,
        height=phase.height if patch.height is None else patch.height,
        leave_gust=leave,
    )


def check_limit_names(job: Job) -> None:
    """Refuse a typed limit for a step or phase that the job does not have.

    Parameters
    ----------
    job : Job
        With its steps.

    Raises
    ------
    JobError
        If a name below ``[limits]`` is not that of a step, or of a phase of that step,
        with the nearest names.
    """
    known = {step.name: step for step in job.steps}
    skipped = {patch.name for patch in job.step_patches if patch.skip}
    for limit in job.limits:
        if not limit.step or limit.step in skipped:
            continue
        names = [limit.step, limit.phase] if limit.phase else [limit.step]
        path = ("limits", *names, limit.quantity)
        if limit.step not in known:
            left_out = limit.step in LEFT_OUT
            raise _error(
                path,
                f'the job has no step "{limit.step}".',
                f'It is left out unless [steps."{limit.step}"] says skip = false.'
                if left_out
                else _near(limit.step, known),
                job=job,
                line=limit.line,
            )
        phases = [phase.name for phase in known[limit.step].phases]
        if limit.phase and limit.phase not in phases:
            raise _error(
                path,
                f'"{limit.step}" has no phase "{limit.phase}".',
                _near(limit.phase, phases),
                job=job,
                line=limit.line,
            )


def _near(name: str, known: Iterable[str]) -> str:
    near = nearest(name.lower(), known)
    if near:
        return f"Did you mean {' or '.join(near)}?"
    return f"There are: {', '.join(known)}."
