"""Work light of the day that the answer is about."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report import words as say

if TYPE_CHECKING:
    import datetime as dt

    from planner.plan.records import Plan
    from planner.report.words import Words


def work_light(plan: Plan, words: Words) -> tuple[str, ...]:
    """Say from when to when there is work light, and when to be down.

    Parameters
    ----------
    plan : Plan
        The finished plan.
    words : Words
        How the reader is spoken to.

    Returns
    -------
    tuple of str
        One sentence; none where the day is not in the weather file.
    """
    window = plan.decision.window
    day = words.date(window.start if window else plan.now)
    light = next((x for x in plan.light if x.day == day), None)
    if light is None:
        return ()
    if light.begin is None and light.end is None:
        text = f"{_all_day(plan, day, words)} on {say.day(day)}"
    elif light.begin is None or light.end is None:
        one = light.begin if light.begin is not None else light.end
        assert one is not None
        text = f"{'from' if light.end is None else 'to'} {words.moment(one)}"
    else:
        text = f"{words.span(light.begin, light.end)} on {say.day(day)}"
    if window:
        text += f"; be down by {words.moment(window.down_by, on=day)}"
        if window.down_later is not None:
            text += f", begun last by {words.moment(window.down_later, on=day)}"
    return (f"{text}.",)


def in_hand(plan: Plan) -> tuple[str, ...]:
    """Say how many minutes to keep back for making a loose sheet safe.

    Parameters
    ----------
    plan : Plan
        The finished plan.

    Returns
    -------
    tuple of str
        One sentence; none for a job without a roof sheet.
    """
    if all(here.step.sheet != "roof" for here in plan.steps):
        return ()
    return (f"Keep {say.duration(plan.make_safe)} of it in hand to make a loose sheet safe.",)


def _all_day(plan: Plan, day: dt.date, words: Words) -> str:
    """Tell a day without dusk from a day without dawn."""
    left = [
        row.work_light_left
        for x in plan.steps
        for row in x.found.hours
        if words.date(row.time) == day
    ]
    return "work light all day" if max(left, default=0.0) > 0.0 else "no work light"
