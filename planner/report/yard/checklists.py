"""What to see to the evening before and at first light.

Common practice of the trade, no source; what depends on the job is left out where the
job has no part in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.units import show

if TYPE_CHECKING:
    from planner.job.records import Job
    from planner.plan.records import Plan
    from planner.report.words import Words


def evening_before(plan: Plan, words: Words) -> tuple[str, ...]:
    """Say what must be ready before the crew comes.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of str
        One thing each, in the order in which a walk round the house meets them.
    """
    job, hardware = plan.job, plan.hardware
    far = show(hardware.keep_clear, "length", words.units, decimals=0)
    lines = [
        "Frame bolted, braced and anchored: it carries wind once film is on.",
        "Sharp edges and bolt ends taped or padded.",
        "Channel and boards on, wire cut to length; door frames in.",
        "Old film, old wire and loose screws out.",
        "Rolls the right way round, sun side marked, stored warm.",
        f"{hardware.throw_lines} throw lines with weights; {far} clear of any overhead line.",
        "Ladders, planks, knives and repair tape at the house.",
        "Nobody but the crew, no dog and no vehicle where sheet and lines are pulled.",
    ]
    if job.film.layers > 1:
        lines.append("Fan and power there: two layers are blown up the same day.")
    return tuple(lines)


def at_first_light(plan: Plan, words: Words) -> tuple[str, ...]:
    """Say what to look at before the first line is thrown.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of str
        One thing each.
    """
    return (
        "A newer forecast: does the answer stand?",
        meter_check(plan, words),
        "Sky: no thunder, no dark edge coming; leaves and flags quiet on every side.",
        "Rungs, rails and film: no frost, dry where a ladder stands or tape goes.",
        "One caller, one word for down, and everybody has heard it.",
        _brace(plan.job),
    )


def meter_check(plan: Plan, words: Words) -> str:
    """Say what to read in the hand before the first line, against the lowest limits.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    str
        One sentence.
    """
    window = plan.decision.window
    told = []
    if window is not None and window.steadiest is not None:
        told.append(f"steady under {words.amount(window.steadiest.hand_mean_limit, 'gust')}")
    if window is not None and window.tightest is not None:
        told.append(f"gusts under {words.amount(window.tightest.hand_limit, 'gust')}")
    under = ", ".join(told) or "under the limit of the phase in hand"
    return f"Meter in the hand, two minutes, three times: {under}."


def _brace(job: Job) -> str:
    if job.house.braced:
        return "Rope and sandbags lie where a loose sheet can be tied down."
    return "Frame not braced along the ridge: brace it, or end walls and roof on one day."
