"""The steps of a job, marked as to do, done or left out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from planner.web.job_edit import checked

if TYPE_CHECKING:
    from collections.abc import Mapping

STATES: Final = ("to do", "done", "left out")


def step_states(text: str) -> dict[str, str]:
    """Say of every step of a job whether it is to do, done or left out.

    Parameters
    ----------
    text : str
        The job.

    Returns
    -------
    dict of str to str
        By the step's name, in the order of the work.

    Raises
    ------
    JobError
        If the job cannot be read.
    """
    from planner.hours.house import sizes_of
    from planner.job.jobfile import parse_job
    from planner.job.steps import LEFT_OUT, built_in_steps

    job = parse_job(text)
    states = {
        step.name: STATES[2] if step.name in LEFT_OUT else STATES[0]
        for step in built_in_steps(job, sizes_of(job))
    }
    for patch in job.step_patches:
        states.setdefault(patch.name, STATES[0])
        if patch.skip is not None:
            states[patch.name] = STATES[2] if patch.skip else STATES[0]
        if patch.done and states[patch.name] != STATES[2]:
            states[patch.name] = STATES[1]
    return states


def with_states(text: str, wanted: Mapping[str, str]) -> str:
    """Mark steps as to do, done or left out.

    Parameters
    ----------
    text : str
        The job.
    wanted : mapping of str to str
        State by step; steps that are not named stay as they are.

    Returns
    -------
    str
        The new text, checked.

    Raises
    ------
    JobError
        If the job cannot be planned so.
    """
    import tomlkit

    document = tomlkit.parse(text)
    for name, state in step_states(text).items():
        new = wanted.get(name, state)
        if new == state or new not in STATES:
            continue
        steps = document.setdefault("steps", tomlkit.table(is_super_table=True))
        if name not in steps:
            steps[name] = tomlkit.table()
        for key, true in (("done", new == STATES[1]), ("skip", new == STATES[2])):
            if true or key in steps[name] or _left_out(name, key):
                steps[name][key] = true
    text = tomlkit.dumps(document)
    checked(text)
    return text


def _left_out(name: str, key: str) -> bool:
    """Whether a step is left out unless the file says otherwise."""
    from planner.job.steps import LEFT_OUT

    return key == "skip" and name in LEFT_OUT
